/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prompts on the way to the crest, each one tick either side of where it falls due. */
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

static void hill_ahead_comes_a_mile_before_the_crest(void **state)
{
    (void)state;
    /* At 20 m/s: one mile, 8 s of room and 2 s of speech: 1609 + 160 + 40 m before 3000. */
    cue_bench_at(&bench, 3000.0 - 1809.5, 20.0);
    assert_null(wish(TD_PROMPT_HILL_AHEAD));
    cue_bench_at(&bench, 3000.0 - 1808.5, 20.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_HILL_AHEAD);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_PERCENT);
    assert_int_equal(prompt->args[0].value, 7);
    assert_int_equal(prompt->args[1].unit, TD_UNIT_MILE);
    assert_int_equal(prompt->args[1].value, 3); /* 3.1 mi, as a sign has it */
    assert_int_equal(prompt->hill_handle, 7);
    assert_null(wish(TD_PROMPT_HILL_AHEAD)); /* once */
}

static void hill_ahead_counts_from_the_brake_check_where_there_is_one(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2400.0);
    cue_bench_at(&bench, 2400.0 - 1809.5, 20.0);
    assert_null(wish(TD_PROMPT_HILL_AHEAD));
    cue_bench_at(&bench, 2400.0 - 1808.5, 20.0);
    assert_non_null(wish(TD_PROMPT_HILL_AHEAD));
}

static void grade_sign_at_the_crest_has_the_word(void **state)
{
    (void)state;
    struct td_place *sign = cue_bench_place(&bench, TD_PLACE_GRADE_SIGN, 2900.0);
    sign->has = TD_PLACE_GRADE;
    sign->grade_ratio = -0.08;
    cue_bench_at(&bench, 1500.0, 20.0);
    assert_int_equal(wish(TD_PROMPT_HILL_AHEAD)->args[0].value, 8);
}

static void false_bottom_does_not_make_the_hill_sound_gentle(void **state)
{
    (void)state;
    bench.hill.run_count = 4;
    bench.hill.runs[1] = (struct td_run){3000.0, 5000.0, 0.07};
    bench.hill.runs[2] = (struct td_run){5000.0, 6500.0, 0.0};
    bench.hill.runs[3] = (struct td_run){6500.0, 8000.0, 0.08};
    bench.hill.mean_downgrade_ratio = 0.052;
    bench.hill.steepest_downgrade_ratio = 0.08;
    cue_bench_at(&bench, 1500.0, 20.0);
    /* (2000 x 7 + 1500 x 8) / 3500 = 7.4 */
    assert_int_equal(wish(TD_PROMPT_HILL_AHEAD)->args[0].value, 7);
}

static void joining_on_the_grade_hears_what_is_left(void **state)
{
    (void)state;
    cue_bench_at(&bench, 6300.0, 8.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_HILL_AHEAD);
    assert_int_equal(prompt->args[1].unit, TD_UNIT_MILE); /* 1700 m: a mile and the tenth spared */
    assert_null(cue_bench_wish(&bench, TD_PROMPT_SLOW_FOR_GRADE, &wishes));
    fresh(NULL);
    cue_bench_at(&bench, 6300.0, 8.0);
    assert_null(wish(TD_PROMPT_GEAR));
    fresh(NULL);
    cue_bench_at(&bench, 6300.0, 8.0);
    assert_null(wish(TD_PROMPT_ENGINE_BRAKE));
    fresh(NULL);
    cue_bench_at(&bench, 6300.0, 6.0);
    assert_non_null(wish(TD_PROMPT_CEILING));
    fresh(NULL);
    cue_bench_at(&bench, 7300.0, 8.0); /* less than half a mile: no word about its length */
    assert_null(wish(TD_PROMPT_HILL_AHEAD));
}

