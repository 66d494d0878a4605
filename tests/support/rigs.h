/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A sound rig for tests: five axles, ten gears, two-stage engine brake. Invented, of common
 * proportions; the engine brake is of the size that trade calls strong (from memory, no source). */
#ifndef TD_TESTS_RIGS_H
#define TD_TESTS_RIGS_H

#include "talkdown/rig.h"
#include "talkdown/units.h"

static inline struct td_rig test_rig(void)
{
    static const double ratios[] = {11.06, 8.25, 6.15, 4.59, 3.42, 2.55, 1.90, 1.42, 1.06, 0.79};
    static const char *const names[] = {"first", "second",  "third",  "fourth", "fifth",
                                        "sixth", "seventh", "eighth", "ninth",  "tenth"};
    struct td_rig rig = {
        .name = "Five axles, two-stage engine brake",
        .gearbox = TD_GEARBOX_MANUAL,
        .loads = {{"bobtail", 8000}, {"empty", 15000}, {"full", 79900 * TD_KG_PER_LB}},
        .load_count = 3,
        .load_now = 2,
        .axles = 5,
        .braked_axles = 5,
        .tyre_radius_m = 0.506,
        .rolling_ratio = 0.0065,
        .drag_area_m2 = 6.2,
        .driveline_ratio = 0.95,
        .axle_ratio = 2.579,
        .rotating_kg_wheels = 500,
        .engine_inertia_kgm2 = 3.5,
        .gear_count = 10,
        .motoring = {3, {800, 1500, 2200}, {140, 190, 240}},
        .stages = {{.name = "low", .torque = {3, {1000, 1600, 2100}, {390, 650, 850}}},
                   {.name = "high", .torque = {3, {1000, 1600, 2100}, {850, 1370, 1800}}}},
        .stage_count = 2,
        .rpm_least = 1000,
        .rpm_best = 1600,
        .rpm_most = 2100,
        .comfortable_mps2 = 0.5,
        .rollover_g = 0.35,
    };
    for (size_t i = 0; i < rig.gear_count; i++) {
        rig.gears[i].ratio = ratios[i];
        for (size_t c = 0; names[i][c] != '\0'; c++)
            rig.gears[i].name[c] = names[i][c];
    }
    rig.brakes = td_brakes_published(rig.braked_axles);
    return rig;
}

#endif
