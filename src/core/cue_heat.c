/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brakes on the grade: heating (by the likely figure), hot (by the least), and what to do.
 *
 * Thresholds are shares of the rig's own limit, ours: the caution comes when the brakes are as hot
 * as the plan reckons at its worst, but no sooner than at three quarters of the limit and no later
 * than at 85 per cent; the warning when a tenth is left, or when one emergency stop from this speed
 * would pass the limit. On the published limit of 500 degF (260 degC) that is 383 to 433 degF and
 * 450.
 *
 * What to do: if the planned gear can be in and holds the truck without its brakes at some speed
 * that may be spoken, that ceiling; else the nearest room that can still be stopped at; past
 * that nothing is named here, and the escape lanes have their own prompts. Each threshold is said
 * as it is passed, again only when it got clearly worse or another room comes, and re-armed
 * well below it. The regular repeats of A21 are not used: the driver who heard it is doing what
 * can be done, and the same voice every few seconds would hide the escape lanes. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/forces.h"
#include "talkdown/units.h"

#define CAUTION_LEAST_SHARE 0.75
#define CAUTION_MOST_SHARE  0.85
#define WARNING_SHARE       0.90
/* Re-armed so far below the threshold. */
#define REARM_C             30.0
/* Said again when so much hotter, and no sooner. */
#define WORSE_C             20.0
#define APART_NS            (20 * TD_NS_PER_S)
/* An emergency stop as the reference model charges it: half as much again as the truck's energy
 * (FHWA/RD-81/185, from memory). */
#define STOP_ENERGY_RATIO   1.5
/* Perception, reaction, air lag (driver's manual, as in the plan's margins). */
#define BEFORE_BRAKING_S    3.25
/* What brakes near their limit are to do on a planned stop: half of the emergency stop that the
 * plan counts on where it is wet. Ours. */
#define HOT_STOP_MPS2       0.5
/* Room farther on is no answer to hot brakes; nor one of which the words end too late. */
#define ROOM_MOST_M         (2.0 * TD_M_PER_MI)
/* A truck that gains like this is not being braked: its brakes get no hotter, and are no answer. */
#define GAINING_MPS2        0.15

static double stop_rise_c(const struct td_moment *moment)
{
    const struct td_brakes *brakes = &moment->setup->rig.brakes;
    return STOP_ENERGY_RATIO * 0.5 * moment->mass_kg * moment->speed_mps * moment->speed_mps /
           (brakes->heat_capacity_j_per_k * (1.0 - brakes->missing_ratio));
}

static double caution_from_c(const struct td_moment *moment)
{
    double limit_c = moment->setup->rig.brakes.limit_c;
    const struct td_plan_descent *descent = td_cue_descent(moment);
    double planned_c = descent && isfinite(descent->peak_c) ? descent->peak_c : 0.0;
    return fmin(CAUTION_MOST_SHARE * limit_c, fmax(CAUTION_LEAST_SHARE * limit_c, planned_c));
}

static double warning_from_c(const struct td_moment *moment)
{
    double limit_c = moment->setup->rig.brakes.limit_c;
    return fmin(WARNING_SHARE * limit_c, limit_c - stop_rise_c(moment));
}

/* Where a truck may stand off the road: the first of any kind, not the best of one kind. */
static bool is_room_to_stop(enum td_place_kind kind)
{
    return kind == TD_PLACE_TURN_OUT || kind == TD_PLACE_BRAKE_CHECK || kind == TD_PLACE_CHAIN_AREA;
}

/* Where it can still be stopped after the words; -1 none. */
static int32_t room_ahead(const struct td_moment *moment, enum td_prompt_id id)
{
    const struct td_hill *hill = moment->hill;
    double v = moment->speed_mps;
    double needs_m = v * (td_cue_say_s(moment, id) + BEFORE_BRAKING_S) +
                     v * v / (2.0 * HOT_STOP_MPS2);
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++) {
        double ahead_m = hill->places[i].at_m - moment->along_m;
        if (is_room_to_stop(hill->places[i].kind) && ahead_m >= needs_m &&
            ahead_m <= ROOM_MOST_M && td_cue_sure(moment, ahead_m))
            return (int32_t)i;
    }
    return -1;
}

static double steepest_ahead(const struct td_moment *moment)
{
    const struct td_hill *hill = moment->hill;
    double foot_m = td_cue_foot_m(moment);
    double steepest = td_hill_downgrade_at(hill, moment->along_m);
    for (size_t i = 0; i < hill->run_count; i++)
        if (hill->runs[i].to_m > moment->along_m && hill->runs[i].from_m < foot_m)
            steepest = fmax(steepest, hill->runs[i].downgrade_ratio);
    return steepest;
}

static bool gear_holds(const struct td_moment *moment, const struct td_plan_descent *descent,
                       double mps)
{
    const struct td_rig *rig = &moment->setup->rig;
    double rpm = td_rig_rpm(rig, (size_t)descent->gear, mps);
    struct td_forces forces =
        td_forces_at(rig, moment->mass_kg, descent->gear, descent->stage,
                     td_plan_credit_ratio(TD_CREDIT_CAUTIOUS), steepest_ahead(moment), mps);
    return rpm >= rig->rpm_least && rpm <= rig->rpm_most && td_forces_brake_n(&forces) <= 0.0;
}

/* The highest speed to be spoken, no more than now called, at which the planned gear alone holds
 * the rest of the descent; 0 none, or another gear is in. */