static void hill_ahead_is_not_spoken_across_the_crest(void **state)
{
    (void)state;
    cue_bench_at(&bench, 2950.0, 20.0); /* 50 m: 40 of speech, 0.5 s left */
    const struct td_prompt *prompt = wish(TD_PROMPT_HILL_AHEAD);
    struct td_prompt copy = *prompt;
    enum td_why why;
    assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &copy, &why), TD_FILL_HOLD);
    cue_bench_at(&bench, 3010.0, 20.0);
    assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &copy, &why), TD_FILL_READY);
}

/* Counted back from the crest (design: time to slow + 14.5 s + speech), to 15 mph = 6.7056 m/s:
 * 20 x (2 + 14.5) + (400 - 44.965) / (2 x 0.5) + 6.7056 x (2 + 2 + 2.5) = 728.6 m. */
static void slow_is_counted_back_from_the_crest(void **state)
{
    (void)state;
    cue_bench_at(&bench, 3000.0 - 729.0, 20.0);
    assert_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
    cue_bench_at(&bench, 3000.0 - 728.0, 20.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_SLOW_FOR_GRADE);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_MPH);
    assert_int_equal(prompt->args[0].value, 15);
    assert_int_equal(prompt->category, TD_CAUTION);
}

static void slow_comes_before_the_gear_when_little_must_be_lost(void **state)
{
    (void)state;
    for (double ahead_m = 800.0; ahead_m > 100.0; ahead_m -= 1.0) {
        cue_bench_at(&bench, 3000.0 - ahead_m, 7.5);
        bool gear = wish(TD_PROMPT_GEAR) != NULL;
        if (gear) {
            assert_true(bench.visit.said & TD_SAID_SLOW);
            return;
        }
    }
    fail();
}

static void slow_in_kilometres(void **state)
{
    (void)state;
    bench.setup.metric = true;
    cue_bench_at(&bench, 2500.0, 20.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_SLOW_FOR_GRADE);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_KMH);
    assert_int_equal(prompt->args[0].value, 25);
}

static void slow_is_not_said_to_a_slow_truck(void **state)
{
    (void)state;
    cue_bench_at(&bench, 2900.0, 7.1);
    assert_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
    cue_bench_at(&bench, 2900.0, 7.3);
    assert_non_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
}

/* A20: lead left < speech + 2.5 s is dropped. At 20 m/s that is 90 m. */
static void a20_slow_comes_too_late(void **state)
{
    (void)state;
    cue_bench_at(&bench, 2911.0, 20.0);
    assert_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
    cue_bench_at(&bench, 2909.0, 20.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_SLOW_FOR_GRADE);
    struct td_prompt copy = *prompt;
    enum td_why why;
    assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &copy, &why), TD_FILL_READY);
    cue_bench_at(&bench, 2911.0, 20.0);
    assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &copy, &why), TD_FILL_GONE);
    assert_int_equal(why, TD_WHY_STALE);
}

static void slow_is_called_again_when_nothing_happens(void **state)
{
    (void)state;
    cue_bench_at(&bench, 2300.0, 20.0);
    const struct td_prompt *first = wish(TD_PROMPT_SLOW_FOR_GRADE);
    td_cue_issued(&bench.moment, &bench.visit, first);
    /* At 1.3 x 0.5 m/s2 the truck needs (400 - 44.965) / 1.3 = 273 m. */
    cue_bench_later(&bench, 20.0);
    cue_bench_at(&bench, 3000.0 - 274.0, 20.0);
    assert_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
    cue_bench_at(&bench, 3000.0 - 272.0, 20.0);
    bench.moment.accel_mps2 = -0.5;
    assert_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
    bench.moment.accel_mps2 = 0.0;
    assert_non_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
    assert_null(wish(TD_PROMPT_SLOW_FOR_GRADE));
}

static void gear_waits_until_it_fits_the_speed(void **state)
{
    (void)state;
    cue_bench_at(&bench, 2900.0, 10.3); /* 2110 rpm */
    assert_null(wish(TD_PROMPT_GEAR));
    cue_bench_at(&bench, 2900.0, 10.2);
    const struct td_prompt *prompt = wish(TD_PROMPT_GEAR);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_GEAR);
    assert_int_equal(prompt->args[0].value, 5);
}

