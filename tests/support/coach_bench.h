/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A coach with a small shell around it for tests: one straight hill in the open ocean, a shell that
 * answers wants and solves plans, a voice that speaks for its measured time, and the laws that hold
 * whatever happens, checked at every step. */
#ifndef TD_TESTS_COACH_BENCH_H
#define TD_TESTS_COACH_BENCH_H

#include <stdlib.h>
#include <string.h>

#include "support/cue_bench.h"
#include "talkdown/coach.h"
#include "talkdown/geo.h"

enum { COACH_BENCH_STATIONS = 361, COACH_BENCH_SERIALS = 4096 };

enum coach_bench_fate { FATE_NONE = 0, FATE_DECIDED, FATE_ISSUED, FATE_FINAL };

struct coach_bench {
    struct td_coach *coach;
    struct td_setup setup;
    struct td_station stations[COACH_BENCH_STATIONS];
    struct td_place places[8];
    struct td_hill hill;
    struct td_plan_work work;
    struct td_plan plan;
    struct td_input input;
    struct td_output output;
    int64_t now_ns;

    /* Answers on their way. */
    uint32_t want_serial;
    bool offered;
    bool pinned;
    struct td_solve solve;

    /* The voice. */
    bool speaking, started, mute; /* mute: it never answers */
    uint32_t serial;
    int64_t start_ns, end_ns;

    /* Laws. */
    uint8_t fates[COACH_BENCH_SERIALS];
    uint32_t open_serial; /* issued and without its last fate, 0 none */
    unsigned spoken_count[TD_PROMPT_IDS]; /* to their end */
    struct td_prompt last_spoken[TD_PROMPT_IDS]; /* as handed to the voice */
    struct td_prompt heard[TD_PROMPT_IDS]; /* to their end */
    int64_t spoken_ns[40]; /* newest first */
    uint64_t digest;       /* of everything that was put out */
    void (*watch)(struct coach_bench *bench); /* more laws, after each step; may be NULL */
};

/* 9 km due east at 30 S 20 W: 3 km rising at 1 %, 5 km falling at 7 %, 1 km level. */
static inline void coach_bench_hill(struct coach_bench *bench)
{
    struct td_problem problem;
    double m_per_deg = td_geo_distance_m(-30.0, -20.0, -30.0, -19.99) / 0.01;
    for (int i = 0; i < COACH_BENCH_STATIONS; i++) {
        double along_m = 25.0 * i;
        double fall_m = along_m < 3000.0   ? -0.01 * along_m
                        : along_m < 8000.0 ? -30.0 + 0.07 * (along_m - 3000.0)
                                           : 320.0;
        bench->stations[i].lat_deg = -30.0;
        bench->stations[i].lon_deg = -20.0 + along_m / m_per_deg;
        bench->stations[i].elevation_m = 500.0 - fall_m;
    }
    bench->hill.id = "bench-hill";
    bench->hill.name = "Bench Hill";
    bench->hill.stations = bench->stations;
    bench->hill.station_count = COACH_BENCH_STATIONS;
    bench->hill.places = bench->places;
    if (td_hill_derive(&bench->hill, bench->stations, &problem) != TD_OK)
        abort();
}

static inline struct td_place *coach_bench_place(struct coach_bench *bench,
                                                 enum td_place_kind kind, double at_m)
{
    struct td_place *place = &bench->places[bench->hill.place_count++];
    *place = (struct td_place){.kind = kind, .at_m = at_m, .material = "", .say = "", .name = ""};
    return place;
}

static inline struct coach_bench *coach_bench_new(void)
{
    struct coach_bench *bench = calloc(1, sizeof *bench);
    if (!bench)
        abort();
    cue_bench_rig(&bench->setup.rig);
    bench->setup.rig.load_now = 1;
    bench->setup.rig_is_set = bench->setup.load_confirmed = true;
    bench->setup.credit = TD_CREDIT_CAUTIOUS;
    bench->setup.ambient_c = 32.0;
    bench->setup.brakes_from_c = (double)NAN;
    bench->setup.hills_on_board = 1;
    for (int i = 0; i < TD_PROMPT_IDS; i++)
        bench->setup.speech_ms[i] = 2000;
    bench->setup.sound_delay_ms = 100;
    coach_bench_hill(bench);
    bench->digest = 14695981039346656037ull;
    return bench;
}

static inline void coach_bench_start(struct coach_bench *bench)
{
    bench->coach = td_coach_init(malloc(td_coach_size()), &bench->setup, bench->now_ns);
    if (!bench->coach)
        abort();
}

static inline void coach_bench_free(struct coach_bench *bench)
{
    free(bench->coach);
    free(bench);
}

