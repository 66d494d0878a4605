/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The descent plan on hills whose answer is known: published curve figures, common practice, signs,
 * policies, refusals. */
#include "support/cm.h"
#include "support/hills.h"
#include "support/rigs.h"
#include "talkdown/forces.h"
#include "talkdown/plan.h"

static struct td_plan_work work;
static struct test_hill road;

static struct td_plan solve(const struct td_rig *rig, const struct td_plan_query *query)
{
    struct td_plan plan;
    td_plan_solve(&road.hill, rig, query, &work, &plan);
    return plan;
}

static const struct td_plan_reason *reason(const struct td_plan *plan,
                                           enum td_plan_reason_kind kind)
{
    for (size_t i = 0; i < plan->reason_count; i++)
        if (plan->reasons[i].kind == kind)
            return &plan->reasons[i];
    return NULL;
}

static void one_grade(double grade, double miles)
{
    struct test_run run = {td_m_from_mi(miles), grade};
    test_hill_make(&road, &run, 1);
}

/* 79,900 lb on 8 % for three miles, trucks posted at 20 mph: a low gear (third or fourth of ten),
 * 15 to 20 mph, the engine in the middle of its band, no use of the service brakes. Common
 * practice, no source. */
static void common_practice(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.08, 3);
    (void)test_hill_sign(&road, TD_PLACE_TRUCK_SPEED, 0, td_mps_from_mph(20));
    struct td_plan plan = solve(&rig, &query);
    assert_true(plan.safe && plan.coached);
    assert_in_range(plan.target_mph, 15, 20);
    assert_in_range(plan.say_mph, 15, 20);
    assert_in_range(plan.gear, 2, 3);
    assert_in_range((int)plan.rpm, 1300, 2050);
    assert_near(plan.brake_share, 0, 1e-9);
    assert_int_equal(plan.limited_by, TD_LIMIT_POSTED);
    assert_true(plan.stage >= 0);
    assert_non_null(reason(&plan, TD_REASON_ENGINE_BRAKE_HOLDS));
    /* Not on the service brakes alone: they would need less than walking pace of a truck. */
    assert_int_equal(plan.without_engine_brake_mph, 0);
    /* Nothing to brake: the brakes only cool. */
    assert_near(plan.peak_c, query.brakes_from_c, 1e-9);
    assert_true(plan.final_c < plan.peak_c);
    /* Empty it may go faster where nothing is posted. */
    road.hill.place_count = 0;
    query.mass_kg = rig.loads[1].mass_kg;
    assert_true(solve(&rig, &query).target_mph > 25);
}

/* Point-mass curves with no superelevation, R = V2 / (15 f) ft: friction of AASHTO by way of the
 * Highway Engineering Handbook, Table 2.6 (0.12 at 60 mph, 0.14 at 50). */
static void curve_speed_is_the_lesser_of_friction_and_rollover(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    assert_near(td_mph_from_mps(td_plan_curve_mps(&rig, TD_ROAD_DRY,
                                                  td_m_from_ft(60 * 60 / (15 * 0.12)))), 60, 0.3);
    assert_near(td_mph_from_mps(td_plan_curve_mps(&rig, TD_ROAD_DRY,
                                                  td_m_from_ft(50 * 50 / (15 * 0.14)))), 50, 0.3);
    /* sqrt(15 R a), threshold 0.35 g less a quarter, R 300 ft: 34.4 mph; the plan stays well
     * under it. */
    double tight = td_mph_from_mps(td_plan_curve_mps(&rig, TD_ROAD_DRY, td_m_from_ft(300)));
    assert_true(tight < 34.4 * 0.9 && tight > 34.4 * 0.7);
    assert_near(td_mph_from_mps(td_plan_curve_mps(&rig, TD_ROAD_WET, td_m_from_ft(300))),
                tight * 2 / 3, 0.01);
    rig.rollover_g = 0.20;
    assert_true(td_mph_from_mps(td_plan_curve_mps(&rig, TD_ROAD_DRY, td_m_from_ft(300))) < tight);
}

