/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The survey's steps, in order; inside src/survey. */
#ifndef TD_SURVEY_SURVEY_PARTS_H
#define TD_SURVEY_SURVEY_PARTS_H

#include "survey/survey.h"

/* Writes `words` to the problem; returns TD_INVALID. */
enum td_result td_survey_wrong(struct td_problem *problem, const char *words);

/* Picks the points to use, in the direction of descent; *used of them. */
TD_CHECKED enum td_result td_survey_clean(const struct td_fix *fixes, size_t count, bool reverse,
                                          struct td_survey_point *points, size_t *used,
                                          struct td_survey_report *report,
                                          struct td_problem *problem);
/* Smooths positions and sums along_m over them. */
void td_survey_smooth_line(struct td_survey_point *points, size_t count);
/* Evenly spaced vertices with smoothed height; returns their count. */
size_t td_survey_space(const struct td_survey_point *points, size_t count,
                       struct td_station *stations);

#endif
