/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prompts around the brake check area and on the grade, each one tick either side. */
#include "support/cm.h"
#include "support/cue_bench.h"

static struct cue_bench bench;
static struct td_wishes wishes;

static int fresh(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    return 0;
}

static const struct td_prompt *wish(enum td_prompt_id id)
{
    return cue_bench_wish(&bench, id, &wishes);
}

static unsigned drive(enum td_prompt_id id, double from_m, double to_m, double speed_mps,
                      double *first_m)
{
    return cue_bench_drive(&bench, id, from_m, to_m, speed_mps, first_m);
}

static void brake_check_is_called_at_a_mile_at_half_a_mile_and_last(void **state)
{
    (void)state;
    struct td_place *check = cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2500.0);
    check->side = TD_SIDE_RIGHT;
    /* 12 m/s: 2 s of speech 24 m, one fix 12 m: at 1645 and 841 m before it. */
    cue_bench_at(&bench, 2500.0 - 1646.0, 12.0);
    assert_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
    cue_bench_at(&bench, 2500.0 - 1644.0, 12.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_BRAKE_CHECK_AHEAD);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_MILE);
    assert_int_equal(prompt->args[0].value, 1);
    assert_int_equal(prompt->args[1].value, TD_SIDE_RIGHT);
    cue_bench_at(&bench, 2500.0 - 841.5, 12.0);
    assert_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
    cue_bench_at(&bench, 2500.0 - 840.0, 12.0);
    prompt = wish(TD_PROMPT_BRAKE_CHECK_AHEAD);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_QUARTER_MILE);
    assert_int_equal(prompt->args[0].value, 2);
    /* Last: 12 x 4.5 + 144 / 2 = 126 m. */
    cue_bench_at(&bench, 2500.0 - 127.0, 12.0);
    assert_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
    cue_bench_at(&bench, 2500.0 - 125.0, 12.0);
    assert_non_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
    assert_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
}

static void a_call_that_came_late_stands_for_the_next(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2500.0);
    cue_bench_at(&bench, 2500.0 - 1644.0, 12.0);
    struct td_prompt prompt = *wish(TD_PROMPT_BRAKE_CHECK_AHEAD);
    cue_bench_at(&bench, 2500.0 - 900.0, 12.0); /* the voice was away for so long */
    td_cue_issued(&bench.moment, &bench.visit, &prompt);
    cue_bench_at(&bench, 2500.0 - 820.0, 12.0);
    assert_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
}

static void brake_check_has_no_last_call_for_one_who_is_stopping(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2500.0);
    bench.visit.places[0] = TD_SAID_FAR | TD_SAID_NEAR;
    bench.moment.accel_mps2 = -0.8; /* stands after 90 m */
    cue_bench_at(&bench, 2400.0, 12.0);
    assert_null(wish(TD_PROMPT_BRAKE_CHECK_AHEAD));
}

static void briefing_comes_as_the_truck_rolls_again(void **state)
{
    (void)state;
    double first_m;
    cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2500.0);
    cue_bench_at(&bench, 2495.0, 0.0);
    assert_null(wish(TD_PROMPT_BRIEFING)); /* nobody is in the cab */
    cue_bench_later(&bench, 2.1);
    assert_null(wish(TD_PROMPT_BRIEFING));
    cue_bench_later(&bench, 600.0);
    cue_bench_at(&bench, 2497.0, 1.4);
    assert_null(wish(TD_PROMPT_BRIEFING));
    cue_bench_at(&bench, 2498.0, 1.6);
    const struct td_prompt *prompt = wish(TD_PROMPT_BRIEFING);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_GEAR);
    assert_int_equal(prompt->args[0].value, 5);
    assert_int_equal(prompt->args[1].value, 15);
    assert_int_equal(drive(TD_PROMPT_BRIEFING, 2500.0, 3000.0, 5.0, &first_m), 0);
    assert_int_equal(drive(TD_PROMPT_BRAKE_CHECK_PASSED, 2500.0, 3200.0, 5.0, &first_m), 0);
}

