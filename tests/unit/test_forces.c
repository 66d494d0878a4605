/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Forces along the road against hand arithmetic, and the balance of energy. */
#include "support/cm.h"
#include "support/rigs.h"
#include "talkdown/forces.h"
#include "talkdown/rng.h"

static void each_force_is_its_formula(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    /* 3-4-5 slope: sine 0.6, cosine 0.8. */
    assert_near(td_force_pull_n(1000, 0.75), 1000 * 9.80665 * 0.6, 1e-9);
    assert_near(td_force_pull_n(1000, -0.75), -1000 * 9.80665 * 0.6, 1e-9);
    assert_near(td_force_rolling_n(&rig, 1000, 0.75), 0.0065 * 1000 * 9.80665 * 0.8, 1e-9);
    assert_near(td_force_air_n(&rig, 20), 0.5 * 1.0 * 6.2 * 400, 1e-9);
    double v = td_rig_speed_mps(&rig, 3, 1600);
    double wheels_per_nm = 4.59 * 2.579 / 0.506 / 0.95;
    double motoring_nm = 190 + 50.0 / 7;
    assert_near(td_force_engine_n(&rig, 3, -1, 1, v), motoring_nm * wheels_per_nm, 1e-6);
    assert_near(td_force_engine_n(&rig, 3, 1, 0.75, v),
                (motoring_nm + 0.75 * 1370) * wheels_per_nm, 1e-6);
    assert_near(td_force_engine_n(&rig, -1, 1, 1, v), 0, 0);
    assert_near(td_force_moving_kg(&rig, 20000, -1), 20500, 1e-9);
    assert_near(td_force_moving_kg(&rig, 20000, 3), 20500 + 3.5 * pow(4.59 * 2.579 / 0.506, 2),
                1e-6);
}

/* Power at the crankshaft is torque times turns: the wheels must give it, and the losses more. */
static void engine_power_is_the_same_at_both_ends(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    for (int gear = 0; gear < 10; gear++) {
        double v = td_rig_speed_mps(&rig, (size_t)gear, 1600);
        double crank_w = td_torque_at_nm(&rig.stages[1].torque, 1600) * 1600 * 2 * TD_PI / 60;
        double wheel_w = (td_force_engine_n(&rig, gear, 1, 1, v) -
                          td_force_engine_n(&rig, gear, -1, 1, v)) * v;
        assert_near(wheel_w * 0.95, crank_w, 1e-6 * crank_w);
    }
}

static void the_most_of_the_engine_stays_inside_the_band(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    double v = td_mps_from_mph(20);
    assert_true(td_rig_rpm(&rig, 3, v) < 2100 && td_rig_rpm(&rig, 2, v) > 2100);
    assert_near(td_force_engine_most_n(&rig, 1, v), td_force_engine_n(&rig, 3, 1, 1, v), 1e-9);
    /* Past the end of every band the highest gear is left, under the lowest band the lowest: taken
     * as nothing, a runaway's brakes read hot and so did those of a truck crawling in first. */
    double fast = td_mps_from_mph(150), slow = td_mps_from_mph(1);
    assert_near(td_force_engine_most_n(&rig, 1, fast),
                td_force_engine_n(&rig, (int)rig.gear_count - 1, 1, 1, fast), 1e-9);
    assert_near(td_force_engine_most_n(&rig, 1, slow), td_force_engine_n(&rig, 0, 1, 1, slow),
                1e-9);
}

/* Property: along any drive, the energy the road gives is what the forces took and what the truck
 * gained. Second-order steps; the sum must close to a thousandth. */
static void energy_is_in_balance(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 7, 1);
    struct td_rig rig = test_rig();
    for (int run = 0; run < 20; run++) {
        double mass_kg = td_rng_between(&rng, 8000, 40000), v = td_rng_between(&rng, 5, 25);
        double brake_n = td_rng_between(&rng, 0, 20000), dt = 0.01;
        int gear = (int)td_rng_below(&rng, 10), stage = (int)td_rng_below(&rng, 3) - 1;
        double moving_kg = td_force_moving_kg(&rig, mass_kg, gear);
        double start_j = 0.5 * moving_kg * v * v, given_j = 0, taken_j = 0;
        for (int i = 0; i < 6000 && v > 2 && v < 35; i++) {
            double grade = 0.05 + 0.04 * sin(i * 0.002);
            struct td_forces f = td_forces_at(&rig, mass_kg, gear, stage, 1, grade, v);
            double half = v + 0.5 * dt * td_forces_accel_mps2(&f, brake_n, moving_kg);
            f = td_forces_at(&rig, mass_kg, gear, stage, 1, grade, half);
            v += dt * td_forces_accel_mps2(&f, brake_n, moving_kg);
            given_j += f.pull_n * half * dt;
            taken_j += (f.rolling_n + f.air_n + f.engine_n + brake_n) * half * dt;
        }
        double gained_j = 0.5 * moving_kg * v * v - start_j;
        assert_near(given_j - taken_j, gained_j, 1e-3 * fmax(given_j, start_j));
    }
}

static void brakes_take_what_is_left_and_never_push(void **state)
{
    (void)state;
    struct td_forces f = {.pull_n = 100, .rolling_n = 20, .air_n = 10, .engine_n = 30};
    assert_near(td_forces_brake_n(&f), 40, 1e-12);
    assert_near(td_forces_accel_mps2(&f, 40, 500), 0, 1e-12);
    f.engine_n = 300;
    assert_near(td_forces_brake_n(&f), 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_force_is_its_formula),
        cmocka_unit_test(engine_power_is_the_same_at_both_ends),
        cmocka_unit_test(the_most_of_the_engine_stays_inside_the_band),
        cmocka_unit_test(energy_is_in_balance),
        cmocka_unit_test(brakes_take_what_is_left_and_never_push),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
