/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Driveline retarder: torque on the shaft and at the wheels against hand arithmetic, the heat of it
 * against the closed form, and what its stages may not be. */
#include "talkdown/retarder.h"

#include <string.h>

#include "support/cm.h"
#include "support/rig_retarder.h"
#include "talkdown/forces.h"
#include "talkdown/rng.h"

static void the_shaft_stands_still_without_torque(void **state)
{
    (void)state;
    struct td_torque_curve curve = {2, {400, 800}, {1000, 2000}};
    assert_near(td_shaft_torque_at_nm(&curve, 0), 0, 0);
    assert_near(td_shaft_torque_at_nm(&curve, -100), 0, 0);
    assert_near(td_shaft_torque_at_nm(&curve, 100), 250, 1e-12);
    assert_near(td_shaft_torque_at_nm(&curve, 400), 1000, 0);
    assert_near(td_shaft_torque_at_nm(&curve, 500), 1250, 1e-12);
    assert_near(td_shaft_torque_at_nm(&curve, 3000), 2000, 0);
    curve.count = 0;
    assert_near(td_shaft_torque_at_nm(&curve, 500), 0, 0);
}

/* 600 turns a minute of the shaft are 600 / 2.579 of the wheel: 600 / 60 x 2 pi x 0.506 / 2.579 =
 * 12.32761 m/s. 3,000 N m there are 3,000 x 2.579 / 0.506 = 15,290.5 N at the wheels. */
static void the_force_follows_the_shaft_and_not_the_gear(void **state)
{
    (void)state;
    struct td_rig rig = test_rig_with_retarder();
    double v = 12.32761;
    assert_near(td_rig_shaft_rpm(&rig, v), 600, 0.01);
    assert_near(td_force_retarder_n(&rig, 3, 1, 1, v), 15290.5, 0.1);
    assert_near(td_force_retarder_n(&rig, 3, 0.75, 0.5, v), 0.375 * 15290.5, 0.1);
    assert_near(td_force_retarder_n(&rig, 1, 1, 1, v), 0, 0);
    assert_near(td_force_retarder_n(&rig, -1, 1, 1, v), 0, 0);
    /* stage "one" has nothing at the crankshaft, "two" what "high" has */
    assert_near(td_force_engine_n(&rig, 5, 2, 1, v), td_force_engine_n(&rig, 5, -1, 1, v), 0);
    assert_near(td_force_engine_n(&rig, 5, 3, 1, v), td_force_engine_n(&rig, 5, 1, 1, v), 0);
    for (int gear = -1; gear < 10; gear++)
        for (int stage = -1; stage < 4; stage++)
            assert_near(td_force_hold_n(&rig, gear, stage, 0.8, 0.6, v),
                        td_force_engine_n(&rig, gear, stage, 0.8, v) +
                            td_force_retarder_n(&rig, stage, 0.8, 0.6, v), 0);
    assert_near(td_force_hold_n(&rig, -1, 3, 1, 1, v), 15290.5, 0.1);
}

/* Power at the shaft is torque times turns, and nothing is added on the way to the wheels. */
static void its_power_is_the_same_at_both_ends(void **state)
{
    (void)state;
    struct td_rig rig = test_rig_with_retarder();
    for (double v = 1; v < 40; v += 1.5) {
        double rpm = td_rig_shaft_rpm(&rig, v);
        double shaft_w = td_shaft_torque_at_nm(&rig.stages[3].shaft_torque_nm, rpm) * rpm * 2 *
                         TD_PI / 60;
        assert_near(td_force_retarder_n(&rig, 3, 1, 1, v) * v, shaft_w, 1e-9 * shaft_w);
    }
}

static void forces_at_a_place_count_it(void **state)
{
    (void)state;
    struct td_rig rig = test_rig_with_retarder();
    struct td_forces f = td_forces_at(&rig, 36000, 4, 3, 0.5, 0.06, 12);
    assert_near(f.retarder_n, td_force_retarder_n(&rig, 3, 0.5, 1, 12), 0);
    double left_n = f.pull_n - f.rolling_n - f.air_n - f.engine_n - f.retarder_n;
    assert_near(td_forces_brake_n(&f), fmax(0, left_n), 1e-9);
    assert_near(td_forces_accel_mps2(&f, 100, 5000), (left_n - 100) / 5000, 1e-12);
}

