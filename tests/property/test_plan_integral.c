/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan's heat against an outside integrator (GSL, Prince-Dormand 8(9)), and the proof that how
 * the road is cut and which way figures are rounded does no harm. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>

#include "support/cm.h"
#include "support/hills.h"
#include "support/rigs.h"
#include "support/seed.h"
#include "talkdown/forces.h"
#include "talkdown/heat.h"
#include "talkdown/plan.h"
#include "talkdown/retarder.h"

enum { HILLS = 240, RUNS = 8 };
#define AGREES 1e-6

static struct td_plan_work work;
static struct test_hill hill, split;

/* m c dT/dt = P - h (T - T_air), at constant power and speed. */
struct body {
    double capacity_j_per_k, cooling_w_per_k, ambient_c, power_w;
};

static int warm(double t_s, const double temp_c[], double rate[], void *of)
{
    (void)t_s;
    const struct body *body = of;
    rate[0] = (body->power_w - body->cooling_w_per_k * (temp_c[0] - body->ambient_c)) /
              body->capacity_j_per_k;
    return GSL_SUCCESS;
}

static double warm_by_gsl(struct body body, double temp_c, double for_s)
{
    gsl_odeiv2_system system = {warm, NULL, 1, &body};
    gsl_odeiv2_driver *driver =
        gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1, 1e-11, 1e-11);
    double t_s = 0, y[] = {temp_c};
    assert_int_equal(gsl_odeiv2_driver_apply(driver, &t_s, for_s, y), GSL_SUCCESS);
    gsl_odeiv2_driver_free(driver);
    return y[0];
}

static struct body brakes_of(const struct td_rig *rig, double speed_mps, double ambient_c,
                             double power_w)
{
    double works = 1 - rig->brakes.missing_ratio;
    return (struct body){
        .capacity_j_per_k = works * rig->brakes.heat_capacity_j_per_k,
        .cooling_w_per_k = works * (rig->brakes.cooling_w_per_k +
                                    rig->brakes.cooling_w_per_k_per_mps * speed_mps),
        .ambient_c = ambient_c,
        .power_w = power_w,
    };
}

static struct td_rig draw_rig(struct td_rng *rng)
{
    struct td_rig rig = test_rig();
    rig.brakes = td_brakes_published(2 + (int)td_rng_below(rng, 8));
    rig.brakes.missing_ratio = td_rng_between(rng, 0, 0.4);
    rig.drag_area_m2 = td_rng_between(rng, 4, 9);
    rig.rolling_ratio = td_rng_between(rng, 0.004, 0.011);
    return rig;
}

/* One exact step a stretch, forces and heat of the core, a speed of its own on each; and the closed
 * form in one step against the same in fifty. */
static void the_exact_step_is_the_outside_answer(void **state)
{
    (void)state;
    struct td_rng rng;
    double worst = 0, parts_worst = 0;
    test_seed(&rng, "plan_integral", 20310611);
    for (int n = 0; n < HILLS; n++) {
        struct td_rig rig = draw_rig(&rng);
        double mass_kg = td_rng_between(&rng, 8000, 60000), ambient_c = td_rng_between(&rng, 5, 45);
        double core_c = ambient_c + td_rng_between(&rng, 0, 100), gsl_c = core_c, parts_c = core_c;
        for (int run = 0; run < RUNS; run++) {
            double v = td_rng_between(&rng, 2, 30), for_s = td_rng_between(&rng, 50, 4000) / v;
            struct td_forces f =
                td_forces_at(&rig, mass_kg, (int)td_rng_below(&rng, 10), -1, 1,
                             td_rng_between(&rng, -0.02, 0.10), v);
            double power_w = td_forces_brake_n(&f) * v, works = 1 - rig.brakes.missing_ratio;
            core_c = td_heat_step_c(&rig.brakes, works, core_c, power_w, v, ambient_c, for_s);
            gsl_c = warm_by_gsl(brakes_of(&rig, v, ambient_c, power_w), gsl_c, for_s);
            for (int part = 0; part < 50; part++)
                parts_c = td_heat_step_c(&rig.brakes, works, parts_c, power_w, v, ambient_c,
                                         for_s / 50);
            worst = fmax(worst, fabs(core_c / gsl_c - 1));
            parts_worst = fmax(parts_worst, fabs(parts_c / core_c - 1));
        }
    }
    printf("plan_integral: %d hills, exact step %.1e off the outside, %.1e off itself in parts\n",
           HILLS, worst, parts_worst);
    assert_true(worst <= AGREES);
    assert_true(parts_worst <= 1e-11);
}

