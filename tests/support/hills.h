/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills for tests of the physics: a straight road made of runs of one grade each, with stations
 * every 20 m or so; curves and places are put on it by the test. */
#ifndef TD_TESTS_HILLS_H
#define TD_TESTS_HILLS_H

#include <math.h>
#include <string.h>

#include "talkdown/hill.h"

enum { TEST_STATIONS = 4096, TEST_PLACES = 16 };

struct test_run {
    double length_m, downgrade_ratio;
};

struct test_hill {
    struct td_station stations[TEST_STATIONS];
    struct td_place places[TEST_PLACES];
    struct td_hill hill;
};

static inline double test_fall_m(const struct td_hill *hill, double from_m, double to_m)
{
    double fall_m = 0;
    for (size_t i = 0; i + 1 < hill->station_count; i++) {
        double from = fmax(from_m, hill->stations[i].along_m);
        double to = fmin(to_m, hill->stations[i + 1].along_m);
        if (to > from)
            fall_m += (to - from) * hill->stations[i].downgrade_ratio;
    }
    return fall_m;
}

static inline void test_find_steepest(struct td_hill *hill)
{
    double window_m = fmin(300, hill->length_m);
    hill->steepest_downgrade_ratio = -1;
    for (double from_m = 0; from_m <= hill->length_m - window_m + 1e-9; from_m += 20) {
        double ratio = test_fall_m(hill, from_m, from_m + window_m) / window_m;
        if (ratio > hill->steepest_downgrade_ratio) {
            hill->steepest_downgrade_ratio = ratio;
            hill->steepest_at_m = from_m;
        }
    }
}

static inline void test_hill_make(struct test_hill *made, const struct test_run *runs, size_t count)
{
    memset(made, 0, sizeof *made);
    double along_m = 0;
    size_t at = 0;
    for (size_t r = 0; r < count; r++) {
        size_t parts = (size_t)ceil(runs[r].length_m / 20);
        for (size_t i = 0; i < parts && at + 1 < TEST_STATIONS; i++) {
            made->stations[at].along_m = along_m + runs[r].length_m * (double)i / (double)parts;
            made->stations[at++].downgrade_ratio = runs[r].downgrade_ratio;
        }
        along_m += runs[r].length_m;
    }
    made->stations[at++].along_m = along_m;
    made->hill.id = made->hill.name = "test";
    made->hill.stations = made->stations;
    made->hill.station_count = at;
    made->hill.places = made->places;
    made->hill.length_m = along_m;
    made->hill.coached = true;
    made->hill.crest_m = 0;
    made->hill.foot_m = along_m;
    test_find_steepest(&made->hill);
    made->hill.mean_downgrade_ratio = test_fall_m(&made->hill, 0, along_m) / along_m;
}

static inline struct td_place *test_hill_sign(struct test_hill *made, enum td_place_kind kind,
                                              double at_m, double speed_mps)
{
    struct td_place *place = &made->places[made->hill.place_count++];
    *place = (struct td_place){.kind = kind, .has = speed_mps > 0 ? TD_PLACE_SPEED : 0,
                               .at_m = at_m, .speed_mps = speed_mps,
                               .material = "", .say = "", .name = ""};
    return place;
}

#endif
