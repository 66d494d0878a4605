/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Published figures of the road: the hill warrant and the advance placement of warning signs
 * (MUTCD 11th edition, read in a transcription of the California MUTCD of 2026, which keeps the
 * federal section numbers), side friction and rollover on curves. */
#include "support/cm.h"
#include "support/cue_bench.h"
#include "support/rigs.h"
#include "support/road.h"
#include "talkdown/plan.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct road road;
static struct cue_bench bench;
static struct td_wishes wishes;

/* Level road, one grade, level road; coached or not. */
static bool coached(double grade, double length_ft)
{
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
    road_add(&road, 1500, 0, 0.0, 20);
    road_add(&road, td_m_from_ft(length_ft), 0, grade, 10);
    road_add(&road, 1500, 0, 0.0, 20);
    road_done(&road);
    return road.hill.coached;
}

static double shortest_coached_ft(double grade, double from_ft)
{
    double length_ft = from_ft;
    while (length_ft < 20000 && !coached(grade, length_ft))
        length_ft += 20;
    return length_ft;
}

/* Section 2C.14: a hill sign in advance of downgrades of 5 % over 3,000 ft, 6 % over 2,000, 7 %
 * over 1,000, 8 % over 750, 9 % over 500. Met late by no more than the smoothing window (240 m)
 * takes from the ends of a short grade: 400 ft of length at the most. */
static void the_hill_warrant(void **state)
{
    (void)state;
    static const struct {
        double grade, length_ft;
    } pairs[] = {{.05, 3000}, {.06, 2000}, {.07, 1000}, {.08, 750}, {.09, 500}};
    for (size_t i = 0; i < COUNT(pairs); i++) {
        double from_ft = shortest_coached_ft(pairs[i].grade, 0.8 * pairs[i].length_ft);
        printf("published_road: %.0f %% warranted over %.0f ft, coached from %.0f ft\n",
               pairs[i].grade * 100, pairs[i].length_ft, from_ft);
        assert_true(from_ft <= pairs[i].length_ft + 400);
        assert_true(from_ft >= 0.85 * pairs[i].length_ft);
        /* Longer and steeper is warranted all the more. */
        assert_true(coached(pairs[i].grade, 2 * pairs[i].length_ft + 525));
        assert_true(coached(pairs[i].grade + 0.005, pairs[i].length_ft + 525));
        /* Clearly below the pair in both, and below every other pair. */
        assert_false(coached(pairs[i].grade - 0.006, 0.9 * pairs[i].length_ft));
    }
    assert_true(coached(0.12, 1025)); /* "steeper grades" beyond the table */
    assert_false(coached(0.03, 9000));
}

/* Table 2C-3 of the 11th edition (2C-4 of 2009), feet from the sign to the place: condition A (high
 * judgement) and B (slowing to the speed at the column's head, from 0 to 70 mph); 0: none. The
 * column of 80 mph is left out: no plan goes so fast. */
static const struct {
    double mph, a_ft, b_ft[8];
} placement[] = {
    {20, 225, {115}},
    {25, 325, {155}},
    {30, 460, {200}},
    {35, 565, {250}},
    {40, 670, {305, 100, 100}},
    {45, 775, {360, 125, 100, 100}},
    {50, 885, {425, 200, 175, 125, 100}},
    {55, 990, {495, 275, 225, 200, 125}},
    {60, 1100, {570, 350, 325, 275, 200, 100}},
    {65, 1200, {645, 450, 400, 350, 275, 200, 100}},
    {70, 1250, {730, 525, 500, 450, 375, 275, 150}},
    {75, 1350, {820, 625, 600, 550, 475, 375, 250, 100}},
    {80, 1475, {910, 725, 700, 625, 550, 450, 350, 200}},
    {85, 1600, {1010, 825, 800, 750, 675, 575, 450, 300}},
};
/* A driver reads the sign so far before he reaches it (notes of the table); a spoken warning is
 * heard where it ends, so that this comes on top. */
