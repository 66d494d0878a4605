/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_plan [--seconds N]: a 30 km hill of eight downgrades with curves and signs, planned over
 * and over, beside the general integrator (GSL) doing the same trial descents: as many as the
 * solver drove, of the same gear, stage and speed, over the same pieces of road, with the steps
 * that a tolerance of 1e-6 asks of it. Prints milliseconds a plan, plans a second, what of it the
 * descents are, and the ratios within this run. Nothing is asserted of the wall clock; a closed
 * form that costs more than integrating fails.  td_plan_map is wrapped at link time (--wrap),
 * so that the solver itself stays as it is. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/plan_parts.h"
#include "support/cpu_clock.h"
#include "support/hills.h"
#include "support/rig_retarder.h"
#include "talkdown/forces.h"
#include "talkdown/heat.h"

enum { TRIALS_MAX = 200000 };

static double cpu_s(void)
{
    return 1e-9 * (double)cpu_thread_ns();
}

static struct test_hill hill;
static struct td_plan_work work;

/* A trial as the solver drove it. */
struct trial {
    int gear, stage;
    double cruise_mps, credit;
    bool hasty;
};

static struct trial trials[TRIALS_MAX];
static size_t trial_count, driven;
static bool listening, timed;
static double descents_s;

bool __real_td_plan_map(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                        double floor_c, struct td_plan_map *map);
bool __wrap_td_plan_map(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                        double floor_c, struct td_plan_map *map);

/* One map is two descents: at the exact and at the spoken speed. */
bool __wrap_td_plan_map(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                        double floor_c, struct td_plan_map *map)
{
    for (int i = 0; i < 2 && listening; i++) {
        driven++;
        if (trial_count < TRIALS_MAX)
            trials[trial_count++] = (struct trial){trial->gear, trial->stage, trial->cruise_mps,
                                                   plan_case->credit, true};
    }
    double began_s = timed ? cpu_s() : 0;
    bool would_do = __real_td_plan_map(plan_case, trial, floor_c, map);
    if (timed)
        descents_s += cpu_s() - began_s;
    return would_do;
}

/* Eight downgrades of 2 to 5 km parted by short easings: 30 km, with a bend every 700 m and a sign
 * every 5 km. Invented. */
static void make_hill(bool breaks)
{
    static const struct test_run runs[] = {
        {3600, 0.060}, {300, 0.010}, {2900, 0.072}, {400, 0.015}, {4400, 0.055}, {250, 0.000},
        {2300, 0.080}, {350, 0.012}, {3800, 0.048}, {300, 0.010}, {3100, 0.066}, {450, 0.018},
        {4600, 0.052}, {250, 0.005}, {3000, 0.070},
    };
    struct test_run road[sizeof runs / sizeof runs[0]];
    memcpy(road, runs, sizeof runs);
    for (size_t i = 1; i < sizeof runs / sizeof runs[0] && breaks; i += 2) {
        road[i].length_m = 1600;
        road[i].downgrade_ratio = 0;
        road[i - 1].length_m -= 900;
    }
    test_hill_make(&hill, road, sizeof runs / sizeof runs[0]);
    test_hill_smooth(&hill, 6);
    for (int i = 0; i < 40; i++) {
        double at_m = 350 + 700.0 * i;
        hill.hill.curves[hill.hill.curve_count++] =
            (struct td_curve){at_m, at_m + 80, 60 + 35.0 * (i % 9), TD_SIDE_LEFT};
    }
    for (int i = 0; i < 6; i++)
        (void)test_hill_sign(&hill, TD_PLACE_TRUCK_SPEED, 200 + 5000.0 * i,
                             td_mps_from_mph(25 + 5 * (i % 3)));
}

struct ode {
    const struct td_rig *rig;
    double speed_mps, brake_n, ambient_c, works;
};