/* A18: at least 14.5 s from the end of the speech to the crest where a gear must be chosen; begun
 * (2 + 2 + 14.5 + 8) s before it, 7 m/s: 185.5 m. */
static void a18_gear_leaves_time_to_choose(void **state)
{
    (void)state;
    cue_bench_at(&bench, 3000.0 - 186.0, 7.0);
    assert_null(wish(TD_PROMPT_GEAR));
    cue_bench_at(&bench, 3000.0 - 185.0, 7.0);
    assert_non_null(wish(TD_PROMPT_GEAR));
    assert_true(td_cue_left_s(&bench.moment, TD_PROMPT_GEAR, 3000.0) >= 14.5);
}

static void engine_brake_follows_the_gear(void **state)
{
    (void)state;
    cue_bench_at(&bench, 2860.0, 7.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_ENGINE_BRAKE);
    assert_non_null(prompt); /* 140 m <= 7 x (2 + 19.5) */
    assert_int_equal(wishes.list[0].prompt.id, TD_PROMPT_HILL_AHEAD);
    assert_int_equal(prompt->args[0].unit, TD_UNIT_STAGE);
    assert_int_equal(prompt->args[0].value, 1);
    unsigned gear_at = 99, brake_at = 99;
    for (unsigned i = 0; i < wishes.count; i++) {
        if (wishes.list[i].prompt.id == TD_PROMPT_GEAR)
            gear_at = i;
        if (wishes.list[i].prompt.id == TD_PROMPT_ENGINE_BRAKE)
            brake_at = i;
    }
    assert_true(gear_at < brake_at);
}

static void engine_brake_is_not_called_where_it_is_banned(void **state)
{
    (void)state;
    struct td_place *ban = cue_bench_place(&bench, TD_PLACE_ENGINE_BRAKE_BAN, 2500.0);
    ban->has = TD_PLACE_LENGTH;
    ban->length_m = 1000.0; /* to 3500 */
    cue_bench_at(&bench, 2900.0, 7.0);
    assert_null(wish(TD_PROMPT_ENGINE_BRAKE));
    cue_bench_at(&bench, 3490.0, 7.0);
    assert_null(wish(TD_PROMPT_ENGINE_BRAKE));
    cue_bench_at(&bench, 3510.0, 7.0);
    assert_non_null(wish(TD_PROMPT_ENGINE_BRAKE));
}

static void engine_brake_off_is_not_called(void **state)
{
    (void)state;
    bench.plan.descents[0].stage = -1;
    cue_bench_at(&bench, 2900.0, 7.0);
    assert_null(wish(TD_PROMPT_ENGINE_BRAKE));
}

static unsigned count_no_go(enum td_prompt_id id, double from_m, double to_m, double speed_mps)
{
    unsigned count = 0;
    for (double at_m = from_m; at_m < to_m; at_m += speed_mps) {
        cue_bench_at(&bench, at_m, speed_mps);
        const struct td_prompt *prompt = wish(id);
        if (prompt) {
            td_cue_issued(&bench.moment, &bench.visit, prompt);
            count++;
        }
        assert_null(cue_bench_wish(&bench, TD_PROMPT_CEILING, &wishes));
        cue_bench_later(&bench, 1.0);
    }
    return count;
}

static void no_go_is_said_three_times_and_nothing_advises_a_speed(void **state)
{
    (void)state;
    bench.plan.safe = false;
    bench.plan.gear = bench.plan.descents[0].gear = -1;
    cue_bench_place(&bench, TD_PLACE_BRAKE_CHECK, 2000.0);
    assert_int_equal(count_no_go(TD_PROMPT_NO_GO, 0.0, 7900.0, 20.0), 3);
    assert_true(bench.visit.said & TD_SAID_NO_GO_FAR);
    assert_true(bench.visit.said & TD_SAID_NO_GO_CHECK);
    assert_true(bench.visit.said & TD_SAID_NO_GO_CREST);
}