#define LEGIBLE_B_FT 250.0
#define LEGIBLE_A_FT 180.0

/* Drives towards `to_m` at a steady speed, in steps of 8 m, until the prompt is wished for; feet
 * from the end of its words to the place. -1: never said. */
static double lead_ft(enum td_prompt_id id, double from_m, double to_m, double mph)
{
    double mps = td_mps_from_mph(mph);
    for (double at_m = from_m; at_m < to_m; at_m += 8.0) {
        cue_bench_at(&bench, at_m, mps);
        if (cue_bench_wish(&bench, id, &wishes) != NULL)
            return td_ft_from_m(to_m - at_m) - td_ft_from_m(mps * CUE_SAY_MS * 1e-3);
    }
    return -1;
}

static void plan_for(double target_mph)
{
    cue_bench_init(&bench);
    struct td_plan *plan = &bench.plan;
    plan->target_mps = plan->descents[0].target_mps = plan->stretches[0].target_mps =
        td_mps_from_mph(target_mph);
    plan->target_mph = plan->say_mph = (int)target_mph;
    plan->descents[0].target_mph = plan->descents[0].say_mph = (int)target_mph;
    plan->gear = plan->descents[0].gear = 9; /* fits every speed of the table */
}

/* "Slow to ... before the grade" for every pair of speeds in the table. */
static void the_call_to_slow_comes_before_the_signs_place(void **state)
{
    (void)state;
    int pairs = 0;
    double least = 1e9;
    for (size_t i = 0; i < COUNT(placement); i++)
        for (int to = 1; to < 8 && 10 * to < placement[i].mph; to++) {
            double table_ft = placement[i].b_ft[to];
            plan_for(10.0 * to);
            double ft = lead_ft(TD_PROMPT_SLOW_FOR_GRADE, 100, 3000, placement[i].mph);
            if (ft < table_ft + LEGIBLE_B_FT)
                fail_msg("%g to %d mph: %.0f ft, the table has %g + 250", placement[i].mph, 10 * to,
                         ft, table_ft);
            least = fmin(least, ft / (table_ft + LEGIBLE_B_FT));
            pairs++;
        }
    printf("published_road: %d pairs of speeds, least spoken lead %.2f of the table's\n", pairs,
           least);
}

/* A lower ceiling ahead on the grade itself, for a curve or a sign, by the same table. */
static void the_lower_ceiling_comes_before_the_signs_place(void **state)
{
    (void)state;
    double least = 1e9;
    for (size_t i = 0; i < COUNT(placement); i++)
        for (int to = 1; to < 8 && 10 * to < placement[i].mph; to++) {
            plan_for(10.0 * to);
            double mps = td_mps_from_mph(placement[i].mph);
            bench.plan.stretch_count = 2;
            bench.plan.stretches[0] =
                (struct td_plan_stretch){3000, 7000, 0.06, mps, TD_LIMIT_POSTED};
            bench.plan.stretches[1] = (struct td_plan_stretch){
                7000, 8000, 0.06, td_mps_from_mph(10.0 * to), TD_LIMIT_CURVE};
            cue_bench_at(&bench, 3100, mps);
            (void)cue_bench_wish(&bench, TD_PROMPT_CEILING, &wishes); /* that of the crest */
            double ft = lead_ft(TD_PROMPT_CURVE, 3200, 7000, placement[i].mph);
            double needs_ft = placement[i].b_ft[to] + LEGIBLE_B_FT;
            if (ft < needs_ft)
                fail_msg("%g to %d mph: %.0f ft, the table has %.0f", placement[i].mph, 10 * to, ft,
                         needs_ft);
            least = fmin(least, ft / needs_ft);
        }
    printf("published_road: least lead of a lower ceiling %.2f of the table's\n", least);
}

