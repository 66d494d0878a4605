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

/* Steepest 300 m, from station to station; elevations must be set. */
static inline void test_find_steepest(struct td_hill *hill)
{
    size_t to = 0;
    hill->steepest_downgrade_ratio = -1;
    for (size_t from = 0; from + 1 < hill->station_count; from++) {
        double from_m = hill->stations[from].along_m;
        while (to + 1 < hill->station_count && hill->stations[to].along_m < from_m + 300)
            to++;
        double ratio = (hill->stations[from].elevation_m - hill->stations[to].elevation_m) /
                       (hill->stations[to].along_m - from_m);
        bool whole = hill->stations[to].along_m >= from_m + 300 || from == 0;
        if (whole && ratio > hill->steepest_downgrade_ratio) {
            hill->steepest_downgrade_ratio = ratio;
            hill->steepest_at_m = from_m;
        }
    }
}

/* Sets elevations from the grades, and what geometry tells. */
static inline void test_hill_settle(struct test_hill *made)
{
    struct td_hill *hill = &made->hill;
    for (size_t i = 1; i < hill->station_count; i++)
        made->stations[i].elevation_m =
            made->stations[i - 1].elevation_m -
            made->stations[i - 1].downgrade_ratio *
                (made->stations[i].along_m - made->stations[i - 1].along_m);
    test_find_steepest(hill);
    hill->mean_downgrade_ratio =
        -made->stations[hill->station_count - 1].elevation_m / hill->length_m;
}

/* Rounds the grade off as a real road's is: each station's becomes the mean of its neighbours. */
static inline void test_hill_smooth(struct test_hill *made, size_t neighbours)
{
    static double grade[TEST_STATIONS];
    size_t last = made->hill.station_count - 2;
    for (size_t i = 0; i <= last; i++) {
        size_t from = i > neighbours ? i - neighbours : 0;
        size_t to = i + neighbours < last ? i + neighbours : last;
        grade[i] = 0;
        for (size_t j = from; j <= to; j++)
            grade[i] += made->stations[j].downgrade_ratio / (double)(to - from + 1);
    }
    for (size_t i = 0; i <= last; i++)
        made->stations[i].downgrade_ratio = grade[i];
    test_hill_settle(made);
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
    test_hill_settle(made);
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
