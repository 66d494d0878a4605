/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The road itself: where it steepens, a bottom that is none, flashers on a slow descent, the chain
 * area before it. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/units.h"

/* Steeper by this much, for this long, is worth a word; less a driver's foot finds by itself (our
 * judgement). */
#define STEEPER_BY_RATIO   0.015
#define STEEPER_LEAST_M    300.0
/* After the crest everything is steeper (ours). */
#define STEEPER_CREST_M    300.0
/* On a road that lets faster traffic close in: slower than this is slow (common practice, no
 * source; the rule of the road is on file with the hill). */
#define FLASHERS_MPS       (40.0 * TD_MPS_PER_MPH)
#define FLASHERS_BEFORE_S  5.0   /* on as the grade begins; ours, as the next two */
#define FLASHERS_PAST_M    500.0 /* whoever is still slow there has another reason */
#define PROFILE_ENDS_M     150.0 /* the last place where off can still be said */

/* One bit for each run or easing of a hill (at most 64). */
_Static_assert(TD_HILL_RUNS_MAX <= 64, "a bit for each");

/* Against the run before it: what the truck is used to by then. */
static bool is_steeper(const struct td_moment *moment, size_t run)
{
    const struct td_hill *hill = moment->hill;
    const struct td_run *now = &hill->runs[run], *before = &hill->runs[run - 1];
    return now->from_m >= td_cue_crest_m(moment) + STEEPER_CREST_M && now->from_m < hill->foot_m &&
           now->to_m - now->from_m >= STEEPER_LEAST_M &&
           now->downgrade_ratio >= before->downgrade_ratio + STEEPER_BY_RATIO;
}

/* After an easing the words of the false bottom have said it. */
static bool follows_easing(const struct td_hill *hill, double at_m)
{
    for (size_t i = 0; i < hill->easing_count; i++)
        if (fabs(hill->easings[i].to_m - at_m) < STEEPER_CREST_M)
            return true;
    return false;
}

static bool soon(const struct td_moment *moment, enum td_prompt_id id, double at_m)
{
    double left_s = td_cue_left_s(moment, id, at_m);
    return left_s <= TD_CUE_LEAD_ACT_S + 2.0 && left_s >= TD_CUE_LEAD_LEAST_S &&
           td_cue_sure(moment, at_m - moment->along_m);
}

static void cue_steeper(const struct td_moment *moment, struct td_visit *visit,
                        struct td_wishes *wishes)
{
    const struct td_hill *hill = moment->hill;
    if (!td_cue_on_grade(moment) || moment->setup->talk == TD_TALK_SPARSE)
        return;
    for (size_t i = 1; i < hill->run_count; i++) {
        double at_m = hill->runs[i].from_m;
        if ((visit->runs_said >> i & 1) || !is_steeper(moment, i) || follows_easing(hill, at_m) ||
            !soon(moment, TD_PROMPT_STEEPER, at_m))
            continue;
        visit->runs_said |= UINT64_C(1) << i;
        td_cue_wish(wishes, moment, TD_PROMPT_STEEPER, -1, at_m, TD_WHY_DISTANCE);
    }
}

static enum td_fill fill_steeper(const struct td_moment *moment, struct td_prompt *prompt,
                                 enum td_why *why)
{
    const struct td_hill *hill = moment->hill;
    *why = TD_WHY_STALE;
    if (td_cue_left_s(moment, prompt->id, prompt->about_m) < TD_CUE_LEAD_LEAST_S)
        return TD_FILL_GONE;
    double ratio = 0;
    for (size_t i = 0; i < hill->run_count; i++)
        if (hill->runs[i].from_m <= prompt->about_m + 1.0)
            ratio = hill->runs[i].downgrade_ratio;
    td_cue_args(prompt, 1,
                (struct td_arg[]){{TD_UNIT_PERCENT, (int32_t)lround(ratio * 100.0)}});
    td_cue_expire_before(moment, prompt, prompt->about_m);
    return TD_FILL_READY;
}

/* An easing between two descents of the plan is a real break: its foot was called with the next
 * grade named. */
static bool is_break(const struct td_moment *moment, const struct td_easing *easing)
{
    const struct td_plan *plan = moment->plan;
    double middle_m = 0.5 * (easing->from_m + easing->to_m);
    for (size_t i = 1; td_cue_plan_drivable(moment) && i < plan->descent_count; i++)
        if (middle_m > plan->descents[i - 1].to_m && middle_m < plan->descents[i].from_m)
            return true;
    return false;
}

/* Said as the truck feels it ease, before anyone shifts up. */
static void cue_false_bottom(const struct td_moment *moment, struct td_visit *visit,
                             struct td_wishes *wishes)
{
    const struct td_hill *hill = moment->hill;
    for (size_t i = 0; i < hill->easing_count && i < 64; i++) {
        const struct td_easing *easing = &hill->easings[i];
        if ((visit->easings_said >> i & 1) || moment->along_m < easing->from_m)
            continue;
        visit->easings_said |= UINT64_C(1) << i;
        if (!is_break(moment, easing) && visit->first_along_m < easing->from_m &&
            td_cue_left_s(moment, TD_PROMPT_FALSE_BOTTOM, easing->to_m) > 0.0)
            td_cue_wish(wishes, moment, TD_PROMPT_FALSE_BOTTOM, -1, easing->to_m,
                        TD_WHY_DISTANCE);
    }
}

