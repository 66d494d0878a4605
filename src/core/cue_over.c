/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Over speed: the public timing model of (EU) 2021/1958 Annex I 3.5, on the plan's target.
 *
 * One excursion runs from crossing the target until the speed is back below it (re-arm, 3.5.3). It
 * is called after a hold time that shrinks with the ratio of speed to target (3.5.2.1.4), at once
 * at three mph over and still gaining, and never while the truck is slowing (3.5.2.1.8, by measured
 * deceleration). Unanswered it is called once more after a pause of at most three seconds; then
 * only when the truck has gained three mph more, or half a minute has passed. A voice that repeated
 * itself every seven seconds for ten minutes (a driver who holds ten over) taught nothing, and hid
 * the escape lanes behind it (docs/decisions/over-speed-repeats.md). */
#include "core/cue.h"

#include <math.h>

#include "talkdown/units.h"

/* Speeds within 1 km/h of the limit count as equal to it (3.2.4). */
#define TOLERANCE_MPS     (1.0 * TD_MPS_PER_KMH)
#define AT_ONCE_OVER_MPS  (3.0 * TD_MPS_PER_MPH)
#define GAINING_MPS2      0.05
#define CALLS_IN_A_ROW    2u
#define WORSE_MPS         (3.0 * TD_MPS_PER_MPH)
#define REMIND_NS         (30 * TD_NS_PER_S)
#define CLEARLY_SLOWING_MPS2 (-0.3)
/* Creeping off after a stop, or in a queue, nobody is told to brake. */
#define REST_MPS          (10.0 * TD_MPS_PER_MPH)

/* 6 s just over, 3 s from 130 per cent on, straight between. */
static double hold_s(double ratio)
{
    return fmin(6.0, fmax(3.0, 6.0 - 10.0 * (ratio - 1.0)));
}

/* "Brake to two five." came out of the blue in a bend on the level. */
double td_cue_limit_mps(const struct td_moment *moment)
{
    return td_cue_on_descent(moment) ? td_plan_target_at(moment->plan, moment->along_m) : 0.0;
}

static bool due(const struct td_moment *moment, const struct td_over *over, double limit)
{
    double over_s = td_s_from_ns(moment->now_ns - over->since_ns);
    bool at_once = moment->speed_mps >= limit + AT_ONCE_OVER_MPS &&
                   moment->accel_mps2 > GAINING_MPS2;
    return at_once || over_s >= hold_s(moment->speed_mps / limit);
}

/* Enough has been said of it for now: nothing got worse since. */
static bool told(const struct td_moment *moment, const struct td_over *over)
{
    return over->calls >= CALLS_IN_A_ROW && moment->speed_mps < over->called_mps + WORSE_MPS &&
           moment->now_ns < over->called_ns + REMIND_NS;
}

static void watch(const struct td_moment *moment, struct td_over *over, double limit)
{
    if (limit <= 0.0 || moment->speed_mps <= limit) {
        *over = (struct td_over){0};
    } else if (!over->over && moment->speed_mps > limit + TOLERANCE_MPS) {
        *over = (struct td_over){.over = true, .since_ns = moment->now_ns};
    }
}

void td_cue_over(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes)
{
    struct td_over *over = &visit->over;
    if (!moment->speed_fresh)
        return;
    double limit = td_cue_limit_mps(moment);
    watch(moment, over, limit);
    if (!over->over || over->muted || td_cue_slowing(moment) || moment->speed_mps < REST_MPS ||
        moment->speed_mps <= limit + TOLERANCE_MPS || moment->now_ns < over->next_ns ||
        told(moment, over) || !due(moment, over, limit))
        return;
    enum td_why why = over->warned ? TD_WHY_TIME : TD_WHY_STATE;
    over->warned = true;
    td_cue_wish(wishes, moment, TD_PROMPT_OVER_SPEED, -1, moment->along_m, why);
}

/* The limit as spoken, never above the ceiling called last: "Ten or slower." for the stretch ahead
 * was followed by "Brake to one five." for the one before it. */
static int32_t say_limit(const struct td_moment *moment, const struct td_visit *visit, double limit)
{
    int32_t say = td_cue_say_speed(moment, limit);
    return visit->ceiling > 0 && visit->ceiling < say ? visit->ceiling : say;
}

enum td_fill td_fill_over(const struct td_moment *moment, const struct td_visit *visit,
                          struct td_prompt *prompt, enum td_why *why)
{
    double limit = td_cue_limit_mps(moment);
    int32_t say = say_limit(moment, visit, limit);
    *why = TD_WHY_CLEARED;
    if (!visit->over.over || say <= 0 || moment->speed_mps <= limit || td_cue_slowing(moment))
        return TD_FILL_GONE;
    if (visit->over.muted) {
        *why = TD_WHY_QUIET;
        return TD_FILL_GONE;
    }
    td_cue_args(prompt, 1, (struct td_arg[]){td_cue_speed_arg(moment, say)});
    prompt->expires_ns = moment->now_ns + 3 * TD_NS_PER_S;
    return moment->speed_fresh ? TD_FILL_READY : TD_FILL_HOLD;
}

void td_cue_over_issued(const struct td_moment *moment, struct td_over *over)
{
    over->calls++;
    over->called_mps = moment->speed_mps;
    over->called_ns = moment->now_ns;
}

bool td_cue_answered(const struct td_moment *moment, const struct td_visit *visit,
                     const struct td_prompt *prompt)
{
    if (prompt->category == TD_DANGER && prompt->hill_handle == visit->handle)
        return !visit->runaway.on;
    if (prompt->id != TD_PROMPT_OVER_SPEED || prompt->hill_handle != visit->handle)
        return false;
    return !visit->over.over || moment->accel_mps2 < CLEARLY_SLOWING_MPS2;
}

int64_t td_cue_next_ns(const struct td_moment *moment, const struct td_visit *visit)
{
    const struct td_over *over = &visit->over;
    double limit = td_cue_limit_mps(moment);
    if (!over->over || over->muted || limit <= 0.0 || !moment->speed_fresh)
        return INT64_MAX;
    int64_t at_ns = over->since_ns + (int64_t)(hold_s(moment->speed_mps / limit) * 1e9);
    if (at_ns < over->next_ns)
        at_ns = over->next_ns;
    if (told(moment, over) && at_ns < over->called_ns + REMIND_NS)
        at_ns = over->called_ns + REMIND_NS;
    return at_ns > moment->now_ns ? at_ns : INT64_MAX;
}
