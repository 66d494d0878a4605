/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs: what is refused and in which words, rpm, brakes by default. */
#include <string.h>

#include "support/cm.h"
#include "support/rigs.h"

static void a_sound_rig_passes(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_problem problem;
    assert_int_equal(td_rig_check(&rig, &problem), TD_OK);
    assert_int_equal(td_rig_check(&rig, NULL), TD_OK);
}

static void refused(const struct td_rig *rig, const char *words)
{
    struct td_problem problem = {.text = ""};
    assert_int_equal(td_rig_check(rig, NULL), TD_INVALID);
    assert_int_equal(td_rig_check(rig, &problem), TD_INVALID);
    if (strstr(problem.text, words) == NULL)
        fail_msg("\"%s\" does not say \"%s\"", problem.text, words);
    assert_non_null(strstr(problem.text, "; "));
}

static void each_wrong_member_is_named(void **state)
{
    (void)state;
#define WRONG(change, words)                                                                       \
    do {                                                                                           \
        struct td_rig rig = test_rig();                                                            \
        change;                                                                                    \
        refused(&rig, words);                                                                      \
    } while (0)
    WRONG(rig.name[0] = '\0', "name");
    WRONG(memset(rig.name, 'x', sizeof rig.name), "name");
    WRONG(rig.load_count = 0, "loads");
    WRONG(rig.load_now = 3, "load");
    WRONG(rig.loads[1].mass_kg = (double)NAN, "\"empty\": weight");
    WRONG(rig.loads[1] = rig.loads[2], "named twice");
    WRONG(rig.gear_count = 0, "gears");
    WRONG(rig.gear_count = 1, "gears: too few");
    WRONG(rig.gear_count = 19, "too many; list 2 to 18");
    WRONG(rig.gears[3].ratio = 0, "\"fourth\": ratio is 0");
    WRONG(rig.gears[3].ratio = 7, "\"fourth\"");
    WRONG(rig.gears[9].name[0] = '\0', "without a name");
    WRONG(rig.motoring.rpm[1] = 700, "rise");
    WRONG(rig.motoring.count = 1, "points");
    WRONG(rig.stages[0].torque.torque_nm[0] = -5, "\"low\": torque");
    WRONG(rig.stages[1].torque.count = 0, "\"high\"");
    WRONG(rig.stages[1].torque.torque_nm[2] = 10, "brakes less");
    WRONG(rig.stage_count = 9, "stages");
    WRONG(rig.rpm_best = 2200, "band");
    WRONG(rig.rpm_most = (double)INFINITY, "band");
    WRONG(rig.axles = 1, "axles");
    WRONG(rig.braked_axles = 6, "braked_axles");
    WRONG(rig.tyre_radius_m = 5, "tyre_radius");
    WRONG(rig.rolling_ratio = 0, "rolling_resistance");
    WRONG(rig.drag_area_m2 = -1, "drag_area");
    WRONG(rig.driveline_ratio = 1.1, "driveline_efficiency");
    WRONG(rig.axle_ratio = 0, "axle_ratio");
    WRONG(rig.rotating_kg_wheels = (double)NAN, "rotating_wheels");
    WRONG(rig.engine_inertia_kgm2 = -1, "inertia");
    WRONG(rig.drive_power_w = -1, "power");
    WRONG(rig.brakes.heat_capacity_j_per_k = 0, "heat_capacity");
    WRONG(rig.brakes.cooling_w_per_k = 0, "cooling");
    WRONG(rig.brakes.cooling_w_per_k_per_mps = -1, "cooling_by_speed");
    WRONG(rig.brakes.limit_c = 1000, "limit");
    WRONG(rig.brakes.missing_ratio = 0.6, "missing");
    WRONG(rig.comfortable_mps2 = 9, "comfortable_slowing");
    WRONG(rig.rollover_g = 0.1, "rollover");
#undef WRONG
}

static void rpm_follows_the_ratios(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    /* One turn of the wheel is 2 pi r of road; fourth turns the engine 4.59 x 2.579 times. */
    double metres = 2 * TD_PI * 0.506;
    assert_near(td_rig_rpm(&rig, 3, metres), 60 * 4.59 * 2.579, 1e-9);
    assert_near(td_rig_speed_mps(&rig, 3, td_rig_rpm(&rig, 3, 7)), 7, 1e-12);
    assert_int_equal(td_rig_heaviest_load(&rig), 2);
}

/* Green Book's truck: 200 lb/hp (from memory), so 79,900 lb have 399.5 hp. */
static void power_left_out_is_that_of_the_loaded_truck(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    assert_near(td_hp_from_w(td_rig_drive_power_w(&rig)), 399.5, 8);
    rig.drive_power_w = 250e3;
    assert_near(td_rig_drive_power_w(&rig), 250e3, 0);
}

static void torque_is_straight_between_points_and_level_beyond(void **state)
{
    (void)state;
    struct td_torque_curve curve = {2, {1000, 2000}, {100, 300}};
    assert_near(td_torque_at_nm(&curve, 1250), 150, 1e-12);
    assert_near(td_torque_at_nm(&curve, 1), 100, 0);
    assert_near(td_torque_at_nm(&curve, 9000), 300, 0);
    curve.count = 0;
    assert_near(td_torque_at_nm(&curve, 1250), 0, 0);
}

/* 206.8 Btu/degF and 162 W/K at 10 mph for five axles (FHWA/RD-81/185, from memory). */
static void published_brakes_scale_with_axles(void **state)
{
    (void)state;
    struct td_brakes five = td_brakes_published(5), two = td_brakes_published(2);
    assert_near(five.heat_capacity_j_per_k, 206.8 * TD_J_PER_BTU * 1.8, 200);
    assert_near(five.cooling_w_per_k + five.cooling_w_per_k_per_mps * td_mps_from_mph(10), 162, 1);
    assert_near(five.limit_c, 260, 1e-9);
    assert_near(two.heat_capacity_j_per_k / five.heat_capacity_j_per_k, 0.4, 1e-12);
    assert_near(two.cooling_w_per_k / five.cooling_w_per_k, 0.4, 1e-12);
    assert_near(td_brakes_published(0).heat_capacity_j_per_k, five.heat_capacity_j_per_k / 5, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sound_rig_passes),
        cmocka_unit_test(each_wrong_member_is_named),
        cmocka_unit_test(rpm_follows_the_ratios),
        cmocka_unit_test(power_left_out_is_that_of_the_loaded_truck),
        cmocka_unit_test(torque_is_straight_between_points_and_level_beyond),
        cmocka_unit_test(published_brakes_scale_with_axles),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
