/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Forces along the road; each formula is in docs/physics.md with its source. */
#include "talkdown/forces.h"

#include <math.h>

#include "talkdown/units.h"

double td_force_pull_n(double mass_kg, double downgrade_ratio)
{
    return mass_kg * TD_GRAVITY_MPS2 * downgrade_ratio /
           sqrt(1 + downgrade_ratio * downgrade_ratio);
}

double td_force_rolling_n(const struct td_rig *rig, double mass_kg, double downgrade_ratio)
{
    return rig->rolling_ratio * mass_kg * TD_GRAVITY_MPS2 /
           sqrt(1 + downgrade_ratio * downgrade_ratio);
}

double td_force_air_n(const struct td_rig *rig, double speed_mps)
{
    return 0.5 * TD_AIR_DENSITY_KG_PER_M3 * rig->drag_area_m2 * speed_mps * speed_mps;
}

double td_force_engine_n(const struct td_rig *rig, int gear, int stage, double credit,
                         double speed_mps)
{
    if (gear < 0)
        return 0;
    size_t at = (size_t)gear;
    double rpm = td_rig_rpm(rig, at, speed_mps);
    double torque_nm = td_torque_at_nm(&rig->motoring, rpm);
    if (stage >= 0)
        torque_nm += credit * td_torque_at_nm(&rig->stages[stage].torque, rpm);
    return torque_nm * rig->gears[at].ratio * rig->axle_ratio /
           (rig->driveline_ratio * rig->tyre_radius_m);
}

double td_force_retarder_n(const struct td_rig *rig, int stage, double credit,
                           double thermal_share, double speed_mps)
{
    if (stage < 0 || rig->stages[stage].kind != TD_HOLDER_RETARDER)
        return 0;
    double torque_nm = td_shaft_torque_at_nm(&rig->stages[stage].shaft_torque_nm,
                                             td_rig_shaft_rpm(rig, speed_mps));
    return credit * thermal_share * torque_nm * rig->axle_ratio / rig->tyre_radius_m;
}

double td_force_hold_n(const struct td_rig *rig, int gear, int stage, double credit,
                       double thermal_share, double speed_mps)
{
    return td_force_engine_n(rig, gear, stage, credit, speed_mps) +
           td_force_retarder_n(rig, stage, credit, thermal_share, speed_mps);
}

/* Inside the band, or the lowest gear below it, or the highest above it: nothing else is left. */
static bool may_hold(const struct td_rig *rig, size_t gear, double speed_mps)
{
    double rpm = td_rig_rpm(rig, gear, speed_mps);
    return (rpm >= rig->rpm_least || gear == 0) &&
           (rpm <= rig->rpm_most || gear + 1 == rig->gear_count);
}

double td_force_engine_most_n(const struct td_rig *rig, int stage_most, double speed_mps)
{
    double engine_n = 0, retarder_n = 0;
    for (int stage = -1; stage <= stage_most; stage++) {
        for (size_t gear = 0; gear < rig->gear_count; gear++) {
            if (may_hold(rig, gear, speed_mps))
                engine_n =
                    fmax(engine_n, td_force_engine_n(rig, (int)gear, stage, 1, speed_mps));
        }
        retarder_n = fmax(retarder_n, td_force_retarder_n(rig, stage, 1, 1, speed_mps));
    }
    return engine_n + retarder_n / rig->driveline_ratio;
}

double td_force_moving_kg(const struct td_rig *rig, double mass_kg, int gear)
{
    double moving_kg = mass_kg + rig->rotating_kg_wheels;
    if (gear >= 0) {
        double turns_per_m = rig->gears[gear].ratio * rig->axle_ratio / rig->tyre_radius_m;
        moving_kg += rig->engine_inertia_kgm2 * turns_per_m * turns_per_m;
    }
    return moving_kg;
}

struct td_forces td_forces_at(const struct td_rig *rig, double mass_kg, int gear, int stage,
                              double credit, double downgrade_ratio, double speed_mps)
{
    return (struct td_forces){
        .pull_n = td_force_pull_n(mass_kg, downgrade_ratio),
        .rolling_n = td_force_rolling_n(rig, mass_kg, downgrade_ratio),
        .air_n = td_force_air_n(rig, speed_mps),
        .engine_n = td_force_engine_n(rig, gear, stage, credit, speed_mps),
        .retarder_n = td_force_retarder_n(rig, stage, credit, 1, speed_mps),
    };
}

static double left_n(const struct td_forces *forces)
{
    return forces->pull_n - forces->rolling_n - forces->air_n - forces->engine_n -
           forces->retarder_n;
}

double td_forces_brake_n(const struct td_forces *forces)
{
    return fmax(0, left_n(forces));
}

double td_forces_accel_mps2(const struct td_forces *forces, double brake_n, double moving_kg)
{
    return (left_n(forces) - brake_n) / moving_kg;
}
