/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One hill with one rig at several weights: a plan each, the heaviest weight that is still within
 * limits, and each answer in plain words. */
#ifndef TD_TOOL_PLAN_BLOCK_H
#define TD_TOOL_PLAN_BLOCK_H

#include "tool/plan/plan_answer.h"

/* The heaviest weight is looked for in steps of this; the metric one with km/h. */
#define TD_PLAN_HEAVIEST_STEP_LB 100.0
#define TD_PLAN_HEAVIEST_STEP_KG 50.0

enum { TD_PLAN_WEIGHTS_MAX = 16 };

/* How an answer is told; the words may be added to, those that are there stay. */
enum td_plan_verdict {
    TD_VERDICT_WITHIN = 0,  /* within limits, and without the engine brake slower but still */
    TD_VERDICT_NEEDS_BRAKE, /* within limits; not without engine brake or retarder */
    TD_VERDICT_GENTLE,      /* no plan needed */
    TD_VERDICT_WEIGHT,      /* not at this weight: a lighter one would do */
    TD_VERDICT_RIG,         /* not with this rig, however light it is on file */
    TD_VERDICT_ICE,         /* not on ice */
    TD_VERDICT_UNREAD,      /* the profile could not be read: nothing is known */
};

/* What is asked of every hill with one rig. */
struct td_plan_weights {
    const char *load[TD_PLAN_WEIGHTS_MAX]; /* name of the rig's; NULL: a weight was given */
    double mass_kg[TD_PLAN_WEIGHTS_MAX];
    size_t count;
    double least_kg, most_kg; /* between these the heaviest is looked for */
    struct td_plan_query query; /* its mass apart */
};

struct td_plan_block {
    struct td_plan_answer answers[TD_PLAN_WEIGHTS_MAX];
    size_t count;
    /* 0: not even the lightest, or no plan needed. One weight that was itself planned and found
     * within limits; a step more was not, or it is the most that was asked about. */
    double heaviest_kg;
    bool heaviest_is_most;
};

/* `hill`, `rig` and the names in `weights` must outlive the block. */
void td_plan_block_solve(const struct td_hill *hill, const struct td_rig *rig,
                         const struct td_plan_weights *weights, struct td_plan_work *work,
                         struct td_plan_block *block);

enum td_plan_verdict td_plan_verdict(const struct td_plan_block *block, size_t at);
/* "not_at_this_weight", for machines. */
const char *td_plan_verdict_key(enum td_plan_verdict verdict);
/* "not at this weight", "needs retarder"; `answer` may be NULL for those without a plan. */
const char *td_plan_verdict_words(enum td_plan_verdict verdict,
                                  const struct td_plan_answer *answer, char *line);
/* True where the answer is no. */
bool td_plan_verdict_refuses(enum td_plan_verdict verdict);

#endif
