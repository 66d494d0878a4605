/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One trial descent: a gear, a stage and a cruising speed driven from crest to foot. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/forces.h"
#include "talkdown/heat.h"
#include "talkdown/retarder.h"
#include "talkdown/units.h"

/* From losing the engine brake to braking: 2.5 s of perception and reaction (MUTCD 2C.04 notes). */
#define REACTION_S 2.5
/* The reference model charges 1.5 times the truck's energy for a stop (FHWA/RD-81/185, from
 * memory); on a steep road the pull during the stop can be more. */
#define STOP_LEAST_RATIO 1.5
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

double td_plan_slowest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    return td_plan_round_down_mps(fmin(trial->cruise_mps, plan_case->slowest_mps),
                                  trial->rounding);
}

double td_plan_fastest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    return td_plan_round_down_mps(fmin(trial->cruise_mps, plan_case->fastest_mps),
                                  trial->rounding);
}

bool td_plan_rpm_fits(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    const struct td_rig *rig = plan_case->rig;
    double most = td_rig_rpm(rig, (size_t)trial->gear, td_plan_fastest_mps(plan_case, trial));
    double least = td_rig_rpm(rig, (size_t)trial->gear, td_plan_slowest_mps(plan_case, trial));
    /* A converter slips: an automatic's lowest gear has no lowest speed. */
    bool slips = rig->gearbox == TD_GEARBOX_AUTOMATIC && trial->gear == 0;
    return most <= rig->rpm_most + RPM_SLACK && (slips || least >= rig->rpm_least - RPM_SLACK);
}

/* The truck and its brakes as a trial reckons them: with doubt, or as filed. */
struct descent {
    const struct td_plan_case *plan_case;
    const struct td_plan_trial *trial;
    struct td_plan_doubt doubt;
    double capacity_j_per_k, cooling_ratio, moving_kg, weight_n;
    bool has_retarder; /* in the trial's stage: what it holds changes from piece to piece */
    double temp_c, retarder_c;
    double signed_work_j; /* of the pull; carries anything that is no number to the end */
    /* What stays the same while the speed does. */
    double speed_mps, length_m;
    bool banned;
    double air_n, engine_n, cooling_w_per_k;
    double share; /* of the way to the steady temperature in one piece */
};

static struct descent begin(const struct td_plan_case *plan_case,
                            const struct td_plan_trial *trial)
{
    const struct td_rig *rig = plan_case->rig;
    struct td_plan_doubt doubt =
        plan_case->filed ? td_plan_doubt_none() : plan_case->query->doubt;
    double mass_kg = plan_case->query->mass_kg * doubt.mass_ratio;
    double in_order = 1 - rig->brakes.missing_ratio;
    return (struct descent){
        .plan_case = plan_case,
        .trial = trial,
        .doubt = doubt,
        .capacity_j_per_k = in_order * doubt.capacity_ratio * rig->brakes.heat_capacity_j_per_k,
        .cooling_ratio = in_order * doubt.cooling_ratio,
        .moving_kg = td_force_moving_kg(rig, mass_kg, -1),
        .weight_n = mass_kg * TD_GRAVITY_MPS2,
        .has_retarder = trial->stage >= 0 &&
                        rig->stages[trial->stage].kind == TD_HOLDER_RETARDER,
        .temp_c = plan_case->query->brakes_from_c,
        .retarder_c = TD_RETARDER_WARM_C,
    };
}

static double sine_of(const struct descent *descent, const struct td_plan_piece *piece)
{
    return descent->plan_case->filed ? piece->sine : piece->hot_sine;
}

static void settle(struct descent *descent, const struct td_plan_piece *piece, double speed_mps)
{
    if (descent->speed_mps == speed_mps && descent->length_m == piece->length_m &&
        descent->banned == piece->engine_brake_banned)
        return;
    const struct td_rig *rig = descent->plan_case->rig;
    descent->speed_mps = speed_mps;
    descent->length_m = piece->length_m;
    descent->banned = piece->engine_brake_banned;
    descent->air_n = td_force_air_n(rig, speed_mps);
    if (!descent->has_retarder)
        descent->engine_n = td_plan_hold_n(descent->plan_case, descent->trial, piece, speed_mps,
                                           0, &descent->retarder_c);
    descent->cooling_w_per_k =
        descent->cooling_ratio * td_heat_cooling_w_per_k(&rig->brakes, speed_mps);
    descent->share = -expm1(-descent->cooling_w_per_k / descent->capacity_j_per_k *
                            piece->length_m / speed_mps);
}

