/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Brake heat: the exact step, and the three live figures against drives whose heat is known. */
#include "support/cm.h"
#include "support/rigs.h"
#include "talkdown/forces.h"
#include "talkdown/gsrs.h"
#include "talkdown/heat.h"

/* The published equation (FHWA/RD-81/185, constants from memory) and the step are one thing in two
 * systems of units. */
static void the_step_is_the_published_equation(void **state)
{
    (void)state;
    struct td_brakes brakes = td_brakes_published(5);
    for (double mph = 10; mph < 60; mph += 7) {
        struct td_gsrs_segment hill = {0.06, 5};
        double hp = td_gsrs_brake_hp(TD_GSRS_1982, 78000, 0.06, mph);
        double c = td_heat_step_c(&brakes, 1, td_c_from_f(150), td_w_from_hp(hp),
                                  td_mps_from_mph(mph), td_c_from_f(90), 5 / mph * 3600);
        double f = td_gsrs_final_f(TD_GSRS_1982, 78000, hill, mph, 150);
        assert_near(td_f_from_c(c), f, 0.15); /* K1 is rounded in the published set */
    }
}

static void step_size_does_not_matter(void **state)
{
    (void)state;
    struct td_brakes brakes = td_brakes_published(5);
    double whole = td_heat_step_c(&brakes, 0.8, 80, 150e3, 9, 30, 600), parts = 80;
    for (int i = 0; i < 600; i++)
        parts = td_heat_step_c(&brakes, 0.8, parts, 150e3, 9, 30, 1);
    assert_near(parts, whole, 1e-8);
    assert_near(td_heat_step_c(&brakes, 1, 80, 150e3, 9, 30, 0), 80, 0);
    assert_near(td_heat_step_c(&brakes, 1, 80, -1e6, 9, 30, 1e7), 30, 1e-6);
    /* With no time to cool, heat is energy over capacity. */
    assert_near(td_heat_step_c(&brakes, 0.8, 30, 1e6, 0, 30, 1),
                30 + 1e6 / (0.8 * brakes.heat_capacity_j_per_k), 0.001);
}

struct drive {
    struct td_heat_live live;
    double true_c;
};

/* Holds a constant speed for seconds on a grade with a given true engine force. */
static void hold(struct drive *drive, const struct td_rig *rig, double mass_kg, int stage_most,
                 double grade, double v, double engine_n, int seconds)
{
    struct td_forces f = td_forces_at(rig, mass_kg, -1, -1, 0, grade, v);
    f.engine_n = engine_n;
    for (int i = 0; i < seconds; i++) {
        struct td_heat_truck truck = {rig, mass_kg, stage_most, -1, 30};
        td_heat_live_step(&drive->live, &truck, grade, v, 0, 1);
        drive->true_c = td_heat_step_c(&rig->brakes, 1 - rig->brakes.missing_ratio, drive->true_c,
                                       td_forces_brake_n(&f) * v, v, 30, 1);
    }
}

static struct drive start(double c)
{
    struct drive drive = {.true_c = c};
    td_heat_live_init(&drive.live, c);
    return drive;
}

static void figures_bound_a_drive_on_the_brakes_alone(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct drive drive = start(60);
    hold(&drive, &rig, 36000, 1, 0.07, td_mps_from_mph(20), 0, 600);
    assert_near(drive.live.most_c, drive.true_c, 0.5);
    assert_true(drive.live.least_c <= drive.live.likely_c);
    assert_true(drive.live.likely_c <= drive.live.most_c);
    assert_true(drive.live.least_c < 61); /* the engine brake could have done all of it */
}

static void without_an_engine_brake_least_still_knows_motoring_only(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct drive drive = start(60);
    double v = td_mps_from_mph(20);
    hold(&drive, &rig, 36000, -1, 0.07, v, td_force_engine_n(&rig, 3, -1, 0, v), 600);
    assert_near(drive.live.least_c, drive.true_c, 0.5);
    assert_true(drive.live.most_c > drive.true_c + 10);
}

/* Snubs between stretches on the engine alone: `likely` sees what the engine does and charges only
 * the snubs to the brakes. */
static void likely_reads_snubs(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    double mass_kg = 36000, moving_kg = td_force_moving_kg(&rig, mass_kg, -1), v = 9, brake_j = 0;
    struct td_heat_truck truck = {&rig, mass_kg, 1, -1, 30};
    struct td_heat_live live;
    td_heat_live_init(&live, 60);
    double engine_n = 15000;
    for (int cycle = 0; cycle < 30; cycle++)
        for (int i = 0; i < 25; i++) {
            struct td_forces f = td_forces_at(&rig, mass_kg, -1, -1, 0, 0.07, v);
            f.engine_n = engine_n;
            double free_mps2 = td_forces_accel_mps2(&f, 0, moving_kg);
            double accel = i < 20 ? free_mps2 : -4 * free_mps2;
            double brake_n = i < 20 ? 0 : 5 * free_mps2 * moving_kg;
            double mean_mps = v + 0.5 * accel;
            td_heat_live_step(&live, &truck, 0.07, mean_mps, accel, 1);
            brake_j += brake_n * mean_mps;
            v += accel;
        }
    double true_c = td_heat_step_c(&rig.brakes, 0.8, 60, brake_j / 750, 9, 30, 750);
    assert_near(live.likely_c, true_c, 0.15 * (true_c - 60) + 3);
    assert_true(live.least_c < live.likely_c && live.likely_c < live.most_c);
}

