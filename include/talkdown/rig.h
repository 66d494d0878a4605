/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A truck and its load, as the physics and the voice need it.
 *
 * Ownership: a plain value without pointers; copy it freely. Units: SI. A rig that came through
 * td_rig_check is sound; the core relies on that. */
#ifndef TD_RIG_H
#define TD_RIG_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

enum {
    TD_RIG_GEARS_MAX = 18,
    TD_RIG_STAGES_MAX = 4,
    TD_RIG_LOADS_MAX = 8,
    TD_RIG_CURVE_MAX = 16,
    TD_RIG_WORD_MAX = 24,
    TD_RIG_NAME_MAX = 64,
};

enum td_gearbox { TD_GEARBOX_MANUAL = 0, TD_GEARBOX_AUTOMATED, TD_GEARBOX_AUTOMATIC };

struct td_gear {
    char name[TD_RIG_WORD_MAX]; /* as the driver says it: "third", "low" */
    double ratio;               /* input over output turns, above 0 */
};

/* Retarding torque at the crankshaft against engine speed; straight lines between the points,
 * level beyond the ends. Positive brakes. */
struct td_torque_curve {
    size_t count; /* 0: none; else 2 and up, rpm strictly increasing */
    double rpm[TD_RIG_CURVE_MAX];
    double torque_nm[TD_RIG_CURVE_MAX];
};

struct td_engine_brake_stage {
    char name[TD_RIG_WORD_MAX]; /* "low", "high" */
    struct td_torque_curve torque; /* of the engine brake alone, on top of motoring */
};

struct td_load {
    char name[TD_RIG_WORD_MAX]; /* "bobtail", "empty", "half", "full" */
    double mass_kg;             /* gross, truck and load */
};

struct td_brakes {
    double heat_capacity_j_per_k; /* all braked axles together, in good adjustment */
    double cooling_w_per_k;       /* at rest */
    double cooling_w_per_k_per_mps; /* more with each m/s */
    double limit_c;               /* bulk temperature not to be passed */
    double missing_ratio;         /* share of capacity taken as out of adjustment, 0 to 0.5 */
};

struct td_rig {
    char name[TD_RIG_NAME_MAX];
    enum td_gearbox gearbox;
    struct td_load loads[TD_RIG_LOADS_MAX];
    size_t load_count; /* 1 and up */
    size_t load_now;   /* index of the load the file selects */
    int axles, braked_axles;
    double tyre_radius_m;
    double rolling_ratio; /* rolling resistance coefficient */
    double drag_area_m2;  /* drag coefficient times frontal area */
    double driveline_ratio; /* efficiency, above 0 and at most 1 */
    double axle_ratio;
    double rotating_kg_wheels; /* rotating mass of wheels, as equivalent mass */
    double engine_inertia_kgm2;
    struct td_gear gears[TD_RIG_GEARS_MAX]; /* lowest first, ratios strictly falling */
    size_t gear_count;
    struct td_torque_curve motoring; /* engine without fuel */
    struct td_engine_brake_stage stages[TD_RIG_STAGES_MAX]; /* weakest first */
    size_t stage_count;
    double rpm_least, rpm_best, rpm_most; /* band in which the engine may be driven on a grade */
    struct td_brakes brakes;
    double comfortable_mps2; /* slowing that a driver takes without being pressed */
    double rollover_g;       /* static threshold of the loaded rig, 0.15 to 1 */
};

/* Brakes of a rig that does not state its own: heat capacity and cooling of the Grade Severity
 * Rating System's five-axle truck (FHWA/RD-81/185, constants from memory; docs/physics.md) scaled
 * by braked axles over five, 260 degC (500 degF) limit, a fifth of them out of adjustment.
 * braked_axles below 1 counts as 1. Pure. */
struct td_brakes td_brakes_published(int braked_axles);

/* Checks ranges and order. TD_INVALID names the member in words of the rig file and says what
 * would be right. Pure. */
TD_CHECKED enum td_result td_rig_check(const struct td_rig *rig, struct td_problem *problem);

/* Heaviest named load; index into rig->loads. */
size_t td_rig_heaviest_load(const struct td_rig *rig);

/* Torque of a curve at an engine speed; 0 for a curve without points. */
double td_torque_at_nm(const struct td_torque_curve *curve, double rpm);

/* Engine turns a minute at a road speed in gear `gear` (index), clutch closed; and back. */
double td_rig_rpm(const struct td_rig *rig, size_t gear, double speed_mps);
double td_rig_speed_mps(const struct td_rig *rig, size_t gear, double rpm);

#endif
