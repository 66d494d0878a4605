/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roads close to a hill, on file and not, and what a line's own sigma is worth. */
#include "support/cm.h"

#include "support/drive.h"

enum { SEEDS = 20 };

static struct road hill, second, road;
static struct drive drive;

static void draw_hill(void)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 2400, 0, 0.0, 20);
    road_add(&hill, 3000, 0, 0.07, 20);
    road_add(&hill, 800, 0, 0.0, 20);
    road_done(&hill);
}

/* Drives beside the whole hill where no road is on file, by a receiver that tells no height. */
static int told_beside(double aside_m, double line_sigma_m)
{
    int told = 0;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        hill.hill.position_sigma_m = line_sigma_m;
        drive_begin(&drive, 1.0, 1.0, seed);
        drive.tells_height = false;
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 0, 0, 4000, 15, aside_m);
        told += drive.on_hill > 0;
    }
    return told;
}

static void a_line_known_well_is_told_from_a_road_beside_it(void **state)
{
    (void)state;
    assert_int_equal(told_beside(11, 1.0), 0);
    assert_true(told_beside(11, 0.0) > SEEDS / 2); /* counts as 5 m: the same road to it */
    assert_int_equal(told_beside(0, 1.0), SEEDS);
}

/* What tells how well it is known is told the truck's road as well where it is poor. */
static void a_line_known_badly_is_still_recognised(void **state)
{
    (void)state;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        hill.hill.position_sigma_m = 40.0;
        drive_begin(&drive, 3.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 1, 0, 2000, 15, 12);
        assert_int_equal(drive.wrong, 0);
        assert_in_range(drive.first_on_m, 0, 600);
    }
}

/* The lot's patience is for trucks that come back; one on another road on file does not. */
static void a_road_on_file_out_of_the_lot_ends_its_patience(void **state)
{
    struct td_place lot = {.kind = TD_PLACE_BRAKE_CHECK, .at_m = 2100, .side = TD_SIDE_RIGHT};
    (void)state;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        hill.hill.places = &lot;
        hill.hill.place_count = 1;
        road_begin(&second, ROAD_LAT_DEG, ROAD_LON_DEG, 2100, 0, 1500, -90);
        road_add(&second, 1500, 0, 0.05, 20);
        road_done(&second);
        drive_begin(&drive, 2.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        drive_road(&drive, &hill, 1, 0, 2000, 15, 0);
        drive_road(&drive, &hill, 1, 2000, 2100, 4, -15);
        assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
        drive_road(&drive, &second, 2, 15, 90, 4.5, 0);
        assert_true(td_located_now(&drive.locator).handle != 1);
        drive_road(&drive, &second, 2, 90, 600, 12, 0);
        assert_int_equal(td_located_now(&drive.locator).handle, 2);
    }
}

/* The truck's own road comes on file late. Until then the road beside it is all there is; once both
 * are on it, neither is told before they part. */
static void a_neighbour_waits_once_the_trucks_own_road_is_on_file(void **state)
{
    (void)state;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, -170, 0, 1500, 0);
        road_add(&road, 170, 0, 0.0, 20);
        road_done(&road);
        road_begin(&second, ROAD_LAT_DEG, ROAD_LON_DEG, -170, 9, 1500, 0);
        road_add(&second, 2000, 0, 0.0, 20);
        road_add(&second, 3000, 40, 0.0, 20); /* parts: else it might be the same road */
        road_done(&second);
        drive_begin(&drive, 2.0, 1.0, seed);
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        drive_road(&drive, &road, 0, 0, 170, 15, 0);
        drive_road(&drive, &hill, 1, 0, 1500, 15, 0);
        assert_int_equal(drive.wrong, 0);
    }
}

/* Two roads 20 m apart, the truck on the one whose profile begins late, its receiver off by just so
 * much that it seems to be on the other: neither is told before they part. */
