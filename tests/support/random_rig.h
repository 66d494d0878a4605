/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sound rigs of every kind the rig file knows: 5 to 18 gears of any gearbox, 2 to 9 axles, drums or
 * discs, no holder at all, an exhaust brake, one to three stages of engine brake, a driveline
 * retarder beside any of them. Figures between those of a light truck and of a heavy hauler. */
#ifndef TD_TESTS_RANDOM_RIG_H
#define TD_TESTS_RANDOM_RIG_H

#include <stdio.h>

#include "talkdown/rig.h"
#include "talkdown/rng.h"

static inline void random_gears(struct td_rng *rng, struct td_rig *rig)
{
    rig->gearbox = (enum td_gearbox)td_rng_below(rng, TD_GEARBOX_AUTOMATIC + 1);
    rig->gear_count = 5 + td_rng_below(rng, 14);
    double step = rig->gear_count > 12   ? td_rng_between(rng, 1.15, 1.22)
                  : rig->gear_count > 8 ? td_rng_between(rng, 1.22, 1.32)
                                        : td_rng_between(rng, 1.4, 1.6);
    double ratio = td_rng_between(rng, 0.65, 1.0);
    for (size_t i = rig->gear_count; i-- > 0; ratio *= step) {
        (void)snprintf(rig->gears[i].name, sizeof rig->gears[i].name, "gear %u",
                       (unsigned)i + 1);
        rig->gears[i].ratio = ratio;
    }
}

/* Rises with the engine's turns, as such brakes do. */
static inline struct td_torque_curve random_crank_curve(struct td_rng *rng, double most_nm)
{
    struct td_torque_curve curve = {.count = 3, .rpm = {900, 1500, 2600}};
    double share = td_rng_between(rng, 0.4, 0.7);
    for (size_t i = 0; i < 3; i++, share = 0.5 * (1 + share))
        curve.torque_nm[i] = most_nm * share;
    return curve;
}

static inline void random_crank_stages(struct td_rng *rng, struct td_rig *rig, double full_nm)
{
    size_t count = td_rng_below(rng, 5); /* 4: an exhaust brake alone */
    bool exhaust = count == 4;
    struct td_torque_curve strongest =
        random_crank_curve(rng, full_nm * td_rng_between(rng, 0.3, exhaust ? 0.4 : 1));
    rig->stage_count = exhaust ? 1 : count;
    for (size_t i = 0; i < rig->stage_count; i++) {
        struct td_engine_brake_stage *stage = &rig->stages[i];
        (void)snprintf(stage->name, sizeof stage->name, "engine %u", (unsigned)i + 1);
        stage->kind = exhaust ? TD_HOLDER_EXHAUST_BRAKE : TD_HOLDER_ENGINE_BRAKE;
        stage->torque = strongest;
        for (size_t p = 0; p < strongest.count; p++)
            stage->torque.torque_nm[p] *= (double)(i + 1) / (double)rig->stage_count;
    }
}

static inline void random_retarder(struct td_rng *rng, struct td_rig *rig, double most_nm)
{
    size_t crank_count = rig->stage_count, count = 1 + td_rng_below(rng, 4);
    double peak_rpm = td_rng_between(rng, 400, 900), fade = td_rng_between(rng, 0.4, 1);
    bool joined = crank_count > 0 && td_rng_below(rng, 2) != 0;
    for (size_t i = 0; i < count; i++) {
        double nm = most_nm * (double)(i + 1) / (double)count;
        struct td_engine_brake_stage *stage = &rig->stages[rig->stage_count++];
        (void)snprintf(stage->name, sizeof stage->name, "retarder %u", (unsigned)i + 1);
        stage->kind = TD_HOLDER_RETARDER;
        stage->shaft_torque_nm = (struct td_torque_curve){
            3, {200, peak_rpm, 1800}, {0.3 * nm, nm, fade * nm}};
        if (joined && i + 1 == count)
            stage->torque = rig->stages[crank_count - 1].torque;
    }
    rig->retarder = (struct td_retarder_heat){
        .heat_capacity_j_per_k = td_rng_between(rng, 60e3, 400e3),
        .cooling_w_per_k = td_rng_between(rng, 600, 4000),
        .derates_from_c = td_rng_between(rng, 100, 150),
        .least_ratio = td_rng_between(rng, 0, 0.6),
    };
    rig->retarder.derates_to_c = rig->retarder.derates_from_c + td_rng_between(rng, 10, 80);
}

static inline struct td_rig random_sound_rig(struct td_rng *rng)
{
    int axles = 2 + (int)td_rng_below(rng, 8);
    double heaviest_kg = 8000.0 * axles * td_rng_between(rng, 0.7, 1.05);
    struct td_rig rig = {
        .name = "random",
        .loads = {{"empty", 0.4 * heaviest_kg}, {"full", heaviest_kg}},
        .load_count = 2,
        .load_now = td_rng_below(rng, 2),
        .axles = axles,
        .braked_axles = axles - (int)td_rng_below(rng, 2),
        .tyre_radius_m = td_rng_between(rng, 0.38, 0.54),
        .rolling_ratio = td_rng_between(rng, 0.0055, 0.0103),
        .drag_area_m2 = td_rng_between(rng, 3.5, 9),
        .driveline_ratio = td_rng_between(rng, 0.88, 0.97),
        .axle_ratio = td_rng_between(rng, 2.4, 5),
        .rotating_kg_wheels = 100.0 * axles,
        .engine_inertia_kgm2 = td_rng_between(rng, 0.8, 4),
        .rpm_least = 1100,
        .rpm_best = 1600,
        .rpm_most = td_rng_between(rng, 1800, 2500),
        .comfortable_mps2 = td_rng_between(rng, 0.3, 0.8),
        .rollover_g = td_rng_between(rng, 0.25, 0.5),
    };
    random_gears(rng, &rig);
    double engine_nm = 45 + 6e-3 * heaviest_kg;
    rig.motoring = random_crank_curve(rng, engine_nm);
    random_crank_stages(rng, &rig, 7 * engine_nm);
    if (td_rng_below(rng, 3) == 0)
        random_retarder(rng, &rig, td_rng_between(rng, 0.03, 0.09) * heaviest_kg);
    rig.brakes = td_brakes_published(rig.braked_axles);
    rig.brakes.kind = (enum td_brake_kind)td_rng_below(rng, TD_BRAKE_DISC + 1);
    rig.brakes.missing_ratio = td_rng_between(rng, 0, 0.4);
    return rig;
}

#endif
