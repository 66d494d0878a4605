/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between fleet.c and fleet_trends.c. */
#ifndef TD_REVIEW_FLEET_PARTS_H
#define TD_REVIEW_FLEET_PARTS_H

#include "review/fleet.h"

/* Sorts the counts of prompts and adds up those of the same hill and prompt. */
void td_fleet_merge_prompts(struct td_fleet *fleet);
/* Puts everything in order, whatever order the threads read in, and reckons the trends. False
 * without memory. */
bool td_fleet_sum_up(struct td_fleet *fleet);

#endif