/* The live heat's cooler bound rests on it: it must not be less than any pair of levers. */
static void the_most_is_no_less_than_any_setting(void **state)
{
    (void)state;
    struct td_rig rig = test_rig_with_retarder();
    for (double v = 3; v < 35; v += 0.7) {
        double most_n = td_force_engine_most_n(&rig, 3, v), best_n = 0;
        for (int gear = -1; gear < 10; gear++) {
            double rpm = gear < 0 ? 1500 : td_rig_rpm(&rig, (size_t)gear, v);
            for (int stage = -1; stage < 4 && rpm >= 1000 && rpm <= 2100; stage++)
                best_n = fmax(best_n, td_force_hold_n(&rig, gear, stage, 1, 1, v));
        }
        assert_true(most_n >= best_n);
        assert_true(most_n <= best_n / 0.95 + 1e-9);
        assert_true(td_force_engine_most_n(&rig, 2, v) <= most_n);
    }
    /* 150 mph: the highest gear is left, and the retarder holds all the same */
    double fast = td_mps_from_mph(150), top_n = 0;
    for (int stage = -1; stage < 4; stage++)
        top_n = fmax(top_n, td_force_engine_n(&rig, (int)rig.gear_count - 1, stage, 1, fast));
    assert_near(td_force_engine_most_n(&rig, 3, fast),
                td_force_retarder_n(&rig, 3, 1, 1, fast) / 0.95 + top_n, 1e-9);
}

static void its_guard_takes_torque_between_two_temperatures(void **state)
{
    (void)state;
    struct td_rig rig = test_rig_with_retarder();
    assert_near(td_retarder_share(&rig.retarder, -40), 1, 0);
    assert_near(td_retarder_share(&rig.retarder, 120), 1, 0);
    assert_near(td_retarder_share(&rig.retarder, 130), 1 - 0.75 / 4, 1e-12);
    assert_near(td_retarder_share(&rig.retarder, 140), 0.625, 1e-12);
    assert_near(td_retarder_share(&rig.retarder, 160), 0.25, 1e-12);
    assert_near(td_retarder_share(&rig.retarder, 900), 0.25, 0);
    double before = 1;
    for (double c = 0; c < 300; c += 0.25) {
        double share = td_retarder_share(&rig.retarder, c);
        assert_true(share <= before && share >= 0.25);
        before = share;
    }
}

/* 200 kW into 150 kJ/K with 2 kW/K from 20 degC: settles at 120 degC, time constant 75 s, so after
 * 75 s it is at 20 + 100 (1 - 1/e) = 83.212 degC. */
static void a_step_is_exact(void **state)
{
    (void)state;
    struct td_rig rig = test_rig_with_retarder();
    const struct td_retarder_heat *heat = &rig.retarder;
    assert_near(td_retarder_step_c(heat, 20, 200e3, 20, 75), 83.2121, 1e-4);
    assert_near(td_retarder_step_c(heat, 120, 0, 20, 75), 20 + 100 / exp(1), 1e-9);
    assert_near(td_retarder_step_c(heat, 120, -5e3, 20, 75), 20 + 100 / exp(1), 1e-9);
    assert_near(td_retarder_step_c(heat, 77, 3e5, 20, 0), 77, 0);
    double split_c = 20;
    for (int i = 0; i < 1000; i++)
        split_c = td_retarder_step_c(heat, split_c, 200e3, 20, 0.075);
    assert_near(split_c, 83.2121, 1e-4);
}

/* At constant speed the power follows the guard: between its temperatures
 *   C dT/dt = P (1 - (1 - l)(T - from)/(to - from)) - h (T - Ta)
 * is linear in T, with a closed form of its own; fine steps of the functions under test must follow
 * it, and settle where it settles. */
