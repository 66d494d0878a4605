/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Speed building and engine over speed: what the truck's gain tells of its gear.
 *
 * A fix knows no gear. What it knows is how fast the truck gains, and the rig's own forces say how
 * fast it could at most gain here in the planned gear and stage, with the load, the grade, the
 * engine brake and the receiver all off to the worse side. More than that for three seconds, and so
 * much that the truck would be well over the target before a driver could act: "Speed building."
 * once a stretch. Over the target it means that the plan was not taken, and the heat of this
 * descent is reckoned without any engine brake until the next stop.
 *
 * The engine is over speed when the planned gear is. It is said only of a truck that was for ten
 * seconds, on this descent, at a speed where that gear could be in and gained no more than it
 * allows: one that came down in a higher gear does not over-speed its engine, and hears "Over
 * speed" and "Speed building". "Over speed", which names the speed, comes first. Nobody shifts on
 * a grade, so that one gear is every gear that fits. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/forces.h"
#include "talkdown/units.h"

/* Least-squares slope of GNSS speeds over 3 s: two sigma of 0.05 m/s2 (ours). */
#define NOISE_MPS2       0.1
#define EXCESS_HOLD_NS   (3 * TD_NS_PER_S)
/* Of its rated torque the plan counts on three quarters; a stage that gives so little is taken. */
#define CREDIT           0.75
/* The rate of speed is that of the last seconds: the grade may be that of a place behind. */
#define RATE_OVER_S      3.0
/* Where over speed would be called at once. */
#define WELL_OVER_MPS    (3.0 * TD_MPS_PER_MPH)
#define REST_MPS         (10.0 * TD_MPS_PER_MPH)
#define TOLERANCE_MPS    (1.0 * TD_MPS_PER_KMH)
#define APART_NS         (30 * TD_NS_PER_S)
/* Over the crest he may still be on the throttle. Ours: as long as a driver has to be down to the
 * target. */
#define SETTLE_NS        (10 * TD_NS_PER_S)
#define STANDING_MPS     0.5
/* The band's end is passed by more than receiver noise. */
#define RPM_OVER_RATIO   1.03
#define IN_GEAR_NS       (10 * TD_NS_PER_S)

static double steepest_near(const struct td_moment *moment)
{
    const struct td_hill *hill = moment->hill;
    double back_m = moment->speed_mps * RATE_OVER_S + moment->sigma_m;
    double steepest = td_hill_downgrade_at(hill, moment->along_m + moment->sigma_m);
    for (int i = 0; i <= 3; i++)
        steepest = fmax(steepest, td_hill_downgrade_at(hill, moment->along_m - back_m * i / 3.0));
    return steepest;
}

static int stage_here(const struct td_moment *moment, const struct td_plan_descent *descent)
{
    const struct td_rig *rig = &moment->setup->rig;
    bool banned = td_cue_engine_brake_banned(moment->hill, moment->along_m);
    bool on_crank = descent->stage >= 0 &&
                    rig->stages[descent->stage].kind != TD_HOLDER_RETARDER;
    return banned && on_crank ? -1 : descent->stage;
}

/* The most it gains here with the plan taken and everything else off to the worse side; a retarder
 * as hot as its guard lets it get. */
static double allowed_mps2(const struct td_moment *moment, const struct td_plan_descent *descent)
{
    const struct td_rig *rig = &moment->setup->rig;
    struct td_plan_doubt doubt = td_plan_doubt_default();
    double mass_kg = moment->mass_kg * doubt.mass_ratio;
    struct td_forces forces =
        td_forces_at(rig, mass_kg, descent->gear, stage_here(moment, descent), CREDIT,
                     steepest_near(moment) + doubt.downgrade_add, moment->speed_mps);
    forces.retarder_n *= rig->retarder.least_ratio;
    return fmax(0.0, td_forces_accel_mps2(&forces, 0.0,
                                          td_force_moving_kg(rig, mass_kg, descent->gear))) +
           NOISE_MPS2;
}

static void watch_excess(const struct td_moment *moment, const struct td_plan_descent *descent,
                         struct td_gain *gain)
{
    if (!descent)
        gain->since_ns = 0;
    else if (gain->since_ns == 0)
        gain->since_ns = td_cue_stamp(moment->now_ns);
    bool gains = descent && moment->now_ns - gain->since_ns >= SETTLE_NS && moment->speed_fresh &&
                 moment->speed_mps >= REST_MPS &&
                 moment->accel_mps2 > allowed_mps2(moment, descent);
    if (!gains)
        gain->excess_ns = 0;
    else if (gain->excess_ns == 0)
        gain->excess_ns = td_cue_stamp(moment->now_ns);
}

