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
/* A grade is sustained over 300 m; pieces are 50 m and longer, so that a window has at most six. */
#define SUSTAINED_M 300.0
enum { HOLD_RING = 8 };

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

/* Forces of one piece at its speed, times its length. */
struct hold {
    double engine_nm, need_nm;
};

static struct hold hold_of(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                           size_t at)
{
    const struct td_plan_piece *piece = &plan_case->road->pieces[at];
    double v = td_plan_piece_mps(plan_case, trial, at);
    double weight_n = plan_case->query->mass_kg * TD_GRAVITY_MPS2;
    double need_n = weight_n * (piece->sine - plan_case->rig->rolling_ratio * piece->cosine) -
                    td_force_air_n(plan_case->rig, v);
    return (struct hold){engine_n(plan_case, trial, piece, v) * piece->length_m,
                         need_n * piece->length_m};
}

double td_plan_hold_ratio(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                          double *at_m)
{
    const struct td_plan_work *road = plan_case->road;
    size_t window = (size_t)ceil(SUSTAINED_M / road->pieces[0].length_m - 1e-9);
    struct hold ring[HOLD_RING], sum = {0, 0};
    double least_ratio = TD_PLAN_HOLD_MOST;
    if (window > road->count)
        window = road->count;
    *at_m = road->pieces[0].from_m;
    for (size_t i = 0; i < road->count; i++) {
        struct hold *slot = &ring[i % window];
        if (i >= window) {
            sum.engine_nm -= slot->engine_nm;
            sum.need_nm -= slot->need_nm;
        }
        *slot = hold_of(plan_case, trial, i);
        sum.engine_nm += slot->engine_nm;
        sum.need_nm += slot->need_nm;
        if (i + 1 >= window && sum.need_nm > 0 && sum.engine_nm < least_ratio * sum.need_nm) {
            least_ratio = sum.engine_nm / sum.need_nm;
            *at_m = road->pieces[i + 1 - window].from_m;
        }
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
    double capacity_j_per_k, moving_kg, weight_n, temp_c;
    double signed_work_j; /* of the pull; carries anything that is no number to the end */
    bool engine_brake;
};

/* Rise of one emergency stop from a speed on a piece's slope. */
static double stop_rise_c(const struct descent *descent, const struct td_plan_piece *piece,
                          double speed_mps)
{
    double ratio = 1 + TD_GRAVITY_MPS2 * piece->sine / descent->plan_case->stop_mps2;
    if (ratio < STOP_LEAST_RATIO)
        ratio = STOP_LEAST_RATIO;
    return 0.5 * descent->moving_kg * speed_mps * speed_mps * ratio / descent->capacity_j_per_k;
}

/* Notes what the piece came to at its hotter end; between the ends the temperature only rises or
 * only falls. */
static void look(const struct descent *descent, const struct td_plan_piece *piece, double pull_n,
                 double temp_c, double at_m, struct td_plan_outcome *outcome)
{
    double v = descent->steady.speed_mps;
    if (temp_c > outcome->peak_c) {
        outcome->peak_c = temp_c;
        outcome->peak_at_m = at_m;
    }
    double stopped_c = temp_c + stop_rise_c(descent, piece, v);
    if (stopped_c > outcome->worst_c) {
        outcome->worst_c = stopped_c;
        outcome->worst_at_m = at_m;
    }
    if (!descent->engine_brake)
        return;
    double free_n = pull_n - descent->steady.air_n;
    double gain_mps = free_n > 0 ? REACTION_S * free_n / descent->moving_kg : 0;
    stopped_c = temp_c + stop_rise_c(descent, piece, v + gain_mps);
    if (stopped_c > outcome->failure_c) {
        outcome->failure_c = stopped_c;
        outcome->failure_at_m = at_m;
    }
}

static void drive_piece(struct descent *descent, const struct td_plan_piece *piece,
                        struct td_plan_outcome *outcome)
{
    const struct steady *steady = &descent->steady;
    double pull_n =
        descent->weight_n * (piece->sine - descent->plan_case->rig->rolling_ratio * piece->cosine);
    double brake_n = pull_n > steady->hold_n ? pull_n - steady->hold_n : 0;
    double steady_c = descent->plan_case->query->ambient_c +
                      brake_n * steady->speed_mps / steady->cooling_w_per_k;
    double from_c = descent->temp_c, to_c = from_c + (steady_c - from_c) * steady->share;
    descent->temp_c = to_c;
    descent->signed_work_j += pull_n * piece->length_m;
    outcome->brake_j += brake_n * piece->length_m;
    outcome->pull_j += pull_n > 0 ? pull_n * piece->length_m : 0;
    if (to_c > from_c)
        look(descent, piece, pull_n, to_c, piece->from_m + piece->length_m, outcome);
    else
        look(descent, piece, pull_n, from_c, piece->from_m, outcome);
}

/* Slowing for a sign or curve: all of it by the service brakes. */
static void slow_down(struct descent *descent, double from_mps, double to_mps,
                      struct td_plan_outcome *outcome)
{
    double energy_j = 0.5 * descent->moving_kg * (from_mps * from_mps - to_mps * to_mps);
    descent->temp_c += energy_j / descent->capacity_j_per_k;
    outcome->brake_j += energy_j;
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
        .weight_n = plan_case->query->mass_kg * TD_GRAVITY_MPS2,
        .temp_c = plan_case->query->brakes_from_c,
        .engine_brake = trial->stage >= 0,
    };
    *outcome = (struct td_plan_outcome){.peak_c = -273, .worst_c = -273, .failure_c = -273};
    double before_mps = 0, limit_c = brakes->limit_c;
    double cruise_mps = td_plan_round_down_mps(trial->cruise_mps, trial->rounding);
    for (size_t i = 0; i < road->count; i++) {
        const struct td_plan_piece *piece = &road->pieces[i];
        double v = piece->ceiling_mps >= trial->cruise_mps
                       ? cruise_mps
                       : td_plan_round_down_mps(piece->ceiling_mps, trial->rounding);
        settle(plan_case, trial, piece, v, capacity_ratio, &descent.steady);
        if (v < before_mps)
            slow_down(&descent, before_mps, v, outcome);
        before_mps = v;
        drive_piece(&descent, piece, outcome);
        if (hasty && (outcome->worst_c > limit_c || outcome->failure_c > limit_c))
            break;
    }
    /* A figure that is no number must never pass for a cool one. */
    bool known = isfinite(descent.temp_c) && isfinite(descent.signed_work_j);
    outcome->cool = known && outcome->worst_c <= limit_c;
    outcome->failure_cool = known && outcome->failure_c <= limit_c;
    outcome->final_c = descent.temp_c;
}
