/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brake temperature: one lumped mass, heated by the power the service brakes take, cooled by the
 * air stream. Exact exponential step at constant power and speed, so step size does not matter.
 *   m c dT/dt = P - h(v) (T - T_ambient)
 * It is the differential form of the Grade Severity Rating System equation (FHWA/RD-81/185,
 * FHWA-IP-88-015; constants from memory, see docs/physics.md). Pure. */
#ifndef TD_HEAT_H
#define TD_HEAT_H

#include <stdbool.h>

#include "talkdown/rig.h"

/* Cooling of the whole set of brakes at a road speed, W/K, above 0. */
double td_heat_cooling_w_per_k(const struct td_brakes *brakes, double speed_mps);

/* Temperature after dt_s seconds at brake power power_w (0 and up; below 0 counts as 0) and speed;
 * capacity_ratio scales the heat capacity (0.8: a fifth is out of adjustment). */
double td_heat_step_c(const struct td_brakes *brakes, double capacity_ratio, double temp_c,
                      double power_w, double speed_mps, double ambient_c, double dt_s);

/* What GPS speed alone tells of the brakes: three figures that bound the truth.
 * least: the strongest engine brake in any allowed gear did all it could; likely: engine braking
 * equal to the least retardation seen in the last minute; most: no engine brake, no motoring. */
struct td_heat_live {
    double least_c, likely_c, most_c;
    double mean_retard_n[5];  /* one-second means of the force still to be explained */
    unsigned mean_count;
    double least_seen_n;      /* least retarding force in the last minute, decaying window */
    double window_n[12];      /* least in each of the last twelve 5 s windows */
    unsigned window_at, window_count;
    double window_s;
    bool plan_not_taken;      /* speed gained faster than planned: all three follow `most` */
};

void td_heat_live_init(struct td_heat_live *heat, double temp_c);
/* One interval of dt_s (0 to 5; longer gaps are split by the caller) at mean speed, with the
 * speed's rate accel_mps2, on a downgrade. stage_most: strongest engine-brake stage, -1 none. A
 * stop (speed under 0.5 m/s) cools and ends plan_not_taken. */
void td_heat_live_step(struct td_heat_live *heat, const struct td_rig *rig, double mass_kg,
                       int stage_most, double ambient_c, double downgrade_ratio, double speed_mps,
                       double accel_mps2, double dt_s);

#endif