static inline void coach_bench_report(struct coach_bench *bench, enum td_report_kind kind)
{
    if (bench->input.report_count < TD_REPORTS_MAX)
        bench->input.reports[bench->input.report_count++] =
            (struct td_report){bench->serial, kind};
    if (kind != TD_REPORT_STARTED)
        bench->speaking = false;
}

static inline void coach_bench_digest(struct coach_bench *bench, int64_t value)
{
    for (int byte = 0; byte < 8; byte++) {
        bench->digest ^= (uint64_t)value >> (8 * byte) & 0xff;
        bench->digest *= 1099511628211ull;
    }
}

static inline void coach_bench_digest_all(struct coach_bench *bench)
{
    const struct td_output *output = &bench->output;
    coach_bench_digest(bench, output->has_speak ? output->speak.serial : 0);
    coach_bench_digest(bench, output->speak.id);
    for (unsigned i = 0; i < output->speak.arg_count; i++)
        coach_bench_digest(bench, output->speak.args[i].value);
    coach_bench_digest(bench, output->cut_serial);
    coach_bench_digest(bench, output->next_wake_ns);
    for (unsigned i = 0; i < output->event_count; i++) {
        coach_bench_digest(bench, output->events[i].kind);
        coach_bench_digest(bench, output->events[i].why);
        coach_bench_digest(bench, output->events[i].prompt.serial);
    }
    double estimates[] = {output->estimate.along_m, output->estimate.speed_mps,
                          output->estimate.heat_likely_c, output->estimate.target_mps};
    for (size_t i = 0; i < sizeof estimates / sizeof *estimates; i++) {
        int64_t bits;
        memcpy(&bits, &estimates[i], sizeof bits);
        coach_bench_digest(bench, bits);
    }
}

static inline void coach_bench_check_event(struct coach_bench *bench, const struct td_event *event)
{
    uint32_t serial = event->prompt.serial;
    if (event->kind > TD_EVENT_DROPPED)
        return;
    assert_true(serial > 0 && serial < COACH_BENCH_SERIALS);
    uint8_t *fate = &bench->fates[serial];
    if (event->kind == TD_EVENT_SPOKEN) {
        bench->spoken_count[event->prompt.id]++;
        bench->heard[event->prompt.id] = event->prompt;
    }
    switch (event->kind) {
    case TD_EVENT_DECIDED:
        assert_int_equal(*fate, FATE_NONE);
        *fate = FATE_DECIDED;
        break;
    case TD_EVENT_ISSUED:
        assert_int_equal(*fate, FATE_DECIDED);
        assert_int_equal(bench->open_serial, 0); /* A13: one voice */
        *fate = FATE_ISSUED;
        bench->open_serial = serial;
        break;
    case TD_EVENT_STARTED:
        assert_int_equal(*fate, FATE_ISSUED);
        break;
    case TD_EVENT_SPOKEN:
    case TD_EVENT_CUT:
    case TD_EVENT_LOST:
        assert_int_equal(*fate, FATE_ISSUED);
        *fate = FATE_FINAL;
        bench->open_serial = 0;
        break;
    default:
        assert_true(*fate == FATE_DECIDED || *fate == FATE_ISSUED);
        if (*fate == FATE_ISSUED)
            bench->open_serial = 0;
        *fate = FATE_FINAL;
        break;
    }
}

static inline void coach_bench_check(struct coach_bench *bench)
{
    const struct td_output *output = &bench->output;
    assert_false(output->has_speak && output->cut_serial != 0);
    assert_int_equal(output->events_lost, 0);
    assert_true(output->next_wake_ns > bench->now_ns);
    if (output->cut_serial != 0)
        assert_int_equal(output->cut_serial, bench->open_serial);
    for (unsigned i = 0; i < output->event_count; i++)
        coach_bench_check_event(bench, &output->events[i]);
    if (!output->has_speak)
        return;
    assert_int_equal(output->speak.serial, bench->open_serial);
    assert_true(output->speak.expires_ns >= bench->now_ns);
    assert_true(output->speak.arg_count <= TD_PROMPT_ARGS_MAX);
    assert_int_equal(output->speak.category, td_prompt_category(output->speak.id));
    /* Never more than forty prompts in two minutes, repeats and losses included: no chatter. */
    assert_true(bench->spoken_ns[39] == 0 ||
                bench->now_ns - bench->spoken_ns[39] > 120 * TD_NS_PER_S);
    memmove(bench->spoken_ns + 1, bench->spoken_ns, 39 * sizeof *bench->spoken_ns);
    bench->spoken_ns[0] = bench->now_ns;
    bench->last_spoken[output->speak.id] = output->speak;
}

