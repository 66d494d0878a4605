/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is said of heat and of gain: thresholds, turn-outs, and silence where nothing is wrong. */
#include "support/cm.h"
#include "support/cue_bench.h"
#include "talkdown/forces.h"
#include "talkdown/rng.h"

static struct cue_bench bench;
static struct td_wishes wishes;

static int fresh(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    bench.plan.descents[0].peak_c = 180.0; /* under three quarters of 260: 195 counts */
    bench.visit.said = TD_SAID_HILL | TD_SAID_SET;
    bench.visit.ceiling = 15;
    bench.moment.heat_least_c = bench.moment.heat_likely_c = bench.moment.heat_most_c = 100.0;
    cue_bench_at(&bench, 4000.0, td_mps_from_mph(15.0));
    return 0;
}

static const struct td_prompt *at_heat(enum td_prompt_id id, double least_c, double likely_c)
{
    bench.moment.heat_least_c = least_c;
    bench.moment.heat_likely_c = likely_c;
    return cue_bench_wish(&bench, id, &wishes);
}

static void heating_comes_at_three_quarters_of_the_limit_once(void **state)
{
    (void)state;
    assert_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 194));
    const struct td_prompt *prompt = at_heat(TD_PROMPT_BRAKES_HEATING, 100, 196);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_NONE); /* no turn-out on this hill */
    for (int i = 0; i < 100; i++) {
        cue_bench_later(&bench, 1.0);
        assert_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 196 + 0.1 * i));
    }
    assert_non_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 217)); /* clearly worse */
    assert_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 170));     /* cooler, not yet re-armed */
    assert_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 200));
    assert_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 164));
    assert_non_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 200));
}

static void a_plan_that_gets_hot_is_not_warned_of_what_it_planned(void **state)
{
    (void)state;
    bench.plan.descents[0].peak_c = 210.0;
    assert_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 205));
    assert_non_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 211));
    fresh(NULL);
    bench.plan.descents[0].peak_c = 255.0; /* but never later than 85 per cent */
    assert_non_null(at_heat(TD_PROMPT_BRAKES_HEATING, 100, 222));
}

/* From 15 mph (6.7 m/s): speech 2 s and 3.25 s to the pedal are 35 m, the stop at 0.5 m/s2 45 m. */
static void the_turn_out_named_is_one_he_can_still_stop_at(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_TURN_OUT, 4070.0);
    cue_bench_place(&bench, TD_PLACE_TURN_OUT, 4900.0);
    cue_bench_at(&bench, 4000.0, td_mps_from_mph(15.0));
    const struct td_prompt *prompt = at_heat(TD_PROMPT_BRAKES_HEATING, 100, 200);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_PLACE);
    assert_int_equal(prompt->args[0].value, 1);
    assert_int_equal(prompt->args[1].unit, TD_UNIT_QUARTER_MILE);
    fresh(NULL);
    cue_bench_place(&bench, TD_PLACE_TURN_OUT, 4090.0);
    prompt = at_heat(TD_PROMPT_BRAKES_HEATING, 100, 200);
    assert_int_equal(prompt->place, 0);
    assert_int_equal(prompt->args[1].unit, TD_UNIT_NONE); /* too near for a distance in words */
}

/* Whatever has room for the truck comes into question, and the first of them is the one. */
static void any_room_to_stop_is_named(void **state)
{
    (void)state;
    static const enum td_place_kind kinds[] = {TD_PLACE_BRAKE_CHECK, TD_PLACE_CHAIN_AREA,
                                               TD_PLACE_TURN_OUT};
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++) {
        fresh(NULL);
        cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 4500.0);
        cue_bench_place(&bench, TD_PLACE_STOP, 4600.0);
        cue_bench_place(&bench, kinds[i], 4900.0);
        cue_bench_place(&bench, TD_PLACE_TURN_OUT, 5600.0);
        cue_bench_at(&bench, 4000.0, td_mps_from_mph(15.0));
        const struct td_prompt *prompt = at_heat(TD_PROMPT_BRAKES_HEATING, 100, 200);
        assert_non_null(prompt);
        assert_int_equal(prompt->args[0].value, 2);
        assert_int_equal(prompt->args[1].unit, TD_UNIT_QUARTER_MILE);
        assert_int_equal(prompt->args[1].value, 2);
    }
}

/* The warning goes by the favourable figure. In fifth the weak stage does not hold 36 t on 7 per
 * cent: there is no ceiling to give, so it is a place to stop or nothing. */
static void the_warning_names_a_place_to_stop(void **state)
{
    (void)state;
    bench.setup.rig.stages[1].torque = bench.setup.rig.stages[0].torque;
    cue_bench_place(&bench, TD_PLACE_TURN_OUT, 4900.0);
    assert_null(at_heat(TD_PROMPT_STOP_AT, 226, 240));
    const struct td_prompt *prompt = at_heat(TD_PROMPT_STOP_AT, 235, 240);
    assert_non_null(prompt);
    assert_int_equal(prompt->category, TD_WARNING);
    assert_int_equal(prompt->place, 0);
    fresh(NULL);
    bench.setup.rig.stages[1].torque = bench.setup.rig.stages[0].torque;
    bench.hill.place_count = 0;
    assert_non_null(at_heat(TD_PROMPT_BRAKES_HOT, 235, 240));
    assert_null(at_heat(TD_PROMPT_CEILING, 236, 240));
}