/* Told now, the driver would act when the truck is well over the target. */
static bool would_be_over(const struct td_moment *moment)
{
    double ahead_s = td_cue_say_s(moment, TD_PROMPT_SPEED_BUILDING) + TD_CUE_LEAD_LEAST_S;
    return moment->speed_mps + moment->accel_mps2 * ahead_s >=
           td_cue_limit_mps(moment) + WELL_OVER_MPS;
}

/* Which stretch of the plan lies under the truck, from 1. */
static size_t stretch_at(const struct td_moment *moment)
{
    size_t at = 1;
    for (size_t i = 0; i < moment->plan->stretch_count; i++)
        if (moment->plan->stretches[i].from_m <= moment->along_m)
            at = i + 1;
    return at;
}

static void cue_building(const struct td_moment *moment, struct td_visit *visit,
                         struct td_wishes *wishes)
{
    struct td_gain *gain = &visit->gain;
    if (gain->excess_ns == 0 || moment->now_ns - gain->excess_ns < EXCESS_HOLD_NS ||
        !would_be_over(moment))
        return;
    /* Below the target a driver may be coming up to speed on the throttle. */
    if (moment->speed_mps > td_cue_limit_mps(moment) + TOLERANCE_MPS)
        gain->not_taken = true;
    bool lately = gain->building_ns != 0 && moment->now_ns - gain->building_ns < APART_NS;
    /* Once the warning was given the caution says less. */
    if (gain->stretch == stretch_at(moment) || lately || visit->over.warned)
        return;
    gain->stretch = stretch_at(moment);
    gain->building_ns = td_cue_stamp(moment->now_ns);
    td_cue_wish(wishes, moment, TD_PROMPT_SPEED_BUILDING, -1, moment->along_m, TD_WHY_STATE);
}

static double rpm_ratio(const struct td_moment *moment, const struct td_plan_descent *descent)
{
    const struct td_rig *rig = &moment->setup->rig;
    return td_rig_rpm(rig, (size_t)descent->gear, moment->speed_mps) / rig->rpm_most;
}

static void watch_gear(const struct td_moment *moment, const struct td_plan_descent *descent,
                       struct td_gain *gain)
{
    bool could_be = rpm_ratio(moment, descent) <= 1.0 && gain->excess_ns == 0 && !gain->not_taken &&
                    moment->speed_mps >= REST_MPS;
    if (gain->not_taken)
        gain->in_gear = false;
    if (!could_be)
        gain->in_band_ns = 0;
    else if (gain->in_band_ns == 0)
        gain->in_band_ns = td_cue_stamp(moment->now_ns);
    else if (moment->now_ns - gain->in_band_ns >= IN_GEAR_NS)
        gain->in_gear = true;
}

static void cue_engine(const struct td_moment *moment, struct td_visit *visit,
                       const struct td_plan_descent *descent, struct td_wishes *wishes)
{
    struct td_gain *gain = &visit->gain;
    if (descent->gear < 0 || !moment->speed_fresh)
        return;
    watch_gear(moment, descent, gain);
    double ratio = rpm_ratio(moment, descent);
    if (ratio <= 1.0)
        gain->over_rpm = false;
    if (gain->over_rpm || !gain->in_gear || ratio < RPM_OVER_RATIO ||
        td_cue_slowing(moment) || visit->over.calls == 0)
        return;
    gain->over_rpm = true;
    td_cue_wish(wishes, moment, TD_PROMPT_ENGINE_OVER_SPEED, -1, moment->along_m, TD_WHY_STATE);
}

void td_cue_speed(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes)
{
    struct td_gain *gain = &visit->gain;
    if (moment->speed_fresh && moment->speed_mps < STANDING_MPS)
        gain->not_taken = false;
    const struct td_plan_descent *descent =
        td_cue_on_descent(moment) ? td_cue_descent(moment) : NULL;
    watch_excess(moment, descent, gain);
    if (!descent)
        return;
    cue_building(moment, visit, wishes);
    cue_engine(moment, visit, descent, wishes);
}

enum td_fill td_fill_speed(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why)
{
    *why = TD_WHY_CLEARED;
    if (!td_cue_on_descent(moment) || td_cue_slowing(moment))
        return TD_FILL_GONE;
    bool engine = prompt->id == TD_PROMPT_ENGINE_OVER_SPEED;
    const struct td_plan_descent *descent = td_cue_descent(moment);
    if (engine && (descent->gear < 0 || rpm_ratio(moment, descent) <= 1.0))
        return TD_FILL_GONE;
    if (!engine && (visit->over.warned || moment->accel_mps2 < NOISE_MPS2))
        return TD_FILL_GONE;
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_after(moment, prompt, 6.0);
    return moment->speed_fresh ? TD_FILL_READY : TD_FILL_HOLD;
}