static void signs_hold_by_weight_and_from_where_they_stand(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.05, 3);
    (void)test_hill_sign(&road, TD_PLACE_TRUCK_SPEED, 0, td_mps_from_mph(30));
    struct td_place *heavy =
        test_hill_sign(&road, TD_PLACE_TRUCK_SPEED, 10, td_mps_from_mph(20));
    heavy->has |= TD_PLACE_OVER_MASS;
    heavy->over_kg = td_kg_from_lb(65000);
    (void)test_hill_sign(&road, TD_PLACE_TRUCK_SPEED, 3000, td_mps_from_mph(25));
    query.mass_kg = td_kg_from_lb(65000); /* not heavier than the sign says */
    struct td_plan light = solve(&rig, &query);
    assert_near(td_mph_from_mps(td_plan_target_at(&light, 1000)), 30, 1e-6);
    query.mass_kg = td_kg_from_lb(65010);
    struct td_plan plan = solve(&rig, &query);
    assert_near(td_mph_from_mps(td_plan_target_at(&plan, 1000)), 20, 1e-6);
    assert_near(td_mph_from_mps(td_plan_target_at(&plan, 2999)), 20, 1e-6);
    assert_near(td_mph_from_mps(td_plan_target_at(&plan, 3101)), 25, 1e-6);
    assert_near(td_mph_from_mps(td_plan_target_at(&plan, 1e6)), 25, 1e-6);
    assert_int_equal(plan.target_mph, 20);
    const struct td_plan_reason *posted = reason(&plan, TD_REASON_POSTED);
    assert_non_null(posted);
    assert_near(posted->at_m, 10, 1e-9);
}

static void a_curve_lowers_its_stretch(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    query.mass_kg = rig.loads[1].mass_kg;
    one_grade(0.05, 3);
    road.hill.curve_count = 1;
    road.hill.curves[0] = (struct td_curve){2500, 2580, 35, TD_SIDE_LEFT};
    struct td_plan plan = solve(&rig, &query);
    double curve_mps = td_plan_curve_mps(&rig, TD_ROAD_DRY, 35);
    assert_near(td_plan_target_at(&plan, 2540), curve_mps, 1e-9);
    assert_true(td_plan_target_at(&plan, 100) > curve_mps + 1);
    assert_true(td_plan_target_at(&plan, 4500) > curve_mps + 1);
    assert_int_equal(plan.limited_by, TD_LIMIT_CURVE);
    assert_true(plan.brake_share > 0); /* slowing for it is the service brakes' work */
    /* Nobody speeds up on a grade for less than a mile: two bends that near are one stretch. */
    road.hill.curve_count = 2;
    road.hill.curves[1] = (struct td_curve){3500, 3580, 35, TD_SIDE_RIGHT};
    plan = solve(&rig, &query);
    assert_near(td_plan_target_at(&plan, 3000), curve_mps, 1e-9);
    road.hill.curve_count = 1;
    /* An advisory plate below what the geometry says takes its place. */
    (void)test_hill_sign(&road, TD_PLACE_CURVE_SPEED, 2490, td_mps_from_mph(10));
    plan = solve(&rig, &query);
    assert_near(td_mph_from_mps(td_plan_target_at(&plan, 2540)), 10, 1e-9);
    assert_int_equal(plan.say_mph, 10);
}

static void policy_and_bans_take_the_engine_brake_away(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.05, 3);
    struct td_plan with = solve(&rig, &query);
    query.credit = TD_CREDIT_FULL;
    assert_true(solve(&rig, &query).target_mps >= with.target_mps);
    query.credit = TD_CREDIT_NONE;
    struct td_plan none = solve(&rig, &query);
    assert_true(none.safe);
    assert_int_equal(none.target_mph, with.without_engine_brake_mph);
    assert_int_equal(none.without_engine_brake_mph, with.without_engine_brake_mph);
    assert_true(none.target_mps < with.target_mps);
    assert_true(none.stage >= 0); /* used all the same, only not counted on */
    query.credit = TD_CREDIT_CAUTIOUS;
    query.stage_most = -1;
    struct td_plan broken = solve(&rig, &query);
    assert_int_equal(broken.stage, -1);
    assert_near(broken.target_mps, none.target_mps, 0);
    query.stage_most = 1;
    (void)test_hill_sign(&road, TD_PLACE_ENGINE_BRAKE_BAN, 0, 0); /* to the foot */
    struct td_plan banned = solve(&rig, &query);
    assert_near(banned.target_mps, none.target_mps, 0);
}

static void ice_and_hopeless_loads_are_refused(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.05, 2);
    query.road = TD_ROAD_ICE;
    struct td_plan plan = solve(&rig, &query);
    assert_false(plan.safe);
    assert_int_equal(plan.gear, -1);
    assert_int_equal(plan.target_mph, 0);
    assert_int_equal(plan.reason_count, 1);
    assert_non_null(reason(&plan, TD_REASON_ICE_NO_CHAINS));
    query.road = TD_ROAD_DRY;
    rig.stage_count = 0;
    query.stage_most = 5; /* more than it has: counts as none */
    query.mass_kg = 120000;
    one_grade(0.14, 9);
    plan = solve(&rig, &query);
    assert_false(plan.safe);
    assert_int_equal(plan.without_engine_brake_mph, 0);
    assert_non_null(reason(&plan, TD_REASON_NOTHING_ALLOWED));
    assert_non_null(reason(&plan, TD_REASON_HEAT));
    assert_true(reason(&plan, TD_REASON_HEAT)->value > rig.brakes.limit_c - 60);
    assert_int_equal(plan.stretch_count, 0);
    assert_near(td_plan_target_at(&plan, 10), 0, 0);
}

