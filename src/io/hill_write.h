/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A road as the text of a hill profile, one vertex a line, so that a change shows in a diff. */
#ifndef TD_IO_HILL_WRITE_H
#define TD_IO_HILL_WRITE_H

#include <stddef.h>

#include "talkdown/hill.h"

/* What is said of the road beside its line. What a survey cannot tell is left out. */
struct td_hill_words {
    const char *id, *name, *source;
    const char *surveyed;       /* a date as on file; NULL or "" left out */
    unsigned passes;            /* that the line was made of; 0 left out */
    double grade_sigma_ratio;   /* over 200 m; negative: left out */
    double longest_gap_m;       /* negative: left out */
};
TD_CHECKED enum td_result td_hill_write_words(const struct td_hill *hill,
                                              const struct td_hill_words *words, char **bytes,
                                              size_t *length, struct td_problem *problem);

/* The road alone: places are put in by people. `id`, `name` and `source` need not be JSON-safe.
 * *bytes is the caller's to free. Six decimals of a degree are 0.11 m at most. */
TD_CHECKED enum td_result td_hill_write_text(const struct td_hill *hill, const char *id,
                                             const char *name, const char *source, char **bytes,
                                             size_t *length, struct td_problem *problem);

#endif
