/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans of one hill with one rig, and the search for the heaviest weight. More weight never makes
 * an unsafe hill safe on a dry road (a law that tests hold the plan to), so halving finds it; on a
 * wet road it is the heaviest below the first weight that was refused above one within limits. */
#include "tool/plan/plan_block.h"

#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/plan/plan_words.h"

struct search {
    const struct td_hill *hill;
    const struct td_rig *rig;
    struct td_plan_query query;
    struct td_plan_work *work;
    struct td_plan plan; /* scratch */
    double safe_kg, unsafe_kg; /* 0 and infinity: none known */
};

static void note(struct search *search, double mass_kg, bool safe)
{
    if (safe)
        search->safe_kg = fmax(search->safe_kg, mass_kg);
    else if (mass_kg > search->safe_kg)
        search->unsafe_kg = fmin(search->unsafe_kg, mass_kg);
}

static void try_mass(struct search *search, double mass_kg)
{
    search->query.mass_kg = mass_kg;
    td_plan_solve(search->hill, search->rig, &search->query, search->work, &search->plan);
    note(search, mass_kg, search->plan.safe);
}

static void halve(struct search *search)
{
    double step_kg = search->query.speak_kmh ? TD_PLAN_HEAVIEST_STEP_KG
                                             : td_kg_from_lb(TD_PLAN_HEAVIEST_STEP_LB);
    long low = (long)floor(search->safe_kg / step_kg + 1e-9);
    long high = (long)ceil(search->unsafe_kg / step_kg - 1e-9);
    while (high - low > 1) {
        long middle = low + (high - low) / 2;
        double mass_kg = (double)middle * step_kg;
        try_mass(search, mass_kg);
        if (search->safe_kg >= mass_kg)
            low = middle;
        else
            high = middle;
    }
}

/* The answers themselves bound it; a refused one below one within limits (wet roads) does not. */
static void find_heaviest(struct search *search, const struct td_plan_weights *weights,
                          struct td_plan_block *block)
{
    search->unsafe_kg = (double)INFINITY;
    for (size_t i = 0; i < block->count; i++)
        if (block->answers[i].plan.safe)
            note(search, weights->mass_kg[i], true);
    for (size_t i = 0; i < block->count; i++)
        if (!block->answers[i].plan.safe)
            note(search, weights->mass_kg[i], false);
    if (search->unsafe_kg > weights->most_kg)
        try_mass(search, weights->most_kg);
    if (search->safe_kg <= 0)
        try_mass(search, weights->least_kg);
    if (search->safe_kg > 0 && isfinite(search->unsafe_kg))
        halve(search);
    block->heaviest_kg = search->safe_kg;
    block->heaviest_is_most = search->safe_kg >= weights->most_kg;
}

static bool on_ice(const struct td_plan *plan)
{
    for (size_t i = 0; i < plan->reason_count; i++)
        if (plan->reasons[i].kind == TD_REASON_ICE_NO_CHAINS)
            return true;
    return false;
}

void td_plan_block_solve(const struct td_hill *hill, const struct td_rig *rig,
                         const struct td_plan_weights *weights, struct td_plan_work *work,
                         struct td_plan_block *block)
{
    struct search search = {.hill = hill, .rig = rig, .query = weights->query, .work = work};
    block->count = weights->count;
    block->heaviest_kg = 0;
    block->heaviest_is_most = false;
    for (size_t i = 0; i < weights->count; i++) {
        struct td_plan_answer *answer = &block->answers[i];
        *answer = (struct td_plan_answer){.model = "rig", .hill = hill, .rig = rig,
                                          .load = weights->load[i], .query = weights->query,
                                          .limit_c = rig->brakes.limit_c};
        answer->query.mass_kg = weights->mass_kg[i];
        td_plan_solve(hill, rig, &answer->query, work, &answer->plan);
    }
    const struct td_plan *first = &block->answers[0].plan;
    if (first->coached && !on_ice(first))
        find_heaviest(&search, weights, block);
}

enum td_plan_verdict td_plan_verdict(const struct td_plan_block *block, size_t at)
{
    const struct td_plan *plan = &block->answers[at].plan;
    if (!plan->coached)
        return TD_VERDICT_GENTLE;
    if (plan->safe)
        return plan->without_engine_brake_mph > 0 ? TD_VERDICT_WITHIN : TD_VERDICT_NEEDS_BRAKE;
    if (on_ice(plan))
        return TD_VERDICT_ICE;
    return block->heaviest_kg > 0 ? TD_VERDICT_WEIGHT : TD_VERDICT_RIG;
}

const char *td_plan_verdict_key(enum td_plan_verdict verdict)
{
    static const char *const keys[] = {"within_limits",      "needs_engine_brake",
                                       "no_plan_needed",     "not_at_this_weight",
                                       "not_with_this_rig",  "not_on_ice",
                                       "could_not_be_read"};
    return keys[verdict];
}

const char *td_plan_verdict_words(enum td_plan_verdict verdict,
                                  const struct td_plan_answer *answer, char *line)
{
    static const char *const words[] = {"within limits",      "needs",
                                        "no plan needed",     "not at this weight",
                                        "not with this rig",  "not on ice",
                                        "could not be read"};
    if (verdict == TD_VERDICT_NEEDS_BRAKE)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "needs %s",
                       td_plan_holder_name(answer, answer->plan.stage));
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%s", words[verdict]);
    return line;
}

bool td_plan_verdict_refuses(enum td_plan_verdict verdict)
{
    return verdict == TD_VERDICT_WEIGHT || verdict == TD_VERDICT_RIG ||
           verdict == TD_VERDICT_ICE;
}
