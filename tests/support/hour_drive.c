/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The virtual cab and the simulated truck, as `rehearse` puts them together. */
#include "support/hour_drive.h"

#include <math.h>
#include <string.h>

#include "sim/trip.h"
#include "support/cm.h"
#include "talkdown/units.h"
#include "tool/drive/cab.h"
#include "tool/drive/drive_options.h"

#define HILL TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson"

static void hear(void *who, const struct td_prompt *prompt, int64_t now_ns)
{
    td_driver_hear(who, prompt, now_ns);
}

static void drive(struct td_cab *cab, struct td_trip *trip)
{
    struct td_problem problem;
    while (td_trip_ended(trip) == TD_TRIP_GOING) {
        struct td_fix fix;
        enum td_result result = td_trip_step(trip, &fix)
                                    ? td_cab_fix(cab, &fix, trip->now_ns, &problem)
                                    : td_cab_run_to(cab, trip->now_ns, &problem);
        if (result != TD_OK)
            fail_msg("%s", problem.text);
    }
}

void hour_drive(const char *folder, uint64_t seed, double flat_m, int64_t start_utc_ms)
{
    static const enum td_driver_kind kinds[] = {TD_DRIVER_CAREFUL, TD_DRIVER_TEN_OVER,
                                                TD_DRIVER_LATE};
    static struct td_trip trip;
    const struct td_drive_options options = {
        .rig = seed % 2 == 0 ? TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml"
                             : TD_SOURCE_DIR "/profiles/rigs/box-truck.yaml",
        .phrases = TD_SOURCE_DIR "/sounds/phrases/en-us.yaml",
        .out = folder, .no_sound = true, .force = true};
    struct td_drive_parts parts;
    struct td_hill_file *hill = NULL;
    struct td_problem problem;
    struct td_cab *cab = NULL;
    assert_int_equal(td_hill_file_read(HILL, &hill, &problem), TD_OK);
    assert_int_equal(td_drive_parts_open(&options, HILL, &parts, &problem), TD_OK);
    struct td_trip_options set_out = td_trip_options_default(&parts.setup.rig);
    set_out.driver = kinds[seed % 3];
    set_out.mass_kg = parts.setup.rig.loads[parts.setup.rig.load_now].mass_kg;
    set_out.truth = td_truth_draw(seed);
    set_out.from_m = -flat_m;
    set_out.start_ns = TD_NS_PER_S;
    set_out.utc_from_ms = start_utc_ms - 1000;
    set_out.seed = seed;
    td_trip_set_out(&trip, td_hill_file_hill(hill), &parts.setup.rig, &set_out);
    struct td_cab_options open = td_drive_cab_options(&options, &parts);
    open.program = "hour_drive";
    open.print = NULL;
    open.start_ns = TD_NS_PER_S;
    open.start_utc_ms = start_utc_ms;
    open.hear = hear;
    open.who = &trip.driver;
    if (td_cab_open(&open, &cab, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    drive(cab, &trip);
    assert_int_equal(td_cab_close(&cab, trip.now_ns, NULL, &problem), TD_OK);
    td_drive_parts_close(&parts);
    td_hill_file_free(&hill);
}
