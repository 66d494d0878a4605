/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The simulated truck's fixed step against an integrator of high order (GSL, Prince-Dormand 8(9)),
 * on random hills with random rigs: speed, heat of the brakes, heat of a retarder and time,
 * coupled.  The equations below are those of sim/truck.h, written once more with the distance as
 * the running variable, so that a change of grade falls between two steps and never inside one. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>

#include "sim/truck.h"
#include "support/cm.h"
#include "support/hills.h"
#include "support/rig_retarder.h"
#include "support/seed.h"

enum { HILLS = 240, RUNS = 10, LEVELS = 4, PER_RUN = 96, MOST_PER_RUN = 6144 };
#define AGREES 1e-6

static struct test_hill hill;

/* One truck on one hill with everything held: gear, stage, pedal. */
struct held {
    struct td_rig rig;
    struct td_truth truth;
    double mass_kg, ambient_c, speed_mps, brakes_c, retarder_c;
    struct td_pedals pedals;
    struct test_run runs[RUNS];
    size_t run_count;
};

static struct td_truck truck_of(const struct held *held)
{
    struct td_truck truck;
    td_truck_init(&truck, &hill.hill, &held->rig, held->mass_kg, &held->truth);
    truck.ambient_c = held->ambient_c;
    truck.speed_mps = held->speed_mps;
    truck.temp_c = held->brakes_c;
    truck.retarder_c = held->retarder_c;
    truck.brake_n = held->pedals.brake_n; /* the air is in already */
    truck.gear = held->pedals.gear;
    truck.stage = held->pedals.stage;
    return truck;
}

static double line_nm(const struct td_torque_curve *curve, double rpm)
{
    size_t i = 1;
    if (curve->count == 0)
        return 0;
    while (i + 1 < curve->count && rpm > curve->rpm[i])
        i++;
    double x = (rpm - curve->rpm[i - 1]) / (curve->rpm[i] - curve->rpm[i - 1]);
    x = x < 0 ? 0 : x > 1 ? 1 : x;
    return curve->torque_nm[i - 1] + x * (curve->torque_nm[i] - curve->torque_nm[i - 1]);
}

struct ode {
    const struct held *held;
    double mass_kg, grade;
};

enum { SPEED, BRAKES, RETARDER, TIME, STATES };

/* m_eff dv/dt, with the header's signs; y[RETARDER] decides what its guard leaves of it. */
static double retarder_force_n(const struct held *held, const double y[])
{
    const struct td_rig *rig = &held->rig;
    if (held->pedals.stage < 0 || rig->stages[held->pedals.stage].kind != TD_HOLDER_RETARDER)
        return 0;
    const struct td_torque_curve *curve = &rig->stages[held->pedals.stage].shaft_torque_nm;
    double rpm = y[SPEED] / rig->tyre_radius_m * rig->axle_ratio * 30 / TD_PI;
    double cold_nm = rpm < curve->rpm[0] ? curve->torque_nm[0] * rpm / curve->rpm[0]
                                         : line_nm(curve, rpm);
    double hot = (y[RETARDER] - rig->retarder.derates_from_c) /
                 (rig->retarder.derates_to_c - rig->retarder.derates_from_c);
    hot = hot < 0 ? 0 : hot > 1 ? 1 : hot;
    return cold_nm * (1 - hot * (1 - rig->retarder.least_ratio)) * rig->axle_ratio /
           rig->tyre_radius_m * held->truth.engine_brake_scale;
}

