/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prompts about the road: what lowers the ceiling, where it steepens, a bottom that is none,
 * flashers, the chain area, a stop on the grade. Leads follow from 2 s of speech by arithmetic. */
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

/* Down from 27 to 17.4 mph at 5000 m, for a cause. */
static void lower_by(enum td_plan_limit by)
{
    struct td_plan *plan = &bench.plan;
    plan->stretch_count = 2;
    plan->stretches[0] =
        (struct td_plan_stretch){3000, 5000, 0.06, td_mps_from_mph(27), TD_LIMIT_GEAR};
    plan->stretches[1] = (struct td_plan_stretch){5000, 8000, 0.06, td_mps_from_mph(17.4), by};
    bench.visit.ceiling = 25;
}

static void a_curve_is_called_with_its_side_and_speed(void **state)
{
    (void)state;
    lower_by(TD_LIMIT_CURVE);
    bench.hill.curve_count = 1;
    bench.hill.curves[0] = (struct td_curve){5030, 5090, 40, TD_SIDE_LEFT};
    /* 2 s of speech, 6 s, and 60.5 m to slow at 0.5 m/s2 from 11 to 7.78 m/s: 148.5 m. */
    cue_bench_at(&bench, 5000.0 - 149.5, 11.0);
    assert_null(wish(TD_PROMPT_CURVE));
    cue_bench_at(&bench, 5000.0 - 147.5, 11.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_CURVE);
    assert_non_null(prompt);
    assert_int_equal(prompt->category, TD_CAUTION);
    assert_int_equal(prompt->args[0].value, TD_SIDE_LEFT);
    assert_int_equal(prompt->args[1].value, 15);
    td_cue_issued(&bench.moment, &bench.visit, prompt);
    assert_int_equal(bench.visit.ceiling, 15);
    assert_null(wish(TD_PROMPT_CURVE));
}

/* In the curve already, or from a sign without a bend on file: the speed alone. */
static void without_a_curve_ahead_no_side_is_named(void **state)
{
    (void)state;
    lower_by(TD_LIMIT_CURVE);
    cue_bench_at(&bench, 4900.0, 11.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_CURVE);
    assert_int_equal(prompt->args[0].value, TD_SIDE_UNKNOWN);
    fresh(NULL);
    lower_by(TD_LIMIT_CURVE);
    cue_bench_at(&bench, 5001.0, 11.0);
    assert_non_null(wish(TD_PROMPT_CEILING));
}

static void a_lower_limit_is_called_as_one(void **state)
{
    (void)state;
    lower_by(TD_LIMIT_POSTED);
    cue_bench_at(&bench, 4900.0, 11.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_LIMIT);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].value, 15);
    assert_null(wish(TD_PROMPT_CEILING));
}

static void steepen(double before, double after)
{
    bench.hill.run_count = 4;
    bench.hill.runs[1] = (struct td_run){3000.0, 5000.0, before};
    bench.hill.runs[2] = (struct td_run){5000.0, 8000.0, after};
    bench.hill.runs[3] = (struct td_run){8000.0, 9000.0, 0.0};
}

static void steeper_is_called_once_before_it(void **state)
{
    (void)state;
    double first_m = 0;
    steepen(0.055, 0.08);
    assert_int_equal(drive(TD_PROMPT_STEEPER, 3100.0, 7900.0, 7.0, &first_m), 1);
    double left_s = (5000.0 - first_m) / 7.0 - 2.0;
    assert_in_range(left_s * 1000, 2500, 8000);
    fresh(NULL);
    steepen(0.06, 0.07); /* a point is not worth a word */
    assert_int_equal(drive(TD_PROMPT_STEEPER, 3100.0, 7900.0, 7.0, &first_m), 0);
}

static void a_bottom_that_is_none_is_said_as_it_eases(void **state)
{
    (void)state;
    double first_m = 0;
    bench.hill.easing_count = 1;
    bench.hill.easings[0] = (struct td_easing){5000.0, 5400.0};
    steepen(0.06, 0.08);
    bench.hill.runs[2].from_m = 5400.0;
    assert_int_equal(drive(TD_PROMPT_FALSE_BOTTOM, 4000.0, 7000.0, 7.0, &first_m), 1);
    assert_in_range(first_m, 5000, 5010);
    fresh(NULL);
    bench.hill.easing_count = 1;
    bench.hill.easings[0] = (struct td_easing){5000.0, 5400.0};
    /* Said already by "Steep again." */
    steepen(0.06, 0.08);
    bench.hill.runs[2].from_m = 5400.0;
    assert_int_equal(drive(TD_PROMPT_STEEPER, 4000.0, 7000.0, 7.0, &first_m), 0);
}

static void flashers_go_on_where_the_road_allows_and_off_again(void **state)
{
    (void)state;
    double first_m = 0;
    assert_int_equal(drive(TD_PROMPT_FLASHERS_ON, 2500.0, 7900.0, 7.0, &first_m), 0);
    for (int rule = TD_FLASHERS_REQUIRED; rule <= TD_FLASHERS_FORBIDDEN; rule++) {
        fresh(NULL);
        bench.hill.flashers = (enum td_flashers)rule;
        unsigned due = rule == TD_FLASHERS_FORBIDDEN ? 0 : 1;
        assert_int_equal(drive(TD_PROMPT_FLASHERS_ON, 2500.0, 7900.0, 7.0, &first_m), due);
        assert_int_equal(drive(TD_PROMPT_FLASHERS_OFF, 7900.0, 9000.0, 18.0, &first_m), due);
        if (due)
            assert_in_range(first_m, 8000, 8050); /* back at road speed */
    }
}

static void chain_area_matters_on_ice_only(void **state)
{
    (void)state;
    for (int road = TD_ROAD_DRY; road <= TD_ROAD_ICE; road++) {
        double first_m = 0;
        fresh(NULL);
        bench.setup.road = (enum td_road)road;
        cue_bench_place(&bench, TD_PLACE_CHAIN_AREA, 2500.0)->side = TD_SIDE_RIGHT;
        unsigned due = road == TD_ROAD_ICE ? 1 : 0;
        assert_int_equal(drive(TD_PROMPT_CHAIN_AREA, 100.0, 2600.0, 20.0, &first_m), due);
        if (due) /* one mile before, speech of 2 s first */
            assert_in_range(2500.0 - first_m - 40.0, 1580, 1640);
    }
}

static void one_who_stood_on_the_grade_is_briefed_as_he_rolls(void **state)
{
    (void)state;
    cue_bench_at(&bench, 5000.0, 0.0);
    assert_null(wish(TD_PROMPT_BRIEFING));
    cue_bench_later(&bench, 10.0);
    assert_null(wish(TD_PROMPT_BRIEFING));
    cue_bench_at(&bench, 5001.0, 2.0);
    const struct td_prompt *prompt = wish(TD_PROMPT_BRIEFING);
    assert_non_null(prompt);
    assert_int_equal(prompt->args[0].value, 5);
    assert_int_equal(prompt->args[1].value, 15);
    assert_null(wish(TD_PROMPT_BRIEFING));
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(a_curve_is_called_with_its_side_and_speed),
        CASE(without_a_curve_ahead_no_side_is_named),
        CASE(a_lower_limit_is_called_as_one),
        CASE(steeper_is_called_once_before_it),
        CASE(a_bottom_that_is_none_is_said_as_it_eases),
        CASE(flashers_go_on_where_the_road_allows_and_off_again),
        CASE(chain_area_matters_on_ice_only),
        CASE(one_who_stood_on_the_grade_is_briefed_as_he_rolls),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