/* An engine brake switched off until the truck has gained and on again, for half an hour, service
 * brakes untouched: read as snubs it came to 345 degF on brakes of 74. Service brakes used instead,
 * 5 mph in three seconds, are seen for what they are. */
static void an_engine_brake_on_and_off_is_no_snub(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    double mass_kg = 36000, moving_kg = td_force_moving_kg(&rig, mass_kg, -1);
    int gear = 3, stage = (int)rig.stage_count - 1;
    struct td_heat_truck truck = {&rig, mass_kg, stage, gear, 30};
    double true_c = 60, snub_c[2];
    for (int snubs = 0; snubs < 2; snubs++) {
        struct td_heat_live live;
        td_heat_live_init(&live, 60);
        bool on = false;
        double v = 8;
        for (int i = 0; i < 1800; i++) {
            struct td_forces f = td_forces_at(&rig, mass_kg, gear, -1, 0, 0.05, v);
            on = on ? v > 6.8 : v > 9.0;
            double on_n = snubs ? td_forces_brake_n(&f) + 0.75 * moving_kg
                                : 0.9 * (td_force_engine_n(&rig, gear, stage, 1, v) -
                                         td_force_engine_n(&rig, gear, -1, 1, v));
            double accel = td_forces_accel_mps2(&f, on ? on_n : 0, moving_kg);
            td_heat_live_step(&live, &truck, 0.05, v + 0.5 * accel, accel, 1);
            v += accel;
        }
        snub_c[snubs] = live.likely_c;
        assert_true(live.least_c <= live.likely_c && live.likely_c <= live.most_c);
    }
    assert_true(snub_c[0] < true_c + 5);
    assert_true(snub_c[1] > true_c + 60);
}

/* What was held back on a descent before is not laid to the brakes of this one. */
static void the_plan_not_taken_counts_from_its_own_crest(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct drive drive = start(60);
    hold(&drive, &rig, 36000, 1, 0.07, 9, 30000, 600);
    assert_true(drive.live.most_c > drive.live.likely_c + 50);
    td_heat_live_descent(&drive.live);
    drive.live.plan_not_taken = true;
    hold(&drive, &rig, 36000, 1, 0.07, 9, 0, 30);
    assert_near(drive.live.least_c, drive.live.bare_c, 0);
    assert_true(drive.live.bare_c < drive.live.most_c - 30);
}

static void noise_in_speed_is_not_heat(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_heat_truck truck = {&rig, 36000, 1, -1, 30};
    struct td_heat_live live;
    td_heat_live_init(&live, 30);
    for (int i = 0; i < 600; i++) /* level road at steady speed, the rate jitters by 0.3 m/s2 */
        td_heat_live_step(&live, &truck, 0.0, 15, i % 2 != 0 ? 0.3 : -0.3, 1);
    assert_true(live.most_c < 45);
}

static void plan_not_taken_follows_most_until_a_stop(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct drive drive = start(60);
    hold(&drive, &rig, 36000, 1, 0.07, 9, 0, 200);
    drive.live.plan_not_taken = true;
    hold(&drive, &rig, 36000, 1, 0.07, 9, 0, 1);
    assert_near(drive.live.least_c, drive.live.most_c, 0);
    assert_near(drive.live.likely_c, drive.live.most_c, 0);
    double hot_c = drive.live.most_c;
    hold(&drive, &rig, 36000, 1, 0.07, 0, 0, 600);
    assert_false(drive.live.plan_not_taken);
    assert_true(drive.live.most_c < hot_c - 10 && drive.live.most_c > 30);
}

static void short_and_long_intervals_agree(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_heat_truck truck = {&rig, 36000, 1, -1, 30};
    struct td_heat_live fine, coarse;
    td_heat_live_init(&fine, 60);
    td_heat_live_init(&coarse, 60);
    for (int i = 0; i < 3000; i++)
        td_heat_live_step(&fine, &truck, 0.06, 12, 0.05, 0.1);
    for (int i = 0; i < 100; i++)
        td_heat_live_step(&coarse, &truck, 0.06, 12, 0.05, 3);
    assert_near(fine.most_c, coarse.most_c, 0.01);
    assert_near(fine.likely_c, coarse.likely_c, 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_step_is_the_published_equation),
        cmocka_unit_test(step_size_does_not_matter),
        cmocka_unit_test(figures_bound_a_drive_on_the_brakes_alone),
        cmocka_unit_test(without_an_engine_brake_least_still_knows_motoring_only),
        cmocka_unit_test(likely_reads_snubs),
        cmocka_unit_test(an_engine_brake_on_and_off_is_no_snub),
        cmocka_unit_test(the_plan_not_taken_counts_from_its_own_crest),
        cmocka_unit_test(noise_in_speed_is_not_heat),
        cmocka_unit_test(plan_not_taken_follows_most_until_a_stop),
        cmocka_unit_test(short_and_long_intervals_agree),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