static void derating_follows_its_closed_form(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 11, 3);
    int followed = 0;
    for (int run = 0; run < 60; run++) {
        struct td_retarder_heat heat = {
            .heat_capacity_j_per_k = td_rng_between(&rng, 50e3, 400e3),
            .cooling_w_per_k = td_rng_between(&rng, 500, 4000),
            .derates_from_c = td_rng_between(&rng, 100, 140),
            .least_ratio = td_rng_between(&rng, 0, 0.5),
        };
        heat.derates_to_c = heat.derates_from_c + td_rng_between(&rng, 20, 80);
        double ambient_c = td_rng_between(&rng, -20, 45);
        double span_k = heat.derates_to_c - heat.derates_from_c;
        double reach_w = heat.cooling_w_per_k * (heat.derates_from_c - ambient_c);
        double full_w = reach_w * td_rng_between(&rng, 1.05, 1.6);
        double slope_w_per_k = full_w * (1 - heat.least_ratio) / span_k;
        double rate_per_s = (heat.cooling_w_per_k + slope_w_per_k) / heat.heat_capacity_j_per_k;
        double settles_c = (full_w + slope_w_per_k * heat.derates_from_c +
                            heat.cooling_w_per_k * ambient_c) /
                           (heat.cooling_w_per_k + slope_w_per_k);
        if (settles_c >= heat.derates_to_c)
            continue;
        followed++;
        double temp_c = heat.derates_from_c, dt_s = 0.01;
        for (int i = 1; i <= 20000; i++) {
            temp_c = td_retarder_step_c(&heat, temp_c, full_w * td_retarder_share(&heat, temp_c),
                                        ambient_c, dt_s);
            if (i % 1000 == 0)
                assert_near(temp_c, settles_c + (heat.derates_from_c - settles_c) *
                                                    exp(-rate_per_s * i * dt_s), 0.05);
        }
    }
    assert_true(followed > 30);
}

static void refused(const struct td_rig *rig, const char *words)
{
    struct td_problem problem = {.text = ""};
    assert_int_equal(td_rig_check(rig, &problem), TD_INVALID);
    if (strstr(problem.text, words) == NULL)
        fail_msg("\"%s\" does not say \"%s\"", problem.text, words);
    assert_non_null(strstr(problem.text, "; "));
}

static void a_wrong_retarder_is_named(void **state)
{
    (void)state;
    struct td_rig sound = test_rig_with_retarder();
    assert_int_equal(td_rig_check(&sound, NULL), TD_OK);
    assert_true(td_rig_has_retarder(&sound));
    struct td_rig without = test_rig();
    assert_false(td_rig_has_retarder(&without));
#define WRONG(change, words)                                                                       \
    do {                                                                                           \
        struct td_rig rig = sound;                                                                 \
        change;                                                                                    \
        refused(&rig, words);                                                                      \
    } while (0)
    WRONG(rig.stages[2].kind = (enum td_holder)3, "no known kind");
    WRONG(rig.brakes.kind = (enum td_brake_kind)2, "drum or disc");
    WRONG(rig.stages[2].shaft_torque_nm.count = 0, "retarder \"one\": it has no torque");
    WRONG(rig.stages[2].shaft_torque_nm.count = 1, "retarder \"one\": its torque curve");
    WRONG(rig.stages[2].shaft_torque_nm.rpm[1] = 300, "do not rise");
    WRONG(rig.stages[3].shaft_torque_nm.torque_nm[1] = 1499, "\"two\": it brakes less");
    WRONG(rig.stages[2].torque = rig.stages[1].torque;
          rig.stages[3].torque.count = 0, "\"two\": it brakes less");
    WRONG(rig.stages[1].kind = TD_HOLDER_RETARDER, "\"high\"");
    WRONG(rig.stages[1].shaft_torque_nm = rig.stages[2].shaft_torque_nm, "only a retarder");
    WRONG(rig.stages[3].kind = TD_HOLDER_ENGINE_BRAKE; rig.stages[3].shaft_torque_nm.count = 0,
          "list them last");
    WRONG(memcpy(rig.stages[3].name, "low", 4), "retarder \"low\": named twice");
    WRONG(rig.retarder.heat_capacity_j_per_k = 0, "retarder: heat_capacity");
    WRONG(rig.retarder.cooling_w_per_k = (double)NAN, "retarder: cooling");
    WRONG(rig.retarder.derates_from_c = 20, "retarder: derates_from");
    WRONG(rig.retarder.derates_to_c = 120, "derates_to is not above");
    WRONG(rig.retarder.least_ratio = 1.5, "retarder: least");
#undef WRONG
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_shaft_stands_still_without_torque),
        cmocka_unit_test(the_force_follows_the_shaft_and_not_the_gear),
        cmocka_unit_test(its_power_is_the_same_at_both_ends),
        cmocka_unit_test(forces_at_a_place_count_it),
        cmocka_unit_test(the_most_is_no_less_than_any_setting),
        cmocka_unit_test(its_guard_takes_torque_between_two_temperatures),
        cmocka_unit_test(a_step_is_exact),
        cmocka_unit_test(derating_follows_its_closed_form),
        cmocka_unit_test(a_wrong_retarder_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