/* Where the planned gear holds the truck at a speed that can be said, slowing is the advice. */
static void where_the_gear_holds_a_ceiling_follows(void **state)
{
    (void)state;
    bench.setup.rig.stages[1].torque = (struct td_torque_curve){2, {800, 2200}, {2500, 3500}};
    bench.plan.descents[0].gear = bench.plan.gear = 4;
    cue_bench_at(&bench, 4000.0, td_mps_from_mph(14.0));
    bench.moment.heat_least_c = bench.moment.heat_likely_c = 240;
    assert_non_null(cue_bench_wish(&bench, TD_PROMPT_BRAKES_HOT, &wishes));
    bool follows = false;
    for (unsigned i = 0; i < wishes.count; i++)
        follows |= wishes.list[i].prompt.id == TD_PROMPT_CEILING;
    assert_true(follows);
    assert_in_range(bench.visit.hot.ceiling, 5, 15);
    double mps = td_mps_from_mph(bench.visit.hot.ceiling);
    struct td_forces f = td_forces_at(&bench.setup.rig, 36000, 4, 1, 0.75, 0.07, mps);
    assert_near(td_forces_brake_n(&f), 0, 0);
    /* A truck that did not take the plan is not told to trust its gear. */
    fresh(NULL);
    bench.visit.gain.not_taken = true;
    assert_non_null(at_heat(TD_PROMPT_BRAKES_HOT, 240, 240));
    assert_int_equal(bench.visit.hot.ceiling, 0);
}

static void nothing_is_said_to_a_truck_that_stands_or_gains(void **state)
{
    (void)state;
    cue_bench_at(&bench, 4000.0, 0.3);
    assert_null(at_heat(TD_PROMPT_BRAKES_HOT, 250, 250));
    cue_bench_at(&bench, 4000.0, 10.0);
    bench.moment.accel_mps2 = 0.4;
    assert_null(at_heat(TD_PROMPT_BRAKES_HOT, 250, 250));
}

/* Watches for `s` seconds at a steady gain; how often `id` is wished for. */
static int gains(enum td_prompt_id id, double mph, double accel_mps2, int s)
{
    int count = 0;
    for (int i = 0; i < s; i++) {
        cue_bench_at(&bench, 4000.0, td_mps_from_mph(mph));
        bench.moment.accel_mps2 = accel_mps2;
        count += cue_bench_wish(&bench, id, &wishes) != NULL;
        cue_bench_later(&bench, 1.0);
    }
    return count;
}

/* 7 per cent free of any engine: (0.07 - 0.007) g, some 0.6 m/s2; fifth and the strong stage hold
 * it even at three quarters (28 kN against 24), so that what is left is noise, 0.1. */
static void speed_building_is_a_gain_that_the_planned_gear_forbids(void **state)
{
    (void)state;
    (void)gains(TD_PROMPT_SPEED_BUILDING, 15.0, 0.0, 11); /* settled after the crest */
    assert_int_equal(gains(TD_PROMPT_SPEED_BUILDING, 17.0, 0.09, 20), 0);
    assert_int_equal(gains(TD_PROMPT_SPEED_BUILDING, 17.0, 0.62, 2), 0); /* not yet 3 s */
    assert_int_equal(gains(TD_PROMPT_SPEED_BUILDING, 17.0, 0.62, 60), 1); /* once a stretch */
    assert_false(bench.visit.gain.not_taken); /* below the target: perhaps the throttle */
    (void)gains(TD_PROMPT_SPEED_BUILDING, 18.5, 0.62, 4);
    assert_true(bench.visit.gain.not_taken);
    (void)gains(TD_PROMPT_SPEED_BUILDING, 0.0, 0.0, 1);
    assert_false(bench.visit.gain.not_taken); /* a stop: it may be taken now */
}

/* Well below the target the same gain is a truck coming up to speed. */
static void coming_up_to_speed_is_not_building(void **state)
{
    (void)state;
    (void)gains(TD_PROMPT_SPEED_BUILDING, 15.0, 0.0, 11);
    assert_int_equal(gains(TD_PROMPT_SPEED_BUILDING, 12.0, 0.62, 20), 0);
}

/* Half an hour of snubs between the target and 5 mph below in the planned gear, no engine brake,
 * its own gain on 7 per cent between them, speeds good to 0.1 m/s and their slope over 3 s. */
