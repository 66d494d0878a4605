/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the facts share, and tests of the reckoning: figures from samples in memory. */
#ifndef TD_REVIEW_FACTS_PARTS_H
#define TD_REVIEW_FACTS_PARTS_H

#include "review/drive_facts.h"

/* Marks samples as seen and after a hole. losses: moments at which steps were lost. */
void td_facts_mark_holes(struct td_review_sample *samples, size_t count,
                         const struct td_review_loss *losses, size_t loss_count);

/* Cuts the samples into visits of hills, without their figures; hills that need no coaching have
 * none. TD_NO_MEMORY. */
TD_CHECKED enum td_result td_facts_visits(struct td_review_drive *drive,
                                          struct td_problem *problem);
/* Figures 1 to 4, stands and losses of a visit. */
TD_CHECKED enum td_result td_facts_figures(const struct td_review_drive *drive,
                                           struct td_review_descent *descent,
                                           struct td_problem *problem);
/* Which descent each prompt belongs to, what happened next, and figure 5. */
TD_CHECKED enum td_result td_facts_follow(struct td_review_drive *drive,
                                          struct td_problem *problem);

/* Seconds from sample i to the next when both are seen and no hole lies between; else 0. */
double td_facts_step_s(const struct td_review_drive *drive, size_t i);
/* Middle of the sorted values; the mean of the two middle ones; NAN for none. Sorts in place. */
double td_facts_median(double *values, size_t count);
/* The array with room for one more than `count`, which grows by one from 0; NULL without memory,
 * the old one then stays. */
void *td_facts_grown(void *array, size_t count, size_t size);

#endif
