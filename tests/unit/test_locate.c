/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the truck is, and above all where it is not. Synthetic roads; sigma 3 m unless said. */
#include "support/cm.h"

#include "support/drive.h"

static struct road hill, second, road;
static struct drive drive;

/* 2.4 km of approach, 3 km of 7 %, 800 m of run-out, with gentle bends. */
static void draw_hill(struct road *r)
{
    road_begin(r, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(r, 1200, 10, 0.0, 20);
    road_add(r, 1200, -25, 0.0, 20);
    road_add(r, 1500, 40, 0.07, 20);
    road_add(r, 1500, -60, 0.07, 20);
    road_add(r, 800, 5, 0.0, 20);
    road_done(r);
}

static void is_told_early_and_true(void **state)
{
    (void)state;
    draw_hill(&hill);
    drive_begin(&drive, 3.0, 1.0, 1);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, 0, hill.hill.length_m - 30, 20, 0);
    printf("told after %.0f m, %.0f m before the crest; error p95 %.1f m\n", drive.first_on_m,
           hill.hill.crest_m - drive.first_on_m, drive_error_m(&drive, 0.95));
    assert_true(drive.first_on_m >= 0.0 && drive.first_on_m < 500.0);
    assert_true(hill.hill.crest_m - drive.first_on_m > TD_M_PER_MI);
    assert_int_equal(drive.wrong, 0);
    assert_true(drive_error_m(&drive, 0.95) < 12.0);
    struct td_located now = td_located_now(&drive.locator);
    assert_int_equal(now.handle, 1);
    assert_near(now.speed_mps, 20.0, 1.5);
    assert_true(now.sigma_m >= 3.0 && now.sigma_m < 10.0);
}

static void is_off_file_past_the_end(void **state)
{
    (void)state;
    draw_hill(&hill);
    road = hill;
    road_add(&road, 1500, 0, 0.0, 20);
    road_done(&road);
    drive_begin(&drive, 3.0, 1.0, 2);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &road, 1, 0, hill.hill.length_m + 60, 20, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
    assert_int_equal(drive.wrong, 0);
}

static void the_way_up_is_never_told(void **state)
{
    (void)state;
    draw_hill(&hill);
    drive_begin(&drive, 3.0, 1.0, 3);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, hill.hill.length_m, 0, 12, 0);
    assert_int_equal(drive.on_hill, 0);
    drive_begin(&drive, 8.0, 1.0, 3); /* nor by a receiver that tells place only */
    drive.tells_sigma = drive.tells_speed = drive.tells_track = false;
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, hill.hill.length_m, 0, 12, 0);
    assert_int_equal(drive.on_hill, 0);
}

static void a_crossing_road_is_never_told(void **state)
{
    (void)state;
    draw_hill(&hill);
    for (int angle = 30; angle <= 150; angle += 30) {
        double x = 4000 - 1500 * cos(td_rad_from_deg(angle));
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, x, -900, 1500, angle);
        road_add(&road, 3500, 0, 0.0, 20);
        road_done(&road);
        for (int way = 0; way < 2; way++) {
            drive_begin(&drive, 3.0, 1.0, 4);
            drive_put(&drive, 0, &hill);
            drive_road(&drive, &road, 0, way ? 3400 : 0, way ? 0 : 3400, 15, 0);
            assert_int_equal(drive.on_hill, 0);
        }
    }
}

/* Eight sigma aside, the same way, all along, not on file. */
static void a_parallel_road_is_never_told(void **state)
{
    (void)state;
    draw_hill(&hill);
    for (unsigned long seed = 0; seed < 20; seed++)
        for (int side = -1; side <= 1; side += 2) {
            drive_begin(&drive, 3.0, 1.0, seed);
            drive_put(&drive, 0, &hill);
            drive_road(&drive, &hill, 0, 0, hill.hill.length_m, 20, side * 26.0);
            if (drive.on_hill != 0)
                fail_msg("seed %lu: told %ld times", seed, drive.on_hill);
        }
}