static inline void coach_bench_answer(struct coach_bench *bench)
{
    struct td_input *input = &bench->input;
    if (bench->want_serial != 0) {
        input->offer.want_serial = bench->want_serial;
        input->offer.kind = bench->offered ? TD_OFFER_END : TD_OFFER_HILL;
        if (!bench->offered) {
            input->offer.handle = 41;
            input->offer.hill = &bench->hill;
            bench->pinned = true;
        } else {
            bench->want_serial = 0;
        }
        bench->offered = !bench->offered;
    }
    if (bench->solve.serial != 0) {
        td_plan_solve(&bench->hill, &bench->setup.rig, &bench->solve.query, &bench->work,
                      &bench->plan);
        input->plan_serial = bench->solve.serial;
        input->plan = &bench->plan;
        bench->solve.serial = 0;
    }
    if (!bench->speaking || bench->mute)
        return;
    if (!bench->started && bench->now_ns >= bench->start_ns) {
        bench->started = true;
        coach_bench_report(bench, TD_REPORT_STARTED);
    }
    if (bench->now_ns >= bench->end_ns)
        coach_bench_report(bench, TD_REPORT_ENDED);
}

/* What is in bench->input goes in with what the shell and the voice have to say. */
static inline void coach_bench_step(struct coach_bench *bench, int64_t now_ns)
{
    bench->now_ns = now_ns;
    bench->input.now_ns = now_ns;
    coach_bench_answer(bench);
    td_coach_step(bench->coach, &bench->input, &bench->output);
    bench->input = (struct td_input){0};
    coach_bench_check(bench);
    coach_bench_digest_all(bench);
    if (bench->watch)
        bench->watch(bench);
    const struct td_output *output = &bench->output;
    if (output->want.serial != 0)
        bench->want_serial = output->want.serial;
    if (output->solve.serial != 0)
        bench->solve = output->solve;
    if (output->release_handle != 0)
        bench->pinned = false;
    if (output->cut_serial != 0 && bench->speaking && bench->serial == output->cut_serial &&
        !bench->mute)
        coach_bench_report(bench, TD_REPORT_CUT);
    if (output->has_speak) {
        bench->speaking = true;
        bench->started = false;
        bench->serial = output->speak.serial;
        bench->start_ns = now_ns + 100 * TD_NS_PER_MS;
        bench->end_ns = bench->start_ns + 2000 * TD_NS_PER_MS;
    }
}

/* Steps as often as the coach asks, and for reports and answers as they fall due, until then. */
static inline void coach_bench_until(struct coach_bench *bench, int64_t until_ns)
{
    while (bench->now_ns < until_ns) {
        int64_t next_ns = bench->output.next_wake_ns;
        if (bench->input.report_count > 0 || bench->want_serial != 0 || bench->solve.serial != 0)
            next_ns = bench->now_ns + 20 * TD_NS_PER_MS;
        if (bench->speaking && !bench->mute) {
            int64_t voice_ns = bench->started ? bench->end_ns : bench->start_ns;
            next_ns = voice_ns < next_ns ? voice_ns : next_ns;
        }
        if (next_ns <= bench->now_ns)
            next_ns = bench->now_ns + TD_NS_PER_MS;
        if (next_ns > until_ns)
            break;
        coach_bench_step(bench, next_ns);
    }
}

/* A fix on the road, `left_m` to the left of it, at the end of the second. */
static inline void coach_bench_fix(struct coach_bench *bench, double along_m, double left_m,
                                   double speed_mps)
{
    size_t at = td_hill_station_at(&bench->hill, along_m);
    const struct td_station *station = &bench->stations[at];
    double deg_per_m = (bench->stations[1].lon_deg - bench->stations[0].lon_deg) / 25.0;
    /* No receiver tells a straight line at one speed: one that does has lost its satellites. */
    double phase = td_s_from_ns(bench->now_ns);
    along_m += 0.2 * cos(1.9 * phase);
    left_m += 0.2 * sin(2.3 * phase);
    bench->input.has_fix = true;
    bench->input.fix = (struct td_fix){
        .has = TD_FIX_POSITION | TD_FIX_SPEED | TD_FIX_TRACK | TD_FIX_SIGMA,
        .received_ns = bench->now_ns + TD_NS_PER_S,
        .lat_deg = -30.0 + left_m / 110900.0,
        .lon_deg = station->lon_deg + (along_m - station->along_m) * deg_per_m,
        .speed_mps = speed_mps < 0.0 ? 0.0 : speed_mps,
        .track_deg = 90.0,
        .sigma_m = 4.0,
    };
}

/* One second of driving: what happens in between, then the fix. */
static inline void coach_bench_second(struct coach_bench *bench, double along_m, double speed_mps)
{
    int64_t end_ns = (bench->now_ns / TD_NS_PER_S + 1) * TD_NS_PER_S;
    coach_bench_until(bench, end_ns - 1);
    coach_bench_fix(bench, along_m, 0.0, speed_mps);
    bench->input.fix.received_ns = end_ns;
    coach_bench_step(bench, end_ns);
}

#endif
