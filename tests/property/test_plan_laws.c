/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Laws of the descent plan on random hills and rigs. */
#include "support/cm.h"
#include "support/descent.h"
#include "support/hills.h"
#include "support/rig_retarder.h"
#include "support/seed.h"

enum { ROUNDS = 400, RUNS = 12 };
/* Stations cut the road finer than the plan's 50 m: a heavy truck's brakes make 12 degC over that
 * on 10 %, and a change of grade within it may hide a part. */
#define SAME_C 1.5

static struct td_plan_work work;
static struct test_hill road, other;

struct draw {
    struct td_rig rig;
    struct td_plan_query query;
    struct test_run runs[RUNS + 1];
    size_t run_count;
    bool bends;
};

static struct draw draw(struct td_rng *rng, bool bends)
{
    bool retards = td_rng_below(rng, 4) == 0, breaks = td_rng_below(rng, 3) == 0;
    struct draw d = {.rig = retards ? test_rig_with_retarder() : test_rig(), .bends = bends};
    d.rig.stage_count = retards ? 3 + td_rng_below(rng, 2) : td_rng_below(rng, 3);
    d.rig.brakes.missing_ratio = td_rng_between(rng, 0, 0.4);
    d.rig.rpm_most = td_rng_between(rng, 1700, 2300);
    d.rig.drag_area_m2 = td_rng_between(rng, 3, 9);
    d.query = td_plan_query_default(&d.rig);
    d.query.mass_kg = td_rng_between(rng, 8000, 60000);
    d.query.credit = (enum td_credit)td_rng_below(rng, 3);
    d.query.ambient_c = td_rng_between(rng, -10, 45);
    d.query.brakes_from_c = d.query.ambient_c + td_rng_between(rng, 0, 120);
    d.query.speak_kmh = td_rng_below(rng, 2) != 0;
    d.run_count = 1 + td_rng_below(rng, RUNS);
    for (size_t i = 0; i < d.run_count; i++)
        d.runs[i] = (struct test_run){50.0 * (double)(6 + td_rng_below(rng, 50)),
                                      td_rng_between(rng, -0.02, 0.13)};
    for (size_t i = 1; i < d.run_count && breaks; i += 1 + td_rng_below(rng, 4))
        d.runs[i] = (struct test_run){50.0 * (double)(20 + td_rng_below(rng, 80)),
                                      td_rng_between(rng, -0.02, 0.02)};
    /* A foot is where the last downgrade ends. */
    struct test_run *foot = &d.runs[d.run_count - 1];
    foot->downgrade_ratio = fmax(foot->downgrade_ratio, 0.03);
    return d;
}

/* The hill of a draw, with the same bends and signs each time it is made. */
static void make(const struct draw *d, struct test_hill *made)
{
    test_hill_make(made, d->runs, d->run_count);
    if (!d->bends)
        return;
    for (size_t i = 0; i + 1 < d->run_count; i++) {
        double at_m = 300 + 700.0 * (double)i;
        if (at_m > made->hill.length_m - 200)
            break;
        made->hill.curves[made->hill.curve_count++] =
            (struct td_curve){at_m, at_m + 60, 25 + 40.0 * (double)(i % 5), TD_SIDE_RIGHT};
    }
    struct td_place *sign = test_hill_sign(made, TD_PLACE_TRUCK_SPEED, 50, td_mps_from_mph(35));
    sign->has |= TD_PLACE_OVER_MASS;
    sign->over_kg = 25000;
}

static struct td_plan solve(const struct draw *d, struct test_hill *made)
{
    struct td_plan plan;
    make(d, made);
    td_plan_solve(&made->hill, &d->rig, &d->query, &work, &plan);
    return plan;
}

static void assert_not_raised(const char *law, int round, const struct td_plan *before,
                              const struct td_plan *after)
{
    if (after->safe && !before->safe)
        fail_msg("%s, round %d: made an unsafe hill safe", law, round);
    if (after->safe && after->target_mps > before->target_mps + 1e-9)
        fail_msg("%s, round %d: raised the target from %.4f to %.4f m/s", law, round,
                 before->target_mps, after->target_mps);
    if (after->without_engine_brake_mph > before->without_engine_brake_mph)
        fail_msg("%s, round %d: raised the figure without engine brake", law, round);
}

/* More weight, steeper, longer, hotter: the target never rises (dry road). Runs are whole pieces of
 * the plan (50 m) long: a piece across two runs has their mean grade, which a longer road
 * alters. */
