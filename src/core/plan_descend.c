/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One trial descent: a gear, a stage and a cruising speed driven from crest to foot. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/forces.h"
#include "talkdown/heat.h"
#include "talkdown/units.h"

/* From losing the engine brake to braking: 2.5 s of perception and reaction (MUTCD 2C.04 notes). */
#define REACTION_S 2.5
/* The reference model charges 1.5 times the truck's energy for a stop (FHWA/RD-81/185, from
 * memory); on a steep road the pull during the stop can be more. */
#define STOP_LEAST_RATIO 1.5
/* Wheels of the drive axles: two axles carry about 0.4 of the weight, and wet road holds about 0.4
 * of that. Common practice, no source. */
#define WET_ENGINE_HOLD_G 0.16
#define RPM_SLACK 1e-6

double td_plan_round_down_mps(double speed_mps, enum td_plan_rounding rounding)
{
    if (rounding == TD_PLAN_EXACT)
        return speed_mps;
    double unit = rounding == TD_PLAN_SPOKEN_MPH ? TD_MPS_PER_MPH : TD_MPS_PER_KMH;
    double whole = speed_mps / unit + 1e-6;
    double rounded = whole >= 5 ? floor(whole / 5) * 5 : floor(whole);
    return rounded >= 1 ? rounded * unit : speed_mps;
}

double td_plan_piece_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                         size_t piece)
{
    return td_plan_round_down_mps(
        fmin(trial->cruise_mps, plan_case->road->pieces[piece].ceiling_mps), trial->rounding);
}

static double slowest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    return td_plan_round_down_mps(fmin(trial->cruise_mps, plan_case->slowest_mps),
                                  trial->rounding);
}

static double fastest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    return td_plan_round_down_mps(fmin(trial->cruise_mps, plan_case->fastest_mps),
                                  trial->rounding);
}

bool td_plan_rpm_fits(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    const struct td_rig *rig = plan_case->rig;
    double most = td_rig_rpm(rig, (size_t)trial->gear, fastest_mps(plan_case, trial));
    double least = td_rig_rpm(rig, (size_t)trial->gear, slowest_mps(plan_case, trial));
    /* A converter slips: an automatic's lowest gear has no lowest speed. */
    bool slips = rig->gearbox == TD_GEARBOX_AUTOMATIC && trial->gear == 0;
    return most <= rig->rpm_most + RPM_SLACK && (slips || least >= rig->rpm_least - RPM_SLACK);
}

/* Engine, air and their sum at a speed. */
static double engine_n(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                       const struct td_plan_piece *piece, double speed_mps)
{
    int stage = piece->engine_brake_banned ? -1 : trial->stage;
    return td_force_engine_n(plan_case->rig, trial->gear, stage, plan_case->credit, speed_mps);
}

double td_plan_hold_ratio(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    const struct td_hill *hill = plan_case->hill;
    double mass_kg = plan_case->query->mass_kg, grade = hill->steepest_downgrade_ratio;
    double held_n = td_force_pull_n(mass_kg, grade) -
                    td_force_rolling_n(plan_case->rig, mass_kg, grade);
    double least_ratio = 1000;
    for (size_t i = 0; i < plan_case->road->count; i++) {
        const struct td_plan_piece *piece = &plan_case->road->pieces[i];
        if (piece->from_m + piece->length_m <= hill->steepest_at_m ||
            piece->from_m >= hill->steepest_at_m + 300.0)
            continue;
        double v = td_plan_piece_mps(plan_case, trial, i);
        double need_n = held_n - td_force_air_n(plan_case->rig, v);
        if (need_n > 0)
            least_ratio = fmin(least_ratio, engine_n(plan_case, trial, piece, v) / need_n);
    }
    return least_ratio;
}

bool td_plan_grips(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    if (plan_case->query->road == TD_ROAD_DRY || trial->stage < 0)
        return true;
    double limit_n = WET_ENGINE_HOLD_G * TD_GRAVITY_MPS2 * plan_case->query->mass_kg;
    const double at[] = {slowest_mps(plan_case, trial), fastest_mps(plan_case, trial)};
    for (int i = 0; i < 2; i++)
        if (td_force_engine_n(plan_case->rig, trial->gear, trial->stage, 1, at[i]) > limit_n)
            return false;
    return true;
}

/* What stays the same while the speed does. */
struct steady {
    double speed_mps, length_m;
    bool banned;
    double hold_n;   /* air and engine */
    double air_n;
    double cooling_w_per_k;
    double share;    /* of the way to the steady temperature in one piece */
};

