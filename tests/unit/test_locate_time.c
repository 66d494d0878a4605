/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Fixes that stop, freeze, jump, repeat or stand still. The truck is on a hill and recognised when
 * each of these begins. Limits are those of locate.h: 30 m of doubt or 20 s. */
#include "support/cm.h"

#include "support/drive.h"

static struct road hill;
static struct drive drive;

static void draw_hill(void)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 2500, 0);
    road_add(&hill, 2400, -20, 0.0, 20);
    road_add(&hill, 9000, 100, 0.06, 20);
    road_add(&hill, 800, 5, 0.0, 20);
    road_done(&hill);
}

static void on_hill_at(double sigma_m, double rate_hz, double along_m, double speed_mps)
{
    draw_hill();
    drive_begin(&drive, sigma_m, rate_hz, 21);
    drive_put(&drive, 0, &hill);
    drive_road(&drive, &hill, 1, 0, along_m, speed_mps, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
}

static void runs_on_without_fixes_then_is_lost(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 3000, 20);
    double before_m = td_located_now(&drive.locator).along_m, sigma_m = 0.0;
    int coasted_s = 0;
    for (int s = 1; s <= 30; s++) {
        drive_tick(&drive, 1.0);
        struct td_located now = td_located_now(&drive.locator);
        if (s <= 2)
            assert_int_equal(now.where, TD_WHERE_ON_HILL);
        if (now.where == TD_WHERE_LOST)
            break;
        if (s > 2)
            assert_int_equal(now.where, TD_WHERE_COASTING);
        assert_near(now.along_m, before_m + 20.0 * s, 30.0);
        assert_true(now.sigma_m > sigma_m && now.sigma_m <= 30.0);
        sigma_m = now.sigma_m;
        coasted_s = s;
    }
    printf("lost after %d s at sigma %.1f m\n", coasted_s, sigma_m);
    assert_true(coasted_s >= 12 && coasted_s <= 20);
    struct td_located now = td_located_now(&drive.locator);
    assert_int_equal(now.where, TD_WHERE_LOST);
    assert_int_equal(now.handle, 0);
}

/* The time told for the next change by itself is when it changes, not later and not much before. */
static void tells_when_time_alone_changes_the_state(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 3000, 20);
    int changes = 0;
    while (td_locate_next_ns(&drive.locator) != INT64_MAX) {
        enum td_where before = drive_where(&drive);
        int64_t due_ns = td_locate_next_ns(&drive.locator);
        assert_true(due_ns > drive.now_ns);
        drive_tick(&drive, td_s_from_ns(due_ns - drive.now_ns));
        drive.now_ns = due_ns;
        td_locate_tick(&drive.locator, drive.slots, due_ns);
        changes += drive_where(&drive) != before;
        assert_true(changes <= 2);
    }
    assert_int_equal(changes, 2);
    assert_int_equal(drive_where(&drive), TD_WHERE_LOST);
}

/* 7 km of tunnel: lost is told, nothing is told in it, and the hill is soon back behind it. */
static void comes_back_behind_a_tunnel(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 2000, 20);
    for (int s = 0; s < 350; s++)
        drive_tick(&drive, 1.0);
    assert_int_equal(drive_where(&drive), TD_WHERE_LOST);
    assert_int_equal(td_locate_next_ns(&drive.locator), INT64_MAX);
    drive.first_on_m = -1.0;
    drive_road(&drive, &hill, 1, 9000, 9400, 20, 0);
    printf("back %.0f m behind the tunnel\n", drive.first_on_m - 9000);
    assert_true(drive.first_on_m >= 9000 && drive.first_on_m < 9200);
    assert_int_equal(drive.wrong, 0);
}