static void worse_never_raises_the_target(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "plan_laws", 20310517);
    int lowered = 0, parted = 0;
    for (int round = 0; round < ROUNDS; round++) {
        struct draw d = draw(&rng, round % 2 != 0);
        struct td_plan before = solve(&d, &road);
        struct draw heavier = d, steeper = d, longer = d, hotter = d, started = d;
        heavier.query.mass_kg *= td_rng_between(&rng, 1, 1.4);
        double more = td_rng_between(&rng, 0, 0.02);
        for (size_t i = 0; i < d.run_count; i++)
            steeper.runs[i].downgrade_ratio += more;
        longer.runs[longer.run_count++] = (struct test_run){td_rng_between(&rng, 100, 4000),
                                                            td_rng_between(&rng, 0.03, 0.10)};
        longer.bends = d.bends = false;
        hotter.query.ambient_c += td_rng_between(&rng, 0, 20);
        started.query.brakes_from_c += td_rng_between(&rng, 0, 60);
        struct td_plan plain = solve(&d, &road);
        struct td_plan after = solve(&heavier, &other);
        assert_not_raised("weight", round, &before, &after);
        parted += before.descent_count > 1;
        lowered += after.target_mps < before.target_mps - 1e-9;
        after = solve(&steeper, &other);
        assert_not_raised("grade", round, &before, &after);
        after = solve(&longer, &other);
        assert_not_raised("length", round, &plain, &after);
        after = solve(&hotter, &other);
        assert_not_raised("air", round, &before, &after);
        after = solve(&started, &other);
        assert_not_raised("brakes", round, &before, &after);
    }
    printf("plan_laws: %d of %d plans have several descents\n", parted, ROUNDS);
    /* The laws were put to the test at all. */
    assert_true(lowered > ROUNDS / 20 && parted > ROUNDS / 20);
}

struct held {
    const struct td_plan *plan;
    const struct td_hill *hill;
    enum { AS_TARGET, AS_SPOKEN } how;
    bool kmh;
    struct test_pace steady;
};

static double round_down(double mps, bool kmh)
{
    double unit = kmh ? TD_MPS_PER_KMH : TD_MPS_PER_MPH, whole = mps / unit + 1e-6;
    double rounded = whole >= 5 ? floor(whole / 5) * 5 : floor(whole);
    return rounded >= 1 ? rounded * unit : mps;
}

static struct test_pace plan_pace(const void *of, double along_m)
{
    const struct held *held = of;
    const struct td_plan_descent *descent = td_plan_descent_at(held->plan, along_m);
    double mps = td_plan_target_at(held->plan, along_m);
    if (along_m < descent->from_m)
        return (struct test_pace){mps, -1, -1, true};
    return (struct test_pace){held->how == AS_SPOKEN ? round_down(mps, held->kmh) : mps,
                              descent->gear, descent->stage, false};
}

/* A driver who obeys never passes the brake limit, with a stop to spare, even when the engine brake
 * then fails; the engine stays in its band; nobody is told more than posted or than a bend
 * takes. */
static void who_obeys_stays_under_the_limit(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "plan_laws", 20310518);
    int safe = 0;
    for (int round = 0; round < ROUNDS; round++) {
        struct draw d = draw(&rng, round % 2 != 0);
        struct td_plan plan;
        for (size_t i = 0; i < d.run_count; i++)
            d.runs[i].length_m += td_rng_between(&rng, 0, 50);
        make(&d, &road);
        test_hill_smooth(&road, 4);
        td_plan_solve(&road.hill, &d.rig, &d.query, &work, &plan);
        if (!plan.safe)
            continue;
        safe++;
        struct held held = {.plan = &plan, .kmh = d.query.speak_kmh};
        for (int how = AS_TARGET; how <= AS_SPOKEN; how++) {
            held.how = how == AS_TARGET ? AS_TARGET : AS_SPOKEN;
            struct test_descent seen =
                test_descend(&road.hill, &d.rig, &d.query, plan_pace, &held);
            double peak_c = d.query.brakes_from_c;
            for (size_t i = 0; i < plan.descent_count; i++)
                peak_c = fmax(peak_c, plan.descents[i].peak_c);
            if (seen.peak_c > peak_c + SAME_C)
                fail_msg("round %d: %.2f degC where the plan has %.2f", round, seen.peak_c, peak_c);
            if (seen.worst_c > d.rig.brakes.limit_c + SAME_C)
                fail_msg("round %d: %.2f degC with a stop, limit %.2f", round, seen.worst_c,
                         d.rig.brakes.limit_c);
            assert_true(seen.break_peak_c <= d.rig.brakes.limit_c);
            assert_true(seen.failure_c <= d.rig.brakes.limit_c + SAME_C);
            for (double at_m = 10; at_m < road.hill.length_m; at_m += 50) {
                struct test_pace pace = plan_pace(&held, at_m);
                double rpm = pace.in_break ? d.rig.rpm_best
                                           : td_rig_rpm(&d.rig, (size_t)pace.gear, pace.mps);
                assert_true(rpm <= d.rig.rpm_most + 0.1 && rpm >= d.rig.rpm_least - 0.1);
            }
        }
        for (size_t i = 0; i < road.hill.curve_count; i++)
            assert_true(td_plan_target_at(&plan, road.hill.curves[i].from_m) <=
                        td_plan_curve_mps(&d.rig, d.query.road, road.hill.curves[i].radius_m) +
                            1e-9);
    }
    assert_true(safe > ROUNDS / 4);
}

