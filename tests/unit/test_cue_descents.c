/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two descents of one hill with a level break between them: each has its own crest, gear, engine
 * brake and ceiling, and the foot of the first is no all-clear. */
#include "support/cm.h"
#include "support/cue_bench.h"

static struct cue_bench bench;
static struct td_wishes wishes;

/* 3000 to 5000 m in fifth at 17.4 mph, level to 7000 m, then to 10000 m in third at 12.4 mph. */
static int fresh(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    bench.hill.foot_m = 10000.0;
    bench.hill.length_m = 11000.0;
    bench.hill.run_count = 4;
    bench.hill.runs[1].to_m = 5000.0;
    bench.hill.runs[2] = (struct td_run){5000.0, 7000.0, 0.0};
    bench.hill.runs[3] = (struct td_run){7000.0, 10000.0, 0.09};
    bench.hill.steepest_downgrade_ratio = 0.09;
    struct td_plan *plan = &bench.plan;
    plan->stretch_count = 3;
    plan->stretches[0].to_m = 5000.0;
    plan->stretches[1] = (struct td_plan_stretch){5000.0, 7000.0, 0.0, td_mps_from_mph(75.0),
                                                  TD_LIMIT_NONE};
    plan->stretches[2] = (struct td_plan_stretch){7000.0, 10000.0, 0.09, td_mps_from_mph(12.4),
                                                  TD_LIMIT_GEAR};
    plan->descent_count = 2;
    plan->descents[0].to_m = 5000.0;
    plan->descents[1] = (struct td_plan_descent){.from_m = 7000.0,
                                                 .to_m = 10000.0,
                                                 .target_mps = td_mps_from_mph(12.4),
                                                 .target_mph = 12,
                                                 .say_mph = 10,
                                                 .say_kmh = 15,
                                                 .limited_by = TD_LIMIT_GEAR,
                                                 .gear = 3,
                                                 .stage = 0};
    plan->target_mps = plan->descents[1].target_mps;
    plan->target_mph = 12;
    plan->say_mph = 10;
    plan->gear = 3;
    plan->stage = 0;
    return 0;
}

struct said {
    double at_m;
    struct td_prompt prompt;
};

/* Drives by and keeps every wish that may be said, as if it were said at once. */
static unsigned drive(double from_m, double to_m, double speed_mps, struct said *said,
                      unsigned most)
{
    unsigned count = 0;
    for (double at_m = from_m; at_m <= to_m; at_m += speed_mps) {
        cue_bench_at(&bench, at_m, speed_mps);
        wishes.count = 0;
        td_cue_hill(&bench.moment, &bench.visit, &wishes);
        for (unsigned i = 0; i < wishes.count; i++) {
            struct td_prompt prompt = wishes.list[i].prompt;
            enum td_why why;
            if (td_cue_fill(&bench.moment, &bench.visit, &prompt, &why) != TD_FILL_READY)
                continue;
            td_cue_issued(&bench.moment, &bench.visit, &prompt);
            if (count < most)
                said[count] = (struct said){at_m, prompt};
            count++;
        }
        cue_bench_later(&bench, 1.0);
    }
    return count;
}

static const struct said *find(const struct said *said, unsigned count, enum td_prompt_id id)
{
    for (unsigned i = 0; i < count; i++)
        if (said[i].prompt.id == id)
            return &said[i];
    return NULL;
}

static void each_descent_has_its_own_gear_stage_and_ceiling(void **state)
{
    (void)state;
    struct said first[32], second[32];
    unsigned on_first = drive(1000.0, 4900.0, 7.0, first, 32);
    const struct said *gear = find(first, on_first, TD_PROMPT_GEAR);
    assert_non_null(gear);
    assert_int_equal(gear->prompt.args[0].value, 5);
    assert_int_equal(find(first, on_first, TD_PROMPT_ENGINE_BRAKE)->prompt.args[0].value, 1);
    assert_int_equal(find(first, on_first, TD_PROMPT_CEILING)->prompt.args[0].value, 15);
    unsigned on_second = drive(5001.0, 9000.0, 5.0, second, 32);
    gear = find(second, on_second, TD_PROMPT_GEAR);
    assert_non_null(gear);
    assert_int_equal(gear->prompt.args[0].value, 3);
    assert_true(gear->at_m < 7000.0);
    assert_int_equal(find(second, on_second, TD_PROMPT_ENGINE_BRAKE)->prompt.args[0].value, 0);
    assert_int_equal(find(second, on_second, TD_PROMPT_CEILING)->prompt.args[0].value, 10);
}

