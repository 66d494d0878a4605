/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Surveys of invented recordings, of which the truth is known: a road due east in the open ocean,
 * 1.5 km level, 3 km at 7 %, 1 km level, driven at 15 m/s with one fix a second. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "support/surveyed.h"
#include "talkdown/geo.h"
#include "talkdown/rng.h"

enum { FIXES = 367, ROOM = 600 };

static const double speed_mps = 15.0, lat_deg = -47.1, lon_deg = -128.9;
static const double crest_m = 1500, foot_m = 4500, grade = 0.07;

static struct td_fix fixes[ROOM];
static struct surveyed *made; /* of the case that runs */

static double height_m(double along_m)
{
    return 900 - grade * fmin(fmax(along_m - crest_m, 0), foot_m - crest_m);
}

/* Noise: sigma of each horizontal axis and of the height, metres. */
static size_t drive(double noise_m, double height_noise_m, uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 1);
    double metre_lon = 1 / td_geo_distance_m(lat_deg, lon_deg, lat_deg, lon_deg + 1e-3) * 1e-3;
    double metre_lat = 1 / td_geo_distance_m(lat_deg, lon_deg, lat_deg + 1e-3, lon_deg) * 1e-3;
    for (size_t i = 0; i < FIXES; i++) {
        double along_m = speed_mps * (double)i;
        fixes[i] = (struct td_fix){
            .has = TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_UTC,
            .utc_ms = (int64_t)i * 1000,
            .lat_deg = lat_deg + noise_m * td_rng_normal(&rng) * metre_lat,
            .lon_deg = lon_deg + (along_m + noise_m * td_rng_normal(&rng)) * metre_lon,
            .altitude_m = height_m(along_m) + height_noise_m * td_rng_normal(&rng),
        };
    }
    return FIXES;
}

static enum td_result survey(size_t count, bool reverse)
{
    surveyed_free(&made);
    made = surveyed_new();
    made->options.reverse = reverse;
    surveyed_add(made, fixes, count);
    return surveyed_make(made);
}

static int begin(void **state)
{
    (void)state;
    made = surveyed_new();
    return 0;
}

static int end(void **state)
{
    (void)state;
    surveyed_free(&made);
    return 0;
}

static void assert_survey(size_t count, bool reverse)
{
    if (survey(count, reverse) != TD_OK)
        fail_msg("%s", made->problem.text);
}

/* Within what the core's smoothing of an abrupt grade moves crest and foot (hill_grade.c: 35 m). */
static void assert_truth(double slack_m, double slack_ratio)
{
    assert_true(made->hill.coached);
    const struct td_station *first = &made->stations[0];
    double start_m = td_geo_distance_m(lat_deg, lon_deg, first->lat_deg, first->lon_deg);
    assert_near(start_m + made->hill.crest_m, crest_m, 60 + slack_m);
    assert_near(start_m + made->hill.foot_m, foot_m, 60 + slack_m);
    assert_near(made->hill.steepest_downgrade_ratio, grade, slack_ratio);
    for (size_t i = 0; i + 1 < made->hill.station_count; i++)
        assert_near(first[i + 1].along_m - first[i].along_m, TD_SURVEY_SPACING_M, 2.0);
}

static void a_clean_track_comes_out_as_it_was(void **state)
{
    (void)state;
    assert_survey(drive(0, 0, 1), false);
    assert_int_equal(made->passes[0].report.used, FIXES);
    assert_int_equal(made->passes[0].report.standing + made->passes[0].report.outliers +
                         made->passes[0].report.height_spikes, 0);
    assert_truth(0, 0.001);
    assert_near(made->hill.length_m, 5490, 15);
    assert_near(made->report.falls_m, 210, 1);
    assert_true(made->report.suspect_at_m == -1);
}

static void noise_is_smoothed(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        assert_survey(drive(3, 1.0, seed), false);
        assert_truth(40, 0.005); /* one pass of such noise is smoothed over the wider window */
    }
}