/* dT/ds, all brakes as one mass. */
static int by_distance(double along_m, const double temp_c[], double rate[], void *of)
{
    (void)along_m;
    const struct ode *ode = of;
    double cooling = ode->works * td_heat_cooling_w_per_k(&ode->rig->brakes, ode->speed_mps);
    double capacity = ode->works * ode->rig->brakes.heat_capacity_j_per_k;
    rate[0] = (ode->brake_n * ode->speed_mps - cooling * (temp_c[0] - ode->ambient_c)) /
              (capacity * ode->speed_mps);
    return GSL_SUCCESS;
}

/* The descent of one trial over the pieces that the plan left in `work`. */
static double descend_by_gsl(gsl_odeiv2_driver *driver, struct ode *ode,
                             const struct td_plan_query *query, const struct trial *trial)
{
    double at_m = work.pieces[0].from_m, y[] = {query->brakes_from_c}, peak_c = y[0];
    ode->works = 1 - ode->rig->brakes.missing_ratio;
    ode->ambient_c = query->ambient_c;
    (void)gsl_odeiv2_driver_reset_hstart(driver, 10);
    for (size_t i = 0; i < work.count; i++) {
        const struct td_plan_piece *piece = &work.pieces[i];
        ode->speed_mps = fmin(trial->cruise_mps, piece->ceiling_mps);
        struct td_forces f =
            td_forces_at(ode->rig, query->mass_kg, trial->gear,
                         piece->engine_brake_banned ? -1 : trial->stage, trial->credit,
                         piece->sine / piece->cosine, ode->speed_mps);
        ode->brake_n = td_forces_brake_n(&f);
        if (gsl_odeiv2_driver_apply(driver, &at_m, piece->from_m + piece->length_m, y) !=
            GSL_SUCCESS)
            return (double)NAN;
        peak_c = fmax(peak_c, y[0]);
        if (trial->hasty && peak_c > ode->rig->brakes.limit_c)
            break; /* so does the plan */
    }
    return peak_c;
}

struct timing {
    double plan_s, descents_s, gsl_s; /* of one plan */
    size_t plans, trials;
};

/* One plan's processor time, and what of it the trial descents are. */
static void measure_plan(const struct td_rig *rig, const struct td_plan_query *query,
                         double seconds, struct timing *timing)
{
    static struct td_plan plan;
    double began_s = cpu_s(), spent_s;
    do {
        td_plan_solve(&hill.hill, rig, query, &work, &plan);
        timing->plans++;
        spent_s = cpu_s() - began_s;
    } while (spent_s < seconds);
    timing->plan_s = spent_s / (double)timing->plans;
    timed = true;
    descents_s = 0;
    for (size_t i = 0; i < timing->plans; i++)
        td_plan_solve(&hill.hill, rig, query, &work, &plan);
    timed = false;
    timing->descents_s = descents_s / (double)timing->plans;
    trial_count = driven = 0;
    listening = true;
    td_plan_solve(&hill.hill, rig, query, &work, &plan);
    listening = false;
    timing->trials = driven;
}

/* The same trials by the integrator; false when it gave up on one. */
static bool measure_gsl(const struct td_rig *rig, const struct td_plan_query *query, double seconds,
                        struct timing *timing)
{
    struct ode ode = {.rig = rig};
    gsl_odeiv2_system system = {by_distance, NULL, 1, &ode};
    gsl_odeiv2_driver *driver =
        gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rkf45, 10, 1e-6, 1e-6);
    double checked = 0, began_s = cpu_s(), spent_s = 0;
    size_t done = 0;
    while (spent_s < seconds && trial_count > 0) {
        checked += descend_by_gsl(driver, &ode, query, &trials[done++ % trial_count]);
        spent_s = cpu_s() - began_s;
        if (done % trial_count == 0 && spent_s > 0.2 * seconds)
            break; /* every trial as often as any other */
    }
    gsl_odeiv2_driver_free(driver);
    timing->gsl_s = done > 0 ? spent_s / (double)done * (double)timing->trials : 0;
    return done > 0 && isfinite(checked);
}