/* Rise of one emergency stop from a speed on a piece's slope. */
static double stop_rise_c(const struct descent *descent, const struct td_plan_piece *piece,
                          double speed_mps)
{
    double ratio = 1 + TD_GRAVITY_MPS2 * sine_of(descent, piece) / descent->plan_case->stop_mps2;
    if (ratio < STOP_LEAST_RATIO)
        ratio = STOP_LEAST_RATIO;
    return 0.5 * descent->moving_kg * speed_mps * speed_mps * ratio / descent->capacity_j_per_k;
}

/* Notes what the piece came to at its hotter end; between the ends the temperature only rises or
 * only falls. free_n: pull less rolling and air. */
static void look(const struct descent *descent, const struct td_plan_piece *piece, double free_n,
                 double temp_c, double at_m, struct td_plan_outcome *outcome)
{
    double v = descent->speed_mps;
    if (temp_c > outcome->peak_c) {
        outcome->peak_c = temp_c;
        outcome->peak_at_m = at_m;
    }
    double stopped_c = temp_c + stop_rise_c(descent, piece, v);
    if (stopped_c > outcome->worst_c) {
        outcome->worst_c = stopped_c;
        outcome->worst_at_m = at_m;
    }
    if (descent->trial->stage < 0)
        return;
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
    const struct td_plan_case *plan_case = descent->plan_case;
    double sine = sine_of(descent, piece);
    double cosine = plan_case->filed ? piece->cosine : piece->hot_cosine;
    double pull_n = descent->weight_n * (sine - plan_case->rig->rolling_ratio * cosine);
    double free_n = pull_n - descent->air_n, v = descent->speed_mps;
    if (descent->has_retarder)
        descent->engine_n = td_plan_hold_n(plan_case, descent->trial, piece, v, free_n,
                                           &descent->retarder_c);
    double brake_n = free_n > descent->engine_n ? free_n - descent->engine_n : 0;
    double steady_c = plan_case->query->ambient_c + brake_n * v / descent->cooling_w_per_k;
    double from_c = descent->temp_c, to_c = from_c + (steady_c - from_c) * descent->share;
    descent->temp_c = to_c;
    descent->signed_work_j += pull_n * piece->length_m;
    outcome->brake_j += brake_n * piece->length_m;
    outcome->pull_j += pull_n > 0 ? pull_n * piece->length_m : 0;
    if (to_c > from_c)
        look(descent, piece, free_n, to_c, piece->from_m + piece->length_m, outcome);
    else
        look(descent, piece, free_n, from_c, piece->from_m, outcome);
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
    struct descent descent = begin(plan_case, trial);
    *outcome = (struct td_plan_outcome){.peak_c = -273, .worst_c = -273, .failure_c = -273};
    double before_mps = 0, limit_c = plan_case->rig->brakes.limit_c;
    double cruise_mps = td_plan_round_down_mps(trial->cruise_mps, trial->rounding);
    for (size_t i = 0; i < road->count; i++) {
        const struct td_plan_piece *piece = &road->pieces[i];
        double v = piece->ceiling_mps >= trial->cruise_mps
                       ? cruise_mps
                       : td_plan_round_down_mps(piece->ceiling_mps, trial->rounding);
        settle(&descent, piece, v);
        if (v < before_mps)
            slow_down(&descent, before_mps, v, outcome);
        before_mps = v;
        drive_piece(&descent, piece, outcome);
        if (hasty && (outcome->worst_c > limit_c || outcome->failure_c > limit_c))
            break;
    }
    /* A figure that is no number must never pass for a cool one. */
    bool known = isfinite(descent.temp_c) && isfinite(descent.signed_work_j);
    outcome->known = known;
    outcome->cool = known && outcome->worst_c <= limit_c;
    outcome->failure_cool = known && outcome->failure_c <= limit_c;
    outcome->final_c = descent.temp_c;
}