static void a_climb_reversed_is_the_descent(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    assert_survey(count, false);
    size_t vertices = made->hill.station_count;
    double crest = made->hill.crest_m, foot = made->hill.foot_m;
    for (size_t i = 0; i < count / 2; i++) {
        struct td_fix swap = fixes[i];
        fixes[i] = fixes[count - 1 - i];
        fixes[count - 1 - i] = swap;
    }
    for (size_t i = 0; i < count; i++)
        fixes[i].utc_ms = (int64_t)i * 1000;
    for (int told = 0; told < 2; told++) {
        assert_survey(count, told != 0);
        assert_true(made->passes[0].report.climbed);
        assert_int_equal(made->hill.station_count, vertices);
        assert_near(made->hill.crest_m, crest, 1e-6);
        assert_near(made->hill.foot_m, foot, 1e-6);
    }
    (void)drive(0, 0, 1);
    assert_int_equal(survey(count, true), TD_INVALID);
    assert_non_null(strstr(made->problem.text, "leave --reverse out"));
}

/* Two minutes' stand in the middle of the grade, the receiver wandering within 10 m. */
static void a_stop_adds_no_road(void **state)
{
    (void)state;
    for (int recorded_speed = 0; recorded_speed < 2; recorded_speed++) {
        size_t count = drive(0, 0, 1), stop = 200, stand = 120;
        memmove(&fixes[stop + stand], &fixes[stop], (count - stop) * sizeof fixes[0]);
        for (size_t i = 0; i < stand; i++) {
            fixes[stop + i] = fixes[stop - 1];
            fixes[stop + i].lat_deg += 8e-5 * sin((double)i / 30);
            fixes[stop + i].has |= recorded_speed ? TD_FIX_SPEED : 0;
        }
        count += stand;
        for (size_t i = 0; i < count; i++)
            fixes[i].utc_ms = (int64_t)i * 1000;
        assert_survey(count, false);
        assert_int_equal(made->passes[0].report.standing, stand);
        assert_near(made->hill.length_m, 5490, 15);
        assert_truth(0, 0.001);
    }
}

static void jumps_and_spikes_are_left_out(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    fixes[100].lat_deg += 0.01;
    fixes[150].altitude_m += 60;
    fixes[250].lat_deg += 4e-4;
    assert_survey(count, false);
    assert_int_equal(made->passes[0].report.outliers, 2);
    assert_int_equal(made->passes[0].report.height_spikes, 1);
    assert_near(made->hill.length_m, 5490, 15);
    assert_truth(0, 0.002);
    /* False from the first fix on, until the receiver has found itself. */
    (void)drive(0, 0, 1);
    for (size_t i = 0; i < 4; i++)
        fixes[i].lat_deg += 0.5;
    assert_survey(count, false);
    assert_near(made->hill.length_m, 5490 - 14 * 15, 35);
}

static void tells_what_is_wrong_with_the_track(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    for (size_t i = 200; i < count; i++)
        fixes[i].lat_deg += 0.5;
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(made->problem.text, "jumps and does not come back; cut it there"));
    count = drive(0, 0, 1);
    for (size_t i = 0; i < count; i++)
        fixes[i].has &= ~(unsigned)TD_FIX_ALTITUDE;
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(made->problem.text, "has no elevation; record it with"));
    count = drive(0, 0, 1);
    for (size_t i = 200; i < count; i++) {
        fixes[i].lon_deg += 0.04;
        fixes[i].utc_ms += 600000;
    }
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(made->problem.text, "a gap of over 2 km; cut it there"));
    (void)drive(0, 0, 1);
    assert_int_equal(survey(5, false), TD_INVALID);
    assert_non_null(strstr(made->problem.text, "fewer than 10 points"));
    assert_int_equal(survey(0, false), TD_INVALID);
    struct td_survey_work *work = calloc(1, sizeof *work + sizeof work->lanes[0]);
    assert_int_equal(td_survey_make(made->passes, 1, &made->options, work, made->stations,
                                    &made->hill, &made->report, NULL),
                     TD_INVALID);
    free(work);
}

/* A terrain model's hill over a tunnel, and its valley under a viaduct. */
static void a_false_height_is_bridged(void **state)
{
    (void)state;
    for (int side = -1; side <= 1; side += 2) {
        size_t count = drive(0, 0, 1);
        for (size_t i = 150; i < 170; i++)
            fixes[i].altitude_m += 60 * side;
        assert_survey(count, false);
        assert_int_equal(made->report.bridge_count, 1);
        assert_near(made->report.bridges[0].from_m, 150 * speed_mps, 200);
        assert_near(made->report.bridges[0].to_m, 170 * speed_mps, 200);
        assert_true(made->report.suspect_at_m < 0);
        assert_truth(0, 0.002);
    }
}