static void a_frozen_fix_is_no_fix(void **state)
{
    (void)state;
    for (int keeps_speed = 0; keeps_speed < 2; keeps_speed++) {
        on_hill_at(3.0, 1.0, 4000, 20);
        struct td_fix frozen = drive.locator.last;
        bool coasted = false;
        for (int s = 1; s <= 15; s++) {
            drive_tick(&drive, 1.0);
            frozen.utc_ms += 1000;
            if (!keeps_speed)
                frozen.speed_mps = 0.0;
            td_locate_fix(&drive.locator, drive.slots, &frozen, drive.now_ns);
            coasted = coasted || drive_where(&drive) == TD_WHERE_COASTING;
            /* A receiver that claims a dead stop from 20 m/s is not believed while none could. */
            if (s == 3 || keeps_speed)
                assert_true(td_located_now(&drive.locator).along_m > 3960 + 15 * s);
        }
        assert_true(!keeps_speed || coasted);
    }
    /* With its speed kept it ends in lost. */
    on_hill_at(3.0, 1.0, 4000, 20);
    struct td_fix frozen = drive.locator.last;
    for (int s = 1; s <= 25; s++) {
        drive_tick(&drive, 1.0);
        frozen.utc_ms += 1000;
        td_locate_fix(&drive.locator, drive.slots, &frozen, drive.now_ns);
    }
    assert_int_equal(drive_where(&drive), TD_WHERE_LOST);
}

/* A receiver that owns to more than 30 m of doubt gives no place to coach by. */
static void vague_fixes_are_no_fixes(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 4000, 20);
    drive.sigma_m = 80.0;
    drive_road(&drive, &hill, 1, 4000, 4200, 20, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_COASTING);
    drive_road(&drive, &hill, 1, 4200, 4600, 20, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_LOST);
    assert_int_equal(drive.wrong, 0);
}

static void one_jump_is_refused(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 4000, 20);
    for (int i = 0; i < 3; i++) { /* wild, each somewhere else */
        drive_tick(&drive, 1.0);
        struct td_fix wild = drive.locator.last;
        wild.utc_ms += 1000;
        wild.lat_deg += 0.01 * (i + 1);
        td_locate_fix(&drive.locator, drive.slots, &wild, drive.now_ns);
        assert_near(td_located_now(&drive.locator).along_m, 4000 + 20 * i, 30.0);
    }
    drive_road(&drive, &hill, 1, 4060, 4200, 20, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
    assert_int_equal(drive.wrong, 0);
}

/* A jump that lasts is where the truck is: nothing is told for where it is not. */
static void a_jump_that_lasts_is_believed(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 4000, 20);
    drive.wrong = 0;
    drive.wrong_m = 60.0;
    drive_road(&drive, &hill, 1, 8000, 8080, 20, 0);
    long wrong_before = drive.wrong; /* while it was refused the old place ran on */
    assert_true(wrong_before <= 4);
    drive_road(&drive, &hill, 1, 8080, 8600, 20, 0);
    assert_int_equal(drive.wrong, wrong_before);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
}

static void repeated_times_are_ignored(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 4000, 20);
    struct td_fix again = drive.locator.last;
    int64_t believed_ns = drive.locator.believed_ns;
    again.lat_deg += 0.0002;
    again.speed_mps = 3.0;
    struct td_locator before = drive.locator;
    td_locate_fix(&drive.locator, drive.slots, &again, drive.now_ns);
    assert_true(drive.locator.believed_ns == believed_ns);
    assert_near(td_located_now(&drive.locator).along_m, td_located_now(&before).along_m, 0.0);
    td_locate_fix(&drive.locator, drive.slots, &again, drive.now_ns - TD_NS_PER_S); /* backwards */
    assert_true(drive.locator.at_ns >= before.at_ns);
}

static void an_hour_of_standing_holds_the_place(void **state)
{
    (void)state;
    on_hill_at(5.0, 1.0, 4000, 15);
    drive_road(&drive, &hill, 1, 4000, 4010, 3, 0);
    struct td_located before = td_located_now(&drive.locator);
    drive_stand(&drive, &hill, 1, 4010, 3600, 0);
    struct td_located after = td_located_now(&drive.locator);
    assert_int_equal(after.where, TD_WHERE_ON_HILL);
    assert_near(after.along_m, before.along_m, 10.0);
    assert_near(after.speed_mps, 0.0, 0.2);
    assert_true(after.sigma_m < 12.0);
    assert_int_equal(drive.wrong, 0);
    drive_road(&drive, &hill, 1, 4010, 4300, 10, 0);
    assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
    assert_int_equal(drive.wrong, 0);
}

