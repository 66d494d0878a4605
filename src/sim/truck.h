/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A simulated truck on a hill: what really happens, as against what the plan expects.
 *
 * Pure and deterministic. The forces and the heat are written here once more, apart from the
 * core's, on purpose: a mistake in the plan's physics then shows as a truck that does not do what
 * the plan said, instead of agreeing with itself. Semi-implicit fixed step; distance is taken at
 * the mean of old and new speed, so that work and kinetic energy balance exactly within a gear.
 *
 *   m_eff dv/dt = m g sin(a) - m g c_r cos(a) - rho/2 CdA v^2 - F_engine - F_retarder - F_service
 *                 + F_drive
 *   m_eff = m + m_wheels + J_engine (i / r)^2,   i = gear ratio x axle ratio
 *   F_engine = (T_motoring + T_stage) i / r      (none below idle: the clutch is open)
 *   F_retarder = share(T_r) T_shaft i_axle / r   (in any gear and in none)
 *   m c dT/dt = F_service v - h(v) (T - T_ambient)
 *   C dT_r/dt = F_retarder v - h_r (T_r - T_ambient)
 */
#ifndef TD_SIM_TRUCK_H
#define TD_SIM_TRUCK_H

#include <stdbool.h>
#include <stdint.h>

#include "talkdown/hill.h"
#include "talkdown/rig.h"

/* What differs from the rig file and the profile, hidden from the plan. All 1, 0 and 0: as filed.
 * The ranges are the project's own assumption of how far a real truck strays. */
struct td_truth {
    double mass_scale;         /* 0.95 to 1.05 */
    double grade_offset_ratio; /* -0.003 to 0.003, added to every downgrade */
    double cooling_scale;      /* 0.7 to 1.3 */
    double capacity_scale;     /* 0.85 to 1.15 */
    double engine_brake_scale; /* 0.85 to 1; of a retarder's torque too */
    double dead_share;         /* share of the brakes that do nothing: 0, or a tenth */
};

struct td_truth td_truth_as_filed(void);
/* Drawn from the ranges above. */
struct td_truth td_truth_draw(uint64_t seed);

/* What the driver's hands and feet ask for. */
struct td_pedals {
    int gear;        /* index into rig->gears, -1 neutral */
    int stage;       /* engine-brake or retarder stage, -1 off; acts without throttle only, and on
                        the crankshaft only in gear */
    double brake_n;  /* service brake force asked for, 0 and up */
    double drive_n;  /* force asked of the engine at the wheels, 0 and up */
};

/* Work done by each force since the start, J, positive when it takes energy from the truck
 * (gravity and drive: when they give). */
struct td_work_done {
    double gravity_j, rolling_j, air_j, engine_j, retarder_j, service_j, drive_j;
};

struct td_truck {
    const struct td_hill *hill;
    const struct td_rig *rig;
    struct td_truth truth;
    double mass_kg;     /* true */
    double drive_most_w; /* of the engine at the wheels */
    double adhesion;    /* of tyres on this road: bounds the service brakes */
    double ambient_c;
    bool brakes_failed; /* the service brakes answer no more */
    double brake_share; /* of their force, heat and dead ones apart; 1 from the start */
    double along_m;     /* below 0 on the straight run-up before the profile's first vertex */
    double speed_mps, accel_mps2;
    double brake_n, drive_n; /* in force now */
    int gear, stage;         /* in force now */
    double temp_c, hottest_c; /* of the service brakes */
    double retarder_c, retarder_hottest_c; /* rests where it began in a truck without one */
    struct td_work_done work;
};

/* mass_kg as the load file says; the truth is applied to it here. Speed, place and temperature
 * are the caller's to set next. */
void td_truck_init(struct td_truck *truck, const struct td_hill *hill, const struct td_rig *rig,
                   double mass_kg, const struct td_truth *truth);
/* One step of dt_s, 0.01 to 0.1 s. */
void td_truck_step(struct td_truck *truck, const struct td_pedals *pedals, double dt_s);

/* True downgrade under the truck. */
double td_truck_downgrade(const struct td_truck *truck);
/* Net force without service brakes and drive, N, downhill positive, at the present speed in the
 * given gear and stage: what the driver feels the truck wants to do. */
double td_truck_pull_n(const struct td_truck *truck, int gear, int stage);
/* Mass that a force must speed up in that gear, kg. */
double td_truck_inertia_kg(const struct td_truck *truck, int gear);
/* Most the service brakes can do now: cold, hot and faded, or failed. */
double td_truck_brake_most_n(const struct td_truck *truck);

#endif