/* Both on file, side by side for 2 km, 15 m apart: wait; told once they part. */
static void two_roads_side_by_side_wait_until_they_part(void **state)
{
    (void)state;
    for (int which = 0; which < 2; which++) {
        road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
        road_add(&hill, 2000, 0, 0.02, 20);
        road_add(&hill, 1000, 60, 0.07, 20);
        road_add(&hill, 1500, 0, 0.07, 20);
        road_done(&hill);
        road_begin(&second, ROAD_LAT_DEG, ROAD_LON_DEG, 0, -15, 1500, 0);
        road_add(&second, 2000, 0, 0.02, 20);
        road_add(&second, 1000, -60, 0.07, 20);
        road_add(&second, 1500, 0, 0.07, 20);
        road_done(&second);
        drive_begin(&drive, 4.0, 1.0, 5);
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        struct road *driven = which ? &second : &hill;
        drive_road(&drive, driven, 1 + (uint32_t)which, 0, 1900, 20, 0);
        assert_int_equal(drive.on_hill, 0);
        assert_int_equal(drive_where(&drive), TD_WHERE_WEIGHING);
        drive_road(&drive, driven, 1 + (uint32_t)which, 1900, 4300, 20, 0);
        assert_int_equal(drive.wrong, 0);
        assert_true(drive.first_on_m > 1900 && drive.first_on_m < 2600);
    }
}

/* One approach, then a fork: neither is told before the truck has shown which way it goes. */
static void a_fork_ahead_is_waited_for(void **state)
{
    (void)state;
    for (int which = 0; which < 2; which++) {
        for (int i = 0; i < 2; i++) {
            struct road *r = i ? &second : &hill;
            road_begin(r, ROAD_LAT_DEG, ROAD_LON_DEG, 0, i * 2.0, 1500, 0);
            road_add(r, 1800, 0, 0.0, 20);
            road_add(r, 500, i ? 45 : -10, 0.0, 20);
            road_add(r, 2500, 0, 0.07, 20);
            road_done(r);
        }
        drive_begin(&drive, 3.0, 1.0, 6);
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        drive_road(&drive, which ? &second : &hill, 1 + (uint32_t)which, 0, 4500, 20, 0);
        assert_int_equal(drive.wrong, 0);
        printf("fork at 1800 m: told at %.0f m\n", drive.first_on_m);
        assert_true(drive.first_on_m > 1800 && drive.first_on_m < 2300);
    }
}

/* Two grades of one road: the first one's run-out is the second one's approach. */
static void the_next_grade_takes_over_behind_the_foot(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 2500, 0);
    road_add(&road, 2000, 30, 0.0, 20);
    road_add(&road, 2500, -30, 0.07, 20);
    road_add(&road, 2500, 0, 0.0, 20);
    road_add(&road, 2500, 30, 0.06, 20);
    road_add(&road, 500, 0, 0.0, 20);
    road_done(&road);
    memset(&hill, 0, sizeof hill);
    memset(&second, 0, sizeof second);
    hill.count = 300; /* 0 to 5980 m */
    memcpy(hill.stations, road.stations, hill.count * sizeof road.stations[0]);
    second.count = road.count - 150; /* from 3000 m on: on the first grade */
    memcpy(second.stations, road.stations + 150, second.count * sizeof road.stations[0]);
    road_done(&hill);
    road_done(&second);
    double start_m = road.stations[150].along_m;
    drive_begin(&drive, 3.0, 1.0, 7);
    drive_put(&drive, 0, &second); /* order must not matter */
    drive_put(&drive, 1, &hill);
    drive_road(&drive, &road, 2, 0, hill.hill.foot_m, 20, 0);
    assert_int_equal(drive.wrong, 0);
    assert_true(drive.first_on_m < 500);
    drive_road(&drive, &road, 2, hill.hill.foot_m, hill.hill.foot_m + 200, 20, 0);
    assert_int_equal(td_located_now(&drive.locator).handle, 1);
    assert_near(td_located_now(&drive.locator).along_m, hill.hill.foot_m + 200 - start_m, 30);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
}

static void a_side_road_is_seen_soon(void **state)
{
    static const int angles[] = {90, 40, -60};
    (void)state;
    draw_hill(&hill);
    for (size_t i = 0; i < 3; i++) {
        drive_begin(&drive, 3.0, 1.0, 8);
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 1, 0, 1500, 15, 0);
        assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
        memset(&road, 0, sizeof road);
        road = hill;
        road.count = td_hill_station_at(&hill.hill, 1500) + 1;
        double course = td_geo_bearing_deg(
            road.stations[road.count - 2].lat_deg, road.stations[road.count - 2].lon_deg,
            road.stations[road.count - 1].lat_deg, road.stations[road.count - 1].lon_deg);
        road_begin(&second, road.stations[road.count - 1].lat_deg,
                   road.stations[road.count - 1].lon_deg, 0, 0, 1500, 90 - course + angles[i]);
        road_add(&second, 600, 0, 0.0, 20);
        road_done(&second);
        drive_road(&drive, &second, 0, 0, 150, 15, 0);
        if (drive_where(&drive) == TD_WHERE_ON_HILL)
            fail_msg("150 m down a side road at %d degrees, still told on the hill", angles[i]);
        long told = drive.on_hill;
        drive_road(&drive, &second, 0, 150, 590, 15, 0);
        assert_int_equal(drive.on_hill, told);
        assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
    }
}