static int by_distance(double along_m, const double y[], double rate[], void *of)
{
    (void)along_m;
    const struct ode *ode = of;
    const struct held *held = ode->held;
    const struct td_rig *rig = &held->rig;
    double v = y[SPEED], a = atan(ode->grade), engine_n = 0, i = 0;
    if (held->pedals.gear >= 0) {
        i = rig->gears[held->pedals.gear].ratio * rig->axle_ratio / rig->tyre_radius_m;
        double rpm = v * i * 30 / TD_PI, nm = line_nm(&rig->motoring, rpm);
        if (held->pedals.stage >= 0)
            nm += held->truth.engine_brake_scale *
                  line_nm(&rig->stages[held->pedals.stage].torque, rpm);
        engine_n = nm * i;
    }
    double retarder_n = retarder_force_n(held, y);
    double inertia_kg = ode->mass_kg + rig->rotating_kg_wheels + rig->engine_inertia_kgm2 * i * i;
    double net_n = ode->mass_kg * TD_GRAVITY_MPS2 * (sin(a) - rig->rolling_ratio * cos(a)) -
                   0.5 * 1.225 * rig->drag_area_m2 * v * v - engine_n - retarder_n -
                   held->pedals.brake_n;
    double alive = 1 - held->truth.dead_share, s_per_m = 1 / (v * cos(a));
    double cooling = (rig->brakes.cooling_w_per_k + rig->brakes.cooling_w_per_k_per_mps * v) *
                     held->truth.cooling_scale * alive;
    double capacity = rig->brakes.heat_capacity_j_per_k * held->truth.capacity_scale * alive;
    rate[SPEED] = net_n / inertia_kg * s_per_m;
    rate[BRAKES] = (held->pedals.brake_n * v - cooling * (y[BRAKES] - held->ambient_c)) / capacity *
                   s_per_m;
    rate[RETARDER] = td_rig_has_retarder(rig)
                         ? (retarder_n * v -
                            rig->retarder.cooling_w_per_k * (y[RETARDER] - held->ambient_c)) /
                               rig->retarder.heat_capacity_j_per_k * s_per_m
                         : 0;
    rate[TIME] = s_per_m;
    return v > 0.5 ? GSL_SUCCESS : GSL_EBADFUNC;
}

/* In the band, clear of the ends of the torque curves: a kink there belongs to the rig, not to the
 * step. */
static bool in_band(const struct held *held, double speed_mps)
{
    double rpm = held->pedals.gear < 0
                     ? 1500
                     : td_rig_rpm(&held->rig, (size_t)held->pedals.gear, speed_mps);
    return speed_mps > 2 && speed_mps < 35 && rpm > 1000 && rpm < 2100;
}

/* The outside's answer; false where the truck leaves the band on the way. */
static bool solve_by_gsl(const struct held *held, double y[STATES])
{
    struct ode ode = {held, held->mass_kg * held->truth.mass_scale, 0};
    gsl_odeiv2_system system = {by_distance, NULL, STATES, &ode};
    gsl_odeiv2_driver *driver =
        gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd, 1, 1e-12, 1e-12);
    double at_m = 0, ends_m = 0;
    bool whole = true;
    y[SPEED] = held->speed_mps;
    y[BRAKES] = held->brakes_c;
    y[RETARDER] = held->retarder_c;
    y[TIME] = 0;
    for (size_t i = 0; whole && i < held->run_count; i++) {
        ode.grade = held->runs[i].downgrade_ratio + held->truth.grade_offset_ratio;
        /* In parts, to look at the speed on the way. */
        double from_m = ends_m;
        ends_m += held->runs[i].length_m;
        for (int part = 1; whole && part <= 8; part++) {
            double to_m = part == 8 ? ends_m : from_m + held->runs[i].length_m * part / 8;
            whole = gsl_odeiv2_driver_apply(driver, &at_m, to_m, y) == GSL_SUCCESS &&
                    in_band(held, y[SPEED]);
        }
        (void)gsl_odeiv2_driver_reset_hstart(driver, 1);
    }
    gsl_odeiv2_driver_free(driver);
    return whole;
}