static void a_profile_that_begins_late_holds_its_neighbour_back(void **state)
{
    (void)state;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, -170, 0, 1500, 0);
        road_add(&road, 170, 0, 0.0, 20);
        road_done(&road);
        road_begin(&second, ROAD_LAT_DEG, ROAD_LON_DEG, -170, 20, 1500, 0);
        road_add(&second, 2000, 0, 0.0, 20);
        road_add(&second, 3000, 60, 0.0, 20);
        road_done(&second);
        drive_begin(&drive, 2.0, 1.0, seed);
        drive.claim = 5.0;
        drive.bias_m[1] = 20.0;
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        drive_road(&drive, &road, 0, 0, 170, 15, 0);
        drive_road(&drive, &hill, 1, 0, 1800, 15, 0);
        assert_int_equal(drive.wrong, 0);
        drive.bias_m[1] = 0.0;
        drive_road(&drive, &hill, 1, 1800, 3500, 15, 0);
        assert_int_equal(drive.wrong, 0);
        assert_true(drive.first_on_m > 1800);
    }
}

static bool is_thought_of(uint32_t handle)
{
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++)
        if (drive.locator.hypotheses[i].handle == handle &&
            drive.locator.hypotheses[i].direction > 0)
            return true;
    return false;
}

/* A road that the receiver's error speaks against lives on as long as it could be the truck's; what
 * wanders about at a stop must not end it, or its neighbour would be told as the truck goes on. */
static void a_stop_rules_no_road_out(void **state)
{
    (void)state;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        road_begin(&second, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 20, 1500, 0);
        road_add(&second, 2000, 0, 0.0, 20);
        road_add(&second, 3000, 60, 0.0, 20);
        road_done(&second);
        drive_begin(&drive, 1.0, 1.0, seed);
        drive.claim = 7.5;
        drive.bias_m[1] = 25.0;
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        drive_road(&drive, &hill, 1, 0, 700, 12, 0);
        assert_true(is_thought_of(1));
        drive.sigma_m = 9.0;
        drive.claim = 7.5 / 9.0;
        drive.tau_s = 20.0;
        drive_stand(&drive, &hill, 1, 700, 120, 0);
        assert_true(is_thought_of(1));
        assert_int_equal(drive.wrong, 0);
    }
}

/* Off by a frontage road beside the brake check, with a stop there, and on along it, gathering
 * speed: the lot's patience ends before 150 m are driven out of reach of the hill. */
static void a_stop_on_a_frontage_road_is_soon_no_lot(void **state)
{
    struct td_place lot = {.kind = TD_PLACE_BRAKE_CHECK, .at_m = 2100, .side = TD_SIDE_RIGHT};
    double most_m = 0.0;
    (void)state;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        draw_hill();
        hill.hill.places = &lot;
        hill.hill.place_count = 1;
        drive_begin(&drive, 2.0, 2.0, seed);
        drive.claim = 2.5;
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 1, 0, 1900, 12, 0);
        for (double aside_m = 2; aside_m <= 28; aside_m += 2)
            drive_road(&drive, &hill, 1, 1870 + 5 * aside_m, 1880 + 5 * aside_m, 6, -aside_m);
        drive_stand(&drive, &hill, 1, 2010, 60, -28);
        double speed_mps = 2.0, at_m = 2010, aside_m = 28;
        while (aside_m < 46) { /* the taper, 9 m on for 4 m aside */
            drive_road(&drive, &hill, 1, at_m, at_m + 9, speed_mps, -aside_m);
            aside_m += 4;
            at_m += 9;
            speed_mps += 0.6;
        }
        double from_m = at_m;
        while (drive_where(&drive) == TD_WHERE_ON_HILL && at_m < from_m + 300) {
            drive_road(&drive, &hill, 1, at_m, at_m + 8, fmin(12.0, speed_mps), -47);
            at_m += 8;
            speed_mps += 0.4;
        }
        most_m = fmax(most_m, at_m - from_m);
    }
    printf("told on along a frontage road behind a stop: at most %.0f m\n", most_m);
    assert_true(most_m < 150.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_known_well_is_told_from_a_road_beside_it),
        cmocka_unit_test(a_line_known_badly_is_still_recognised),
        cmocka_unit_test(a_road_on_file_out_of_the_lot_ends_its_patience),
        cmocka_unit_test(a_neighbour_waits_once_the_trucks_own_road_is_on_file),
        cmocka_unit_test(a_profile_that_begins_late_holds_its_neighbour_back),
        cmocka_unit_test(a_stop_rules_no_road_out),
        cmocka_unit_test(a_stop_on_a_frontage_road_is_soon_no_lot),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
