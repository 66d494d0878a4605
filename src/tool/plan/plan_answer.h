/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A descent plan with all that a person or a machine is told beside it. */
#ifndef TD_TOOL_PLAN_ANSWER_H
#define TD_TOOL_PLAN_ANSWER_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/hill.h"
#include "talkdown/plan.h"
#include "talkdown/rig.h"

enum { TD_PLAN_LINE_MAX = 192 };

struct td_plan_answer {
    const char *model;           /* "rig", "reference-1982", "reference-1989" */
    const struct td_hill *hill;  /* a real one or a plain grade made into one */
    bool is_plain;               /* a plain grade: the hill has no name */
    const struct td_rig *rig;    /* NULL: reference model */
    const char *load;            /* named load; NULL when the weight was given */
    struct td_plan_query query;  /* for no rig: mass, air, brakes, unit */
    double limit_c;
    struct td_plan plan;
};

/* Both write to standard output; false when it did not take them. */
bool td_plan_print_text(const struct td_plan_answer *answer);
bool td_plan_print_json(const struct td_plan_answer *answer);

#endif
