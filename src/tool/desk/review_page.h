/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes the trainer's page from drive logs: what `review`, `rehearse` and `replay` share. */
#ifndef TD_TOOL_REVIEW_PAGE_H
#define TD_TOOL_REVIEW_PAGE_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

struct td_review_page_options {
    const char *page;    /* the file; readable by owner and group */
    const char *phrases; /* NULL: those that come with the program */
    bool anonymous, no_sound, replace;
    bool with_marks;     /* the trainer's, beside each log */
};

/* Reads all logs before it writes. When sound cannot be made the page is written without, says so,
 * and one line on standard error says why. *descents: how many are on the page. */
TD_CHECKED enum td_result td_review_page_write(const char *const *drives, size_t count,
                                               const struct td_review_page_options *options,
                                               size_t *descents, struct td_problem *problem);

#endif
