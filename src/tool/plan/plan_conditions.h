/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a plan is asked for beside hill, rig and load, as words of the command line. */
#ifndef TD_TOOL_PLAN_CONDITIONS_H
#define TD_TOOL_PLAN_CONDITIONS_H

#include <stdbool.h>

#include "talkdown/plan.h"
#include "talkdown/quantity.h"

struct td_plan_conditions {
    const char *road, *credit, *ambient, *brakes_from; /* NULL: not given */
    bool metric;
};

/* True where one is given that only a rig knows. */
bool td_plan_conditions_any(const struct td_plan_conditions *conditions);
/* Puts what is given over what the query has. */
TD_CHECKED enum td_result td_plan_conditions_read(const struct td_plan_conditions *conditions,
                                                  struct td_plan_query *query,
                                                  struct td_problem *problem);

/* Index of `text` in the words; `otherwise` when it is NULL. */
TD_CHECKED enum td_result td_plan_pick(const char *option, const char *text,
                                       const char *const words[], int count, int otherwise,
                                       int *index, struct td_problem *problem);
/* `range` says what would be right. */
TD_CHECKED enum td_result td_plan_read_quantity(const char *option, const char *text,
                                                enum td_dimension dimension, double least,
                                                double most, const char *range, double *value,
                                                struct td_problem *problem);
/* --weight, truck and load, kg. */
TD_CHECKED enum td_result td_plan_read_weight(const char *text, double *kg,
                                              struct td_problem *problem);

/* Index of the rig's load of that name; NULL: of the one in force. `file` is the rig's. */
TD_CHECKED enum td_result td_plan_find_load(const struct td_rig *rig, const char *file,
                                            const char *name, size_t *load,
                                            struct td_problem *problem);

#endif