static void settle(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                   const struct td_plan_piece *piece, double speed_mps, double capacity_ratio,
                   struct steady *steady)
{
    if (steady->speed_mps == speed_mps && steady->length_m == piece->length_m &&
        steady->banned == piece->engine_brake_banned)
        return;
    const struct td_brakes *brakes = &plan_case->rig->brakes;
    steady->speed_mps = speed_mps;
    steady->length_m = piece->length_m;
    steady->banned = piece->engine_brake_banned;
    steady->air_n = td_force_air_n(plan_case->rig, speed_mps);
    steady->hold_n = steady->air_n + engine_n(plan_case, trial, piece, speed_mps);
    steady->cooling_w_per_k = capacity_ratio * td_heat_cooling_w_per_k(brakes, speed_mps);
    steady->share = -expm1(-steady->cooling_w_per_k /
                           (capacity_ratio * brakes->heat_capacity_j_per_k) * piece->length_m /
                           speed_mps);
}

/* Everything of the descent under way. */
struct descent {
    const struct td_plan_case *plan_case;
    struct steady steady;
    double capacity_j_per_k, moving_kg, temp_c;
    bool engine_brake;
};

/* Rise of one emergency stop from a speed on a piece's slope. */
static double stop_rise_c(const struct descent *descent, const struct td_plan_piece *piece,
                          double speed_mps)
{
    double ratio = 1 + TD_GRAVITY_MPS2 * piece->sine / descent->plan_case->stop_mps2;
    return 0.5 * descent->moving_kg * speed_mps * speed_mps * fmax(STOP_LEAST_RATIO, ratio) /
           descent->capacity_j_per_k;
}

static void look(const struct descent *descent, const struct td_plan_piece *piece, double pull_n,
                 double at_m, struct td_plan_outcome *outcome)
{
    double v = descent->steady.speed_mps;
    if (descent->temp_c > outcome->peak_c) {
        outcome->peak_c = descent->temp_c;
        outcome->peak_at_m = at_m;
    }
    double stopped_c = descent->temp_c + stop_rise_c(descent, piece, v);
    if (stopped_c > outcome->worst_c) {
        outcome->worst_c = stopped_c;
        outcome->worst_at_m = at_m;
    }
    if (!descent->engine_brake)
        return;
    double gain_mps = REACTION_S * fmax(0, pull_n - descent->steady.air_n) / descent->moving_kg;
    stopped_c = descent->temp_c + stop_rise_c(descent, piece, v + gain_mps);
    if (stopped_c > outcome->failure_c) {
        outcome->failure_c = stopped_c;
        outcome->failure_at_m = at_m;
    }
}

static void drive_piece(struct descent *descent, const struct td_plan_piece *piece,
                        struct td_plan_outcome *outcome)
{
    const struct td_plan_case *plan_case = descent->plan_case;
    const struct steady *steady = &descent->steady;
    double weight_n = plan_case->query->mass_kg * TD_GRAVITY_MPS2;
    double pull_n = weight_n * (piece->sine - plan_case->rig->rolling_ratio * piece->cosine);
    double brake_n = fmax(0, pull_n - steady->hold_n);
    look(descent, piece, pull_n, piece->from_m, outcome);
    double steady_c =
        plan_case->query->ambient_c + brake_n * steady->speed_mps / steady->cooling_w_per_k;
    descent->temp_c += (steady_c - descent->temp_c) * steady->share;
    outcome->brake_j += brake_n * piece->length_m;
    outcome->pull_j += fmax(0, pull_n) * piece->length_m;
    look(descent, piece, pull_n, piece->from_m + piece->length_m, outcome);
}

void td_plan_descend(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                     bool hasty, struct td_plan_outcome *outcome)
{
    const struct td_plan_work *road = plan_case->road;
    const struct td_brakes *brakes = &plan_case->rig->brakes;
    double capacity_ratio = 1 - brakes->missing_ratio;
    struct descent descent = {
        .plan_case = plan_case,
        .capacity_j_per_k = capacity_ratio * brakes->heat_capacity_j_per_k,
        .moving_kg = td_force_moving_kg(plan_case->rig, plan_case->query->mass_kg, -1),
        .temp_c = plan_case->query->brakes_from_c,
        .engine_brake = trial->stage >= 0,
    };
    *outcome = (struct td_plan_outcome){
        .cool = true, .failure_cool = true, .peak_c = -273, .worst_c = -273, .failure_c = -273};
    double before_mps = 0;
    for (size_t i = 0; i < road->count; i++) {
        double v = td_plan_piece_mps(plan_case, trial, i);
        settle(plan_case, trial, &road->pieces[i], v, capacity_ratio, &descent.steady);
        if (v < before_mps) { /* slowing for a sign or curve: all of it by the service brakes */
            double slowing_j = 0.5 * descent.moving_kg * (before_mps * before_mps - v * v);
            descent.temp_c += slowing_j / descent.capacity_j_per_k;
            outcome->brake_j += slowing_j;
        }
        before_mps = v;
        drive_piece(&descent, &road->pieces[i], outcome);
        outcome->cool = outcome->worst_c <= brakes->limit_c;
        outcome->failure_cool = outcome->failure_c <= brakes->limit_c;
        if (hasty && !(outcome->cool && outcome->failure_cool))
            return;
    }
    outcome->final_c = descent.temp_c;
}