/* What no check should have let through must not come out as safe. */
static void nonsense_is_never_safe(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.06, 2);
    query.mass_kg = (double)NAN;
    assert_false(solve(&rig, &query).safe);
    query = td_plan_query_default(&rig);
    query.brakes_from_c = (double)NAN;
    assert_false(solve(&rig, &query).safe);
    query = td_plan_query_default(&rig);
    road.stations[0].downgrade_ratio = (double)NAN;
    assert_false(solve(&rig, &query).safe);
    one_grade(0.06, 2);
    road.hill.foot_m = road.hill.crest_m;
    assert_false(solve(&rig, &query).safe);
}

static void wet_never_raises_the_target(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.07, 4);
    for (size_t load = 0; load < rig.load_count; load++) {
        query.mass_kg = rig.loads[load].mass_kg;
        query.road = TD_ROAD_DRY;
        struct td_plan dry = solve(&rig, &query);
        query.road = TD_ROAD_WET;
        struct td_plan wet = solve(&rig, &query);
        assert_true(wet.target_mps <= dry.target_mps + 1e-9);
        if (wet.stage >= 0) /* what the drive wheels of a wet road can pass on */
            assert_true(td_force_engine_n(&rig, wet.gear, wet.stage, 1, wet.target_mps) <=
                        0.16 * 9.80665 * query.mass_kg);
    }
}

static void what_is_spoken_is_rounded_down(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.05, 2);
    query.credit = TD_CREDIT_NONE;
    struct td_plan plan = solve(&rig, &query);
    assert_true(plan.safe);
    assert_int_equal(plan.say_mph % 5, 0);
    assert_true(plan.say_mph <= plan.target_mph && plan.target_mph - plan.say_mph < 5);
    assert_true(plan.target_mph <= td_mph_from_mps(plan.target_mps));
    assert_near(plan.rpm, td_rig_rpm(&rig, (size_t)plan.gear, td_mps_from_mph(plan.say_mph)), 1e-6);
    query.speak_kmh = true;
    plan = solve(&rig, &query);
    assert_int_equal(plan.say_kmh % 5, 0);
    assert_true(plan.say_kmh <= td_kmh_from_mps(plan.target_mps));
    assert_near(plan.rpm, td_rig_rpm(&rig, (size_t)plan.gear, td_mps_from_kmh(plan.say_kmh)), 1e-6);
}

static void a_gentle_hill_needs_no_plan(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    one_grade(0.02, 2);
    road.hill.coached = false;
    struct td_plan plan = solve(&rig, &query);
    assert_true(plan.safe);
    assert_false(plan.coached);
}

/* A road with more changes of speed than stretches still gets a plan that is nowhere too fast. */
static void many_curves_fit_and_stay_slow(void **state)
{
    (void)state;
    struct td_rig rig = test_rig();
    struct td_plan_query query = td_plan_query_default(&rig);
    query.mass_kg = rig.loads[1].mass_kg;
    one_grade(0.05, 25);
    for (size_t i = 0; i < 80; i++) {
        double at_m = 250 + 500.0 * (double)i;
        road.hill.curves[road.hill.curve_count++] =
            (struct td_curve){at_m, at_m + 50, 30 + (double)(i % 7) * 10, TD_SIDE_LEFT};
    }
    struct td_plan plan = solve(&rig, &query);
    assert_true(plan.safe);
    assert_true(plan.stretch_count <= TD_PLAN_STRETCHES_MAX);
    for (size_t i = 0; i < road.hill.curve_count; i++) {
        double most = td_plan_curve_mps(&rig, TD_ROAD_DRY, road.hill.curves[i].radius_m);
        assert_true(td_plan_target_at(&plan, road.hill.curves[i].from_m + 25) <= most + 1e-9);
    }
    for (size_t i = 1; i < plan.stretch_count; i++)
        assert_near(plan.stretches[i].from_m, plan.stretches[i - 1].to_m, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(common_practice),
        cmocka_unit_test(curve_speed_is_the_lesser_of_friction_and_rollover),
        cmocka_unit_test(signs_hold_by_weight_and_from_where_they_stand),
        cmocka_unit_test(a_curve_lowers_its_stretch),
        cmocka_unit_test(policy_and_bans_take_the_engine_brake_away),
        cmocka_unit_test(ice_and_hopeless_loads_are_refused),
        cmocka_unit_test(nonsense_is_never_safe),
        cmocka_unit_test(wet_never_raises_the_target),
        cmocka_unit_test(what_is_spoken_is_rounded_down),
        cmocka_unit_test(a_gentle_hill_needs_no_plan),
        cmocka_unit_test(many_curves_fit_and_stay_slow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