static void the_retarders_step_is_the_outside_answer(void **state)
{
    (void)state;
    struct td_rng rng;
    double worst = 0;
    test_seed(&rng, "plan_integral", 20310612);
    for (int n = 0; n < HILLS; n++) {
        struct td_retarder_heat oil = {
            .heat_capacity_j_per_k = td_rng_between(&rng, 50e3, 300e3),
            .cooling_w_per_k = td_rng_between(&rng, 500, 4000)};
        double ambient_c = td_rng_between(&rng, 5, 45), power_w = td_rng_between(&rng, 0, 400e3);
        double from_c = td_rng_between(&rng, 20, 160), for_s = td_rng_between(&rng, 1, 900);
        struct body body = {oil.heat_capacity_j_per_k, oil.cooling_w_per_k, ambient_c, power_w};
        double got_c = td_retarder_step_c(&oil, from_c, power_w, ambient_c, for_s);
        worst = fmax(worst, fabs(got_c / warm_by_gsl(body, from_c, for_s) - 1));
    }
    printf("plan_integral: retarder %.1e off the outside\n", worst);
    assert_true(worst <= AGREES);
}

struct draw {
    struct td_rig rig;
    struct td_plan_query query;
    struct test_run runs[RUNS];
    size_t run_count;
};

/* `unit_m`: lengths of runs are multiples of it; 0 any. One descent: no run lets the truck rest. */
static struct draw draw(struct td_rng *rng, double unit_m)
{
    struct draw d = {.rig = draw_rig(rng)};
    d.query = td_plan_query_default(&d.rig);
    d.query.doubt = td_plan_doubt_none();
    d.query.mass_kg = td_rng_between(rng, 12000, 40000);
    d.query.credit = (enum td_credit)td_rng_below(rng, 3);
    d.query.ambient_c = td_rng_between(rng, 5, 40);
    d.query.brakes_from_c = d.query.ambient_c + td_rng_between(rng, 0, 60);
    d.query.speak_kmh = td_rng_below(rng, 2) != 0;
    d.run_count = 2 + td_rng_below(rng, RUNS - 1);
    double mean = td_rng_between(rng, 0.03, 0.08);
    for (size_t i = 0; i < d.run_count; i++) {
        double length_m = td_rng_between(rng, 300, 1500);
        if (unit_m > 0)
            length_m = unit_m * floor(length_m / unit_m);
        d.runs[i] =
            (struct test_run){length_m, fmax(0.025, mean + td_rng_between(rng, -0.03, 0.03))};
    }
    return d;
}

static double spoken_mps(double mps, bool kmh)
{
    double unit = kmh ? TD_MPS_PER_KMH : TD_MPS_PER_MPH, whole = mps / unit + 1e-6;
    return (whole >= 5 ? floor(whole / 5) * 5 : floor(whole)) * unit;
}

struct heat {
    double peak_c, final_c;
};

/* Hottest end of a run, and the foot, at the plan's own speed, gear and stage. */
static struct heat descend_by_gsl(const struct draw *d, const struct td_plan *plan, bool as_spoken)
{
    double at_m = 0;
    struct heat heat = {d->query.brakes_from_c, d->query.brakes_from_c};
    for (size_t i = 0; i < d->run_count; i++) {
        double v = td_plan_target_at(plan, at_m + 0.5 * d->runs[i].length_m);
        if (as_spoken)
            v = spoken_mps(v, d->query.speak_kmh);
        struct td_forces f = td_forces_at(&d->rig, d->query.mass_kg, plan->gear, plan->stage,
                                          td_plan_credit_ratio(d->query.credit),
                                          d->runs[i].downgrade_ratio, v);
        struct body body = brakes_of(&d->rig, v, d->query.ambient_c, td_forces_brake_n(&f) * v);
        heat.final_c = warm_by_gsl(body, heat.final_c, d->runs[i].length_m / v);
        heat.peak_c = fmax(heat.peak_c, heat.final_c);
        at_m += d->runs[i].length_m;
    }
    return heat;
}

