/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brake temperature from speed alone: what engine and brakes must have held back together, shared
 * between them in three ways. */
#include <math.h>

#include "talkdown/forces.h"
#include "talkdown/heat.h"

#define STANDING_MPS 0.5
#define WINDOW_S     5.0
/* What noise in the rate of speed adds to the force; ours, three sigma of a 3 s slope of GNSS
 * speeds good to 0.1 m/s. A snub of 5 mph in 3 s is 0.75. */
#define NOISE_MPS2   0.15

void td_heat_live_init(struct td_heat_live *heat, double temp_c)
{
    *heat = (struct td_heat_live){.least_c = temp_c, .likely_c = temp_c, .most_c = temp_c,
                                  .bare_c = temp_c};
}

void td_heat_live_descent(struct td_heat_live *heat)
{
    heat->bare_c = heat->likely_c;
}

static void push_mean(struct td_heat_live *heat, double force_n)
{
    heat->mean_retard_n[heat->mean_at] = force_n;
    heat->mean_at = (heat->mean_at + 1) % TD_HEAT_MEANS;
    if (heat->mean_count < TD_HEAT_MEANS)
        heat->mean_count++;
}

/* Cuts the interval into whole seconds and what is left of one. */
static void take_force(struct td_heat_live *heat, double force_n, double dt_s)
{
    while (dt_s > 0) {
        double part_s = fmin(dt_s, 1.0 - heat->second_s);
        heat->second_ns += force_n * part_s;
        heat->second_s += part_s;
        dt_s -= part_s;
        if (heat->second_s >= 1.0 - 1e-9) {
            push_mean(heat, heat->second_ns / heat->second_s);
            heat->second_ns = 0;
            heat->second_s = 0;
        }
    }
}

/* Mean over the last five whole seconds; of the second under way while there is no whole one. */
static double mean_force_n(const struct td_heat_live *heat)
{
    double sum_n = 0;
    if (heat->mean_count == 0)
        return heat->second_s > 0 ? heat->second_ns / heat->second_s : 0;
    for (unsigned i = 0; i < heat->mean_count; i++)
        sum_n += heat->mean_retard_n[i];
    return sum_n / heat->mean_count;
}

/* The least of the 5 s means, and by how much the force itself was most beyond what the engine
 * brake in the planned gear gave: a snub lasts three seconds. */
static void watch_minute(struct td_heat_live *heat, double mean_n, double beyond_n, double dt_s)
{
    bool under_way = heat->window_s > 0;
    heat->window_least_n = under_way ? fmin(heat->window_least_n, mean_n) : mean_n;
    heat->window_most_n = under_way ? fmax(heat->window_most_n, beyond_n) : beyond_n;
    heat->window_s += dt_s;
    double least_n = heat->window_least_n, most_n = heat->window_most_n;
    for (unsigned i = 0; i < heat->window_count; i++) {
        least_n = fmin(least_n, heat->window_n[i]);
        most_n = fmax(most_n, heat->beyond_n[i]);
    }
    heat->least_seen_n = fmax(0, least_n);
    heat->beyond_seen_n = most_n;
    if (heat->window_s < WINDOW_S)
        return;
    heat->window_n[heat->window_at] = heat->window_least_n;
    heat->beyond_n[heat->window_at] = heat->window_most_n;
    heat->window_at = (heat->window_at + 1) % TD_HEAT_WINDOWS;
    if (heat->window_count < TD_HEAT_WINDOWS)
        heat->window_count++;
    heat->window_s = 0;
}

static void forget_forces(struct td_heat_live *heat)
{
    struct td_heat_live fresh = {
        .least_c = heat->least_c, .likely_c = heat->likely_c, .most_c = heat->most_c,
        .bare_c = heat->bare_c};
    *heat = fresh;
}

/* What the strongest engine brake or retarder holds back in the planned gear; 0 where there is none
 * to switch on. */
static double engine_brake_n(const struct td_heat_truck *truck, double speed_mps)
{
    double holds_n = 0;
    int gear = truck->planned_gear;
    if (gear < 0 || (size_t)gear >= truck->rig->gear_count)
        return 0;
    for (int stage = 0; stage <= truck->stage_most; stage++)
        holds_n = fmax(holds_n, td_force_hold_n(truck->rig, gear, stage, 1, 1, speed_mps));
    return holds_n;
}

/* Without fuel the engine drags in whichever gear is in: least in the highest inside the band. A
 * driver who helps with the throttle between his snubs never lets the minute's least show it. */
static double motoring_least_n(const struct td_rig *rig, double speed_mps)
{
    for (size_t gear = rig->gear_count; gear-- > 0;)
        if (td_rig_rpm(rig, gear, speed_mps) >= rig->rpm_least)
            return td_force_engine_n(rig, (int)gear, -1, 1, speed_mps);
    return 0;
}

void td_heat_live_step(struct td_heat_live *heat, const struct td_heat_truck *truck,
                       double downgrade_ratio, double speed_mps, double accel_mps2, double dt_s)
{
    const struct td_rig *rig = truck->rig;
    double engine_most_n = 0, likely_n = 0, mean_n = 0;
    if (dt_s <= 0)
        return;
    if (speed_mps < STANDING_MPS) {
        forget_forces(heat);
    } else {
        struct td_forces forces =
            td_forces_at(rig, truck->mass_kg, -1, -1, 0, downgrade_ratio, speed_mps);
        double moving_kg = td_force_moving_kg(rig, truck->mass_kg, -1);
        double force_n =
            (td_forces_accel_mps2(&forces, 0, moving_kg) - accel_mps2) * moving_kg;
        take_force(heat, force_n, dt_s);
        mean_n = mean_force_n(heat);
        double holds_n = engine_brake_n(truck, speed_mps);
        watch_minute(heat, mean_n, force_n - holds_n, dt_s);
        engine_most_n = td_force_engine_most_n(rig, truck->stage_most, speed_mps);
        likely_n = fmin(fmax(heat->least_seen_n, motoring_least_n(rig, speed_mps)),
                        engine_most_n);
        if (holds_n > 0 && heat->beyond_seen_n <= NOISE_MPS2 * moving_kg)
            likely_n = fmax(likely_n, fmin(mean_n, engine_most_n));
    }
    const double engine_n[] = {engine_most_n, likely_n, 0, 0};
    double *temp_c[] = {&heat->least_c, &heat->likely_c, &heat->most_c, &heat->bare_c};
    for (int i = 0; i < 4; i++)
        *temp_c[i] = td_heat_step_c(&rig->brakes, 1 - rig->brakes.missing_ratio, *temp_c[i],
                                    (mean_n - engine_n[i]) * speed_mps, speed_mps,
                                    truck->ambient_c, dt_s);
    if (heat->plan_not_taken)
        heat->least_c = heat->likely_c = heat->bare_c;
}
