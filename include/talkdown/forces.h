/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Forces along the road on a truck going down: what pulls it, what holds it, what is left for the
 * service brakes. One set of functions for the plan, the live heat and the simulated truck.
 *
 * Newtons; a downgrade is positive; forces that hold the truck back are positive. `gear` is an
 * index, -1 for none engaged; `stage` an index, -1 for engine brake and retarder off. Pure. */
#ifndef TD_FORCES_H
#define TD_FORCES_H

#include <stdbool.h>

#include "talkdown/rig.h"

/* Air of about 2,000 m height (US Standard Atmosphere 1976: 1.007 kg/m3, from memory): mountain
 * air holds a truck back less than air at the sea, so the plan must not count on more. */
#define TD_AIR_DENSITY_KG_PER_M3 1.0

/* m g sin: the road's own pull, negative uphill. */
double td_force_pull_n(double mass_kg, double downgrade_ratio);
double td_force_rolling_n(const struct td_rig *rig, double mass_kg, double downgrade_ratio);
/* Against still air; speed 0 and up. */
double td_force_air_n(const struct td_rig *rig, double speed_mps);
/* What acts on the crankshaft: motoring plus `credit` (0 to 1) of the stage's torque there, at the
 * wheels. Turning the engine from the wheels, the driveline's own losses hold the truck back too:
 * torque / efficiency. 0 with no gear. Beyond the rpm points of a curve its end value holds. A
 * driveline retarder is not in it. */
double td_force_engine_n(const struct td_rig *rig, int gear, int stage, double credit,
                         double speed_mps);
/* What a driveline retarder holds back at the wheels, torque x axle ratio / radius: `credit` (0 to
 * 1) of the stage's torque on the shaft, of which its heat leaves `thermal_share` (retarder.h). 0
 * where the stage is no retarder's. It sits behind the gearbox: no gear matters, and it holds in
 * neutral too. The rig's efficiency is that of gearbox and axle together; what of it is the axle's
 * is not known, so no loss is counted: the truck holds a little more than this, and force times
 * speed is the power that heats the retarder. */
double td_force_retarder_n(const struct td_rig *rig, int stage, double credit,
                           double thermal_share, double speed_mps);
/* Both. */
double td_force_hold_n(const struct td_rig *rig, int gear, int stage, double credit,
                       double thermal_share, double speed_mps);
/* No less than the truck can hold back at this speed without its service brakes: the best gear
 * inside the rpm band (below all bands the lowest, above all the highest), the best crankshaft and
 * the best retarder stage up to stage_most, both levers at once, cold, at full credit and with
 * every driveline loss. */
double td_force_engine_most_n(const struct td_rig *rig, int stage_most, double speed_mps);

/* Mass that the speed change must move: truck, wheels, and the engine through the gear. */
double td_force_moving_kg(const struct td_rig *rig, double mass_kg, int gear);

struct td_forces {
    double pull_n, rolling_n, air_n, engine_n;
    double retarder_n; /* td_forces_at: of a cold retarder; scale it by its thermal share */
};

struct td_forces td_forces_at(const struct td_rig *rig, double mass_kg, int gear, int stage,
                              double credit, double downgrade_ratio, double speed_mps);
/* What the service brakes must take to hold the speed, 0 and up. */
double td_forces_brake_n(const struct td_forces *forces);
/* Rate of speed with the given service brake force; the same in every module. */
double td_forces_accel_mps2(const struct td_forces *forces, double brake_n, double moving_kg);

#endif
