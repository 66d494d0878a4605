/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A second, plain opinion on a descent: one station at a time from forces and heat alone, with none
 * of the plan's pieces, caches or rounding. Truck and road stray from what is on file as far as the
 * query's doubt says, all of it at once. */
#ifndef TD_TESTS_DESCENT_H
#define TD_TESTS_DESCENT_H

#include <math.h>

#include "talkdown/forces.h"
#include "talkdown/heat.h"
#include "talkdown/hill.h"
#include "talkdown/plan.h"
#include "talkdown/retarder.h"
#include "talkdown/units.h"

struct test_descent {
    double peak_c;    /* brakes, on descents */
    double break_peak_c; /* and in breaks, where bends are slowed for from the road's own speed */
    double worst_c;   /* with an emergency stop of 1.5 times the truck's energy, or the road's pull
                         on the way to a stop where that is more */
    double failure_c; /* with the stop that follows the loss of the engine brake 2.5 s before */
};

static inline double test_stop_rise_c(const struct td_rig *rig, double mass_kg, double grade,
                                      double capacity_j_per_k, double stop_mps2, double v)
{
    double moving_kg = td_force_moving_kg(rig, mass_kg, -1);
    double kinetic_j = 0.5 * moving_kg * v * v;
    double slope_j = moving_kg * TD_GRAVITY_MPS2 * sin(atan(grade)) * v * v / (2 * stop_mps2);
    return fmax(1.5 * kinetic_j, kinetic_j + slope_j) / capacity_j_per_k;
}

/* How it is driven at a place; in a break between descents it rolls, and no stop is asked of it. */
struct test_pace {
    double mps;
    int gear, stage;
    bool in_break;
};

static inline struct test_descent test_descend(const struct td_hill *hill,
                                               const struct td_rig *rig,
                                               const struct td_plan_query *query,
                                               struct test_pace (*pace_at)(const void *, double),
                                               const void *of)
{
    const struct td_plan_doubt *doubt = &query->doubt;
    double mass_kg = query->mass_kg * doubt->mass_ratio;
    double moving_kg = td_force_moving_kg(rig, mass_kg, -1);
    double temp_c = query->brakes_from_c, before = 0, in_order = 1 - rig->brakes.missing_ratio;
    double stop_mps2 = query->road == TD_ROAD_DRY ? 2 : 1;
    double credit = td_plan_credit_ratio(query->credit);
    double retarder_c = TD_RETARDER_WARM_C;
    struct td_brakes brakes = rig->brakes;
    brakes.heat_capacity_j_per_k *= in_order * doubt->capacity_ratio;
    brakes.cooling_w_per_k *= in_order * doubt->cooling_ratio;
    brakes.cooling_w_per_k_per_mps *= in_order * doubt->cooling_ratio;
    struct test_descent seen = {temp_c, temp_c, temp_c, temp_c};
    for (size_t i = 0; i + 1 < hill->station_count; i++) {
        double from_m = hill->stations[i].along_m, to_m = hill->stations[i + 1].along_m;
        double grade = hill->stations[i].downgrade_ratio + doubt->downgrade_add;
        struct test_pace pace = pace_at(of, 0.5 * (from_m + to_m));
        double v = pace.mps;
        if (v < before)
            temp_c += 0.5 * moving_kg * (before * before - v * v) / brakes.heat_capacity_j_per_k;
        before = v;
        struct td_forces f = td_forces_at(rig, mass_kg, pace.gear, pace.stage, credit, grade, v);
        f.retarder_n *= td_retarder_share(&rig->retarder, retarder_c);
        double left_n = fmax(0, f.pull_n - f.rolling_n - f.air_n - f.engine_n);
        if (td_rig_has_retarder(rig))
            retarder_c = td_retarder_step_c(&rig->retarder, retarder_c,
                                            fmin(left_n, f.retarder_n) * v, query->ambient_c,
                                            (to_m - from_m) / v);
        temp_c = td_heat_step_c(&brakes, 1, temp_c, td_forces_brake_n(&f) * v, v,
                                query->ambient_c, (to_m - from_m) / v);
        if (pace.in_break) {
            seen.break_peak_c = fmax(seen.break_peak_c, temp_c);
            continue;
        }
        seen.peak_c = fmax(seen.peak_c, temp_c);
        seen.worst_c = fmax(seen.worst_c,
                            temp_c + test_stop_rise_c(rig, mass_kg, grade,
                                                      brakes.heat_capacity_j_per_k, stop_mps2, v));
        if (pace.stage < 0)
            continue;
        f.engine_n = f.retarder_n = 0;
        double lost = v + 2.5 * fmax(0, td_forces_accel_mps2(&f, 0, moving_kg));
        seen.failure_c =
            fmax(seen.failure_c,
                 temp_c + test_stop_rise_c(rig, mass_kg, grade, brakes.heat_capacity_j_per_k,
                                           stop_mps2, lost));
    }
    return seen;
}

#endif
