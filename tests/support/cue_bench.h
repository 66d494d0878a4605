/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A hill, a plan, a rig and a moment made by hand, for tests of cues and queue. All figures are
 * invented; times and distances in the tests follow from them by arithmetic written beside. */
#ifndef TD_TESTS_CUE_BENCH_H
#define TD_TESTS_CUE_BENCH_H

#include <string.h>

#include "core/cue.h"
#include "talkdown/units.h"

#define CUE_SAY_MS 2000

struct cue_bench {
    struct td_setup setup;
    struct td_hill hill;
    struct td_place places[8];
    struct td_station stations[4];
    struct td_plan plan;
    struct td_moment moment;
    struct td_visit visit;
};

/* Ten gears, 3.7:1 axle, half-metre tyres: fifth (index 5) runs 15 mph at 1370 rpm and reaches its
 * 2100 rpm at 10.25 m/s. */
static inline void cue_bench_rig(struct td_rig *rig)
{
    static const double ratios[] = {12.8, 9.5, 7.0, 5.2, 3.9, 2.9, 2.1, 1.6, 1.2, 0.75};
    static const char *const names[] = {"low",   "first", "second", "third",   "fourth",
                                        "fifth", "sixth", "seventh", "eighth", "ninth"};
    memset(rig, 0, sizeof *rig);
    memcpy(rig->name, "bench", 6);
    rig->gearbox = TD_GEARBOX_MANUAL;
    rig->load_count = 2;
    memcpy(rig->loads[0].name, "empty", 6);
    rig->loads[0].mass_kg = 15000.0;
    memcpy(rig->loads[1].name, "full", 5);
    rig->loads[1].mass_kg = 36000.0;
    rig->axles = 5;
    rig->braked_axles = 5;
    rig->tyre_radius_m = 0.5;
    rig->rolling_ratio = 0.007;
    rig->drag_area_m2 = 6.0;
    rig->driveline_ratio = 0.95;
    rig->axle_ratio = 3.7;
    rig->rotating_kg_wheels = 1000.0;
    rig->engine_inertia_kgm2 = 3.5;
    rig->gear_count = 10;
    for (size_t i = 0; i < rig->gear_count; i++) {
        rig->gears[i].ratio = ratios[i];
        memcpy(rig->gears[i].name, names[i], strlen(names[i]) + 1);
    }
    rig->motoring = (struct td_torque_curve){2, {800.0, 2200.0}, {150.0, 350.0}};
    rig->stage_count = 2;
    memcpy(rig->stages[0].name, "low", 4);
    rig->stages[0].torque = (struct td_torque_curve){2, {800.0, 2200.0}, {300.0, 900.0}};
    memcpy(rig->stages[1].name, "high", 5);
    rig->stages[1].torque = (struct td_torque_curve){2, {800.0, 2200.0}, {600.0, 1900.0}};
    rig->rpm_least = 900.0;
    rig->rpm_best = 1800.0;
    rig->rpm_most = 2100.0;
    rig->brakes = (struct td_brakes){.heat_capacity_j_per_k = 2.5e5, .cooling_w_per_k = 150.0,
                                     .cooling_w_per_k_per_mps = 25.0, .limit_c = 260.0};
    rig->comfortable_mps2 = 0.5;
    rig->rollover_g = 0.35;
}

