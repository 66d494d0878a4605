/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The simulated truck against the books: energy, terminal speed, stopping distance, heat. */
#include "sim/truck.h"

#include "support/cm.h"
#include "support/rig_five_axle.h"
#include "support/road.h"

static struct road road;
static struct td_rig rig;

static int set_up(void **state)
{
    (void)state;
    rig = rig_five_axle();
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 20);
    road_add(&road, 1000, 0, 0.0, 50);
    road_add(&road, 15000, 10, 0.06, 50);
    road_done(&road);
    return 0;
}

static struct td_truck truck_at(double along_m, double speed_mps)
{
    struct td_truth truth = td_truth_as_filed();
    struct td_truck truck;
    td_truck_init(&truck, &road.hill, &rig, 36287, &truth);
    truck.along_m = along_m;
    truck.speed_mps = speed_mps;
    return truck;
}

static void energy_balances(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(600, 14);
    struct td_pedals pedals = {.gear = 7, .stage = 1};
    double inertia_kg = td_truck_inertia_kg(&truck, 7);
    double before_j = 0.5 * inertia_kg * truck.speed_mps * truck.speed_mps;
    for (int i = 0; i < 4000; i++) {
        pedals.brake_n = i % 300 < 60 ? 20e3 : 0;
        pedals.drive_n = i % 300 > 200 ? 15e3 : 0;
        td_truck_step(&truck, &pedals, 0.05);
        assert_true(truck.speed_mps > 1);
    }
    const struct td_work_done *work = &truck.work;
    double given_j = work->gravity_j + work->drive_j;
    double taken_j = work->rolling_j + work->air_j + work->engine_j + work->service_j;
    double after_j = 0.5 * inertia_kg * truck.speed_mps * truck.speed_mps;
    assert_true(work->service_j > 1e6 && work->engine_j > 1e6 && work->drive_j > 1e5);
    assert_near((before_j + given_j - taken_j) / after_j, 1, 1e-9);
}

/* Gravity gives weight times fall, however the road got there: the smoothed grade and the slope's
 * cosine must add up to the profile's own heights. */
static void gravity_gives_weight_times_fall(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(3000, 15);
    struct td_pedals pedals = {.gear = -1, .stage = -1, .brake_n = 17e3};
    double from_m = td_hill_elevation_at(&road.hill, truck.along_m);
    while (truck.along_m < 6000)
        td_truck_step(&truck, &pedals, 0.05);
    double fell_m = from_m - td_hill_elevation_at(&road.hill, truck.along_m);
    assert_near(fell_m, 180, 1);
    assert_near(truck.work.gravity_j / (36287 * TD_GRAVITY_MPS2 * fell_m), 1, 1e-4);
}

/* In neutral on an endless 6 % it settles where air holds what rolling does not; the formula is
 * the closed form, not the stepper's. */
static void coasts_to_terminal_speed(void **state)
{
    (void)state;
    double angle_rad = atan(0.06);
    double pull_n = 36287 * TD_GRAVITY_MPS2 * (sin(angle_rad) - 0.007 * cos(angle_rad));
    double terminal_mps = sqrt(pull_n / (0.5 * 1.225 * 60.0));
    struct td_rig barn = rig;
    barn.drag_area_m2 = 60.0; /* settles within the road's length */
    struct td_truck truck = truck_at(2000, terminal_mps - 7);
    truck.rig = &barn;
    struct td_pedals pedals = {.gear = -1, .stage = -1};
    for (int i = 0; i < 30000 && truck.along_m < 15500; i++)
        td_truck_step(&truck, &pedals, 0.05);
    assert_near(truck.speed_mps, terminal_mps, 0.03);
}

/* The engine brake alone settles where its torque at the wheels is the pull. */
static void engine_brake_holds_where_forces_meet(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(2000, 7);
    struct td_pedals pedals = {.gear = 5, .stage = 0};
    for (int i = 0; i < 30000 && truck.along_m < 15500; i++)
        td_truck_step(&truck, &pedals, 0.05);
    double rpm = td_rig_rpm(&rig, 5, truck.speed_mps);
    assert_true(rpm > 1000 && rpm < 2100);
    double torque_nm = (150 + (rpm - 600) / 1500 * 110) + (450 + (rpm - 1000) / 1100 * 350);
    double angle_rad = atan(0.06);
    double pull_n = 36287 * TD_GRAVITY_MPS2 * (sin(angle_rad) - 0.007 * cos(angle_rad)) -
                    0.5 * 1.225 * 6.0 * truck.speed_mps * truck.speed_mps;
    assert_near(torque_nm * 3.3 * 3.7 / 0.5 / pull_n, 1, 2e-3);
}