static void any_usual_rate_will_do(void **state)
{
    static const double rates[] = {0.2, 0.5, 1.0, 5.0, 10.0, 20.0};
    (void)state;
    for (size_t i = 0; i < 6; i++)
        for (int bare = 0; bare < 2; bare++) {
            draw_hill();
            drive_begin(&drive, 4.0, rates[i], 30 + i);
            drive.tells_sigma = drive.tells_speed = drive.tells_track = bare == 0;
            drive_put(&drive, 0, &hill);
            drive_road(&drive, &hill, 1, 0, 6000, 20, 0);
            printf("%4.1f Hz, %s: told after %.0f m, error p95 %.1f m\n", rates[i],
                   bare ? "place only" : "all told  ", drive.first_on_m,
                   drive_error_m(&drive, 0.95));
            assert_true(drive.first_on_m >= 0 && drive.first_on_m < 600);
            assert_int_equal(drive.wrong, 0);
            assert_true(drive_error_m(&drive, 0.95) < 16.0);
            assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
        }
}

/* Between fixes five seconds apart the place runs on and nothing is called lost or coasting. */
static void slow_fixes_are_not_lost_fixes(void **state)
{
    (void)state;
    on_hill_at(4.0, 0.2, 4000, 20);
    for (int i = 0; i < 20; i++) {
        for (int s = 0; s < 4; s++) {
            drive_tick(&drive, 1.0);
            assert_int_equal(drive_where(&drive), TD_WHERE_ON_HILL);
        }
        drive.now_ns -= 4 * TD_NS_PER_S;
        drive_road(&drive, &hill, 1, 4000 + 100 * i, 4000 + 100 * i + 1, 20, 0);
    }
    assert_int_equal(drive.wrong, 0);
}

/* Off file and far from any hill, no fix is no loss to tell of; near one it is. */
static void lost_is_told_near_hills_only(void **state)
{
    (void)state;
    for (int near = 0; near < 2; near++) {
        draw_hill();
        drive_begin(&drive, 3.0, 1.0, 40);
        drive_put(&drive, 0, &hill);
        double lat = hill.stations[0].lat_deg + (near ? 0.015 : 0.08);
        for (int s = 0; s < 10; s++) {
            drive_wander(&drive, 1.0);
            drive_tick(&drive, 1.0);
            struct td_fix fix =
                drive_make_fix(&drive, lat + s * 0.0001, hill.stations[0].lon_deg, 11, 0);
            td_locate_fix(&drive.locator, drive.slots, &fix, drive.now_ns);
            assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
        }
        drive_tick(&drive, 19.0);
        assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
        drive_tick(&drive, 2.0);
        assert_int_equal(drive_where(&drive), near ? TD_WHERE_LOST : TD_WHERE_NO_FIX);
    }
}

static void a_hill_taken_away_is_forgotten(void **state)
{
    (void)state;
    on_hill_at(3.0, 1.0, 4000, 20);
    td_locate_forget(&drive.locator, 1);
    assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
    assert_int_equal(td_located_now(&drive.locator).handle, 0);
    on_hill_at(3.0, 1.0, 4000, 20);
    drive.slots[0].handle = 0; /* gone without a word */
    drive.slots[0].hill = NULL;
    drive_tick(&drive, 0.5);
    assert_int_equal(drive_where(&drive), TD_WHERE_OFF_FILE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(runs_on_without_fixes_then_is_lost),
        cmocka_unit_test(tells_when_time_alone_changes_the_state),
        cmocka_unit_test(comes_back_behind_a_tunnel),
        cmocka_unit_test(a_frozen_fix_is_no_fix),
        cmocka_unit_test(vague_fixes_are_no_fixes),
        cmocka_unit_test(one_jump_is_refused),
        cmocka_unit_test(a_jump_that_lasts_is_believed),
        cmocka_unit_test(repeated_times_are_ignored),
        cmocka_unit_test(an_hour_of_standing_holds_the_place),
        cmocka_unit_test(any_usual_rate_will_do),
        cmocka_unit_test(slow_fixes_are_not_lost_fixes),
        cmocka_unit_test(lost_is_told_near_hills_only),
        cmocka_unit_test(a_hill_taken_away_is_forgotten),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
