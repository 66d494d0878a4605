/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Truck and brakes on one piece of road after another: what holds it, what is left for the service
 * brakes, and what a stop would cost. With doubt, or as filed. */
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

void td_plan_body_begin(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                        struct td_plan_body *body)
{
    const struct td_rig *rig = plan_case->rig;
    struct td_plan_doubt doubt =
        plan_case->filed ? td_plan_doubt_none() : plan_case->query->doubt;
    double mass_kg = plan_case->query->mass_kg * doubt.mass_ratio;
    double in_order = 1 - rig->brakes.missing_ratio;
    *body = (struct td_plan_body){
        .plan_case = plan_case,
        .trial = trial,
        .capacity_j_per_k = in_order * doubt.capacity_ratio * rig->brakes.heat_capacity_j_per_k,
        .cooling_ratio = in_order * doubt.cooling_ratio,
        .moving_kg = td_force_moving_kg(rig, mass_kg, -1),
        .weight_n = mass_kg * TD_GRAVITY_MPS2,
        .has_retarder = trial->stage >= 0 &&
                        rig->stages[trial->stage].kind == TD_HOLDER_RETARDER,
        .retarder_c = plan_case->retarder_from_c,
    };
}

static void settle(struct td_plan_body *body, const struct td_plan_piece *piece, double speed_mps)
{
    const struct td_rig *rig = body->plan_case->rig;
    body->speed_mps = speed_mps;
    body->length_m = piece->length_m;
    body->banned = piece->engine_brake_banned;
    body->air_n = td_force_air_n(rig, speed_mps);
    if (!body->has_retarder)
        body->engine_n = td_plan_hold_n(body->plan_case, body->trial, piece, speed_mps, 0,
                                        &body->retarder_c);
    body->cooling_w_per_k = body->cooling_ratio * td_heat_cooling_w_per_k(&rig->brakes, speed_mps);
    body->kinetic_c = 0.5 * body->moving_kg / body->capacity_j_per_k;
    double left = exp(-body->cooling_w_per_k / body->capacity_j_per_k * piece->length_m /
                      speed_mps);
    body->share = 1 - left;
    body->unshare = 1 / left;
}

void td_plan_body_enter(struct td_plan_body *body, const struct td_plan_piece *piece,
                        double speed_mps)
{
    const struct td_plan_case *plan_case = body->plan_case;
    if (body->speed_mps != speed_mps || body->length_m != piece->length_m ||
        body->banned != piece->engine_brake_banned)
        settle(body, piece, speed_mps);
    double sine = plan_case->filed ? piece->sine : piece->hot_sine;
    double cosine = plan_case->filed ? piece->cosine : piece->hot_cosine;
    body->pull_n = body->weight_n * (sine - plan_case->rig->rolling_ratio * cosine);
    double free_n = body->pull_n - body->air_n;
    if (body->has_retarder)
        body->engine_n = td_plan_hold_n(plan_case, body->trial, piece, speed_mps, free_n,
                                        &body->retarder_c);
    body->brake_n = free_n > body->engine_n ? free_n - body->engine_n : 0;
    body->steady_c =
        plan_case->query->ambient_c + body->brake_n * speed_mps / body->cooling_w_per_k;
    body->signed_work_j += body->pull_n * piece->length_m;
    double ratio = 1 + TD_GRAVITY_MPS2 * sine / plan_case->stop_mps2;
    double stop_k = body->kinetic_c * (ratio < STOP_LEAST_RATIO ? STOP_LEAST_RATIO : ratio);
    body->stop_c = stop_k * speed_mps * speed_mps;
    if (body->trial->stage < 0)
        return;
    double lost_mps = speed_mps + (free_n > 0 ? REACTION_S * free_n / body->moving_kg : 0);
    body->failure_c = stop_k * lost_mps * lost_mps;
}

double td_plan_slowing_c(const struct td_plan_body *body, double from_mps, double to_mps)
{
    if (from_mps <= to_mps)
        return 0;
    return 0.5 * body->moving_kg / body->capacity_j_per_k *
           (from_mps * from_mps - to_mps * to_mps);
}
