/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rigs of a table of plans, each with the weights that it is asked about. */
#ifndef TD_TOOL_PLAN_RIGS_H
#define TD_TOOL_PLAN_RIGS_H

#include "tool/plan/plan_block.h"
#include "tool/plan/plan_table.h"

struct td_plan_rig {
    char *path;
    struct td_rig rig;
    struct td_plan_weights weights;
};

struct td_plan_rigs {
    struct td_plan_rig **items; /* in the order of the paths, which is that of the command line */
    size_t count;
    size_t unread; /* told on standard error, and left out */
};

/* TD_INVALID for weights or conditions that make no sense, TD_NOT_FOUND for no rig at all. `rigs`
 * is zeroed before and to be freed whatever comes. */
TD_CHECKED enum td_result td_plan_rigs_read(const struct td_plan_table_options *options,
                                            struct td_plan_rigs *rigs,
                                            struct td_problem *problem);
void td_plan_rigs_free(struct td_plan_rigs *rigs);

#endif
