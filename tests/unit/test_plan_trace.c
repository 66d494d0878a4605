/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The curve of the brakes against the plan's own figures: two reckonings of one descent. */
#include "talkdown/plan_trace.h"

#include "support/cm.h"
#include "support/hills.h"
#include "support/rigs.h"
#include "support/seed.h"
#include "talkdown/units.h"

enum { ROUNDS = 60, RUNS = 6 }; /* no more pieces than points: each ends at one */
#define SAME_C 3.0 /* the solver steps piece by piece, the curve in tens of metres */

static struct test_hill road;
static struct td_plan_work work;
static struct td_plan plan;
static struct td_plan_point points[TD_PLAN_TRACE_MAX];

static void make_road(struct td_rng *rng)
{
    struct test_run runs[RUNS];
    size_t count = 1 + td_rng_below(rng, RUNS);
    for (size_t i = 0; i < count; i++)
        runs[i] = (struct test_run){50.0 * (double)(6 + td_rng_below(rng, 60)),
                                    td_rng_between(rng, -0.01, 0.1)};
    test_hill_make(&road, runs, count);
    (void)test_hill_sign(&road, TD_PLACE_TRUCK_SPEED, 50, td_mps_from_mph(45));
    (void)test_hill_sign(&road, TD_PLACE_TRUCK_SPEED, road.hill.length_m / 2, td_mps_from_mph(25));
}

static double hottest(size_t count, bool worst, double from_m, double to_m)
{
    double hottest_c = -300;
    for (size_t i = 0; i < count; i++)
        if ((points[i].along_m > from_m + 1e-6 || (i == 0 && points[0].along_m > from_m - 1e-6)) &&
            points[i].along_m <= to_m + 1e-6)
            hottest_c = fmax(hottest_c, worst ? points[i].worst_c : points[i].likely_c);
    return hottest_c;
}

static void assert_near_peak(int round, const char *what, double curve_c, double plan_c)
{
    if (fabs(curve_c - plan_c) > SAME_C)
        fail_msg("round %d: %s curve peaks at %.1f, plan at %.1f degC", round, what, curve_c,
                 plan_c);
}

static void peaks_are_the_plans_own(void **state)
{
    (void)state;
    struct td_rng rng;
    int safe = 0, warmed = 0, several = 0;
    test_seed(&rng, "trace", 5);
    for (int round = 0; round < ROUNDS; round++) {
        struct td_rig rig = test_rig();
        rig.stage_count = td_rng_below(&rng, 3);
        struct td_plan_query query = td_plan_query_default(&rig);
        query.mass_kg = td_rng_between(&rng, 8000, 45000);
        query.credit = (enum td_credit)td_rng_below(&rng, 3);
        query.speak_kmh = td_rng_below(&rng, 2) != 0;
        make_road(&rng);
        td_plan_solve(&road.hill, &rig, &query, &work, &plan);
        size_t count = td_plan_trace(&road.hill, &rig, &query, &plan, &work, points,
                                     TD_PLAN_TRACE_MAX);
        if (!plan.safe) {
            assert_int_equal(count, 0);
            continue;
        }
        safe++;
        for (size_t i = 0; i < plan.descent_count; i++) {
            const struct td_plan_descent *descent = &plan.descents[i];
            double worst_c = hottest(count, true, descent->from_m, descent->to_m);
            assert_near_peak(round, "worst", worst_c, descent->peak_c);
            assert_true(worst_c < rig.brakes.limit_c);
            warmed += worst_c > query.brakes_from_c + 20 ? 1 : 0;
            if (descent->target_mps == plan.target_mps && descent->peak_c == plan.peak_c)
                assert_near_peak(round, "likely",
                                 hottest(count, false, descent->from_m, descent->to_m),
                                 plan.likely_peak_c);
        }
        several += plan.descent_count > 1 ? 1 : 0;
    }
    printf("trace: %d safe, %d of several descents, %d descents warmed\n", safe, several, warmed);
    assert_true(several > ROUNDS / 20);
    assert_true(safe > ROUNDS / 2 && warmed > ROUNDS / 10); /* cold brakes would prove nothing */
}

/* However few points are asked for, the peak stays and the road is covered. */
static void few_points_keep_the_peak(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    rig.stage_count = 0;
    struct td_plan_query query = td_plan_query_default(&rig);
    static const struct test_run runs[] = {{2000, 0.05}, {1500, 0.0}, {3000, 0.06}};
    test_hill_make(&road, runs, 3);
    td_plan_solve(&road.hill, &rig, &query, &work, &plan);
    assert_true(plan.safe);
    size_t all = td_plan_trace(&road.hill, &rig, &query, &plan, &work, points, TD_PLAN_TRACE_MAX);
    double peak_c = hottest(all, true, 0, 1e9);
    for (size_t most = 2; most < all + 3; most++) {
        size_t count = td_plan_trace(&road.hill, &rig, &query, &plan, &work, points, most);
        assert_true(count >= 2 && count <= most);
        assert_near(hottest(count, true, 0, 1e9), peak_c, 1e-9);
        assert_near(points[0].along_m, road.hill.crest_m, 0);
        assert_near(points[count - 1].along_m, road.hill.foot_m, 1e-6);
        for (size_t i = 1; i < count; i++) {
            assert_true(points[i].along_m > points[i - 1].along_m);
            assert_true(points[i].target_mps <= points[i].ceiling_mps + 1e-9);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(peaks_are_the_plans_own),
        cmocka_unit_test(few_points_keep_the_peak),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
