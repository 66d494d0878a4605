/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The ceiling: at the first stretch and at each change, counted back from where the truck must
 * begin to slow. A lower one is called with its cause where that is a curve or a sign. */
#include "core/cue.h"

#include <math.h>

/* A higher ceiling that holds for less than this is not worth a word. */
#define RISE_LEAST_S 75.0
/* The stretch of a curve begins with the plan's piece that the curve touches. */
#define CURVE_NEAR_M 120.0
/* On a break only a truck that is over the road's own ceiling is told of it. */
#define BREAK_OVER_MPS 1.0

struct ceiling {
    int32_t say; /* 0 none */
    const struct td_plan_stretch *stretch;
};

/* Whichever words it comes in, it comes in time. */
static double longest_say_s(const struct td_moment *moment)
{
    return fmax(td_cue_say_s(moment, TD_PROMPT_CEILING),
                fmax(td_cue_say_s(moment, TD_PROMPT_CURVE),
                     td_cue_say_s(moment, TD_PROMPT_LIMIT)));
}

/* The lowest ceiling from here to `ahead_m` on, counting a lower stretch from where the truck must
 * begin to slow for it; of `by` only, or of anything that holds the speed down (TD_LIMIT_NONE). */
static struct ceiling ceiling_within(const struct td_moment *moment, double ahead_m,
                                     enum td_plan_limit by)
{
    const struct td_plan *plan = moment->plan;
    double speed = moment->speed_mps;
    double say_s = longest_say_s(moment);
    struct ceiling lowest = {0, NULL};
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        double act_m = speed * (say_s + TD_CUE_LEAD_ACT_S) +
                       td_cue_slowing_m(speed, stretch->target_mps,
                                        moment->setup->rig.comfortable_mps2);
        /* Where nothing holds the speed down there is no ceiling to call. */
        if (stretch->limited_by == TD_LIMIT_NONE || stretch->to_m <= moment->along_m ||
            stretch->from_m - moment->along_m > fmax(act_m, ahead_m) ||
            (by != TD_LIMIT_NONE && stretch->limited_by != by))
            continue;
        int32_t say = td_cue_say_speed(moment, stretch->target_mps);
        if (say > 0 && (lowest.say == 0 || say < lowest.say))
            lowest = (struct ceiling){say, stretch};
    }
    return lowest;
}

/* Capped by what hot brakes leave. */
static struct ceiling ceiling_now(const struct td_moment *moment, const struct td_visit *visit,
                                  double ahead_m, enum td_plan_limit by)
{
    struct ceiling ceiling = ceiling_within(moment, ahead_m, by);
    if (visit->hot.ceiling > 0 && ceiling.say > visit->hot.ceiling)
        ceiling.say = visit->hot.ceiling;
    return ceiling;
}

static bool has_changed(const struct td_moment *moment, const struct td_visit *visit,
                        int32_t say)
{
    if (say <= 0 || say == visit->ceiling)
        return false;
    if (visit->ceiling == 0 || say < visit->ceiling)
        return true;
    double at_speed = fmax(moment->speed_mps, td_cue_mps_from_say(moment, say));
    return moment->setup->talk != TD_TALK_SPARSE &&
           ceiling_now(moment, visit, RISE_LEAST_S * at_speed, TD_LIMIT_NONE).say >
               visit->ceiling &&
           td_cue_foot_m(moment) - moment->along_m > RISE_LEAST_S * at_speed;
}

/* A drop ahead has its cause; the first ceiling and a rise are only a speed. */
static enum td_prompt_id id_of(const struct td_moment *moment, const struct td_visit *visit,
                               const struct ceiling *ceiling)
{
    bool drops = visit->ceiling > 0 && ceiling->say < visit->ceiling;
    if (!drops || ceiling->stretch->from_m <= moment->along_m)
        return TD_PROMPT_CEILING;
    if (ceiling->stretch->limited_by == TD_LIMIT_CURVE)
        return TD_PROMPT_CURVE;
    return ceiling->stretch->limited_by == TD_LIMIT_POSTED ? TD_PROMPT_LIMIT : TD_PROMPT_CEILING;
}

/* On the level between two descents. */
static bool on_break(const struct td_moment *moment)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    return descent && descent != moment->plan->descents && moment->along_m < descent->from_m;
}

/* The lowest sign or curve to slow for that begins before the break ends; `by` only, or either
 * (TD_LIMIT_NONE). A curve under way is past telling. */
