/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far long work has come: one line on standard error that is written over, and only where that
 * is a terminal. */
#ifndef TD_TOOL_PROGRESS_H
#define TD_TOOL_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>

struct td_progress {
    const char *what; /* "reading", "writing" */
    bool on;
    size_t shown; /* what stands there now */
};

void td_progress_begin(struct td_progress *progress, const char *what);
/* `total` 0 where it is not known: then the count is shown. */
void td_progress_at(struct td_progress *progress, size_t done, size_t total);
/* Takes the line away. */
void td_progress_end(struct td_progress *progress);

#endif