static void a16_a_snub_in_the_planned_gear_is_not_building(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 16, 2);
    bench.plan.descents[0].stage = bench.plan.stage = -1;
    double top = bench.plan.target_mps, v = top - td_mps_from_mph(5), seen[4] = {v, v, v, v};
    unsigned snubs = 0, gaining = 0;
    bool pressed = false;
    for (int i = 0; i < 1800; i++) {
        bool before = pressed;
        pressed = pressed ? v > top - td_mps_from_mph(5) : v >= top;
        snubs += pressed && !before;
        struct td_forces f = td_forces_at(&bench.setup.rig, 36000, 5, -1, 0, 0.07, v);
        double moving_kg = td_force_moving_kg(&bench.setup.rig, 36000, 5);
        v += pressed ? -td_mps_from_mph(5.0) / 3.0 : td_forces_accel_mps2(&f, 0, moving_kg);
        memmove(seen + 1, seen, 3 * sizeof *seen);
        seen[0] = v + 0.1 * td_rng_normal(&rng);
        cue_bench_at(&bench, 4000.0, seen[0]);
        bench.moment.accel_mps2 = (3 * (seen[0] - seen[3]) + seen[1] - seen[2]) / 10.0;
        gaining += bench.moment.accel_mps2 > 0.2;
        assert_null(cue_bench_wish(&bench, TD_PROMPT_SPEED_BUILDING, &wishes));
        cue_bench_later(&bench, 1.0);
    }
    assert_true(snubs > 100 && gaining > 300);
    assert_false(bench.visit.gain.not_taken);
}

/* Fifth turns 2100 rpm at 10.25 m/s, 22.9 mph. */
static void the_engine_over_speeds_only_in_the_planned_gear(void **state)
{
    (void)state;
    assert_int_equal(gains(TD_PROMPT_ENGINE_OVER_SPEED, 15.0, 0.0, 12), 0);
    bench.visit.over.calls = 1;
    assert_int_equal(gains(TD_PROMPT_ENGINE_OVER_SPEED, 22.5, 0.05, 12), 0);
    bench.visit.over.calls = 1;
    assert_int_equal(gains(TD_PROMPT_ENGINE_OVER_SPEED, 24.0, 0.05, 12), 1);
    /* Came down in a higher gear: never at a speed where fifth could be in. */
    fresh(NULL);
    assert_int_equal(gains(TD_PROMPT_ENGINE_OVER_SPEED, 30.0, 0.0, 60), 0);
}

static void hot_parking_is_for_a_truck_about_to_stop_on_the_level(void **state)
{
    (void)state;
    bench.moment.accel_mps2 = -0.5;
    cue_bench_at(&bench, 8500.0, 5.0);
    assert_null(at_heat(TD_PROMPT_HOT_PARKING, 100, 150)); /* 156 is hot */
    cue_bench_place(&bench, TD_PLACE_STOP, 8600.0);
    assert_null(at_heat(TD_PROMPT_HOT_PARKING, 100, 170)); /* a stop sign is no parking */
    bench.hill.place_count = 0;
    cue_bench_at(&bench, 7000.0, 5.0);
    assert_null(at_heat(TD_PROMPT_HOT_PARKING, 100, 170)); /* on the grade */
    cue_bench_at(&bench, 8500.0, 0.4);
    assert_null(at_heat(TD_PROMPT_HOT_PARKING, 100, 170)); /* stands */
    cue_bench_at(&bench, 8500.0, 5.0);
    assert_non_null(at_heat(TD_PROMPT_HOT_PARKING, 100, 170));
    assert_null(at_heat(TD_PROMPT_HOT_PARKING, 100, 170)); /* once */
}

static bool still_hot_said(double likely_c, double next_grade_m)
{
    double first_m;
    fresh(NULL);
    bench.moment.heat_likely_c = likely_c;
    bench.moment.next_grade_m = next_grade_m;
    return cue_bench_drive(&bench, TD_PROMPT_BRAKES_STILL_HOT, 7900.0, 8600.0, 15.0, &first_m) == 1;
}

static void heat_is_told_to_the_next_grade_within_five_miles(void **state)
{
    (void)state;
    assert_true(still_hot_said(200.0, 2000.0));
    assert_false(still_hot_said(70.0, 2000.0));
    assert_false(still_hot_said(200.0, 0.0));
    assert_false(still_hot_said(200.0, 9000.0));
    assert_false(still_hot_said(95.0, 7000.0)); /* cooled by then */
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(heating_comes_at_three_quarters_of_the_limit_once),
        CASE(a_plan_that_gets_hot_is_not_warned_of_what_it_planned),
        CASE(any_room_to_stop_is_named),
        CASE(the_turn_out_named_is_one_he_can_still_stop_at),
        CASE(the_warning_names_a_place_to_stop),
        CASE(where_the_gear_holds_a_ceiling_follows),
        CASE(nothing_is_said_to_a_truck_that_stands_or_gains),
        CASE(speed_building_is_a_gain_that_the_planned_gear_forbids),
        CASE(coming_up_to_speed_is_not_building),
        CASE(a16_a_snub_in_the_planned_gear_is_not_building),
        CASE(the_engine_over_speeds_only_in_the_planned_gear),
        CASE(hot_parking_is_for_a_truck_about_to_stop_on_the_level),
        CASE(heat_is_told_to_the_next_grade_within_five_miles),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