static void no_go_is_said_once_to_one_who_joins_on_the_grade(void **state)
{
    (void)state;
    bench.plan.safe = false;
    assert_int_equal(count_no_go(TD_PROMPT_NO_GO, 4000.0, 7900.0, 10.0), 1);
}

/* "Too heavy" was said on ice: a driver would unload and go. */
static void on_ice_the_refusal_gives_the_ice_as_its_reason(void **state)
{
    (void)state;
    bench.plan.safe = false;
    bench.plan.reason_count = 1;
    bench.plan.reasons[0] = (struct td_plan_reason){TD_REASON_ICE_NO_CHAINS, 0, 0};
    cue_bench_at(&bench, 2500.0, 20.0);
    assert_null(wish(TD_PROMPT_NO_GO));
    cue_bench_init(&bench);
    bench.plan.safe = false;
    bench.plan.reason_count = 1;
    bench.plan.reasons[0] = (struct td_plan_reason){TD_REASON_ICE_NO_CHAINS, 0, 0};
    assert_int_equal(count_no_go(TD_PROMPT_NO_GO_ICE, 0.0, 7900.0, 20.0), 2);
    /* Set to dry while it waits: the reason is gone. */
    struct td_prompt waiting = {.id = TD_PROMPT_NO_GO_ICE, .hill_handle = 7};
    enum td_why why;
    bench.plan.reason_count = 0;
    assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &waiting, &why), TD_FILL_GONE);
}

static void nothing_is_said_before_the_plan_or_without_need(void **state)
{
    (void)state;
    bench.moment.plan = NULL;
    cue_bench_at(&bench, 2900.0, 7.0);
    assert_null(wish(TD_PROMPT_GEAR));
    bench.moment.plan = &bench.plan;
    bench.plan.coached = false;
    for (double at_m = 0.0; at_m < 9000.0; at_m += 10.0) {
        cue_bench_at(&bench, at_m, 20.0);
        wishes.count = 0;
        td_cue_hill(&bench.moment, &bench.visit, &wishes);
        assert_int_equal(wishes.count, 0);
    }
}

static void nothing_is_said_when_the_place_is_not_sure(void **state)
{
    (void)state;
    bench.moment.sigma_m = 80.0;
    for (double at_m = 2000.0; at_m < 9000.0; at_m += 10.0) {
        cue_bench_at(&bench, at_m, 6.0);
        wishes.count = 0;
        td_cue_hill(&bench.moment, &bench.visit, &wishes);
        for (unsigned i = 0; i < wishes.count; i++)
            assert_int_equal(td_prompt_category(wishes.list[i].prompt.id) == TD_CAUTION, 0);
    }
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(hill_ahead_comes_a_mile_before_the_crest),
        CASE(hill_ahead_counts_from_the_brake_check_where_there_is_one),
        CASE(grade_sign_at_the_crest_has_the_word),
        CASE(false_bottom_does_not_make_the_hill_sound_gentle),
        CASE(joining_on_the_grade_hears_what_is_left),
        CASE(hill_ahead_is_not_spoken_across_the_crest),
        CASE(slow_is_counted_back_from_the_crest),
        CASE(slow_comes_before_the_gear_when_little_must_be_lost),
        CASE(slow_in_kilometres),
        CASE(slow_is_not_said_to_a_slow_truck),
        CASE(a20_slow_comes_too_late),
        CASE(slow_is_called_again_when_nothing_happens),
        CASE(gear_waits_until_it_fits_the_speed),
        CASE(a18_gear_leaves_time_to_choose),
        CASE(engine_brake_follows_the_gear),
        CASE(engine_brake_is_not_called_where_it_is_banned),
        CASE(engine_brake_off_is_not_called),
        CASE(no_go_is_said_three_times_and_nothing_advises_a_speed),
        CASE(no_go_is_said_once_to_one_who_joins_on_the_grade),
        CASE(on_ice_the_refusal_gives_the_ice_as_its_reason),
        CASE(nothing_is_said_before_the_plan_or_without_need),
        CASE(nothing_is_said_when_the_place_is_not_sure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