static void briefed_driver_does_not_hear_the_gear_at_once_again(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2900.0);
    cue_bench_at(&bench, 2900.0, 0.0);
    (void)wish(TD_PROMPT_BRIEFING);
    cue_bench_later(&bench, 5.0);
    (void)wish(TD_PROMPT_BRIEFING);
    cue_bench_at(&bench, 2905.0, 3.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_BRIEFING);
    assert_non_null(prompt);
    td_cue_issued(&bench.moment, &bench.visit, prompt);
    cue_bench_later(&bench, 10.0);
    cue_bench_at(&bench, 2940.0, 4.0);
    assert_null(wish(TD_PROMPT_GEAR));
}

/* The briefing says "Start in fifth", not that an automated gearbox must be held in it. */
static void an_automated_gearbox_hears_the_gear_after_the_briefing(void **state)
{
    (void)state;
    bench.setup.rig.gearbox = TD_GEARBOX_AUTOMATED;
    bench.visit.briefed_ns = bench.moment.now_ns - 5 * TD_NS_PER_S;
    cue_bench_at(&bench, 2940.0, 4.0);
    assert_non_null(wish(TD_PROMPT_GEAR));
}

static void going_by_a_mandatory_check_is_said_and_another_only_logged(void **state)
{
    (void)state;
    for (int mandatory = 0; mandatory < 2; mandatory++) {
        double first_m;
        fresh(NULL);
        struct td_place *check = cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2000.0);
        check->has = mandatory ? TD_PLACE_MANDATORY : 0;
        assert_int_equal(drive(TD_PROMPT_BRAKE_CHECK_PASSED, 1500.0, 2600.0, 10.0, &first_m), 1);
        assert_near(first_m, 2160.0, 1e-9); /* 150 m of lay-by and the fix's own error */
        struct td_prompt prompt = {.id = TD_PROMPT_BRAKE_CHECK_PASSED, .hill_handle = 7,
                                   .decided_ns = bench.moment.now_ns};
        enum td_why why;
        assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &prompt, &why),
                         mandatory ? TD_FILL_READY : TD_FILL_GONE);
    }
}

static void ceiling_is_called_at_the_crest_and_at_each_change(void **state)
{
    (void)state;
    bench.plan.stretch_count = 3;
    bench.plan.stretches[0] = (struct td_plan_stretch){3000, 5000, 0.06, td_mps_from_mph(27),
                                                      TD_LIMIT_GEAR};
    bench.plan.stretches[1] = (struct td_plan_stretch){5000, 6000, 0.08, td_mps_from_mph(17.4),
                                                      TD_LIMIT_GEAR};
    bench.plan.stretches[2] = (struct td_plan_stretch){6000, 8000, 0.06, td_mps_from_mph(27),
                                                      TD_LIMIT_GEAR};
    /* 6 s after 2 s of speech, at 11 m/s: 88 m. */
    cue_bench_at(&bench, 3000.0 - 89.0, 11.0);
    assert_null(wish(TD_PROMPT_CEILING));
    cue_bench_at(&bench, 3000.0 - 87.0, 11.0);
    assert_int_equal(wish(TD_PROMPT_CEILING)->args[0].value, 25);
    /* Down to 7.78 m/s at 0.5 m/s2: (121 - 60.5) / 1 = 60.5 m more. */
    cue_bench_at(&bench, 5000.0 - 149.5, 11.0);
    assert_null(wish(TD_PROMPT_CEILING));
    cue_bench_at(&bench, 5000.0 - 147.5, 11.0);
    assert_int_equal(wish(TD_PROMPT_CEILING)->args[0].value, 15);
    cue_bench_at(&bench, 5999.0, 7.0);
    assert_null(wish(TD_PROMPT_CEILING));
    cue_bench_at(&bench, 6001.0, 7.0);
    assert_int_equal(wish(TD_PROMPT_CEILING)->args[0].value, 25);
    cue_bench_at(&bench, 6500.0, 7.0);
    assert_null(wish(TD_PROMPT_CEILING));
}

