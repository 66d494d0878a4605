/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which fixes are believed: lines late, twice and in another order, clocks that jump, receivers
 * that run on by themselves, freeze or creep, and what is said of the place meanwhile. */
#include "support/cm.h"

#include "support/drive.h"

static struct road hill;
static struct drive drive;

static void on_hill_at(double along_m, double speed_mps)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 2500, 0);
    road_add(&hill, 2400, -20, 0.0, 20);
    for (int i = 0; i < 12; i++)
        road_add(&hill, 400, i % 2 ? 60 : -60, 0.06, 20);
    road_done(&hill);
    drive_begin(&drive, 3.0, 1.0, 5);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, 0, along_m, speed_mps, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
    /* The last fix was made one second short of along_m. */
}

/* The fix of a second, not yet delivered. */
static struct td_fix fix_at(double along_m, double speed_mps)
{
    double lat, lon, track;
    drive_place(&hill, along_m, 1, 0, &lat, &lon, &track);
    drive.height_m = td_hill_elevation_at(&hill.hill, along_m);
    drive_wander(&drive, 1.0);
    return drive_make_fix(&drive, lat, lon, speed_mps, track);
}

static void deliver(struct td_fix fix)
{
    fix.received_ns = drive.now_ns;
    td_locate_fix(&drive.locator, drive.slots, &fix, drive.now_ns);
}

static double error_m(double along_m)
{
    return fabs(td_located_now(&drive.locator).along_m - along_m);
}

/* Four seconds of lines come at once: the place must not be dragged back by 80 m meanwhile. */
static void late_lines_do_not_drag_the_place_back(void **state)
{
    struct td_fix held[4];
    double along_m = 2980, worst_m = 0.0;
    (void)state;
    on_hill_at(along_m, 20);
    for (int burst = 0; burst < 10; burst++) {
        for (int i = 0; i < 4; i++) {
            along_m += 20;
            drive_tick(&drive, 1.0);
            held[i] = fix_at(along_m, 20);
            worst_m = fmax(worst_m, error_m(along_m));
        }
        for (int i = 0; i < 4; i++) {
            deliver(held[i]);
            worst_m = fmax(worst_m, error_m(along_m));
        }
    }
    printf("lines in bursts of four: at most %.1f m off\n", worst_m);
    assert_true(worst_m < 20.0);
}

/* A clock that is set, or rolls over by 1,024 weeks, is no lateness and no reason to be lost. */
static void clocks_may_jump(void **state)
{
    static const int64_t steps_ms[] = {-1024LL * 7 * 86400 * 1000, 1024LL * 7 * 86400 * 1000,
                                       -18000, 18000, -1000, 1000, 3600000};
    (void)state;
    for (size_t k = 0; k < sizeof steps_ms / sizeof steps_ms[0]; k++) {
        on_hill_at(3000, 20);
        for (int s = 1; s <= 60; s++) {
            drive_tick(&drive, 1.0);
            double along_m = 2980 + 20 * s;
            struct td_fix fix = fix_at(along_m, 20);
            fix.utc_ms += steps_ms[k];
            deliver(fix);
            enum td_where where = drive_where(&drive);
            if (where != TD_WHERE_ON_HILL && where != TD_WHERE_COASTING)
                fail_msg("clock set by %lld ms: %s after %d s", (long long)steps_ms[k],
                         td_where_name(where), s);
            if (error_m(along_m) > 30.0)
                fail_msg("clock set by %lld ms: %.0f m off after %d s", (long long)steps_ms[k],
                         error_m(along_m), s);
        }
        assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
    }
}

static void overtaken_and_repeated_lines_are_left_out(void **state)
{
    (void)state;
    on_hill_at(3000, 20);
    for (int s = 1; s <= 40; s += 2) {
        drive_tick(&drive, 1.0);
        struct td_fix first = fix_at(2980 + 20 * s, 20);
        drive_tick(&drive, 1.0);
        struct td_fix second = fix_at(2980 + 20 * (s + 1), 20);
        deliver(second);
        struct td_located before = td_located_now(&drive.locator);
        deliver(first);
        second.lat_deg += 0.001;
        deliver(second);
        assert_near(td_located_now(&drive.locator).along_m, before.along_m, 1e-9);
    }
    assert_true(error_m(2980 + 20 * 40) < 15.0);
}