/* A plan tells the heat of its exact or of its spoken speed, whichever is hotter. */
static struct heat hotter_by_gsl(const struct draw *d, const struct td_plan *plan)
{
    struct heat exact = descend_by_gsl(d, plan, false), spoken = descend_by_gsl(d, plan, true);
    return spoken.peak_c > exact.peak_c ? spoken : exact;
}

/* Runs of whole pieces, so that the plan's road is the road. */
static void the_plans_heat_is_the_outside_answer(void **state)
{
    (void)state;
    struct td_rng rng;
    int solved = 0, braked = 0;
    double worst = 0;
    test_seed(&rng, "plan_integral", 20310613);
    for (int n = 0; n < 4 * HILLS && solved < HILLS; n++) {
        struct draw d = draw(&rng, 50);
        struct td_plan plan;
        test_hill_make(&hill, d.runs, d.run_count);
        td_plan_solve(&hill.hill, &d.rig, &d.query, &work, &plan);
        if (!plan.safe)
            continue;
        struct heat heat = hotter_by_gsl(&d, &plan);
        double off =
            fmax(fabs(plan.peak_c / heat.peak_c - 1), fabs(plan.final_c / heat.final_c - 1));
        if (!(off <= AGREES))
            fail_msg("hill %d: peak %.8g, end %.8g, outside %.8g and %.8g", n, plan.peak_c,
                     plan.final_c, heat.peak_c, heat.final_c);
        worst = fmax(worst, off);
        solved++;
        braked += heat.peak_c > d.query.brakes_from_c + 20;
    }
    printf("plan_integral: %d plans, %d of them on the brakes, %.1e off the outside\n", solved,
           braked, worst);
    assert_true(solved >= 200 && braked > solved / 4);
}

/* Every edge of the road in two. */
static void split_edges(const struct test_hill *whole)
{
    split = *whole;
    size_t count = whole->hill.station_count;
    for (size_t i = 0; i + 1 < count; i++) {
        const struct td_station *a = &whole->stations[i], *b = a + 1;
        split.stations[2 * i] = *a;
        split.stations[2 * i + 1] = *a;
        split.stations[2 * i + 1].along_m = 0.5 * (a->along_m + b->along_m);
        split.stations[2 * i + 1].elevation_m = 0.5 * (a->elevation_m + b->elevation_m);
    }
    split.stations[2 * (count - 1)] = whole->stations[count - 1];
    split.hill.station_count = 2 * count - 1;
    split.hill.stations = split.stations;
    split.hill.places = split.places;
}

static void splitting_the_road_changes_nothing(void **state)
{
    (void)state;
    struct td_rng rng;
    int safe = 0;
    test_seed(&rng, "plan_integral", 20310614);
    for (int n = 0; n < HILLS; n++) {
        struct draw d = draw(&rng, 0);
        struct td_plan one, other;
        d.query.doubt = td_plan_doubt_default();
        test_hill_make(&hill, d.runs, d.run_count);
        hill.hill.curves[hill.hill.curve_count++] =
            (struct td_curve){250, 330, td_rng_between(&rng, 30, 300), TD_SIDE_LEFT};
        (void)test_hill_sign(&hill, TD_PLACE_TRUCK_SPEED, 400, td_rng_between(&rng, 8, 25));
        split_edges(&hill);
        td_plan_solve(&hill.hill, &d.rig, &d.query, &work, &one);
        td_plan_solve(&split.hill, &d.rig, &d.query, &work, &other);
        assert_int_equal(one.safe, other.safe);
        assert_int_equal(one.gear, other.gear);
        assert_int_equal(one.stage, other.stage);
        assert_int_equal(one.say_mph, other.say_mph);
        assert_int_equal(one.without_engine_brake_mph, other.without_engine_brake_mph);
        assert_int_equal(one.stretch_count, other.stretch_count);
        if (!one.safe)
            continue;
        assert_near(other.target_mps, one.target_mps, 1e-9);
        assert_near(other.peak_c, one.peak_c, 1e-6);
        assert_near(other.final_c, one.final_c, 1e-6);
        safe++;
    }
    assert_true(safe > HILLS / 4);
}