/* `steps` equal steps that end at to_m: their length by the secant rule. Returns their time. */
static double step_to(struct td_truck *truck, const struct td_pedals *pedals, double to_m,
                      int steps)
{
    const struct td_truck from = *truck;
    double along_m = to_m - from.along_m;
    double dt[2] = {along_m / from.speed_mps / steps, 0}, miss[2] = {0, 0};
    dt[1] = dt[0] * 1.001;
    for (int tries = 0; tries < 12; tries++) {
        double use_s = tries == 0 ? dt[0] : dt[1];
        *truck = from;
        for (int i = 0; i < steps; i++)
            td_truck_step(truck, pedals, use_s);
        double off_m = truck->along_m - to_m;
        if (tries == 0) {
            miss[0] = off_m;
            continue;
        }
        miss[1] = off_m;
        if (fabs(off_m) < 1e-10 * along_m || miss[1] == miss[0])
            break;
        double next_s = dt[1] - miss[1] * (dt[1] - dt[0]) / (miss[1] - miss[0]);
        dt[0] = dt[1];
        miss[0] = miss[1];
        dt[1] = next_s;
    }
    truck->along_m = to_m; /* so that the next step begins on the next grade */
    return dt[1] * steps;
}

static void solve_by_truck(const struct held *held, int steps, double y[STATES])
{
    struct td_truck truck = truck_of(held);
    double to_m = 0;
    y[TIME] = 0;
    for (size_t i = 0; i < held->run_count; i++) {
        to_m += held->runs[i].length_m;
        y[TIME] += step_to(&truck, &held->pedals, to_m, steps);
    }
    y[SPEED] = truck.speed_mps;
    y[BRAKES] = truck.temp_c;
    y[RETARDER] = truck.retarder_c;
}

static struct held draw(struct td_rng *rng)
{
    struct held held = {.rig = td_rng_below(rng, 2) ? test_rig() : test_rig_with_retarder()};
    struct td_rig *rig = &held.rig;
    rig->drag_area_m2 = td_rng_between(rng, 4, 9);
    rig->rolling_ratio = td_rng_between(rng, 0.004, 0.011);
    rig->engine_inertia_kgm2 = td_rng_between(rng, 2, 5);
    rig->brakes = td_brakes_published(2 + (int)td_rng_below(rng, 8));
    held.truth = td_truth_draw(td_rng_u32(rng));
    held.mass_kg = td_rng_between(rng, 9000, 36000);
    held.ambient_c = td_rng_between(rng, -20, 40);
    held.brakes_c = held.ambient_c + td_rng_between(rng, 10, 60);
    held.retarder_c = 80 + td_rng_between(rng, 0, 60);
    held.pedals.gear = (int)td_rng_below(rng, (unsigned)rig->gear_count + 1) - 1;
    held.pedals.stage = (int)td_rng_below(rng, (unsigned)rig->stage_count + 1) - 1;
    if (held.pedals.gear < 0 &&
        (held.pedals.stage < 0 || rig->stages[held.pedals.stage].kind != TD_HOLDER_RETARDER))
        held.pedals.stage = -1; /* in neutral the lever does nothing */
    held.speed_mps = held.pedals.gear < 0
                         ? td_rng_between(rng, 5, 25)
                         : td_rig_speed_mps(rig, (size_t)held.pedals.gear,
                                            td_rng_between(rng, 1200, 1900));
    double mean = td_rng_between(rng, 0.02, 0.09);
    held.run_count = 2 + td_rng_below(rng, RUNS - 1);
    for (size_t i = 0; i < held.run_count; i++)
        held.runs[i] = (struct test_run){td_rng_between(rng, 60, 400),
                                         mean + td_rng_between(rng, -0.015, 0.015)};
    test_hill_make(&hill, held.runs, held.run_count);
    struct td_truck truck = truck_of(&held);
    truck.along_m = 0.5 * hill.hill.length_m;
    held.pedals.brake_n = fmax(0, td_truck_pull_n(&truck, held.pedals.gear, held.pedals.stage) *
                                      td_rng_between(rng, 0.9, 1.1));
    return held;
}

