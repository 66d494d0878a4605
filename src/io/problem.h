/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing a td_problem from the shell side, where stdio is at hand. */
#ifndef TD_IO_PROBLEM_H
#define TD_IO_PROBLEM_H

#include <stddef.h>

#include "talkdown/result.h"

/* Fills *problem (does nothing when it is NULL) and returns `result`, so that a failing function
 * ends in one statement. `file` may be NULL, `line` 0 when unknown. Line ends and other control
 * characters that came from a file are shown as '?': a problem stays one line. */
enum td_result td_problem_set(struct td_problem *problem, enum td_result result, const char *file,
                              int line, const char *format, ...) TD_PRINTF(5, 6);

/* The whole line, "FILE:LINE: TEXT", into `line` of `size` bytes; returns `line`. */
const char *td_problem_line(const struct td_problem *problem, char *line, size_t size);

#endif