/* The length and grade told are those of the descent ahead, not of the whole hill. */
static void the_grade_ahead_is_told_for_each(void **state)
{
    (void)state;
    struct said said[32];
    unsigned count = drive(500.0, 2000.0, 20.0, said, 32);
    const struct said *ahead = find(said, count, TD_PROMPT_HILL_AHEAD);
    assert_int_equal(ahead->prompt.args[0].value, 7);
    assert_int_equal(ahead->prompt.args[1].unit, TD_UNIT_MILE); /* 2 km; the whole is over 4 mi */
    assert_int_equal(ahead->prompt.args[1].value, 2);
    count = drive(5001.0, 6500.0, 20.0, said, 32);
    ahead = find(said, count, TD_PROMPT_HILL_AHEAD);
    assert_int_equal(ahead->prompt.args[0].value, 9);
    assert_int_equal(ahead->prompt.args[1].value, 2); /* 3 km */
}

/* The foot of the first names the next grade. */
static void the_first_foot_is_no_all_clear(void **state)
{
    (void)state;
    struct said said[32];
    unsigned count = drive(3500.0, 5100.0, 7.0, said, 32);
    const struct said *bottom = find(said, count, TD_PROMPT_BOTTOM);
    assert_non_null(bottom);
    assert_in_range(bottom->at_m, 4900, 5000);
    assert_int_equal(bottom->prompt.args[0].value, TD_NEXT_GRADE);
    assert_int_equal(bottom->prompt.args[1].unit, TD_UNIT_MILE); /* 2 km to it */
    assert_non_null(find(said, count, TD_PROMPT_BOTTOM_AHEAD));
    count = drive(8000.0, 10100.0, 5.0, said, 32);
    bottom = find(said, count, TD_PROMPT_BOTTOM);
    assert_in_range(bottom->at_m, 9900, 10000);
    assert_int_equal(bottom->prompt.args[0].value, TD_NEXT_UNKNOWN);
}

/* On the level between them the first one's ceiling is over, and nothing warns: no ceiling was told
 * there. On the second the warning is back. */
static void the_break_is_driven_by_the_signs(void **state)
{
    (void)state;
    struct said said[32];
    (void)drive(2500.0, 5100.0, 7.0, said, 32);
    bench.plan.stretches[1].target_mps = td_mps_from_mph(35.0);
    bench.plan.stretches[1].limited_by = TD_LIMIT_POSTED;
    unsigned count = drive(5200.0, 6700.0, td_mps_from_mph(40.0), said, 32);
    assert_null(find(said, count, TD_PROMPT_OVER_SPEED));
    assert_non_null(find(said, count, TD_PROMPT_SLOW_FOR_GRADE));
    count = drive(7001.0, 7400.0, td_mps_from_mph(20.0), said, 32);
    const struct said *over = find(said, count, TD_PROMPT_OVER_SPEED);
    assert_non_null(over);
    assert_int_equal(over->prompt.args[0].value, 10);
}

/* Heavier now, the same hill is planned as one descent: nothing is said a second time. */
static void fewer_descents_in_a_new_plan_repeat_nothing(void **state)
{
    (void)state;
    struct said said[32];
    (void)drive(1000.0, 6900.0, 5.0, said, 32);
    bench.plan.descents[0].to_m = 10000.0;
    bench.plan.descent_count = 1;
    unsigned count = drive(6900.0, 7300.0, 5.0, said, 32);
    assert_null(find(said, count, TD_PROMPT_GEAR));
    assert_null(find(said, count, TD_PROMPT_HILL_AHEAD));
}

/* A bend at 30 mph from 6000 m on and a sign of 50 from the foot on, both on the level: told to who
 * is faster, each in its time, and over with the break. */