static int32_t ceiling_that_holds(const struct td_moment *moment, const struct td_visit *visit)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    const struct td_rig *rig = &moment->setup->rig;
    if (!descent || descent->gear < 0 || visit->gain.not_taken ||
        td_rig_rpm(rig, (size_t)descent->gear, moment->speed_mps) > rig->rpm_most)
        return 0;
    int32_t say = td_cue_say_speed(moment, td_plan_target_at(moment->plan, moment->along_m));
    if (visit->ceiling > 0 && visit->ceiling < say)
        say = visit->ceiling;
    for (; say >= 5; say -= 5)
        if (gear_holds(moment, descent, td_cue_mps_from_say(moment, say)))
            return say;
    return 0;
}

/* Passed just now, or said already and clearly worse since. */
static bool crosses(const struct td_moment *moment, double heat_c, double from_c, bool *passed,
                    double said_c, int64_t said_ns)
{
    if (heat_c < from_c - REARM_C)
        *passed = false;
    if (heat_c < from_c)
        return false;
    bool first = !*passed;
    *passed = true;
    return first || (heat_c >= said_c + WORSE_C && moment->now_ns - said_ns >= APART_NS);
}

static void wish_at(struct td_wishes *wishes, const struct td_moment *moment,
                    enum td_prompt_id id, int32_t place)
{
    double about_m = place >= 0 ? moment->hill->places[place].at_m : moment->along_m;
    td_cue_wish(wishes, moment, id, place, about_m, TD_WHY_STATE);
}

static void warn(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes)
{
    struct td_hot *hot = &visit->hot;
    double heat_c = moment->heat_least_c;
    int32_t place = room_ahead(moment, TD_PROMPT_STOP_AT);
    bool passed = hot->warning;
    bool due = crosses(moment, heat_c, warning_from_c(moment), &hot->warning, hot->warning_c,
                       hot->warning_ns);
    /* Another room comes within half a mile while they are hot: it is offered in its turn. */
    bool offer = passed && hot->warning && place >= 0 && place + 1 != hot->room &&
                 hot->ceiling == 0 && moment->now_ns - hot->warning_ns >= APART_NS &&
                 moment->hill->places[place].at_m - moment->along_m <= td_cue_near_m(moment);
    if (!due && !offer)
        return;
    hot->warning_c = heat_c;
    hot->warning_ns = moment->now_ns;
    hot->caution = true;
    hot->caution_c = fmax(hot->caution_c, moment->heat_likely_c);
    hot->caution_ns = moment->now_ns;
    hot->ceiling = ceiling_that_holds(moment, visit);
    if (hot->ceiling > 0) {
        wish_at(wishes, moment, TD_PROMPT_BRAKES_HOT, -1);
        td_cue_wish(wishes, moment, TD_PROMPT_CEILING, -1, moment->along_m, TD_WHY_STATE);
        visit->ceiling = hot->ceiling;
        return;
    }
    hot->room = place + 1;
    wish_at(wishes, moment, place >= 0 ? TD_PROMPT_STOP_AT : TD_PROMPT_BRAKES_HOT, place);
}

static void caution(const struct td_moment *moment, struct td_visit *visit,
                    struct td_wishes *wishes)
{
    struct td_hot *hot = &visit->hot;
    double heat_c = moment->heat_likely_c;
    if (!crosses(moment, heat_c, caution_from_c(moment), &hot->caution, hot->caution_c,
                 hot->caution_ns) ||
        hot->warning)
        return;
    hot->caution_c = heat_c;
    hot->caution_ns = moment->now_ns;
    wish_at(wishes, moment, TD_PROMPT_BRAKES_HEATING,
            room_ahead(moment, TD_PROMPT_BRAKES_HEATING));
}

void td_cue_heat(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes)
{
    if (!moment->setup->rig_is_set || !td_cue_on_grade(moment) || !moment->speed_fresh ||
        moment->speed_mps < TD_CUE_ROLLING_MPS || moment->accel_mps2 > GAINING_MPS2)
        return;
    warn(moment, visit, wishes);
    caution(moment, visit, wishes);
}

/* Distance and place of the room that can still be stopped at; false: behind, or nearly. */
static bool fill_room(const struct td_moment *moment, struct td_prompt *prompt)
{
    if (prompt->place < 0 || (size_t)prompt->place >= moment->hill->place_count)
        return false;
    double at_m = moment->hill->places[prompt->place].at_m;
    if (td_cue_left_s(moment, prompt->id, at_m) < TD_CUE_LEAD_LEAST_S)
        return false;
    struct td_arg distance = td_cue_distance_arg(moment, prompt->id, at_m);
    td_cue_args(prompt, 2, (struct td_arg[]){{TD_UNIT_PLACE, prompt->place}, distance});
    return true;
}

enum td_fill td_fill_heat(const struct td_moment *moment, const struct td_visit *visit,
                          struct td_prompt *prompt, enum td_why *why)
{
    bool warning = prompt->id != TD_PROMPT_BRAKES_HEATING;
    *why = TD_WHY_CLEARED;
    if (!(warning ? visit->hot.warning : visit->hot.caution) || !td_cue_on_grade(moment) ||
        moment->speed_mps < TD_CUE_ROLLING_MPS)
        return TD_FILL_GONE;
    if (prompt->id == TD_PROMPT_BRAKES_HOT) {
        td_cue_args(prompt, 0, NULL);
    } else if (!fill_room(moment, prompt)) {
        *why = TD_WHY_PASSED;
        if (prompt->id == TD_PROMPT_STOP_AT)
            return TD_FILL_GONE;
        td_cue_args(prompt, 2, (struct td_arg[]){{TD_UNIT_NONE, 0}, {TD_UNIT_NONE, 0}});
    }
    *why = TD_WHY_CLEARED;
    td_cue_expire_after(moment, prompt, 10.0);
    return TD_FILL_READY;
}
