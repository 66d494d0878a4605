/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "bench/library_drive.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "io/answers.h"
#include "io/rig_file.h"
#include "talkdown/geo.h"
#include "talkdown/units.h"

enum { HILLS = 10, SPEED_MPS = 20 };

struct driving {
    const struct td_shelf *shelf;
    struct td_answers *answers;
    struct td_coach *coach;
    struct td_setup setup;
    struct td_input input;
    struct td_output output;
    struct td_plan plan;
    struct drive_cost *cost;
    int64_t now_ns, spent_ns;
};

/* Time of this process alone: others on the machine do not count. */
static int64_t spent_ns(void)
{
    struct timespec spent;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &spent);
    return spent.tv_sec * TD_NS_PER_S + spent.tv_nsec;
}

/* A step with what the input holds; afterwards it holds nothing. */
static void step(struct driving *d)
{
    d->now_ns += 1000000;
    d->input.now_ns = d->now_ns;
    int64_t from_ns = spent_ns();
    td_coach_step(d->coach, &d->input, &d->output);
    d->spent_ns += spent_ns() - from_ns;
    d->input = (struct td_input){0};
    for (unsigned i = 0; i < d->output.event_count; i++)
        d->cost->recognised += d->output.events[i].kind == TD_EVENT_HILL_ON;
}

static void speak(struct driving *d)
{
    d->input.reports[0] = (struct td_report){d->output.speak.serial, TD_REPORT_STARTED};
    d->input.reports[1] = (struct td_report){d->output.speak.serial, TD_REPORT_ENDED};
    d->input.report_count = 2;
}

static bool want(struct driving *d, struct td_problem *problem)
{
    struct td_offer offers[TD_OFFERS_MAX];
    const struct td_want asked = d->output.want;
    int64_t from_ns = spent_ns();
    size_t count = td_answers_want(d->answers, &asked, offers, problem);
    d->spent_ns += spent_ns() - from_ns;
    d->cost->wants++;
    d->cost->offers += count - 1;
    for (size_t i = 0; i < count; i++) {
        if (offers[i].kind == TD_OFFER_FAILED || offers[i].kind == TD_OFFER_DAMAGED)
            return false;
        d->input.offer = offers[i];
        step(d);
    }
    return true;
}

/* The step's requests, and those of the steps that answer them, until it asks for nothing. */
static bool serve(struct driving *d, struct td_problem *problem)
{
    for (int turns = 0; turns < 100; turns++) {
        if (d->output.release_handle != 0)
            td_answers_release(d->answers, d->output.release_handle);
        if (d->output.want.serial != 0) {
            if (!want(d, problem))
                return false;
        } else if (d->output.solve.serial != 0) {
            const struct td_solve asked = d->output.solve;
            if (td_answers_solve(d->answers, &asked, &d->setup.rig, &d->plan, problem) != TD_OK)
                return false;
            d->input.plan_serial = asked.serial;
            d->input.plan = &d->plan;
            step(d);
        } else if (d->output.has_speak) {
            speak(d);
            step(d);
        } else if (d->output.release_handle != 0) {
            step(d);
        } else {
            return true;
        }
    }
    return true;
}

static bool drive_hill(struct driving *d, const struct td_hill *hill, struct td_problem *problem)
{
    d->now_ns += 3600 * TD_NS_PER_S; /* the truck is somewhere else: it has slept meanwhile */
    for (double at_m = 0; at_m < hill->length_m; at_m += SPEED_MPS) {
        size_t i = td_hill_station_at(hill, at_m);
        const struct td_station *a = &hill->stations[i], *b = a + 1;
        double ratio = (at_m - a->along_m) / (b->along_m - a->along_m);
        d->now_ns = (d->now_ns / TD_NS_PER_S + 1) * TD_NS_PER_S;
        d->input.has_fix = true;
        d->input.fix = (struct td_fix){
            .received_ns = d->now_ns,
            .has = TD_FIX_POSITION | TD_FIX_SPEED | TD_FIX_TRACK | TD_FIX_SIGMA | TD_FIX_UTC,
            .utc_ms = INT64_C(1900000000000) + d->now_ns / 1000000,
            .lat_deg = a->lat_deg + (b->lat_deg - a->lat_deg) * ratio,
            .lon_deg = a->lon_deg + (b->lon_deg - a->lon_deg) * ratio,
            .speed_mps = SPEED_MPS,
            .track_deg = td_geo_bearing_deg(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg),
            .sigma_m = 3,
        };
        d->cost->fixes++;
        step(d);
        if (!serve(d, problem))
            return false;
    }
    return true;
}

static enum td_result start(struct driving *d, const char *path, struct td_shelf **shelf,
                            struct td_problem *problem)
{
    enum td_result result = td_shelf_open(path, shelf, problem);
    if (result == TD_OK)
        result = td_answers_open(*shelf, &d->answers, problem);
    if (result == TD_OK)
        result = td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &d->setup.rig,
                                  problem);
    if (result != TD_OK)
        return result;
    d->shelf = *shelf;
    d->setup.rig_is_set = d->setup.load_confirmed = true;
    d->setup.credit = TD_CREDIT_CAUTIOUS;
    d->setup.ambient_c = 32;
    d->setup.brakes_from_c = (double)NAN;
    d->setup.hills_on_board = (uint32_t)td_shelf_count(*shelf);
    for (int i = 0; i < TD_PROMPT_IDS; i++)
        d->setup.speech_ms[i] = 2000;
    d->coach = td_coach_init(malloc(td_coach_size()), &d->setup, 0);
    return d->coach != NULL ? TD_OK : TD_NO_MEMORY;
}

bool drive_library(const char *path, struct drive_cost *cost, struct td_problem *problem)
{
    struct driving *d = calloc(1, sizeof *d);
    struct td_shelf *shelf = NULL;
    if (d == NULL)
        return false;
    *cost = (struct drive_cost){0};
    d->cost = cost;
    enum td_result result = start(d, path, &shelf, problem);
    bool good = result == TD_OK;
    size_t count = good ? td_shelf_count(shelf) : 0;
    for (size_t i = 0; good && i < HILLS; i++) {
        struct td_hill_file *file = NULL;
        good = td_shelf_read(shelf, i % count, &file, problem) == TD_OK &&
               drive_hill(d, td_hill_file_hill(file), problem);
        td_hill_file_free(&file);
    }
    if (cost->fixes > 0)
        cost->fix_us = (double)d->spent_ns / 1e3 / (double)cost->fixes;
    td_answers_close(&d->answers);
    td_shelf_close(&shelf);
    free(d->coach);
    free(d);
    return good;
}
