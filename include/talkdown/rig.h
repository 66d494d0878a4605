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
    TD_RIG_GEARS_LEAST = 2,
    TD_RIG_GEARS_MAX = 18,
    TD_RIG_STAGES_MAX = 8,
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

/* What holds the truck back beside motoring and the service brakes. */
enum td_holder {
    TD_HOLDER_ENGINE_BRAKE = 0, /* in the engine: the driver's "engine brake" */
    TD_HOLDER_EXHAUST_BRAKE,    /* a flap in the exhaust; on the crankshaft as well */
    TD_HOLDER_RETARDER,         /* on the propeller shaft, behind the gearbox */
};

/* What the driver can set with one lever. */
struct td_engine_brake_stage {
    char name[TD_RIG_WORD_MAX]; /* "low", "high" */
    enum td_holder kind;
    /* At the crankshaft, on top of motoring. Of a retarder's stage: that of the engine-brake stage
     * which the same lever sets with it, no points for none. */
    struct td_torque_curve torque;
    /* On the propeller shaft against its own turns, the retarder cold; no points unless kind is
     * TD_HOLDER_RETARDER. */
    struct td_torque_curve shaft_torque_nm;
};

/* Heat of a driveline retarder: one lumped mass that cools by the coolant alone, and the share of
 * its torque that its guard leaves it: all of it up to derates_from_c, least_ratio at and above
 * derates_to_c, a straight line between (retarder.h). Read only where a stage is a retarder's. */
struct td_retarder_heat {
    double heat_capacity_j_per_k, cooling_w_per_k; /* above 0 */
    double derates_from_c, derates_to_c;           /* rising */
    double least_ratio;                            /* 0 to 1 */
};

struct td_load {
    char name[TD_RIG_WORD_MAX]; /* "bobtail", "empty", "half", "full" */
    double mass_kg;             /* gross, truck and load */
};

enum td_brake_kind { TD_BRAKE_DRUM = 0, TD_BRAKE_DISC };

struct td_brakes {
    /* The published figures were taken on drums and no others were found: discs are reckoned with
     * the same heat capacity, cooling and limit unless the file says otherwise. */
    enum td_brake_kind kind;
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
    double drive_power_w;   /* rated, driving; 0: not stated, see td_rig_drive_power_w */
    struct td_gear gears[TD_RIG_GEARS_MAX]; /* lowest first, ratios strictly falling */
    size_t gear_count;
    struct td_torque_curve motoring; /* engine without fuel */
    /* Weakest first: what acts on the crankshaft, then the retarder's. Order holds within each of
     * the two, not between them: a retarder's force does not depend on the gear. */
    struct td_engine_brake_stage stages[TD_RIG_STAGES_MAX];
    size_t stage_count;
    struct td_retarder_heat retarder;
    double rpm_least, rpm_best, rpm_most; /* band in which the engine may be driven on a grade */
    struct td_brakes brakes;
    double comfortable_mps2; /* slowing that a driver takes without being pressed */
    double rollover_g;       /* static threshold of the loaded rig, 0.15 to 1 */
};

/* Brakes of a rig that does not state its own: heat capacity and cooling of the Grade Severity
 * Rating System's five-axle truck (FHWA/RD-81/185, constants from memory; docs/physics.md) scaled
 * by braked axles over five, 260 degC (500 degF) limit, a fifth of them out of adjustment, drums.
 * braked_axles below 1 counts as 1. Pure. */
struct td_brakes td_brakes_published(int braked_axles);

/* Checks ranges and order. TD_INVALID names the member in words of the rig file and says what
 * would be right. Pure. */
TD_CHECKED enum td_result td_rig_check(const struct td_rig *rig, struct td_problem *problem);

/* Heaviest named load; index into rig->loads. */
size_t td_rig_heaviest_load(const struct td_rig *rig);

/* Driving power that the plan counts on: as stated, else the heaviest load's at 120 kg/kW, the
 * loaded truck (200 lb/hp) of AASHTO's Green Book for the critical length of grade (from
 * memory). */
#define TD_RIG_KG_PER_KW 120.0
double td_rig_drive_power_w(const struct td_rig *rig);

/* Torque of a curve at an engine speed; 0 for a curve without points. */
double td_torque_at_nm(const struct td_torque_curve *curve, double rpm);

/* Torque of a retarder's curve on the propeller shaft. Below its first point it falls in a straight
 * line to nothing at rest: a shaft that stands still turns no rotor. Never negative. */
double td_shaft_torque_at_nm(const struct td_torque_curve *curve, double shaft_rpm);

/* Any stage is a driveline retarder's. */
bool td_rig_has_retarder(const struct td_rig *rig);

/* Engine turns a minute at a road speed in gear `gear` (index), clutch closed; and back. */
double td_rig_rpm(const struct td_rig *rig, size_t gear, double speed_mps);
double td_rig_speed_mps(const struct td_rig *rig, size_t gear, double rpm);
/* Propeller-shaft turns a minute at a road speed. */
double td_rig_shaft_rpm(const struct td_rig *rig, double speed_mps);

#endif
