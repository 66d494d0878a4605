/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Surveys of invented recordings, of which the truth is known: a road due east in the open ocean,
 * 1.5 km level, 3 km at 7 %, 1 km level, driven at 15 m/s with one fix a second. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "survey/survey.h"
#include "talkdown/geo.h"
#include "talkdown/rng.h"

enum { FIXES = 367, ROOM = 600 };

static const double speed_mps = 15.0, lat_deg = -47.1, lon_deg = -128.9;
static const double crest_m = 1500, foot_m = 4500, grade = 0.07;

static struct td_fix fixes[ROOM];
static struct td_survey_point points[ROOM];
static struct td_station stations[TD_HILL_STATIONS_MAX];
static struct td_hill hill;
static struct td_survey_report report;
static struct td_problem problem;

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
    problem = (struct td_problem){0};
    return td_survey_make(fixes, count, reverse, points, stations, &hill, &report, &problem);
}

static void assert_survey(size_t count, bool reverse)
{
    if (survey(count, reverse) != TD_OK)
        fail_msg("%s", problem.text);
}

/* Within what the core's smoothing of an abrupt grade moves crest and foot (hill_grade.c: 35 m). */
static void assert_truth(double slack_m, double slack_ratio)
{
    assert_true(hill.coached);
    double start_m = td_geo_distance_m(lat_deg, lon_deg, stations[0].lat_deg, stations[0].lon_deg);
    assert_near(start_m + hill.crest_m, crest_m, 60 + slack_m);
    assert_near(start_m + hill.foot_m, foot_m, 60 + slack_m);
    assert_near(hill.steepest_downgrade_ratio, grade, slack_ratio);
    for (size_t i = 0; i + 1 < hill.station_count; i++)
        assert_near(stations[i + 1].along_m - stations[i].along_m, TD_SURVEY_SPACING_M, 2.0);
}

static void a_clean_track_comes_out_as_it_was(void **state)
{
    (void)state;
    assert_survey(drive(0, 0, 1), false);
    assert_int_equal(report.used, FIXES);
    assert_int_equal(report.standing + report.outliers + report.height_spikes, 0);
    assert_truth(0, 0.001);
    assert_near(hill.length_m, 5490, 15);
    assert_near(report.falls_m, 210, 1);
    assert_true(report.suspect_at_m == -1);
}

static void noise_is_smoothed(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 20; seed++) {
        assert_survey(drive(3, 1.0, seed), false);
        assert_truth(20, 0.005);
    }
}

static void a_climb_reversed_is_the_descent(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    assert_survey(count, false);
    size_t vertices = hill.station_count;
    double crest = hill.crest_m, foot = hill.foot_m;
    for (size_t i = 0; i < count / 2; i++) {
        struct td_fix swap = fixes[i];
        fixes[i] = fixes[count - 1 - i];
        fixes[count - 1 - i] = swap;
    }
    for (size_t i = 0; i < count; i++)
        fixes[i].utc_ms = (int64_t)i * 1000;
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(problem.text, "climbs 210 m and falls 0 m; add --reverse"));
    assert_survey(count, true);
    assert_int_equal(hill.station_count, vertices);
    assert_near(hill.crest_m, crest, 1e-6);
    assert_near(hill.foot_m, foot, 1e-6);
    (void)drive(0, 0, 1);
    assert_int_equal(survey(count, true), TD_INVALID);
    assert_non_null(strstr(problem.text, "leave --reverse out"));
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
        assert_int_equal(report.standing, stand);
        assert_near(hill.length_m, 5490, 15);
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
    assert_int_equal(report.outliers, 2);
    assert_int_equal(report.height_spikes, 1);
    assert_near(hill.length_m, 5490, 15);
    assert_truth(0, 0.002);
    /* False from the first fix on, until the receiver has found itself. */
    (void)drive(0, 0, 1);
    for (size_t i = 0; i < 4; i++)
        fixes[i].lat_deg += 0.5;
    assert_survey(count, false);
    assert_near(hill.length_m, 5490 - 14 * 15, 35);
}

static void tells_what_is_wrong_with_the_track(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    for (size_t i = 200; i < count; i++)
        fixes[i].lat_deg += 0.5;
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(problem.text, "jumps and does not come back; cut it there"));
    count = drive(0, 0, 1);
    for (size_t i = 0; i < count; i++)
        fixes[i].has &= ~(unsigned)TD_FIX_ALTITUDE;
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(problem.text, "has no elevation; record it with"));
    count = drive(0, 0, 1);
    for (size_t i = 200; i < count; i++) {
        fixes[i].lon_deg += 0.04;
        fixes[i].utc_ms += 600000;
    }
    assert_int_equal(survey(count, false), TD_INVALID);
    assert_non_null(strstr(problem.text, "a gap of over 2 km; cut it there"));
    (void)drive(0, 0, 1);
    assert_int_equal(survey(5, false), TD_INVALID);
    assert_non_null(strstr(problem.text, "fewer than 10 points"));
    assert_int_equal(survey(0, false), TD_INVALID);
    assert_int_equal(td_survey_make(fixes, 5, false, points, stations, &hill, &report, NULL),
                     TD_INVALID);
}

static void a_false_height_is_pointed_at(void **state)
{
    (void)state;
    size_t count = drive(0, 0, 1);
    for (size_t i = 150; i < 170; i++)
        fixes[i].altitude_m += 60; /* a terrain model's hill over a tunnel */
    assert_survey(count, false);
    assert_near(report.suspect_at_m, 150 * speed_mps, 120);
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
        cmocka_unit_test(a_false_height_is_pointed_at),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
