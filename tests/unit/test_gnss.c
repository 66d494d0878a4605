/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The simulated receiver: its errors have the size and the memory they claim. */
#include "sim/gnss.h"

#include "support/cm.h"
#include "support/rig_five_axle.h"
#include "support/road.h"
#include "talkdown/geo.h"

static struct road road;
static struct td_rig rig;

static int set_up(void **state)
{
    (void)state;
    rig = rig_five_axle();
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&road, 4000, 90, 0.05, 50);
    road_done(&road);
    return 0;
}

static struct td_truck standing_at(double along_m, double speed_mps)
{
    struct td_truth truth = td_truth_as_filed();
    struct td_truck truck;
    td_truck_init(&truck, &road.hill, &rig, 36287, &truth);
    truck.along_m = along_m;
    truck.speed_mps = speed_mps;
    return truck;
}

static void perfect_fix_lies_on_the_road(void **state)
{
    (void)state;
    struct td_gnss gnss;
    struct td_gnss_options perfect = td_gnss_options_perfect();
    td_gnss_init(&gnss, &perfect, 1, 0, 1000);
    for (int i = 1; i < 70; i++) {
        const struct td_station *station = &road.stations[i];
        struct td_truck truck = standing_at(station->along_m, 10);
        struct td_fix fix;
        int64_t now_ns = i * TD_NS_PER_S;
        assert_true(td_gnss_fix(&gnss, &truck, now_ns, &fix));
        assert_false(td_gnss_fix(&gnss, &truck, now_ns + TD_NS_PER_S / 2 - TD_NS_PER_S, &fix));
        assert_true(td_fix_is_sane(&fix));
        assert_true(td_geo_distance_m(fix.lat_deg, fix.lon_deg, station->lat_deg,
                                      station->lon_deg) < 0.01);
        double course_deg = td_geo_bearing_deg(station[0].lat_deg, station[0].lon_deg,
                                               station[1].lat_deg, station[1].lon_deg);
        assert_near(td_geo_turn_deg(fix.track_deg - course_deg), 0, 0.1);
        assert_near(fix.altitude_m, station->elevation_m, 0.01);
        assert_int_equal(fix.utc_ms, 1000 + i * 1000);
    }
}

static void errors_have_their_size_and_memory(void **state)
{
    (void)state;
    struct td_gnss_options options = td_gnss_options_default();
    options.silences_per_hour = 0;
    struct td_gnss gnss;
    td_gnss_init(&gnss, &options, 7, 0, 0);
    struct td_truck truck = standing_at(1000, 0);
    double sum2 = 0, lag1 = 0, last = 0;
    int count = 60000;
    for (int i = 0; i < count; i++) {
        struct td_fix fix;
        assert_true(td_gnss_fix(&gnss, &truck, i * TD_NS_PER_S, &fix));
        assert_true((fix.has & TD_FIX_TRACK) == 0); /* none while standing */
        sum2 += gnss.east_m * gnss.east_m;
        lag1 += gnss.east_m * last;
        last = gnss.east_m;
    }
    assert_near(sqrt(sum2 / count), options.sigma_m, 0.25);
    assert_near(lag1 / sum2, exp(-1.0 / 60), 0.004);
}

static void falls_silent_as_often_as_it_says(void **state)
{
    (void)state;
    struct td_gnss_options options = td_gnss_options_default();
    struct td_gnss gnss;
    td_gnss_init(&gnss, &options, 3, 0, 0);
    struct td_truck truck = standing_at(1000, 10);
    int silences = 0, longest_s = 0, run_s = 0;
    for (int i = 0; i < 100 * 3600; i++) {
        struct td_fix fix;
        bool has = td_gnss_fix(&gnss, &truck, i * TD_NS_PER_S, &fix);
        if (!has && run_s == 0)
            silences++;
        run_s = has ? 0 : run_s + 1;
        longest_s = run_s > longest_s ? run_s : longest_s;
    }
    assert_in_range(silences, 220, 380); /* 300 expected, sigma 17 */
    assert_in_range(longest_s, 5, 13);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(perfect_fix_lies_on_the_road),
        cmocka_unit_test(errors_have_their_size_and_memory),
        cmocka_unit_test(falls_silent_as_often_as_it_says),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
