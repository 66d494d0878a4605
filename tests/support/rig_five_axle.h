/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A five-axle combination for tests: ten gears, a two-stage engine brake. Invented figures of a
 * usual size; no maker's truck. */
#ifndef TD_TESTS_RIG_FIVE_AXLE_H
#define TD_TESTS_RIG_FIVE_AXLE_H

#include "talkdown/rig.h"

static inline struct td_rig rig_five_axle(void)
{
    struct td_rig rig = {
        .name = "five axles", .gearbox = TD_GEARBOX_MANUAL,
        .loads = {{"empty", 15000}, {"full", 36287}}, .load_count = 2, .load_now = 1,
        .axles = 5, .braked_axles = 5, .tyre_radius_m = 0.5, .rolling_ratio = 0.007,
        .drag_area_m2 = 6.0, .driveline_ratio = 0.92, .axle_ratio = 3.7,
        .rotating_kg_wheels = 700, .engine_inertia_kgm2 = 3.5,
        .gears = {{"first", 14.8}, {"second", 10.9}, {"third", 8.0}, {"fourth", 5.9},
                  {"fifth", 4.4}, {"sixth", 3.3}, {"seventh", 2.5}, {"eighth", 1.8},
                  {"ninth", 1.35}, {"tenth", 1.0}},
        .gear_count = 10,
        .motoring = {2, {600, 2100}, {150, 260}},
        .stages = {{.name = "low", .torque = {2, {1000, 2100}, {450, 800}}},
                   {.name = "high", .torque = {2, {1000, 2100}, {900, 1600}}}},
        .stage_count = 2, .rpm_least = 1100, .rpm_best = 1600, .rpm_most = 2100,
        .brakes = {.heat_capacity_j_per_k = 393e3, .cooling_w_per_k = 135,
                   .cooling_w_per_k_per_mps = 6.3, .limit_c = 260, .missing_ratio = 0.2},
        .comfortable_mps2 = 0.6, .rollover_g = 0.3,
    };
    return rig;
}

#endif