static void turning_round_ends_it(void **state)
{
    (void)state;
    draw_hill(&hill);
    drive_begin(&drive, 3.0, 1.0, 9);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, 0, 3000, 15, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
    drive_road(&drive, &hill, 1, 3000, 2920, 10, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
    long told = drive.on_hill;
    drive_road(&drive, &hill, 1, 2920, 0, 10, 0);
    assert_int_equal(drive.on_hill, told);
}

static void a_stop_at_the_brake_check_comes_back_soon(void **state)
{
    (void)state;
    draw_hill(&hill);
    drive_begin(&drive, 3.0, 1.0, 10);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, 0, 2000, 15, 0);
    drive_road(&drive, &hill, 1, 2000, 2060, 4, -25); /* into the lot, 25 m to the right */
    drive_stand(&drive, &hill, 1, 2060, 1200, -25);
    drive_road(&drive, &hill, 1, 2060, 2100, 4, -25);
    drive_road(&drive, &hill, 1, 2100, 2260, 8, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
    assert_int_equal(drive.wrong, 0);
}

/* A long lot 60 m off the road: the hill stays told through the stop there, and ends when the
 * truck turns round and goes back up the road. */
static void a_lot_on_file_belongs_to_the_hill(void **state)
{
    struct td_place lot = {.kind = TD_PLACE_BRAKE_CHECK, .at_m = 2100, .side = TD_SIDE_RIGHT};
    (void)state;
    for (int leaves = 0; leaves < 3; leaves++) {
        draw_hill(&hill);
        hill.hill.places = &lot;
        hill.hill.place_count = 1;
        drive_begin(&drive, 3.0, 1.0, 11);
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 1, 0, 2000, 15, 0);
        drive_road(&drive, &hill, 1, 2000, 2030, 4, -30);
        drive_road(&drive, &hill, 1, 2030, 2200, 4, -60);
        drive_stand(&drive, &hill, 1, 2200, 1200, -60);
        assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
        assert_int_equal(drive.wrong, 0);
        if (leaves == 0) {
            drive_road(&drive, &hill, 1, 2200, 2240, 4, -30);
            drive_road(&drive, &hill, 1, 2240, 2500, 8, 0);
            assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
            assert_int_equal(drive.wrong, 0);
        } else if (leaves == 1) {
            drive_road(&drive, &hill, 0, 2180, 2080, 8, 0);
            assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
        } else { /* by a road of its own, away */
            for (int aside = -60; aside > -260; aside -= 8) {
                double lat, lon, track;
                drive_place(&hill, 2200, 1, aside, &lat, &lon, &track);
                drive_wander(&drive, 1.0);
                drive_tick(&drive, 1.0);
                struct td_fix fix = drive_make_fix(&drive, lat, lon, 8, fmod(track + 90, 360));
                td_locate_fix(&drive.locator, drive.slots, &fix, drive.now_ns);
            }
            assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_told_early_and_true),
        cmocka_unit_test(is_off_file_past_the_end),
        cmocka_unit_test(the_way_up_is_never_told),
        cmocka_unit_test(a_crossing_road_is_never_told),
        cmocka_unit_test(a_parallel_road_is_never_told),
        cmocka_unit_test(two_roads_side_by_side_wait_until_they_part),
        cmocka_unit_test(a_fork_ahead_is_waited_for),
        cmocka_unit_test(the_next_grade_takes_over_behind_the_foot),
        cmocka_unit_test(a_side_road_is_seen_soon),
        cmocka_unit_test(turning_round_ends_it),
        cmocka_unit_test(a_stop_at_the_brake_check_comes_back_soon),
        cmocka_unit_test(a_lot_on_file_belongs_to_the_hill),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