static struct ceiling break_ceiling(const struct td_moment *moment, enum td_plan_limit by)
{
    const struct td_plan *plan = moment->plan;
    double v = moment->speed_mps, crest_m = td_cue_crest_m(moment);
    struct ceiling lowest = {0, NULL};
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        double act_m = v * (longest_say_s(moment) + TD_CUE_LEAD_ACT_S) +
                       td_cue_slowing_m(v, stretch->target_mps,
                                        moment->setup->rig.comfortable_mps2);
        bool curve = stretch->limited_by == TD_LIMIT_CURVE;
        bool of_road = curve || stretch->limited_by == TD_LIMIT_POSTED;
        double ahead_m = stretch->from_m - moment->along_m;
        if (!of_road || (by != TD_LIMIT_NONE && by != stretch->limited_by) ||
            stretch->from_m >= crest_m || stretch->to_m <= moment->along_m || ahead_m > act_m ||
            (curve && ahead_m < v * TD_CUE_LEAD_LEAST_S) ||
            v <= stretch->target_mps + BREAK_OVER_MPS)
            continue;
        int32_t say = td_cue_say_speed(moment, stretch->target_mps);
        if (say > 0 && (lowest.say == 0 || say < lowest.say))
            lowest = (struct ceiling){say, stretch};
    }
    return lowest;
}

/* Nothing was told there: drivers who do what they are told came ten over into bends between two
 * downgrades. The ceiling of the descent above is over, and that of the next not yet called. */
static void cue_break(const struct td_moment *moment, struct td_visit *visit,
                      struct td_wishes *wishes)
{
    struct ceiling ceiling = break_ceiling(moment, TD_LIMIT_NONE);
    if (!moment->speed_fresh || ceiling.say <= 0 ||
        (visit->break_ceiling > 0 && ceiling.say >= visit->break_ceiling))
        return;
    visit->break_ceiling = ceiling.say;
    bool curve = ceiling.stretch->limited_by == TD_LIMIT_CURVE;
    td_cue_wish(wishes, moment, curve ? TD_PROMPT_CURVE : TD_PROMPT_LIMIT, -1,
                ceiling.stretch->from_m, TD_WHY_DISTANCE);
}

void td_cue_ceiling(const struct td_moment *moment, struct td_visit *visit,
                    struct td_wishes *wishes)
{
    if (!td_cue_plan_drivable(moment) || moment->along_m >= moment->hill->foot_m)
        return;
    if (on_break(moment))
        cue_break(moment, visit, wishes);
    else
        visit->break_ceiling = 0;
    double ahead_m = td_cue_crest_m(moment) - moment->along_m;
    double lead_s = td_cue_say_s(moment, TD_PROMPT_CEILING) + TD_CUE_LEAD_ACT_S;
    if (ahead_m > moment->speed_mps * lead_s || !td_cue_sure(moment, ahead_m))
        return;
    struct ceiling ceiling = ceiling_now(moment, visit, 0.0, TD_LIMIT_NONE);
    if (!has_changed(moment, visit, ceiling.say))
        return;
    enum td_prompt_id id = id_of(moment, visit, &ceiling);
    visit->ceiling = ceiling.say;
    td_cue_wish(wishes, moment, id, -1, moment->along_m, TD_WHY_DISTANCE);
}

/* Which way the first curve of a stretch turns. */
static enum td_side turn_of(const struct td_hill *hill, const struct td_plan_stretch *stretch)
{
    for (size_t i = 0; i < hill->curve_count; i++)
        if (hill->curves[i].to_m > stretch->from_m &&
            hill->curves[i].from_m < stretch->from_m + CURVE_NEAR_M)
            return hill->curves[i].turn;
    return TD_SIDE_UNKNOWN;
}

enum td_fill td_fill_ceiling(const struct td_moment *moment, const struct td_visit *visit,
                             struct td_prompt *prompt, enum td_why *why)
{
    *why = TD_WHY_CLEARED;
    if (!td_cue_plan_drivable(moment) || moment->along_m >= moment->hill->foot_m)
        return TD_FILL_GONE;
    bool posted = prompt->id == TD_PROMPT_LIMIT;
    bool of_break = on_break(moment) && visit->ceiling == 0 && prompt->id != TD_PROMPT_CEILING;
    struct ceiling ceiling =
        of_break ? break_ceiling(moment, posted ? TD_LIMIT_POSTED : TD_LIMIT_CURVE)
                 : ceiling_now(moment, visit, 0.0, posted ? TD_LIMIT_POSTED : TD_LIMIT_NONE);
    if (ceiling.say <= 0)
        return TD_FILL_GONE;
    struct td_arg speed = td_cue_speed_arg(moment, ceiling.say);
    if (prompt->id == TD_PROMPT_CURVE) {
        bool ahead = ceiling.stretch->limited_by == TD_LIMIT_CURVE;
        enum td_side turn = ahead ? turn_of(moment->hill, ceiling.stretch) : TD_SIDE_UNKNOWN;
        td_cue_args(prompt, 2, (struct td_arg[]){{TD_UNIT_SIDE, (int32_t)turn}, speed});
    } else {
        td_cue_args(prompt, 1, &speed);
    }
    td_cue_expire_after(moment, prompt, 20.0);
    return TD_FILL_READY;
}