/* A step that does not come back is no tunnel: nobody knows which side is right. */
static void a_step_in_height_is_refused(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    for (size_t i = 200; i < count; i++)
        fixes[i].altitude_m += 60;
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(made->problem.text, "heights jump by more than 25 % of the way at "));
}

/* Seven hairpins of one radius, 200 m apart, driven by receivers of 3 m that wander; the direction
 * of the passes alternates. */
static size_t drive_hairpins(double radius_m, uint64_t seed, bool climbs, struct td_fix *out)
{
    enum { HAIRPINS = 7, MOST = 1000 };
    struct td_rng rng;
    td_rng_seed(&rng, seed, 3);
    double x = 0, y = 0, course = 0, left_m = 600, along_m = 0;
    double keep = exp(-1.0 / 60), fresh = 3 * sqrt(1 - keep * keep);
    double east = 3 * td_rng_normal(&rng), north = 3 * td_rng_normal(&rng);
    size_t count = 0;
    for (int pieces = 0; pieces <= 2 * HAIRPINS && count < MOST;) {
        bool turns = pieces % 2 == 1;
        double speed = turns ? fmax(4, sqrt(2 * radius_m)) : 12, step_m = speed / 10;
        for (int tenth = 0; tenth < 10; tenth++, along_m += step_m, left_m -= step_m) {
            x += step_m * cos(course);
            y += step_m * sin(course);
            course += turns ? (pieces % 4 == 1 ? step_m : -step_m) / radius_m : 0;
        }
        if (left_m <= 0) {
            pieces++;
            left_m += pieces % 2 == 1 ? 3.14159265 * radius_m : pieces == 2 * HAIRPINS ? 600 : 200;
        }
        east = east * keep + fresh * td_rng_normal(&rng);
        north = north * keep + fresh * td_rng_normal(&rng);
        out[count++] = (struct td_fix){.has = TD_FIX_POSITION | TD_FIX_ALTITUDE,
                                       .lat_deg = lat_deg + (y + north) / 111175,
                                       .lon_deg = lon_deg + (x + east) / 75931,
                                       .altitude_m = 900 - 0.06 * along_m};
    }
    for (size_t i = 0; climbs && i < count / 2; i++) {
        struct td_fix swap = out[i];
        out[i] = out[count - 1 - i];
        out[count - 1 - i] = swap;
    }
    return count;
}

/* A curve may come out tighter than it is by a third, hardly wider: a speed too low is a nuisance,
 * one too high is a danger. */
static void hairpins_keep_their_radius(void **state)
{
    (void)state;
    static struct td_fix passes[4][1000];
    for (double radius_m = 12; radius_m < 60; radius_m *= 2) {
        surveyed_free(&made);
        made = surveyed_new();
        for (uint64_t p = 0; p < 4; p++)
            surveyed_add(made, passes[p], drive_hairpins(radius_m, p + 1, p == 3, passes[p]));
        if (surveyed_make(made) != TD_OK)
            fail_msg("%s", made->problem.text);
        assert_true(made->passes[3].report.climbed && !made->passes[0].report.climbed);
        assert_int_equal(made->hill.curve_count, 7);
        double mean_m = 0;
        for (size_t i = 0; i < 7; i++) {
            const struct td_curve *curve = &made->hill.curves[i];
            print_message("%.0f m: %.1f m\n", radius_m, curve->radius_m);
            assert_true(curve->radius_m > 0.67 * radius_m && curve->radius_m < 1.1 * radius_m);
            assert_int_equal(curve->turn, i % 2 == 0 ? TD_SIDE_LEFT : TD_SIDE_RIGHT);
            mean_m += curve->radius_m / 7;
        }
        assert_true(mean_m > 0.8 * radius_m && mean_m < radius_m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clean_track_comes_out_as_it_was),
        cmocka_unit_test(noise_is_smoothed),
        cmocka_unit_test(a_climb_reversed_is_the_descent),
        cmocka_unit_test(a_stop_adds_no_road),
        cmocka_unit_test(jumps_and_spikes_are_left_out),
        cmocka_unit_test(tells_what_is_wrong_with_the_track),
        cmocka_unit_test(a_false_height_is_bridged),
        cmocka_unit_test(a_step_in_height_is_refused),
        cmocka_unit_test(hairpins_keep_their_radius),
    };
    return cmocka_run_group_tests(tests, begin, end);
}