/* A drive that the step can be judged by: in the band, the brakes below where they fade. */
static struct held draw_whole(struct td_rng *rng, double outside[STATES], int *thrown)
{
    for (;;) {
        struct held held = draw(rng);
        struct td_truck truck = truck_of(&held);
        if (held.pedals.brake_n < td_truck_brake_most_n(&truck) && solve_by_gsl(&held, outside) &&
            outside[BRAKES] < held.rig.brakes.limit_c)
            return held;
        ++*thrown;
    }
}

/* Worst part of any state that the truck's step, its error's own series taken off (Richardson, four
 * halvings), is away from the outside. *order is what one halving does to the speed's error. */
static double extrapolated_off(const struct held *held, int steps, const double outside[STATES],
                               double *order)
{
    double level[LEVELS][STATES], worst = 0;
    for (int l = 0; l < LEVELS; l++)
        solve_by_truck(held, steps << l, level[l]);
    double coarse = fabs(level[2][SPEED] - outside[SPEED]);
    double fine = fabs(level[3][SPEED] - outside[SPEED]);
    *order = coarse > 1e-7 * outside[SPEED] ? log2(coarse / fine) : 1;
    for (int l = 1; l < LEVELS; l++) /* Romberg's table in place, finest last */
        for (int j = LEVELS - 1; j >= l; j--)
            for (int s = 0; s < STATES; s++)
                level[j][s] += (level[j][s] - level[j - 1][s]) / (double)((1 << l) - 1);
    for (int s = 0; s < STATES; s++)
        if (s != RETARDER || td_rig_has_retarder(&held->rig))
            worst = fmax(worst, fabs(level[LEVELS - 1][s] / outside[s] - 1));
    return worst;
}

/* Halving the steps halves the error (order one), and what is left is the outside's answer to a
 * millionth. Where a torque curve has a corner or a retarder begins to derate on the way the series
 * is not clean, and it takes more steps. */
static void the_step_converges_on_the_outside_answer(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "integrator", 20310601);
    double worst = 0, order_least = 9, order_most = 0;
    int thrown = 0, neutral = 0, derated = 0, refined = 0;
    for (int n = 0; n < HILLS; n++) {
        double outside[STATES], order;
        struct held held = draw_whole(&rng, outside, &thrown);
        double off = extrapolated_off(&held, PER_RUN, outside, &order);
        order_least = fmin(order_least, order);
        order_most = fmax(order_most, order);
        for (int steps = 2 * PER_RUN; off > AGREES && steps <= MOST_PER_RUN; steps *= 2) {
            off = extrapolated_off(&held, steps, outside, &order);
            refined++;
        }
        if (!(off <= AGREES))
            fail_msg("hill %d: %.2e off the outside (gear %d, stage %d)", n, off,
                     held.pedals.gear, held.pedals.stage);
        worst = fmax(worst, off);
        neutral += held.pedals.gear < 0;
        derated += outside[RETARDER] > 120;
    }
    printf("integrator: %d hills (%d drawn and left out), worst %.1e of the outside's, order %.2f "
           "to %.2f, %d refinements; %d in neutral, %d with the retarder derated\n", HILLS, thrown,
           worst, order_least, order_most, refined, neutral, derated);
    assert_true(order_least > 0.5 && order_most < 1.5);
    assert_true(neutral >= 5 && derated >= 10 && refined < HILLS / 4);
}

/* At the steps that are used (a tenth of a second and less), across grades that change inside a
 * step. */
