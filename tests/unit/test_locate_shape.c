/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roads that come near themselves: hairpins 15 m apart, a loop over itself, and a profile that was
 * recorded some metres off the road. */
#include "support/cm.h"

#include "support/drive.h"

static struct road hill, truth;
static struct drive drive;

/* Approach, then eight legs of 300 m, 15 m apart, and a run-out. */
static void draw_hairpins(struct road *r)
{
    road_begin(r, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(r, 1500, 0, 0.0, 15);
    for (int leg = 0; leg < 8; leg++) {
        road_add(r, 300, 0, 0.08, 10);
        road_add(r, 7.5 * TD_PI, leg % 2 ? 180 : -180, 0.06, 3);
    }
    road_add(r, 600, 0, 0.02, 15);
    road_done(r);
}

static void hairpins_are_followed_leg_by_leg(void **state)
{
    (void)state;
    draw_hairpins(&hill);
    for (unsigned long seed = 0; seed < 10; seed++) {
        drive_begin(&drive, 4.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive.wrong_m = 45.0;
        drive_road(&drive, &hill, 1, 0, hill.hill.length_m - 20, 7, 0);
        if (drive.wrong != 0 || drive.first_on_m < 0 || drive.first_on_m > 500)
            fail_msg("seed %lu: wrong %ld, told at %.0f", seed, drive.wrong, drive.first_on_m);
        if (drive_error_m(&drive, 0.95) > 15.0)
            fail_msg("seed %lu: error p95 %.1f m", seed, drive_error_m(&drive, 0.95));
    }
    printf("hairpins 15 m apart: told after %.0f m, error p95 %.1f, most %.1f m\n",
           drive.first_on_m, drive_error_m(&drive, 0.95), drive_error_m(&drive, 1.0));
}

/* Down one bend whose line on file swings 8 m too wide, so that the truck is through it sooner than
 * the line says, with an error of the receiver that stays. */
static double most_behind_m(double radius_m, double turn_deg, double toward_deg, double claim)
{
    double toward = td_rad_from_deg(toward_deg);
    double bend_m = radius_m * td_rad_from_deg(turn_deg);
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 600, 0, 0.0, 20);
    road_add(&hill, bend_m, turn_deg, 0.06, 5);
    road_add(&hill, 400, 0, 0.07, 20);
    road_done(&hill);
    drive_begin(&drive, 1.0, 1.0, 1);
    drive.bias_m[0] = 14.0 * sin(toward);
    drive.bias_m[1] = 14.0 * cos(toward);
    drive.tells_sigma = claim > 0.0;
    drive.claim = claim;
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, 0, 600, 7, 0);
    drive.road_ratio = (radius_m - 8.0) / radius_m;
    drive_road(&drive, &hill, 1, 600, 600 + bend_m, 5, 8);
    drive.road_ratio = 1.0;
    drive_road(&drive, &hill, 1, 600 + bend_m, 900 + bend_m, 7, 8);
    return drive.error_count > 0 ? drive_error_m(&drive, 1.0) : 0.0;
}

/* The place may be off by the receiver's error and by what the bend adds, but the truck must not
 * leave it behind, though the receiver claims 4 m or nothing. */
static void bends_do_not_leave_the_place_behind(void **state)
{
    (void)state;
    double most_m = 0.0;
    for (int radius = 16; radius <= 32; radius += 4)
        for (int turn = 90; turn <= 180; turn += 15)
            for (int way = 0; way < 16; way++)
                for (int claim = 0; claim < 2; claim++)
                    most_m = fmax(most_m, most_behind_m(radius, turn, 22.5 * way, 4.0 * claim));
    printf("bends whose line is too wide, a receiver off by 14 m: at most %.1f m off\n", most_m);
    assert_true(most_m < 45.0);
}

/* Going up, the next leg runs down the truck's own way 15 m aside. */
static void hairpins_upward_are_never_told(void **state)
{
    (void)state;
    draw_hairpins(&hill);
    for (unsigned long seed = 0; seed < 20; seed++)
        for (int bare = 0; bare < 2; bare++) {
            drive_begin(&drive, bare ? 6.0 : 4.0, 1.0, seed);
            drive.tells_sigma = drive.tells_speed = drive.tells_track = bare == 0;
            drive_put(&drive, 0, &hill);
            drive_road(&drive, &hill, 1, hill.hill.length_m - 10, 0, 6, 0);
            if (drive.on_hill != 0)
                fail_msg("seed %lu %s: told %ld times", seed, bare ? "bare" : "full",
                         drive.on_hill);
        }
}

/* Power comes on in the middle of the hairpins. It may take its time, but must not be wrong. */
static void waking_up_among_hairpins_is_never_wrong(void **state)
{
    (void)state;
    draw_hairpins(&hill);
    int told = 0;
    for (unsigned long seed = 0; seed < 20; seed++) {
        drive_begin(&drive, 4.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive.wrong_m = 45.0;
        drive_road(&drive, &hill, 1, 1700 + 37.0 * (double)seed, hill.hill.length_m - 20, 7, 0);
        if (drive.wrong != 0)
            fail_msg("seed %lu: wrong %ld of %ld", seed, drive.wrong, drive.on_hill);
        told += drive.first_on_m >= 0;
    }
    assert_true(told == 20);
}

static void a_loop_over_itself_is_followed(void **state)
{
    (void)state;
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 1500, 0, 0.0, 15);
    road_add(&hill, 600, 0, 0.07, 15);
    road_add(&hill, 40 * TD_PI * 1.5, 270, 0.07, 4); /* 270 degrees, then under itself */
    road_add(&hill, 1200, 0, 0.07, 15);
    road_done(&hill);
    for (unsigned long seed = 0; seed < 10; seed++) {
        drive_begin(&drive, 4.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive.wrong_m = 40.0;
        drive_road(&drive, &hill, 1, 0, hill.hill.length_m - 20, 9, 0);
        assert_int_equal(drive.wrong, 0);
        assert_true(drive.first_on_m < 450);
        drive_begin(&drive, 4.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 1, hill.hill.length_m - 20, 0, 9, 0);
        assert_int_equal(drive.on_hill, 0);
    }
}

/* A profile 10 m off the road it stands for, as a single recorded pass may be. */
static void a_profile_ten_metres_off_still_serves(void **state)
{
    (void)state;
    draw_hairpins(&truth);
    hill = truth;
    for (size_t i = 0; i < hill.count; i++)
        hill.stations[i].lat_deg += 7.0 / 111195.0 * cos((double)i / 40.0);
    for (size_t i = 0; i < hill.count; i++)
        hill.stations[i].lon_deg += 7.0 / 111195.0 / cos(td_rad_from_deg(ROAD_LAT_DEG)) *
                                    sin((double)i / 40.0);
    road_done(&hill);
    for (unsigned long seed = 0; seed < 10; seed++) {
        drive_begin(&drive, 4.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive.wrong_m = 80.0;
        drive_road(&drive, &truth, 1, 0, 1490, 15, 0);
        assert_true(drive.first_on_m >= 0 && drive.first_on_m < 700);
        assert_int_equal(drive.wrong, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hairpins_are_followed_leg_by_leg),
        cmocka_unit_test(bends_do_not_leave_the_place_behind),
        cmocka_unit_test(hairpins_upward_are_never_told),
        cmocka_unit_test(waking_up_among_hairpins_is_never_wrong),
        cmocka_unit_test(a_loop_over_itself_is_followed),
        cmocka_unit_test(a_profile_ten_metres_off_still_serves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