/* Crest at 3000 m, foot at 8000 m, 7 %, no places; the plan holds 17.4 mph, spoken 15. */
static inline void cue_bench_init(struct cue_bench *bench)
{
    memset(bench, 0, sizeof *bench);
    cue_bench_rig(&bench->setup.rig);
    bench->setup.rig_is_set = true;
    bench->setup.load_confirmed = true;
    bench->setup.rig.load_now = 1;
    bench->setup.ambient_c = 32.0;
    bench->setup.brakes_from_c = 65.0;
    for (int i = 0; i < TD_PROMPT_IDS; i++)
        bench->setup.speech_ms[i] = CUE_SAY_MS;
    struct td_hill *hill = &bench->hill;
    hill->id = "bench-hill";
    hill->name = "Bench Hill";
    hill->places = bench->places;
    hill->length_m = 9000.0;
    hill->coached = true;
    hill->crest_m = 3000.0;
    hill->foot_m = 8000.0;
    hill->mean_downgrade_ratio = hill->steepest_downgrade_ratio = 0.07;
    hill->run_count = 3;
    /* Only along and downgrade are read by cues. */
    bench->stations[1] = (struct td_station){.along_m = 3000.0, .downgrade_ratio = 0.07};
    bench->stations[0].downgrade_ratio = -0.01;
    bench->stations[2].along_m = 8000.0;
    bench->stations[3].along_m = 9000.0;
    hill->stations = bench->stations;
    hill->station_count = 4;
    hill->runs[0] = (struct td_run){0.0, 3000.0, -0.01};
    hill->runs[1] = (struct td_run){3000.0, 8000.0, 0.07};
    hill->runs[2] = (struct td_run){8000.0, 9000.0, 0.0};
    struct td_plan *plan = &bench->plan;
    plan->safe = plan->coached = true;
    plan->target_mps = td_mps_from_mph(17.4);
    plan->target_mph = 17;
    plan->say_mph = 15;
    plan->say_kmh = 25;
    plan->gear = 5;
    plan->stage = 1;
    plan->stretch_count = 1;
    plan->stretches[0] = (struct td_plan_stretch){3000.0, 8000.0, 0.07, td_mps_from_mph(17.4),
                                                  TD_LIMIT_GEAR};
    plan->descent_count = 1;
    plan->descents[0] = (struct td_plan_descent){.from_m = 3000.0,
                                                 .to_m = 8000.0,
                                                 .target_mps = plan->target_mps,
                                                 .target_mph = 17,
                                                 .say_mph = 15,
                                                 .say_kmh = 25,
                                                 .limited_by = TD_LIMIT_GEAR,
                                                 .gear = 5,
                                                 .stage = 1};
    bench->visit.handle = 7;
    struct td_moment *moment = &bench->moment;
    moment->now_ns = 1000 * TD_NS_PER_S;
    moment->setup = &bench->setup;
    moment->mass_kg = 36000.0;
    moment->where = TD_WHERE_ON_HILL;
    moment->handle = 7;
    moment->hill = hill;
    moment->plan = plan;
    moment->on_hill = true;
    moment->sigma_m = 3.0;
    moment->speed_fresh = true;
    moment->sound_up = true;
}

static inline struct td_place *cue_bench_place(struct cue_bench *bench, enum td_place_kind kind,
                                               double at_m)
{
    struct td_place *place = &bench->places[bench->hill.place_count++];
    *place = (struct td_place){.kind = kind, .at_m = at_m, .material = "", .say = "", .name = ""};
    return place;
}

static inline void cue_bench_at(struct cue_bench *bench, double along_m, double speed_mps)
{
    bench->moment.along_m = along_m;
    bench->moment.speed_mps = speed_mps;
}

static inline void cue_bench_later(struct cue_bench *bench, double seconds)
{
    bench->moment.now_ns += (int64_t)(seconds * 1e9);
}

/* Calls the cues of the moment; returns the wish for `id`, NULL when there is none. The wish
 * carries the numbers when it may be said now. */
static inline const struct td_prompt *cue_bench_wish(struct cue_bench *bench, enum td_prompt_id id,
                                                     struct td_wishes *wishes)
{
    wishes->count = 0;
    td_cue_hill(&bench->moment, &bench->visit, wishes);
    for (unsigned i = 0; i < wishes->count; i++) {
        enum td_why why;
        if (wishes->list[i].prompt.id != id)
            continue;
        (void)td_cue_fill(&bench->moment, &bench->visit, &wishes->list[i].prompt, &why);
        return &wishes->list[i].prompt;
    }
    return NULL;
}

/* Drives from one place to another, a second a step; returns how often `id` was wished for, and
 * where first (-1 never). */
static inline unsigned cue_bench_drive(struct cue_bench *bench, enum td_prompt_id id,
                                       double from_m, double to_m, double speed_mps,
                                       double *first_m)
{
    struct td_wishes wishes;
    unsigned count = 0;
    *first_m = -1.0;
    for (double at_m = from_m; at_m <= to_m; at_m += speed_mps) {
        cue_bench_at(bench, at_m, speed_mps);
        if (cue_bench_wish(bench, id, &wishes) && count++ == 0)
            *first_m = at_m;
        cue_bench_later(bench, 1.0);
    }
    return count;
}

#endif