static void the_step_in_use_is_harmless(void **state)
{
    (void)state;
    static const double steps_s[] = {0.1, 0.05, 0.025};
    struct td_rng rng;
    test_seed(&rng, "integrator", 20310602);
    double off_mps[3] = {0}, off_k[3] = {0};
    int thrown = 0;
    for (int n = 0; n < HILLS; n++) {
        double outside[STATES];
        struct held held = draw_whole(&rng, outside, &thrown);
        for (size_t s = 0; s < 3; s++) {
            struct td_truck truck = truck_of(&held);
            while (truck.along_m < hill.hill.length_m) {
                double left_s = (hill.hill.length_m - truck.along_m) / truck.speed_mps;
                td_truck_step(&truck, &held.pedals, fmin(steps_s[s], left_s + 1e-9));
            }
            off_mps[s] = fmax(off_mps[s], fabs(truck.speed_mps - outside[SPEED]));
            off_k[s] = fmax(off_k[s], fabs(truck.temp_c - outside[BRAKES]));
        }
    }
    for (size_t s = 0; s < 3; s++)
        printf("integrator: steps of %.3f s: at most %.4f m/s and %.4f K off\n", steps_s[s],
               off_mps[s], off_k[s]);
    assert_true(off_mps[0] < 0.1 && off_k[0] < 0.1);
    assert_true(off_mps[2] < 0.75 * off_mps[0] && off_k[2] < 0.75 * off_k[0]);
}

/* Energy that road and engine gave is what the forces took and what the truck gained, to 1e-9 over
 * a whole descent, whatever hands and feet do; a change of gear couples or frees turning masses. */
static void energy_closes_over_whole_descents(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "integrator", 20310603);
    double worst = 0;
    for (int n = 0; n < HILLS; n++) {
        struct held held = draw(&rng);
        struct td_truck truck = truck_of(&held);
        struct td_pedals pedals = held.pedals;
        double dt_s = td_rng_between(&rng, 0.01, 0.1);
        double inertia_kg = td_truck_inertia_kg(&truck, truck.gear), coupled_j = 0;
        double began_j = 0.5 * inertia_kg * truck.speed_mps * truck.speed_mps;
        while (truck.along_m < hill.hill.length_m) {
            if (td_rng_below(&rng, 40) == 0) {
                pedals.gear = (int)td_rng_below(&rng, (unsigned)held.rig.gear_count + 1) - 1;
                pedals.stage = (int)td_rng_below(&rng, (unsigned)held.rig.stage_count + 1) - 1;
                pedals.brake_n = td_rng_below(&rng, 2) ? td_rng_between(&rng, 0, 60e3) : 0;
                pedals.drive_n = td_rng_below(&rng, 3) ? 0 : td_rng_between(&rng, 0, 30e3);
            }
            if (truck.speed_mps < 4) /* a stop is held, not balanced */
                pedals = (struct td_pedals){.gear = 3, .stage = -1, .drive_n = 60e3};
            double v = truck.speed_mps;
            td_truck_step(&truck, &pedals, dt_s);
            double next_kg = td_truck_inertia_kg(&truck, truck.gear);
            coupled_j += 0.5 * (next_kg - inertia_kg) * v * v;
            inertia_kg = next_kg;
            if (truck.speed_mps < 1)
                break;
        }
        const struct td_work_done *w = &truck.work;
        double gave_j = w->gravity_j + w->drive_j + coupled_j + began_j;
        double took_j = w->rolling_j + w->air_j + w->engine_j + w->retarder_j + w->service_j;
        double left_j = 0.5 * inertia_kg * truck.speed_mps * truck.speed_mps;
        double scale_j = fabs(w->gravity_j) + w->drive_j + began_j;
        worst = fmax(worst, fabs(gave_j - took_j - left_j) / scale_j);
        if (fabs(gave_j - took_j - left_j) > 1e-9 * scale_j)
            fail_msg("hill %d: %.6g J of %.6g J unaccounted for", n, gave_j - took_j - left_j,
                     scale_j);
    }
    printf("integrator: energy closes to %.1e\n", worst);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_step_converges_on_the_outside_answer),
        cmocka_unit_test(the_step_in_use_is_harmless),
        cmocka_unit_test(energy_closes_over_whole_descents),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
