/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorded drives against profiles from other passes of the same road. Nobody surveyed these roads:
 * what can be checked is that the told place lies where the fixes are, goes forward, and that the
 * way up, and flat motorways, are never a hill. */
#include "support/cm.h"

#include "support/recorded.h"

static struct road road;

static void hairpins_descent_on_the_climb_reversed(void **state)
{
    struct td_track climb = {0}, descent = {0};
    (void)state;
    recorded_read("hairpins/climb.gpx", &climb);
    recorded_read("hairpins/descent.gpx", &descent);
    recorded_road(&climb, true, &road);
    printf("hairpins: %.0f m, crest %.0f, foot %.0f, mean %.4f, steepest %.4f, %zu runs, %zu "
           "easings, %zu curves\n",
           road.hill.length_m, road.hill.crest_m, road.hill.foot_m,
           road.hill.mean_downgrade_ratio, road.hill.steepest_downgrade_ratio,
           road.hill.run_count, road.hill.easing_count, road.hill.curve_count);
    struct recorded_drive d = recorded_follow(&descent, &road);
    recorded_print("hairpins down", &d);
    assert_true(d.first_on_m >= 0.0 && d.first_on_m < 400.0);
    assert_true(d.told_to_m > road.hill.length_m - 60.0); /* the rest of the pass is beyond it */
    assert_true((double)d.on_hill > 0.85 * (double)d.fixes);
    assert_true(d.offset_p95_m < 20.0);
    assert_true(d.backward_most_m < 15.0);
    assert_int_equal(d.lost, 0);
    d = recorded_follow(&climb, &road);
    recorded_print("hairpins up", &d);
    assert_int_equal(d.on_hill + d.coasting, 0);
    td_track_free(&climb);
    td_track_free(&descent);
}

static void a_hill_driven_on_other_days(void **state)
{
    static const char *const downs[] = {
        "repeat-hill/down-2024-01-28.tpv.json", "repeat-hill/down-2024-04-20.tpv.json",
        "repeat-hill/down-2024-05-03.tpv.json", "repeat-hill/down-2024-07-06.tpv.json",
        "repeat-hill/down-2024-12-29.tpv.json"};
    static const char *const ups[] = {"repeat-hill/up-2024-01-28.tpv.json",
                                      "repeat-hill/up-2024-06-02.tpv.json",
                                      "repeat-hill/up-2024-07-06.tpv.json"};
    (void)state;
    for (size_t p = 0; p < 5; p++) {
        struct td_track pass = {0};
        recorded_read(downs[p], &pass);
        recorded_road(&pass, false, &road);
        td_track_free(&pass);
        for (size_t q = 0; q < 5; q++) {
            if (q == p)
                continue; /* never build and drive a profile from one pass */
            recorded_read(downs[q], &pass);
            struct recorded_drive d = recorded_follow(&pass, &road);
            recorded_print(downs[q] + 12, &d);
            td_track_free(&pass);
            assert_true(d.first_on_m >= 0.0 && d.first_on_m < 500.0);
            assert_true((double)d.on_hill > 0.55 * (double)d.fixes); /* they end in town */
            assert_true(d.offset_p95_m < 30.0);
            assert_true(d.lost <= 45); /* recordings pause at stops, for up to 80 s */
        }
        for (size_t q = 0; q < 3; q++) {
            recorded_read(ups[q], &pass);
            struct recorded_drive d = recorded_follow(&pass, &road);
            td_track_free(&pass);
            if (d.on_hill + d.coasting != 0)
                recorded_print(ups[q] + 12, &d);
            assert_int_equal(d.on_hill + d.coasting, 0);
        }
    }
}

static void up_and_down_one_hill(void **state)
{
    struct td_track up = {0}, down = {0}, other = {0};
    (void)state;
    recorded_read("both-ways/up.tpv.json", &up);
    recorded_read("both-ways/down.tpv.json", &down);
    recorded_read("both-ways/other-down.tpv.json", &other);
    recorded_road(&up, true, &road);
    struct recorded_drive d = recorded_follow(&down, &road);
    recorded_print("both-ways down", &d);
    /* The way down joins the road of the way up 1.5 km below its top, and leaves it before the
     * bottom; some streets between lie 28 m from it. */
    assert_true(d.first_on_m >= 0.0 && d.told_from_m < 1900.0);
    assert_true(d.told_to_m - d.told_from_m > 3300.0);
    d = recorded_follow(&up, &road);
    assert_int_equal(d.on_hill + d.coasting, 0);
    recorded_road(&down, false, &road);
    d = recorded_follow(&up, &road);
    assert_int_equal(d.on_hill + d.coasting, 0);
    d = recorded_follow(&other, &road);
    recorded_print("the other descent", &d);
    assert_int_equal(d.on_hill + d.coasting, 0);
    td_track_free(&up);
    td_track_free(&down);
    td_track_free(&other);
}

static void motorways_are_no_hill(void **state)
{
    static const char *const trips[] = {"motorway/trip-1-phone.tpv.json",
                                        "motorway/trip-1-usb.tpv.json",
                                        "motorway/trip-2-phone.tpv.json"};
    struct td_track trip = {0};
    (void)state;
    /* A hill drawn across the first trip's own road: crossing it must not be enough. */
    recorded_read(trips[0], &trip);
    const struct td_fix *middle = &trip.fixes[trip.count / 2];
    road_begin(&road, middle->lat_deg, middle->lon_deg, -2500, 300, 500,
               90 - middle->track_deg + 60);
    road_add(&road, 2500, 0, 0.0, 20);
    road_add(&road, 3000, 0, 0.07, 20);
    road_done(&road);
    td_track_free(&trip);
    for (size_t i = 0; i < 3; i++) {
        recorded_read(trips[i], &trip);
        struct recorded_drive d = recorded_follow(&trip, &road);
        recorded_print(trips[i], &d);
        td_track_free(&trip);
        /* 5,600 s with cruise control: no receiver that hears satellites looks made up. */
        assert_true(d.kept_most < 4);
        assert_int_equal(d.on_hill + d.coasting, 0);
    }
}

int main(void)
{
    if (!recorded_exists("hairpins/climb.gpx")) {
        printf("SKIPPED: recorded tracks are not there (%s/data)\n", TD_SHARED_DIR);
        return 77;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hairpins_descent_on_the_climb_reversed),
        cmocka_unit_test(a_hill_driven_on_other_days),
        cmocka_unit_test(up_and_down_one_hill),
        cmocka_unit_test(motorways_are_no_hill),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
