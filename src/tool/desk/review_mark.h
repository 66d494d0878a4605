/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A trainer's mark on one prompt of a drive: `review --mark`. */
#ifndef TD_TOOL_REVIEW_MARK_H
#define TD_TOOL_REVIEW_MARK_H

#include <stddef.h>

/* What --help tells of it. */
#define TD_REVIEW_MARK_HELP                                                                        \
    "  --mark DRIVE.db SERIAL right|late|early|wrong|none [--note TEXT]\n"                         \
    "                   marks a prompt, in DRIVE.marks.yaml beside the log; none takes it off.\n"  \
    "                   --mark DRIVE.db alone lists the prompts with their serials and marks\n"

/* `words` are what follows --mark: SERIAL and the mark, or nothing. Returns an exit code. */
int td_review_mark(const char *drive, const char *const *words, size_t count, const char *note);

#endif