/* Peak by the exact step from station to station: a road cut at every change of grade. */
static double peak_by_stations_c(const struct draw *d, const struct td_plan *plan, bool as_spoken)
{
    double temp_c = d->query.brakes_from_c, peak_c = temp_c;
    for (size_t i = 0; i + 1 < hill.hill.station_count; i++) {
        const struct td_station *at = &hill.stations[i];
        double length_m = at[1].along_m - at->along_m;
        double v = td_plan_target_at(plan, at->along_m + 0.5 * length_m);
        if (as_spoken)
            v = spoken_mps(v, d->query.speak_kmh);
        struct td_forces f =
            td_forces_at(&d->rig, d->query.mass_kg, plan->gear, plan->stage,
                         td_plan_credit_ratio(d->query.credit), at->downgrade_ratio, v);
        temp_c = td_heat_step_c(&d->rig.brakes, 1 - d->rig.brakes.missing_ratio, temp_c,
                                td_forces_brake_n(&f) * v, v, d->query.ambient_c, length_m / v);
        peak_c = fmax(peak_c, temp_c);
    }
    return peak_c;
}

/* The plan's 50 m pieces take the mean grade over a change inside one and look at their ends: how
 * far that moves the peak. With grades that jump at a point, as no road's do, and with grades
 * rounded over 240 m, as td_hill_derive leaves them; a stop from 20 mph makes 7 K. */
static void the_pieces_hide_next_to_nothing(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "plan_integral", 20310615);
    for (int smooth = 0; smooth < 2; smooth++) {
        double hotter_k = 0, cooler_k = 0;
        int solved = 0;
        for (int n = 0; n < 2 * HILLS; n++) {
            struct draw d = draw(&rng, 0);
            struct td_plan plan;
            test_hill_make(&hill, d.runs, d.run_count);
            if (smooth)
                test_hill_smooth(&hill, 6);
            td_plan_solve(&hill.hill, &d.rig, &d.query, &work, &plan);
            if (!plan.safe)
                continue;
            double peak_c = fmax(peak_by_stations_c(&d, &plan, false),
                                 peak_by_stations_c(&d, &plan, true));
            hotter_k = fmax(hotter_k, peak_c - plan.peak_c);
            cooler_k = fmax(cooler_k, plan.peak_c - peak_c);
            solved++;
        }
        printf("plan_integral: %s, %d unaligned hills: the road is at most %.3f K hotter and "
               "%.3f K cooler than its pieces\n", smooth ? "rounded grades" : "jumping grades",
               solved, hotter_k, cooler_k);
        assert_true(solved > HILLS);
        assert_true(hotter_k < (smooth ? 0.25 : 2.0) && cooler_k < 0.25);
    }
}

/* Every figure told is rounded to the slower side. */
static void rounding_is_never_upwards(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "plan_integral", 20310616);
    for (int n = 0; n < HILLS; n++) {
        struct draw d = draw(&rng, 0);
        struct td_plan plan;
        d.query.doubt = td_plan_doubt_default();
        test_hill_make(&hill, d.runs, d.run_count);
        (void)test_hill_sign(&hill, TD_PLACE_TRUCK_SPEED, 100, td_rng_between(&rng, 4, 25));
        double posted_mps = hill.places[0].speed_mps;
        td_plan_solve(&hill.hill, &d.rig, &d.query, &work, &plan);
        if (!plan.safe)
            continue;
        double mph = td_mph_from_mps(plan.target_mps), kmh = td_kmh_from_mps(plan.target_mps);
        assert_true(plan.target_mps <= posted_mps + 1e-9);
        assert_true(plan.target_mph <= mph + 1e-6 && plan.target_mph > mph - 1);
        assert_true(plan.say_mph <= plan.target_mph && plan.say_mph > mph - 5 - 1e-6);
        assert_true(plan.say_kmh <= kmh + 1e-6 && plan.say_kmh > kmh - 5 - 1e-6);
        assert_true(plan.say_mph < 5 || plan.say_mph % 5 == 0);
        assert_true(plan.without_engine_brake_mph <= mph + 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_exact_step_is_the_outside_answer),
        cmocka_unit_test(the_retarders_step_is_the_outside_answer),
        cmocka_unit_test(the_plans_heat_is_the_outside_answer),
        cmocka_unit_test(splitting_the_road_changes_nothing),
        cmocka_unit_test(the_pieces_hide_next_to_nothing),
        cmocka_unit_test(rounding_is_never_upwards),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