/* 49 CFR 393.52(d), combinations: from 20 mph within 40 ft. A sound truck does better, but not by
 * half. */
static void stops_from_twenty_as_the_rule_wants(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(-500, td_mps_from_mph(20));
    struct td_pedals pedals = {.gear = -1, .stage = -1, .brake_n = 1e9};
    while (truck.speed_mps > 0)
        td_truck_step(&truck, &pedals, 0.02);
    double stopped_ft = td_ft_from_m(truck.along_m + 500);
    assert_true(stopped_ft < 40 && stopped_ft > 25);
}

/* Held at 20 mph by the service brakes alone: T = T_s + (T_0 - T_s) exp(-h t / C), the constant
 * speed form of the published brake equation. */
static void brakes_heat_by_the_equation(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(2000, td_mps_from_mph(20));
    double dt_s = 0.05, t_s = 0;
    double h = 135 + 6.3 * truck.speed_mps;
    while (truck.along_m < 8000) {
        struct td_pedals pedals = {.gear = -1, .stage = -1,
                                   .brake_n = td_truck_pull_n(&truck, -1, -1)};
        if (t_s == 0)
            truck.brake_n = pedals.brake_n;
        td_truck_step(&truck, &pedals, dt_s);
        t_s += dt_s;
    }
    assert_near(truck.speed_mps, td_mps_from_mph(20), 0.02);
    double power_w = truck.work.service_j / t_s;
    double settles_c = 20 + power_w / h;
    assert_near(truck.temp_c, settles_c + (20 - settles_c) * exp(-h * t_s / 393e3), 0.5);
    assert_true(truck.temp_c > 100);
}

static void hot_brakes_fade_and_failed_ones_are_gone(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(2000, 10);
    double cold_n = td_truck_brake_most_n(&truck);
    truck.temp_c = 260;
    assert_near(td_truck_brake_most_n(&truck), cold_n, 1e-6);
    truck.temp_c = 360;
    assert_true(td_truck_brake_most_n(&truck) < 0.7 * cold_n);
    truck.brakes_failed = true;
    assert_near(td_truck_brake_most_n(&truck), 0, 0);
}

static void truth_is_drawn_from_its_ranges(void **state)
{
    (void)state;
    bool dead_seen = false, sound_seen = false;
    double low = 2, high = 0;
    for (uint64_t seed = 0; seed < 500; seed++) {
        struct td_truth truth = td_truth_draw(seed);
        struct td_truth again = td_truth_draw(seed);
        assert_memory_equal(&truth, &again, sizeof truth);
        assert_in_range((unsigned)(truth.mass_scale * 1000), 950, 1050);
        assert_near(truth.grade_offset_ratio, 0, 0.003);
        assert_near(truth.cooling_scale, 1, 0.3);
        assert_near(truth.capacity_scale, 1, 0.15);
        assert_true(truth.engine_brake_scale >= 0.85 && truth.engine_brake_scale <= 1);
        dead_seen |= truth.dead_share == 0.1;
        sound_seen |= truth.dead_share == 0;
        low = fmin(low, truth.mass_scale);
        high = fmax(high, truth.mass_scale);
    }
    assert_true(dead_seen && sound_seen && low < 0.955 && high > 1.045);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(energy_balances),
        cmocka_unit_test(gravity_gives_weight_times_fall),
        cmocka_unit_test(coasts_to_terminal_speed),
        cmocka_unit_test(engine_brake_holds_where_forces_meet),
        cmocka_unit_test(stops_from_twenty_as_the_rule_wants),
        cmocka_unit_test(brakes_heat_by_the_equation),
        cmocka_unit_test(hot_brakes_fade_and_failed_ones_are_gone),
        cmocka_unit_test(truth_is_drawn_from_its_ranges),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