static bool report(const char *name, const struct td_rig *rig, double seconds)
{
    struct td_plan_query query = td_plan_query_default(rig);
    struct timing t = {0};
    measure_plan(rig, &query, seconds, &t);
    if (!measure_gsl(rig, &query, seconds, &t) || t.descents_s <= 0) {
        printf("%s: nothing was measured\n", name);
        return false;
    }
    printf("%s: %.2f ms a plan, %.0f plans a second; %zu trial descents of %zu pieces take %.2f ms "
           "of it, GSL (rkf45, 1e-6) %.2f ms: %.1f times the descents, %.1f times the whole plan\n",
           name, t.plan_s * 1e3, 1 / t.plan_s, t.trials, work.count, t.descents_s * 1e3,
           t.gsl_s * 1e3, t.gsl_s / t.descents_s, t.gsl_s / t.plan_s);
    return t.gsl_s > t.descents_s;
}

/* Eighteen gears, five stages of engine brake and three of a retarder. */
static struct td_rig many_of_all(void)
{
    struct td_rig rig = test_rig_with_retarder();
    struct td_engine_brake_stage engine = rig.stages[1], retarder = rig.stages[3];
    for (int i = 0; i < 8; i++) {
        rig.stages[i] = i < 5 ? engine : retarder;
        double share = i < 5 ? (i + 1) / 5.0 : (i - 4) / 3.0;
        for (size_t j = 0; j < engine.torque.count; j++)
            rig.stages[i].torque.torque_nm[j] = i < 5 ? share * engine.torque.torque_nm[j] : 0;
        for (size_t j = 0; j < retarder.shaft_torque_nm.count && i >= 5; j++)
            rig.stages[i].shaft_torque_nm.torque_nm[j] =
                share * retarder.shaft_torque_nm.torque_nm[j];
    }
    rig.stage_count = 8;
    rig.gear_count = 18;
    for (int i = 0; i < 18; i++)
        rig.gears[i].ratio = 14.4 * pow(0.84, i);
    return rig;
}

static void measure_only(const char *name, const struct td_rig *rig, double seconds)
{
    static struct td_plan plan;
    struct td_plan_query query = td_plan_query_default(rig);
    size_t plans = 0;
    double began_s = cpu_s(), spent_s;
    do {
        td_plan_solve(&hill.hill, rig, &query, &work, &plan);
        plans++;
        spent_s = cpu_s() - began_s;
    } while (spent_s < seconds);
    printf("%s: %.2f ms a plan, %zu descents, %s\n", name, spent_s / (double)plans * 1e3,
           plan.descent_count, plan.safe ? "safe" : "refused");
}

int main(int argc, char **argv)
{
    double seconds = 0.3;
    if (argc == 3 && strcmp(argv[1], "--seconds") == 0)
        seconds = strtod(argv[2], NULL);
    make_hill(false);
    struct td_rig many = many_of_all();
    struct td_rig two_stages = test_rig(), retarder = test_rig_with_retarder();
    struct td_rig no_stage = test_rig();
    no_stage.stage_count = 0;
    printf("a hill of %.1f km, %zu stations, %zu curves, %zu signs; one core\n",
           hill.hill.length_m / 1e3, hill.hill.station_count, hill.hill.curve_count,
           hill.hill.place_count);
    bool ahead = report("ten gears, two stages", &two_stages, seconds);
    ahead = report("ten gears, engine brake and retarder", &retarder, seconds) && ahead;
    ahead = report("ten gears, no engine brake", &no_stage, seconds) && ahead;
    measure_only("eighteen gears, eight stages", &many, seconds);
    make_hill(true);
    measure_only("seven breaks of a mile: eighteen gears, eight stages", &many, seconds);
    measure_only("seven breaks of a mile: ten gears, no engine brake", &no_stage, seconds);
    measure_only("seven breaks of a mile: ten gears, two stages", &two_stages, seconds);
    return ahead ? 0 : 1;
}