static void a_sign_and_a_bend_on_the_break_are_told_to_who_is_over_them(void **state)
{
    (void)state;
    struct td_plan *plan = &bench.plan;
    plan->stretches[3] = plan->stretches[2];
    plan->stretches[1] = (struct td_plan_stretch){5000.0, 6000.0, 0.0, td_mps_from_mph(50.0),
                                                  TD_LIMIT_POSTED};
    plan->stretches[2] = (struct td_plan_stretch){6000.0, 6300.0, 0.0, td_mps_from_mph(30.0),
                                                  TD_LIMIT_CURVE};
    plan->stretch_count = 4;
    struct said said[32];
    unsigned count = drive(5200.0, 5990.0, td_mps_from_mph(55.0), said, 32);
    unsigned limits = 0, curves = 0;
    for (unsigned i = 0; i < count; i++) {
        limits += said[i].prompt.id == TD_PROMPT_LIMIT;
        if (said[i].prompt.id != TD_PROMPT_CURVE)
            continue;
        curves++;
        assert_int_equal(said[i].prompt.args[1].value, 30);
        /* 24.6 to 13.4 m/s at 0.5 m/s2 are 425 m, speech 2 s and 6 s more 197. */
        assert_near(said[i].at_m, 6000.0 - 622.0, 30.0);
    }
    assert_int_equal(limits, 1);
    assert_int_equal(curves, 1);
    fresh(NULL);
    plan->stretches[1] = (struct td_plan_stretch){5000.0, 7000.0, 0.0, td_mps_from_mph(50.0),
                                                  TD_LIMIT_POSTED};
    count = drive(5200.0, 5990.0, td_mps_from_mph(48.0), said, 32);
    for (unsigned i = 0; i < count; i++)
        assert_true(said[i].prompt.id != TD_PROMPT_LIMIT);
}

/* Nothing holds the speed down: a light truck on a signed hill without a sign for trucks. The grade
 * is told and the driver goes by the signs; a figure of ours would be heard as leave to take it
 * (docs/decisions/no-ceiling.md). Past the fastest that was planned he hears of it all the same. */
static void without_a_ceiling_no_speed_is_told(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    struct td_plan *plan = &bench.plan;
    plan->target_mps = plan->stretches[0].target_mps = plan->descents[0].target_mps =
        td_mps_from_mph(75.0);
    plan->target_mph = plan->say_mph = plan->descents[0].say_mph = 75;
    plan->limited_by = plan->stretches[0].limited_by = plan->descents[0].limited_by = TD_LIMIT_NONE;
    plan->gear = plan->descents[0].gear = 9;
    plan->stage = plan->descents[0].stage = -1;
    struct said said[32];
    unsigned count = drive(500.0, 8500.0, td_mps_from_mph(60.0), said, 32);
    bool told_grade = false;
    for (unsigned i = 0; i < count; i++) {
        enum td_prompt_id id = said[i].prompt.id;
        told_grade |= id == TD_PROMPT_HILL_AHEAD;
        assert_true(id == TD_PROMPT_HILL_AHEAD || id == TD_PROMPT_SET_FOR ||
                    id == TD_PROMPT_LAST_ESCAPE_LANE || id == TD_PROMPT_BOTTOM_AHEAD ||
                    id == TD_PROMPT_BOTTOM);
    }
    assert_true(told_grade);
    bool over = false;
    count = drive(4000.0, 4800.0, td_mps_from_mph(80.0), said, 32);
    for (unsigned i = 0; i < count; i++)
        over |= said[i].prompt.id == TD_PROMPT_OVER_SPEED;
    assert_true(over);
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(each_descent_has_its_own_gear_stage_and_ceiling),
        CASE(the_grade_ahead_is_told_for_each),
        CASE(the_first_foot_is_no_all_clear),
        CASE(the_break_is_driven_by_the_signs),
        CASE(a_sign_and_a_bend_on_the_break_are_told_to_who_is_over_them),
        CASE(without_a_ceiling_no_speed_is_told),
        CASE(fewer_descents_in_a_new_plan_repeat_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
