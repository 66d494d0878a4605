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
 * capacity_ratio scales heat capacity and cooling alike (0.8: a fifth is out of adjustment, and a
 * brake that does not work neither stores heat nor sheds it), above 0. */
double td_heat_step_c(const struct td_brakes *brakes, double capacity_ratio, double temp_c,
                      double power_w, double speed_mps, double ambient_c, double dt_s);

/* What GPS speed alone tells of the brakes: three figures that bound the truth.
 * least: the strongest engine brake in any allowed gear did all it could; likely: engine braking
 * equal to the least retardation seen in the last minute, and no less than the engine drags in the
 * highest gear inside its band; most: no engine brake, no motoring.
 * All on the force that engine and brakes together must have supplied, as a mean over 5 s before
 * anything is clamped, so that noise in speed is not turned into heat.
 * An engine brake switched on and off looks like snubs, only gentler: where what was held back in
 * the last minute was never more than the strongest engine brake gives in the planned gear,
 * `likely` takes it for that. A driver who rides the brakes evenly, or presses no harder, looks
 * the same: `likely` then reads too low, `most` does not. */
enum { TD_HEAT_MEANS = 5, TD_HEAT_WINDOWS = 12 };

struct td_heat_live {
    double least_c, likely_c, most_c;
    double mean_retard_n[TD_HEAT_MEANS]; /* newest-first ring of one-second means */
    unsigned mean_at, mean_count;
    double second_ns, second_s; /* newton seconds and seconds of the second under way */
    double least_seen_n;        /* least retarding force in the last minute, 0 and up */
    double window_n[TD_HEAT_WINDOWS]; /* least 5 s mean in each of the last twelve 5 s windows */
    unsigned window_at, window_count;
    double beyond_n[TD_HEAT_WINDOWS]; /* most beyond the planned gear's engine brake in them */
    double beyond_seen_n;             /* the same in the last minute */
    double window_least_n, window_most_n, window_s; /* of the window under way */
    double bare_c; /* as `most`, but from what was likely when this descent began */
    bool plan_not_taken; /* the caller sets it when speed gained faster than the planned gear and
                            stage allow: the other two then follow `bare` until a stop */
};

void td_heat_live_init(struct td_heat_live *heat, double temp_c);
/* Another descent begins. What was held back on the one before was the plan's doing, unless there
 * was evidence against it. */
void td_heat_live_descent(struct td_heat_live *heat);
/* What is known of the truck besides its movement. */
struct td_heat_truck {
    const struct td_rig *rig;
    double mass_kg;
    int stage_most;   /* strongest engine-brake stage that works, -1 none */
    int planned_gear; /* of the descent under the truck; -1 not known */
    double ambient_c;
};

/* One interval of dt_s (0 to 5; longer gaps are split by the caller) at mean speed, with the
 * speed's rate accel_mps2, on a downgrade. The share of the brakes out of adjustment is the rig's.
 * A stop (speed under 0.5 m/s) cools, clears what was seen of the engine brake and ends
 * plan_not_taken. */
void td_heat_live_step(struct td_heat_live *heat, const struct td_heat_truck *truck,
                       double downgrade_ratio, double speed_mps, double accel_mps2, double dt_s);

#endif
