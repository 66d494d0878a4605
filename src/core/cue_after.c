/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hot brakes after the grade: a stop soon after it, and the next grade.
 *
 * A truck parked with hot brakes wants its wheels chocked: the parking brake holds hot drums with
 * little force, and less as they cool and shrink. It is said to a truck that is coming to a stop on
 * a road under one per cent, never to one that stands, and nothing is ever said of a brake to be
 * left off. Stops of the road itself (sign, signal, crossing) are no parking. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/heat.h"
#include "talkdown/units.h"

/* "Hot": well above ordinary use (120 degC: ICBC, Driving commercial vehicles), as a share of the
 * rig's limit; 156 degC on the published 260. Ours. */
#define HOT_SHARE       0.6
/* Coming to a stop: below this, slowing steadily, and standing within the time. Ours. */
#define PARKING_MPS     (25.0 * TD_MPS_PER_MPH)
#define PARKING_SLOWING_MPS2 0.3
#define STANDS_WITHIN_S 20.0
#define LEVEL_RATIO     0.01
#define ROAD_STOP_M     200.0
/* Hotter than the plan starts with by as much as asks for another plan. */
#define HOTTER_C        15.0
#define NEXT_WITHIN_M   (5.0 * TD_M_PER_MI)
/* The bottom's own words come first. */
#define AFTER_FOOT_S    4.0
#define NEWS_M          800.0

static bool stops_for_the_road(const struct td_moment *moment)
{
    for (size_t i = 0; i < moment->hill->place_count; i++) {
        const struct td_place *place = &moment->hill->places[i];
        double ahead_m = place->at_m - moment->along_m;
        if ((place->kind == TD_PLACE_STOP || place->kind == TD_PLACE_SIGNAL ||
             place->kind == TD_PLACE_RAIL_CROSSING) &&
            ahead_m > -30.0 && ahead_m < ROAD_STOP_M)
            return true;
    }
    return false;
}

static bool is_hot(const struct td_moment *moment)
{
    return moment->heat_likely_c >= HOT_SHARE * moment->setup->rig.brakes.limit_c;
}

static bool is_parking(const struct td_moment *moment)
{
    double v = moment->speed_mps, slows = -moment->accel_mps2;
    return moment->speed_fresh && v >= TD_CUE_ROLLING_MPS && v <= PARKING_MPS &&
           slows >= PARKING_SLOWING_MPS2 && v / slows <= STANDS_WITHIN_S &&
           fabs(td_hill_downgrade_at(moment->hill, moment->along_m)) < LEVEL_RATIO;
}

static void cue_parking(const struct td_moment *moment, struct td_visit *visit,
                        struct td_wishes *wishes)
{
    if (visit->hot.parking || moment->along_m < moment->hill->crest_m || !is_hot(moment) ||
        !is_parking(moment) || stops_for_the_road(moment))
        return;
    visit->hot.parking = true;
    td_cue_wish(wishes, moment, TD_PROMPT_HOT_PARKING, -1, moment->along_m, TD_WHY_STATE);
}

/* Heat left when the next crest is reached at the present speed, the brakes untouched till then. */
static double left_at_next_c(const struct td_moment *moment, double next_m)
{
    const struct td_rig *rig = &moment->setup->rig;
    struct td_plan_query query = td_plan_query_default(rig);
    double ambient_c = isfinite(moment->setup->ambient_c) ? moment->setup->ambient_c
                                                          : query.ambient_c;
    double v = fmax(moment->speed_mps, TD_CUE_ROLLING_MPS);
    double away_s = fmax(0.0, next_m - moment->along_m) / v;
    return td_heat_step_c(&rig->brakes, 1.0 - rig->brakes.missing_ratio, moment->heat_likely_c,
                          0.0, v, ambient_c, away_s);
}

static bool still_hot(const struct td_moment *moment, double foot_m)
{
    double next_m;
    if (td_cue_next_after(moment, foot_m, &next_m) != TD_NEXT_GRADE ||
        next_m - foot_m > NEXT_WITHIN_M)
        return false;
    double starts_c = td_plan_query_default(&moment->setup->rig).brakes_from_c;
    return left_at_next_c(moment, next_m) > starts_c + HOTTER_C;
}

/* The foot last passed: that of the hill, or of the descent above the break the truck is on. */
static double foot_behind_m(const struct td_moment *moment)
{
    const struct td_plan *plan = moment->plan;
    double foot_m = moment->along_m >= moment->hill->foot_m ? moment->hill->foot_m : -1.0;
    for (size_t i = 0; td_cue_plan_drivable(moment) && i + 1 < plan->descent_count; i++)
        if (moment->along_m >= plan->descents[i].to_m &&
            moment->along_m < plan->descents[i + 1].from_m)
            foot_m = plan->descents[i].to_m;
    return foot_m;
}

static void cue_next_grade(const struct td_moment *moment, struct td_visit *visit,
                           struct td_wishes *wishes)
{
    double foot_m = foot_behind_m(moment);
    if (foot_m < 0.0) {
        visit->hot.next_grade = false; /* on a grade, or before the first */
        return;
    }
    double past_m = moment->along_m - foot_m;
    if (visit->hot.next_grade || !moment->speed_fresh || visit->first_along_m > foot_m ||
        past_m < AFTER_FOOT_S * moment->speed_mps)
        return;
    visit->hot.next_grade = true;
    if (past_m <= NEWS_M && still_hot(moment, foot_m))
        td_cue_wish(wishes, moment, TD_PROMPT_BRAKES_STILL_HOT, -1, foot_m, TD_WHY_STATE);
}

void td_cue_after(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes)
{
    if (!moment->setup->rig_is_set)
        return;
    cue_parking(moment, visit, wishes);
    cue_next_grade(moment, visit, wishes);
}

enum td_fill td_fill_after(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why)
{
    (void)visit;
    *why = TD_WHY_CLEARED;
    bool parking = prompt->id == TD_PROMPT_HOT_PARKING;
    /* He drives on, or stands already. */
    if (parking && (moment->speed_mps < TD_CUE_ROLLING_MPS || moment->accel_mps2 > 0.0 ||
                    !is_hot(moment)))
        return TD_FILL_GONE;
    if (!parking && !still_hot(moment, prompt->about_m))
        return TD_FILL_GONE;
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_after(moment, prompt, parking ? 8.0 : 20.0);
    return TD_FILL_READY;
}