/* Seconds until a state is reached under fixes made by `make`; -1 never within 40. */
static int seconds_until(enum td_where where, struct td_fix (*make)(struct td_fix from, int second),
                         struct td_fix from)
{
    for (int s = 1; s <= 40; s++) {
        drive_tick(&drive, 1.0);
        struct td_fix fix = make(from, s);
        fix.utc_ms = from.utc_ms + 1000 * s;
        deliver(fix);
        if (drive_where(&drive) == where)
            return s;
    }
    return -1;
}

static struct td_fix runs_on(struct td_fix from, int second)
{
    double course = td_rad_from_deg(from.track_deg), way_m = from.speed_mps * second;
    from.lat_deg += td_deg_from_rad(way_m * cos(course) / 6371008.8);
    from.lon_deg += td_deg_from_rad(way_m * sin(course) / 6371008.8 /
                                    cos(td_rad_from_deg(from.lat_deg)));
    return from;
}

static struct td_fix stops_dead(struct td_fix from, int second)
{
    (void)second;
    from.speed_mps = 0.0;
    return from;
}

static struct td_fix creeps(struct td_fix from, int second)
{
    from.lat_deg += 2e-6 * second; /* 22 cm a second, at 15 m/s told */
    return from;
}

static void made_up_frozen_and_creeping_places_end_in_lost(void **state)
{
    static struct td_fix (*const makes[])(struct td_fix, int) = {runs_on, stops_dead, creeps};
    static const char *const names[] = {"runs on straight", "stops dead", "creeps"};
    (void)state;
    for (size_t k = 0; k < 3; k++) {
        on_hill_at(3200, 15);
        int lost_s = seconds_until(TD_WHERE_LOST, makes[k], drive.locator.last);
        assert_true(lost_s > 0 && lost_s <= 26);
        drive.first_on_m = -1.0;
        drive.wrong = 0;
        drive_road(&drive, &hill, 1, 4200, 4500, 15, 0);
        assert_true(drive.first_on_m > 0 && drive.first_on_m < 4480);
        assert_int_equal(drive.wrong, 0);
        printf("a place that %s: lost after %d s, told again %.0f m behind it\n", names[k], lost_s,
               drive.first_on_m - 4200);
    }
}

/* After a jump by kilometres it is lost, and stays so at a place no truck can have driven to. */
static void a_jump_is_lost_until_it_makes_sense(void **state)
{
    (void)state;
    on_hill_at(3000, 15);
    for (int s = 1; s <= 90; s++) {
        drive_tick(&drive, 1.0);
        struct td_fix fix = fix_at(3000 + 15 * s, 15);
        fix.lat_deg += 0.2;
        deliver(fix);
        if (s >= 5)
            assert_int_equal(drive_where(&drive), TD_WHERE_LOST);
    }
    drive.first_on_m = -1.0;
    drive.wrong = 0;
    drive_road(&drive, &hill, 1, 4350, 4700, 15, 0);
    assert_true(drive.first_on_m > 0 && drive.first_on_m < 4550);
    assert_int_equal(drive.wrong, 0);
}

/* A side road at its own speed and course is known at once to be one: nothing is lost. */
static void turning_off_is_no_loss(void **state)
{
    (void)state;
    on_hill_at(3000, 12);
    double lat, lon, track;
    drive_place(&hill, 3000, 1, 0, &lat, &lon, &track);
    static struct road side;
    road_begin(&side, lat, lon, 0, 0, 2460, 90 - track);
    road_add(&side, 30, 50, 0.0, 5);
    road_add(&side, 600, 0, 0.0, 20);
    road_done(&side);
    for (int from_m = 0; from_m < 600; from_m += 12) {
        drive_road(&drive, &side, 0, from_m, from_m + 1, 12, 0);
        assert_true(drive_where(&drive) != TD_WHERE_LOST);
    }
    assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(late_lines_do_not_drag_the_place_back),
        cmocka_unit_test(clocks_may_jump),
        cmocka_unit_test(overtaken_and_repeated_lines_are_left_out),
        cmocka_unit_test(made_up_frozen_and_creeping_places_end_in_lost),
        cmocka_unit_test(a_jump_is_lost_until_it_makes_sense),
        cmocka_unit_test(turning_off_is_no_loss),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