static enum td_fill fill_false_bottom(const struct td_moment *moment, struct td_prompt *prompt,
                                      enum td_why *why)
{
    *why = TD_WHY_PASSED;
    if (moment->along_m >= prompt->about_m)
        return TD_FILL_GONE;
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_after(moment, prompt, 20.0);
    return TD_FILL_READY;
}

static bool flashers_rule(const struct td_moment *moment)
{
    enum td_flashers rule = moment->hill->flashers;
    return rule == TD_FLASHERS_REQUIRED ||
           (rule == TD_FLASHERS_ALLOWED && moment->setup->talk != TD_TALK_SPARSE);
}

static bool is_slow_descent(const struct td_moment *moment)
{
    return td_cue_plan_drivable(moment) && flashers_rule(moment) &&
           td_plan_target_at(moment->plan, moment->hill->crest_m) < FLASHERS_MPS;
}

static bool leaves_the_grade(const struct td_moment *moment)
{
    double past_m = moment->along_m - moment->hill->foot_m;
    return past_m > 0.0 && (moment->speed_mps >= FLASHERS_MPS || past_m > FLASHERS_PAST_M ||
                            moment->hill->length_m - moment->along_m < PROFILE_ENDS_M);
}

static void cue_flashers(const struct td_moment *moment, struct td_visit *visit,
                         struct td_wishes *wishes)
{
    double ahead_m = moment->hill->crest_m - moment->along_m;
    bool near = ahead_m < moment->speed_mps * FLASHERS_BEFORE_S &&
                moment->along_m < moment->hill->foot_m;
    if (!(visit->said & TD_SAID_FLASHERS_ON) && near && is_slow_descent(moment) &&
        moment->speed_fresh && moment->speed_mps < FLASHERS_MPS) {
        visit->said |= TD_SAID_FLASHERS_ON;
        td_cue_wish(wishes, moment, TD_PROMPT_FLASHERS_ON, -1, moment->along_m, TD_WHY_STATE);
    }
    if ((visit->said & TD_SAID_FLASHERS_ON) && !(visit->said & TD_SAID_FLASHERS_OFF) &&
        leaves_the_grade(moment)) {
        visit->said |= TD_SAID_FLASHERS_OFF;
        td_cue_wish(wishes, moment, TD_PROMPT_FLASHERS_OFF, -1, moment->along_m, TD_WHY_STATE);
    }
}

static enum td_fill fill_flashers(const struct td_moment *moment, struct td_prompt *prompt,
                                  enum td_why *why)
{
    *why = TD_WHY_PASSED;
    if (prompt->id == TD_PROMPT_FLASHERS_ON && moment->along_m >= moment->hill->foot_m)
        return TD_FILL_GONE;
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_after(moment, prompt, 60.0);
    return TD_FILL_READY;
}

static void cue_chain_area(const struct td_moment *moment, struct td_visit *visit,
                           struct td_wishes *wishes)
{
    const struct td_hill *hill = moment->hill;
    if (moment->setup->road != TD_ROAD_ICE)
        return;
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++) {
        double at_m = hill->places[i].at_m;
        if (hill->places[i].kind != TD_PLACE_CHAIN_AREA || (visit->places[i] & TD_SAID_FAR) ||
            !td_cue_sure(moment, at_m - moment->along_m) ||
            !td_cue_mark_due(moment, TD_PROMPT_CHAIN_AREA, at_m, td_cue_far_m(moment),
                             moment->speed_mps * TD_CUE_LEAD_ACT_S))
            continue;
        visit->places[i] |= TD_SAID_FAR;
        td_cue_wish(wishes, moment, TD_PROMPT_CHAIN_AREA, (int32_t)i, at_m, TD_WHY_DISTANCE);
    }
}

void td_cue_road(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes)
{
    cue_chain_area(moment, visit, wishes);
    cue_false_bottom(moment, visit, wishes);
    cue_steeper(moment, visit, wishes);
    cue_flashers(moment, visit, wishes);
}

enum td_fill td_fill_road(const struct td_moment *moment, struct td_prompt *prompt,
                          enum td_why *why)
{
    switch (prompt->id) {
    case TD_PROMPT_STEEPER:
        return fill_steeper(moment, prompt, why);
    case TD_PROMPT_FALSE_BOTTOM:
        return fill_false_bottom(moment, prompt, why);
    case TD_PROMPT_CHAIN_AREA:
        return td_cue_fill_place(moment, prompt, false, why);
    default:
        return fill_flashers(moment, prompt, why);
    }
}