/* Condition B to a stop: the refusal that a driver hears last before the crest. */
static void the_refusal_leaves_room_to_stop(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(placement); i++) {
        plan_for(20);
        bench.plan.safe = false;
        bench.visit.said |= TD_SAID_HILL | TD_SAID_NO_GO_FAR;
        double ft = lead_ft(TD_PROMPT_NO_GO, 100, 3000, placement[i].mph);
        if (ft < placement[i].b_ft[0] + LEGIBLE_A_FT)
            fail_msg("stop from %g mph: %.0f ft, the table has %g + 180", placement[i].mph, ft,
                     placement[i].b_ft[0]);
    }
}

/* Condition A: a gear has to be chosen. */
static void the_gear_is_called_before_the_place_of_a_judgement_sign(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(placement); i++) {
        plan_for(20);
        double ft = lead_ft(TD_PROMPT_GEAR, 100, 3000, placement[i].mph);
        if (ft < placement[i].a_ft + LEGIBLE_A_FT)
            fail_msg("gear at %g mph: %.0f ft, the table has %g + 180", placement[i].mph, ft,
                     placement[i].a_ft);
    }
}

/* Side friction: Highway Engineering Handbook, Table 2.6, adapted from AASHTO; 15, 25, 35, 45 and
 * 75 mph from memory (high confidence). */
static const struct {
    double mph, f;
} friction[] = {{15, .32}, {20, .27}, {25, .23}, {30, .20}, {35, .18}, {40, .16}, {45, .15},
                {50, .14}, {55, .13}, {60, .12}, {65, .11}, {70, .10}, {75, .09}};

/* Speed of the plan on a level curve, mph, with a rig that does not tip before it slides. */
static double curve_mph(double radius_ft, double rollover_g)
{
    struct td_rig rig = test_rig();
    rig.rollover_g = rollover_g;
    return td_mph_from_mps(td_plan_curve_mps(&rig, TD_ROAD_DRY, td_m_from_ft(radius_ft)));
}

/* e + f = V2 / (15 R), mph and feet; 15 is rounded from 14.94. e = 0: superelevation is not counted
 * on, which is ours. */
static void level_curves_are_held_by_side_friction(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT(friction); i++) {
        double radius_ft = friction[i].mph * friction[i].mph / (15 * friction[i].f);
        assert_near(curve_mph(radius_ft, 1), friction[i].mph, 0.01 + 0.002 * friction[i].mph);
        /* In metres and km/h: e + f = V2 / (127 R). */
        double kmh = friction[i].mph * 1.609344, radius_m = kmh * kmh / (127 * friction[i].f);
        assert_near(curve_mph(td_ft_from_m(radius_m), 1), friction[i].mph, 0.05);
    }
    /* Between the rows, by another solution of the same two lines. */
    for (double radius_ft = 60; radius_ft < 3500; radius_ft *= 1.07) {
        double mph = curve_mph(radius_ft, 1), f = 0;
        for (size_t i = 1; i < COUNT(friction); i++)
            if (mph >= friction[i - 1].mph && mph <= friction[i].mph)
                f = friction[i - 1].f + (friction[i].f - friction[i - 1].f) *
                                            (mph - friction[i - 1].mph) /
                                            (friction[i].mph - friction[i - 1].mph);
        double mps = td_mps_from_mph(mph);
        if (f > 0 && mph < 74.9)
            assert_near(mps * mps / (TD_GRAVITY_MPS2 * td_m_from_ft(radius_ft)), f, 1e-9);
    }
}

/* Worked examples, with superelevation: 70 mph, 8 %, .10: 1,814.8 ft (read); 100 km/h, 8 %, .12:
 * about 394 m (ERA manual of 2002, read); 60/6 %/.12 1,333.3 ft, 50/6 %/.14 833.3, 40/6 %/.16
 * 484.8, 30/6 %/.20 230.8 (computed). The plan never goes as fast there, since it counts on no
 * banking. */
