/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A truck on seven per cent with a receiver and a voice, driven by plain rates of speed, for tests
 * of the runaway: when it is called and ended, and what is said meanwhile. */
#ifndef TD_TESTS_RUNAWAY_CAB_H
#define TD_TESTS_RUNAWAY_CAB_H

#include "support/cm.h"
#include "support/cue_bench.h"

enum { STATIONS = 181 };

static struct cue_bench bench;
static struct td_station stations[STATIONS];

/* A truck, its receiver of one fix a second and a voice that says one thing at a time. */
static struct {
    double along_m, speed_mps, told_mps, told_accel_mps2;
    bool speaking;
    struct td_prompt prompt;
    int64_t ends_ns, heard_ns; /* heard: the first warning, to its end */
    unsigned dangers, lesser_on;
    int64_t called_ns; /* first danger */
    enum td_prompt_id last_id;
    int32_t last_place;
    double take_end_m;
    int64_t take_end_ns, danger_end_ns;
    double pause_first_s; /* between the first two dangers */
    /* Lane calls but the last: what was said of the distance, and how far it was. */
    struct lane_call {
        struct td_arg said;
        double begin_m, end_m;
        enum td_side side;
    } lanes[64];
    unsigned lane_calls;
} cab;

static inline int fresh(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    memset(&cab, 0, sizeof cab);
    for (int i = 0; i < STATIONS; i++) {
        double at_m = 50.0 * i;
        stations[i] = (struct td_station){.along_m = at_m,
                                          .downgrade_ratio = at_m < 3000   ? -0.01
                                                             : at_m < 8000 ? 0.07
                                                                           : 0.0};
    }
    bench.hill.stations = stations;
    bench.hill.station_count = STATIONS;
    bench.visit.said = TD_SAID_HILL | TD_SAID_SET | TD_VISIT_BEFORE_CREST;
    bench.visit.ceiling = 15;
    cab.along_m = 3300.0;
    cab.speed_mps = td_mps_from_mph(15.0);
    bench.moment.lately_mps = td_mps_from_mph(55.0);
    return 0;
}

static inline void speak(struct td_prompt *prompt)
{
    int64_t now_ns = bench.moment.now_ns;
    cab.speaking = true;
    cab.prompt = *prompt;
    cab.ends_ns = now_ns + CUE_SAY_MS * TD_NS_PER_MS;
    td_cue_issued(&bench.moment, &bench.visit, prompt);
    if (prompt->category < TD_DANGER) {
        cab.lesser_on += bench.visit.runaway.on;
        return;
    }
    if (cab.dangers++ == 0)
        cab.called_ns = now_ns;
    if (cab.dangers == 2)
        cab.pause_first_s = td_s_from_ns(now_ns - cab.danger_end_ns);
    if (prompt->id == TD_PROMPT_RUNAWAY_LANE && cab.lane_calls < 64)
        cab.lanes[cab.lane_calls++] = (struct lane_call){
            prompt->args[1], bench.places[prompt->place].at_m - cab.along_m, 0,
            (enum td_side)prompt->args[2].value};
    cab.last_id = prompt->id;
    cab.last_place = prompt->place;
}

static inline void voice(void)
{
    int64_t now_ns = bench.moment.now_ns;
    if (!cab.speaking || now_ns < cab.ends_ns)
        return;
    cab.speaking = false;
    td_cue_spoken(&bench.moment, &bench.visit, &cab.prompt);
    if (cab.prompt.id == TD_PROMPT_OVER_SPEED) {
        bench.visit.over.next_ns = now_ns + 2500 * TD_NS_PER_MS;
        if (cab.heard_ns == 0)
            cab.heard_ns = now_ns;
    }
    if (cab.prompt.category == TD_DANGER)
        cab.danger_end_ns = now_ns;
    if (cab.prompt.id == TD_PROMPT_RUNAWAY_LANE)
        cab.lanes[cab.lane_calls - 1].end_m =
            bench.places[cab.prompt.place].at_m - cab.along_m;
    if (cab.prompt.id == TD_PROMPT_TAKE_LANE) {
        cab.take_end_m = cab.along_m;
        cab.take_end_ns = now_ns;
    }
}

/* The most pressing wish that holds goes to the voice; a danger cuts what is lesser. */
static inline void arbitrate(struct td_wishes *wishes)
{
    struct td_prompt *best = NULL;
    for (unsigned i = 0; i < wishes->count; i++) {
        struct td_prompt *prompt = &wishes->list[i].prompt;
        enum td_why why;
        if (td_cue_fill(&bench.moment, &bench.visit, prompt, &why) == TD_FILL_READY &&
            (!best || prompt->category > best->category))
            best = prompt;
    }
    bool cuts = best && cab.speaking && best->category > cab.prompt.category;
    if (best && (!cab.speaking || cuts))
        speak(best);
}

static inline void look(void)
{
    struct td_wishes wishes = {.count = 0};
    struct td_moment *moment = &bench.moment;
    moment->along_m = cab.along_m;
    moment->speed_mps = cab.speed_mps;
    moment->fix_mps = cab.told_mps;
    moment->accel_mps2 = moment->fix_accel_mps2 = cab.told_accel_mps2;
    voice();
    td_cue_hill(moment, &bench.visit, &wishes);
    arbitrate(&wishes);
}

/* Drives on at a rate; a look every quarter second, a fix every fourth look. */
static inline void drive(double seconds, double accel_mps2)
{
    for (int i = 0; i < (int)lround(seconds * 4); i++) {
        cue_bench_later(&bench, 0.25);
        cab.along_m += 0.25 * cab.speed_mps;
        cab.speed_mps = fmax(0.0, cab.speed_mps + 0.25 * accel_mps2);
        if (bench.moment.now_ns % TD_NS_PER_S < 250 * TD_NS_PER_MS) {
            cab.told_accel_mps2 = cab.told_mps > 0 ? cab.speed_mps - cab.told_mps : 0;
            cab.told_mps = cab.speed_mps;
            bench.moment.fix_ns = bench.moment.now_ns;
        }
        look();
    }
}

static inline struct td_place *lane(double at_m, bool closed)
{
    struct td_place *place = cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, at_m);
    place->side = TD_SIDE_RIGHT;
    place->has = closed ? TD_PLACE_CLOSED : 0;
    return place;
}

static inline void run_away(void)
{
    drive(12.0, 0.0);
    while (!bench.visit.runaway.on)
        drive(0.25, 0.5);
}

#define CASE(test) cmocka_unit_test_setup(test, fresh)

#endif
