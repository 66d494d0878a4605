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
    struct td_plan_query query;  /* mass always; the rest for a rig only */
    double limit_c;
    struct td_plan plan;
};

const char *td_plan_limit_name(enum td_plan_limit limit);
const char *td_plan_road_name(enum td_road road);
const char *td_plan_credit_name(enum td_credit credit);
const char *td_plan_reason_name(enum td_plan_reason_kind kind);
/* One clear clause for a reason into `line` of TD_PLAN_LINE_MAX bytes; returns it. */
const char *td_plan_reason_line(const struct td_plan_answer *answer,
                                const struct td_plan_reason *reason, char *line);
/* Name of the gear or stage, NULL when there is none; "off" for an engine brake left off. */
const char *td_plan_gear_name(const struct td_plan_answer *answer);
const char *td_plan_stage_name(const struct td_plan_answer *answer);

/* Both write to standard output; false when it did not take them. */
bool td_plan_print_text(const struct td_plan_answer *answer);
bool td_plan_print_json(const struct td_plan_answer *answer);

#endif