static void a_short_higher_ceiling_is_not_worth_a_word(void **state)
{
    (void)state;
    double first_m;
    bench.plan.stretch_count = 3;
    bench.plan.stretches[0] = (struct td_plan_stretch){3000, 5000, 0.07, td_mps_from_mph(17.4),
                                                      TD_LIMIT_GEAR};
    bench.plan.stretches[1] = (struct td_plan_stretch){5000, 5300, 0.05, td_mps_from_mph(27),
                                                      TD_LIMIT_GEAR};
    bench.plan.stretches[2] = (struct td_plan_stretch){5300, 8000, 0.07, td_mps_from_mph(17.4),
                                                      TD_LIMIT_GEAR};
    assert_int_equal(drive(TD_PROMPT_CEILING, 2900.0, 8200.0, 6.5, &first_m), 1);
}

static void below_five_the_ceiling_is_whole_and_nothing_is_not_spoken(void **state)
{
    (void)state;
    bench.plan.target_mps = bench.plan.descents[0].target_mps = td_mps_from_mph(4.6);
    bench.plan.stretches[0].target_mps = td_mps_from_mph(4.6);
    bench.plan.say_mph = bench.plan.descents[0].say_mph = 0;
    assert_int_equal(td_cue_say_speed(&bench.moment, td_mps_from_mph(4.6)), 4);
    assert_int_equal(td_cue_say_speed(&bench.moment, td_mps_from_mph(0.6)), 0);
    assert_int_equal(td_cue_say_speed(&bench.moment, (double)NAN), 0);
    assert_int_equal(td_cue_say_speed(&bench.moment, td_mps_from_mph(25.0)), 25);
    assert_int_equal(td_cue_say_speed(&bench.moment, td_mps_from_mph(24.9)), 20);
}

/* A19: calls start at 1 mile and at 1/2 mile, within a tenth. */
static void a19_escape_lane_is_called_at_its_marks(void **state)
{
    (void)state;
    for (int mph = 10; mph <= 45; mph += 5) {
        double speed_mps = td_mps_from_mph(mph), first_m;
        fresh(NULL);
        cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5500.0)->side = TD_SIDE_RIGHT;
        assert_int_equal(drive(TD_PROMPT_ESCAPE_LANE, 3100.0, 4300.0, speed_mps, &first_m), 1);
        assert_near(5500.0 - first_m, 1609.344, 161.0);
        assert_int_equal(drive(TD_PROMPT_ESCAPE_LANE, 4300.0, 5600.0, speed_mps, &first_m), 1);
        assert_near(5500.0 - first_m, 804.672, 80.5);
        cue_bench_at(&bench, first_m, speed_mps);
        struct td_prompt prompt = {.id = TD_PROMPT_ESCAPE_LANE, .hill_handle = 7};
        enum td_why why;
        assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &prompt, &why), TD_FILL_READY);
        assert_int_equal(prompt.args[0].unit, TD_UNIT_PLACE);
        assert_int_equal(prompt.args[1].unit, TD_UNIT_QUARTER_MILE);
        assert_int_equal(prompt.args[1].value, 2);
        assert_int_equal(prompt.args[2].value, TD_SIDE_RIGHT);
    }
}

static void later_lanes_are_called_once_and_twice_to_trainees(void **state)
{
    (void)state;
    for (int talk = TD_TALK_NORMAL; talk <= TD_TALK_SPARSE; talk++) {
        double first_m;
        fresh(NULL);
        bench.setup.talk = (enum td_talk)talk;
        cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 4900.0);
        cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 7500.0);
        unsigned expected[] = {3, 4, 2};
        assert_int_equal(drive(TD_PROMPT_ESCAPE_LANE, 3000.0, 8000.0, 7.0, &first_m),
                         expected[talk]);
    }
}

static void closed_lanes_are_never_called_and_the_last_open_one_counts(void **state)
{
    (void)state;
    double first_m;
    cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5000.0);
    cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 6500.0)->has = TD_PLACE_CLOSED;
    for (double at_m = 3000.0; at_m < 8000.0; at_m += 7.0) {
        cue_bench_at(&bench, at_m, 7.0);
        const struct td_prompt *prompt = wish(TD_PROMPT_ESCAPE_LANE);
        if (prompt)
            assert_int_equal(prompt->place, 0);
    }
    bench.visit.said = 0;
    assert_int_equal(drive(TD_PROMPT_LAST_ESCAPE_LANE, 4900.0, 8000.0, 7.0, &first_m), 1);
    assert_true(first_m >= 5033.0 && first_m < 5041.0);
}