static void worked_curves_are_taken_slower_than_designed(void **state)
{
    (void)state;
    static const struct {
        double mph, e, f, radius_ft;
    } rows[] = {{70, .08, .10, 1814.8}, {62.137, .08, .12, 394 * 3.28084}, {60, .06, .12, 1333.3},
                {50, .06, .14, 833.3},  {40, .06, .16, 484.8},             {30, .06, .20, 230.8}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        assert_near(rows[i].mph * rows[i].mph / (15 * (rows[i].e + rows[i].f)), rows[i].radius_ft,
                    0.005 * rows[i].radius_ft);
        double mph = curve_mph(rows[i].radius_ft, 1);
        assert_true(mph < rows[i].mph);
        /* And not by more than the banking it leaves out is worth. */
        assert_true(mph > rows[i].mph * sqrt(rows[i].f / (rows[i].e + rows[i].f)) - 0.2);
    }
}

/* Rollover: sqrt(15 R (e + a)), computed, with a threshold of .35 g (7 of 17 loaded tank trucks
 * were under it, 14 under .40; Billing and Patten, NRC Canada); the dynamic threshold is "about 25%
 * lower" (SAE 2003-01-3385). The plan keeps .7 of what is left, e = 0: both are ours. */
static void curves_stay_well_under_the_rollover_speed(void **state)
{
    (void)state;
    static const struct {
        double radius_ft, e, static_mph, dynamic_mph;
    } rows[] = {{300, .04, 41.9, 36.9}, {500, .06, 55.5, 49.2}, {800, .06, 70.1, 62.2},
                {1000, .08, 80.3, 71.7}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        double a = 0.35;
        assert_near(sqrt(15 * rows[i].radius_ft * (rows[i].e + a)), rows[i].static_mph, 0.06);
        assert_near(sqrt(15 * rows[i].radius_ft * (rows[i].e + 0.75 * a)), rows[i].dynamic_mph,
                    0.06);
        double mph = curve_mph(rows[i].radius_ft, a);
        assert_true(mph <= rows[i].dynamic_mph * 0.85);
        assert_true(mph <= sqrt(15 * rows[i].radius_ft * a * 0.75 * 0.7));
    }
    /* The worst loaded rigs (0.25 g, from memory) are held by tipping, not sliding. */
    for (double radius_ft = 100; radius_ft < 900; radius_ft += 100)
        assert_near(curve_mph(radius_ft, 0.25),
                    sqrt(14.943 * radius_ft * 0.25 * 0.75 * 0.7), 0.05);
}

/* TxDOT sets advisory speeds at .15 from 35 mph, .18 from 20 to 35 and .31 below (read), banking
 * counted. The plan's friction is higher between 35 and 45 mph and counts no banking: on a curve
 * banked 4 % it is never above the advisory speed; on a flat one by at most 3 mph. */
static void advisory_speeds_are_not_passed_on_banked_curves(void **state)
{
    (void)state;
    double most_mph = 0;
    for (double radius_ft = 60; radius_ft < 2500; radius_ft += 10) {
        double mph = curve_mph(radius_ft, 0.35);
        double f = mph >= 35 ? .15 : mph > 20 ? .18 : .31;
        assert_true(mph <= sqrt(15 * radius_ft * (f + 0.04)));
        most_mph = fmax(most_mph, mph - sqrt(15 * radius_ft * f));
    }
    printf("published_road: at most %.1f mph above a flat curve's advisory speed\n", most_mph);
    assert_true(most_mph < 3.2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_hill_warrant),
        cmocka_unit_test(the_call_to_slow_comes_before_the_signs_place),
        cmocka_unit_test(the_lower_ceiling_comes_before_the_signs_place),
        cmocka_unit_test(the_refusal_leaves_room_to_stop),
        cmocka_unit_test(the_gear_is_called_before_the_place_of_a_judgement_sign),
        cmocka_unit_test(level_curves_are_held_by_side_friction),
        cmocka_unit_test(worked_curves_are_taken_slower_than_designed),
        cmocka_unit_test(curves_stay_well_under_the_rollover_speed),
        cmocka_unit_test(advisory_speeds_are_not_passed_on_banked_curves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