static struct test_pace steady_pace(const void *of, double along_m)
{
    (void)along_m;
    return ((const struct held *)of)->steady;
}

/* On the brakes alone at this and at every slower speed that is no crawl, in the best gear. */
static bool alone_would_do(const struct draw *d, double cruise_mps)
{
    for (double v = td_mps_from_mph(TD_PLAN_CRAWL_MPH); v < cruise_mps; v += 0.2) {
        bool fits = false;
        for (int gear = 0; gear < (int)d->rig.gear_count && !fits; gear++) {
            struct held held = {.steady = {v, gear, -1, false}};
            double rpm = td_rig_rpm(&d->rig, (size_t)gear, v);
            fits = rpm <= d->rig.rpm_most && rpm >= d->rig.rpm_least &&
                   test_descend(&road.hill, &d->rig, &d->query, steady_pace, &held)
                           .worst_c <= d->rig.brakes.limit_c - 2;
        }
        if (!fits)
            return false;
    }
    return true;
}

/* Whether the second opinion would let it go, with two degrees of doubt of its own: held by the
 * engine, or on the brakes alone no faster than it climbs and no crawl, or with the brakes in
 * ordinary use. */
static bool would_go(const struct draw *d, int gear, int stage, double v)
{
    if (v < td_mps_from_mph(TD_PLAN_LEAST_MPH) - 1e-9)
        return false;
    double limit_c = d->rig.brakes.limit_c - 2, grade = road.hill.steepest_downgrade_ratio;
    struct held with_it = {.steady = {v, gear, stage, false}};
    struct held without = {.steady = {v, gear, -1, false}};
    struct held in_neutral = {.steady = {v, -1, -1, false}};
    struct test_descent with =
        test_descend(&road.hill, &d->rig, &d->query, steady_pace, &with_it);
    struct test_descent off = test_descend(&road.hill, &d->rig, &d->query, steady_pace, &without);
    struct test_descent free =
        test_descend(&road.hill, &d->rig, &d->query, steady_pace, &in_neutral);
    if (with.worst_c > limit_c || (stage >= 0 && with.failure_c > limit_c))
        return false;
    struct td_forces f = td_forces_at(&d->rig, d->query.mass_kg, gear, stage,
                                      td_plan_credit_ratio(d->query.credit), grade, v);
    bool held_back = stage >= 0 && d->query.credit != TD_CREDIT_NONE &&
                     f.engine_n >= 1.1 * (f.pull_n - f.rolling_n - f.air_n);
    bool climbs = td_rig_drive_power_w(&d->rig) * d->rig.driveline_ratio >=
                  (f.pull_n + f.rolling_n) * v;
    return held_back || free.peak_c <= TD_PLAN_NORMAL_C - 2 ||
           (climbs && v >= td_mps_from_mph(TD_PLAN_CRAWL_MPH) &&
            ((with.peak_c <= TD_PLAN_NORMAL_C - 2 &&
              v <= td_mps_from_mph(TD_PLAN_ASSISTED_MPH)) ||
             (off.worst_c <= limit_c && alone_would_do(d, v))));
}

static void assert_every_trial_fails(const struct draw *d)
{
    static const double speeds[] = {1, 2, 3, 4, 5, 10, 15, 20, 25, 30, 40, 50, 60, 70};
    double unit = d->query.speak_kmh ? TD_MPS_PER_KMH : TD_MPS_PER_MPH;
    for (size_t s = 0; s < sizeof speeds / sizeof speeds[0]; s++)
        for (int gear = 0; gear < (int)d->rig.gear_count; gear++) {
            double rpm = td_rig_rpm(&d->rig, (size_t)gear, speeds[s] * unit);
            if (rpm > d->rig.rpm_most || rpm < d->rig.rpm_least)
                continue;
            for (int stage = -1; stage < (int)d->rig.stage_count; stage++)
                if (would_go(d, gear, stage, speeds[s] * unit))
                    fail_msg("gear %d, stage %d, %.0f would do", gear, stage, speeds[s]);
        }
}

/* "No" is said only when every gear, stage and speed really fails: each is tried by the second
 * opinion, with two degrees of doubt. Straight roads, so that speeds are steady. */
static void no_is_said_only_when_everything_fails(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "plan_laws", 20310519);
    int refused = 0;
    for (int round = 0; round < ROUNDS; round++) {
        struct draw d = draw(&rng, false);
        d.query.mass_kg *= 2;
        struct td_plan plan = solve(&d, &road);
        if (plan.safe)
            continue;
        refused++;
        assert_every_trial_fails(&d);
    }
    assert_true(refused > ROUNDS / 40);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(worse_never_raises_the_target),
        cmocka_unit_test(who_obeys_stays_under_the_limit),
        cmocka_unit_test(no_is_said_only_when_everything_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