static void no_lane_no_word_of_the_last(void **state)
{
    (void)state;
    double first_m;
    cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 6500.0)->has = TD_PLACE_CLOSED;
    assert_int_equal(drive(TD_PROMPT_LAST_ESCAPE_LANE, 3000.0, 8200.0, 7.0, &first_m), 0);
    fresh(NULL);
    cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 7700.0); /* the foot is nearer than a quarter */
    assert_int_equal(drive(TD_PROMPT_LAST_ESCAPE_LANE, 3000.0, 8200.0, 7.0, &first_m), 0);
}

static void bottom_is_called_a_quarter_mile_before_and_at_it(void **state)
{
    (void)state;
    struct td_place *stop = cue_bench_place(&bench, TD_PLACE_STOP, 8450.0);
    (void)stop;
    /* 7 m/s: 402.3 + 14 + 7 m before 8000. */
    cue_bench_at(&bench, 8000.0 - 424.0, 7.0);
    assert_null(wish(TD_PROMPT_BOTTOM_AHEAD));
    cue_bench_at(&bench, 8000.0 - 423.0, 7.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_BOTTOM_AHEAD);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_QUARTER_MILE);
    assert_int_equal(prompt->args[0].value, 1);
    assert_int_equal(prompt->args[1].value, TD_NEXT_STOP);
    /* Its speech ends at the foot: 14 m before. */
    cue_bench_at(&bench, 8000.0 - 15.0, 7.0);
    assert_null(wish(TD_PROMPT_BOTTOM));
    cue_bench_at(&bench, 8000.0 - 13.0, 7.0);
    prompt = wish(TD_PROMPT_BOTTOM);
    assert_int_equal(prompt->args[0].value, TD_NEXT_STOP);
    assert_int_equal(prompt->args[1].unit, TD_UNIT_QUARTER_MILE);
    assert_null(wish(TD_PROMPT_BOTTOM));
}

static void next_grade_is_named_within_five_miles(void **state)
{
    (void)state;
    bench.moment.next_grade_m = 5.0 * TD_M_PER_MI - 10.0;
    cue_bench_at(&bench, 7995.0, 7.0);
    assert_int_equal(wish(TD_PROMPT_BOTTOM)->args[0].value, TD_NEXT_GRADE);
    fresh(NULL);
    bench.moment.next_grade_m = 5.0 * TD_M_PER_MI + 10.0;
    cue_bench_at(&bench, 7995.0, 7.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_BOTTOM);
    assert_int_equal(prompt->args[0].value, TD_NEXT_UNKNOWN);
    assert_int_equal(prompt->args[1].unit, TD_UNIT_NONE);
}

static void one_who_joins_after_the_foot_hears_nothing(void **state)
{
    (void)state;
    struct td_moment *moment = &bench.moment;
    cue_bench_at(&bench, 8050.0, 10.0);
    td_visit_begin(&bench.visit, 7, moment);
    wishes.count = 0;
    td_cue_hill(moment, &bench.visit, &wishes);
    assert_int_equal(wishes.count, 0);
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(brake_check_is_called_at_a_mile_at_half_a_mile_and_last),
        CASE(a_call_that_came_late_stands_for_the_next),
        CASE(brake_check_has_no_last_call_for_one_who_is_stopping),
        CASE(briefing_comes_as_the_truck_rolls_again),
        CASE(briefed_driver_does_not_hear_the_gear_at_once_again),
        CASE(an_automated_gearbox_hears_the_gear_after_the_briefing),
        CASE(going_by_a_mandatory_check_is_said_and_another_only_logged),
        CASE(ceiling_is_called_at_the_crest_and_at_each_change),
        CASE(a_short_higher_ceiling_is_not_worth_a_word),
        CASE(below_five_the_ceiling_is_whole_and_nothing_is_not_spoken),
        CASE(a19_escape_lane_is_called_at_its_marks),
        CASE(later_lanes_are_called_once_and_twice_to_trainees),
        CASE(closed_lanes_are_never_called_and_the_last_open_one_counts),
        CASE(no_lane_no_word_of_the_last),
        CASE(bottom_is_called_a_quarter_mile_before_and_at_it),
        CASE(next_grade_is_named_within_five_miles),
        CASE(one_who_joins_after_the_foot_hears_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
