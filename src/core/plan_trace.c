/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brake temperature along a plan's road. Four descents run side by side: at the exact and at the
 * spoken speed, with doubt and without. Built of the public forces and heat and not of the solver's
 * trial, so that the picture is a second opinion on the figures beside it. */
#include "talkdown/plan_trace.h"

#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/forces.h"
#include "talkdown/heat.h"
#include "talkdown/retarder.h"

#define STEP_M 10.0 /* the retarder's guard takes torque away within a piece */

struct run {
    const struct td_rig *rig;
    const struct td_plan_query *query;
    struct td_brakes brakes; /* cooling as doubted */
    double mass_kg, downgrade_add, capacity_ratio;
    enum td_plan_rounding rounding;
    double before_mps, temp_c, retarder_c, hottest_c;
};

static struct run make_run(const struct td_rig *rig, const struct td_plan_query *query,
                           const struct td_plan_doubt *doubt, enum td_plan_rounding rounding)
{
    struct run run = {
        .rig = rig,
        .query = query,
        .brakes = rig->brakes,
        .mass_kg = query->mass_kg * doubt->mass_ratio,
        .downgrade_add = doubt->downgrade_add,
        .capacity_ratio = 1 - rig->brakes.missing_ratio,
        .rounding = rounding,
        .temp_c = query->brakes_from_c,
        .retarder_c = TD_RETARDER_WARM_C,
        .hottest_c = query->brakes_from_c,
    };
    run.brakes.heat_capacity_j_per_k *= doubt->capacity_ratio;
    run.brakes.cooling_w_per_k *= doubt->cooling_ratio;
    run.brakes.cooling_w_per_k_per_mps *= doubt->cooling_ratio;
    return run;
}

/* Gear and stage at a place; none in a break, where the engine pulls or idles along. */
struct held {
    int gear, stage;
};

static struct held held_at(const struct td_plan *plan, const struct td_plan_piece *piece)
{
    double middle_m = piece->from_m + piece->length_m / 2;
    const struct td_plan_descent *descent = td_plan_descent_at(plan, middle_m);
    if (descent == NULL || middle_m < descent->from_m || middle_m > descent->to_m)
        return (struct held){-1, -1};
    return (struct held){descent->gear, piece->engine_brake_banned ? -1 : descent->stage};
}

/* Slowing for a sign or a curve: all of it by the service brakes. */
static void slow_down(struct run *run, double to_mps)
{
    double moving_kg = td_force_moving_kg(run->rig, run->mass_kg, -1);
    if (to_mps < run->before_mps)
        run->temp_c += 0.5 * moving_kg *
                       (run->before_mps * run->before_mps - to_mps * to_mps) /
                       (run->capacity_ratio * run->brakes.heat_capacity_j_per_k);
    run->before_mps = to_mps;
    run->hottest_c = fmax(run->hottest_c, run->temp_c);
}

static void drive(struct run *run, const struct td_plan_piece *piece, struct held held,
                  double target_mps)
{
    const struct td_rig *rig = run->rig;
    /* Nobody says a speed in a break. */
    double mps = held.gear < 0 ? target_mps : td_plan_round_down_mps(target_mps, run->rounding);
    double ratio = piece->sine / piece->cosine + run->downgrade_add;
    double pull_n = td_force_pull_n(run->mass_kg, ratio) -
                    td_force_rolling_n(rig, run->mass_kg, ratio) - td_force_air_n(rig, mps);
    double credit = td_plan_credit_ratio(run->query->credit);
    double engine_n = td_force_engine_n(rig, held.gear, held.stage, credit, mps);
    int steps = (int)ceil(piece->length_m / STEP_M - 1e-9);
    double dt_s = piece->length_m / steps / mps, ambient_c = run->query->ambient_c;
    slow_down(run, mps);
    for (int i = 0; i < steps; i++) {
        double share = td_retarder_share(&rig->retarder, run->retarder_c);
        double retarder_n = td_force_retarder_n(rig, held.stage, credit, share, mps);
        double brake_n = fmax(0, pull_n - engine_n - retarder_n);
        /* It takes only what is left to take. */
        double taken_n = fmin(retarder_n, fmax(0, pull_n - engine_n));
        run->temp_c = td_heat_step_c(&run->brakes, run->capacity_ratio, run->temp_c,
                                     brake_n * mps, mps, ambient_c, dt_s);
        if (retarder_n > 0)
            run->retarder_c = td_retarder_step_c(&rig->retarder, run->retarder_c, taken_n * mps,
                                                 ambient_c, dt_s);
        run->hottest_c = fmax(run->hottest_c, run->temp_c);
    }
}

/* The hottest since the last call. */
static double take_hottest(struct run *run)
{
    double hottest_c = run->hottest_c;
    run->hottest_c = run->temp_c;
    return hottest_c;
}

enum { EXACT_WORST, SPOKEN_WORST, EXACT_LIKELY, SPOKEN_LIKELY, RUNS };

size_t td_plan_trace(const struct td_hill *hill, const struct td_rig *rig,
                     const struct td_plan_query *query, const struct td_plan *plan,
                     struct td_plan_work *work, struct td_plan_point *points, size_t most)
{
    if (!plan->coached || !plan->safe || plan->stretch_count == 0 || most < 2)
        return 0;
    td_plan_road(hill, rig, query, work);
    if (work->count == 0)
        return 0;
    enum td_plan_rounding spoken =
        query->speak_kmh ? TD_PLAN_SPOKEN_KMH : TD_PLAN_SPOKEN_MPH;
    struct td_plan_doubt none = td_plan_doubt_none();
    struct run runs[RUNS];
    for (int i = 0; i < RUNS; i++)
        runs[i] = make_run(rig, query, i < EXACT_LIKELY ? &query->doubt : &none,
                           i % 2 == 0 ? TD_PLAN_EXACT : spoken);
    size_t count = 0, each = (work->count + most - 2) / (most - 1);
    struct td_plan_point next = {.target_mps = (double)INFINITY, .ceiling_mps = (double)INFINITY};
    points[count++] = (struct td_plan_point){hill->crest_m, td_plan_target_at(plan, hill->crest_m),
                                             work->pieces[0].ceiling_mps, query->brakes_from_c,
                                             query->brakes_from_c};
    for (size_t i = 0; i < work->count; i++) {
        const struct td_plan_piece *piece = &work->pieces[i];
        double target_mps = fmin(td_plan_target_at(plan, piece->from_m + piece->length_m / 2),
                                 piece->ceiling_mps);
        struct held held = held_at(plan, piece);
        for (int r = 0; r < RUNS; r++)
            drive(&runs[r], piece, held, target_mps);
        next.target_mps = fmin(next.target_mps, target_mps);
        next.ceiling_mps = fmin(next.ceiling_mps, piece->ceiling_mps);
        if ((i + 1) % each != 0 && i + 1 != work->count)
            continue;
        next.along_m = piece->from_m + piece->length_m;
        next.worst_c = fmax(take_hottest(&runs[EXACT_WORST]), take_hottest(&runs[SPOKEN_WORST]));
        next.likely_c =
            fmax(take_hottest(&runs[EXACT_LIKELY]), take_hottest(&runs[SPOKEN_LIKELY]));
        points[count++] = next;
        next.target_mps = next.ceiling_mps = (double)INFINITY;
    }
    return count;
}
