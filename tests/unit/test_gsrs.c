/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The reference model against what supports it. Its equation and constants (FHWA/RD-81/185 of 1982,
 * FHWA-IP-88-015 of 1989) are from memory; the roadside sign is a published figure. */
#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>

#include "support/cm.h"
#include "talkdown/gsrs.h"
#include "talkdown/rig.h"
#include "talkdown/units.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Computed once by hand from the equation, from memory: regression values. */
static void gives_the_computed_rows(void **state)
{
    (void)state;
    static const struct {
        enum td_gsrs_set set;
        double weight_lb, grade, miles, mph, drag_lbf, brake_hp, k1, k2, final_f, stop_f;
    } rows[] = {
        {TD_GSRS_1982, 80000, .06, 6, 17, 743.25, 110.906, 1.66520, 7.38771, 487.46, 7.19},
        {TD_GSRS_1982, 80000, .06, 6, 20, 795.00, 140.600, 1.74200, 7.06215, 529.73, 9.95},
        {TD_GSRS_1982, 80000, .05, 4, 40, 1140.00, 232.067, 2.25400, 5.45852, 393.52, 39.81},
        {TD_GSRS_1982, 70000, .07, 3, 25, 881.25, 194.917, 1.87000, 6.57895, 395.70, 13.61},
        {TD_GSRS_1989, 80000, .06, 6, 20, 512.15, 155.685, 1.74200, 7.06215, 573.09, 9.95},
        {TD_GSRS_1989, 80000, .05, 4, 40, 670.55, 282.141, 2.25400, 5.45852, 448.68, 39.81},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct td_gsrs_segment segment = {rows[i].grade, rows[i].miles};
        assert_near(td_gsrs_drag_lbf(rows[i].set, rows[i].mph), rows[i].drag_lbf, 0.005);
        assert_near(td_gsrs_brake_hp(rows[i].set, rows[i].weight_lb, rows[i].grade, rows[i].mph),
                    rows[i].brake_hp, 0.0006);
        assert_near(td_gsrs_k1_per_h(rows[i].mph), rows[i].k1, 6e-6);
        assert_near(td_gsrs_k2_f_per_hp(rows[i].mph), rows[i].k2, 6e-6);
        assert_near(td_gsrs_final_f(rows[i].set, rows[i].weight_lb, segment, rows[i].mph,
                                    TD_GSRS_START_F),
                    rows[i].final_f, 0.006);
        assert_near(td_gsrs_stop_f(rows[i].weight_lb, rows[i].mph), rows[i].stop_f, 0.006);
    }
}

/* Oregon DOT, I-84 Emigrant Hill sign for trucks of five axles and more: 37 mph between 60,000 and
 * 65,000 lb, 18 mph between 75,000 and 80,000 lb, 6 % downgrade (oregon.gov/ODOT/MCT, downhill
 * page); six miles from a brochure of the same department. Length uncertain: within 2 mph. */
static void agrees_with_the_roadside_sign(void **state)
{
    (void)state;
    const struct td_gsrs_segment hill = {0.06, 6};
    assert_near(td_gsrs_safe_mph(TD_GSRS_1982, 65000, &hill, 1, 95), 37, 2);
    assert_near(td_gsrs_safe_mph(TD_GSRS_1982, 80000, &hill, 1, 95), 18, 2);
    assert_int_equal((int)td_gsrs_safe_mph(TD_GSRS_1982, 80000, &hill, 1, 95), 17);
    assert_int_equal((int)td_gsrs_safe_mph(TD_GSRS_1982, 65000, &hill, 1, 95), 35);
}

/* Computed once from the equation by another program, to the nearest 0.1 mph (the scan
 * rounds down). */
static void gives_the_computed_safe_speeds(void **state)
{
    (void)state;
    static const double miles[] = {2, 3, 4, 6, 8, 10};
    static const struct {
        enum td_gsrs_set set;
        double grade, mph[6];
    } rows[] = {
        {TD_GSRS_1982, .05, {95, 89.3, 71.0, 30.7, 21.6, 18.6}},
        {TD_GSRS_1982, .06, {88.8, 62.3, 31.3, 17.3, 14.3, 13.0}},
        {TD_GSRS_1982, .07, {73.4, 32.0, 17.8, 12.4, 10.9, 10.2}},
        {TD_GSRS_1982, .08, {54.3, 18.4, 12.6, 9.7, 8.8, 8.4}},
        {TD_GSRS_1989, .04, {95, 95, 85.7, 45.4, 30.6, 25.4}},
        {TD_GSRS_1989, .05, {94.9, 71.8, 43.6, 23.2, 18.4, 16.4}},
        {TD_GSRS_1989, .06, {78.9, 42.5, 23.8, 15.5, 13.3, 12.2}},
        {TD_GSRS_1989, .07, {60.7, 24.5, 15.9, 11.7, 10.4, 9.8}},
        {TD_GSRS_1989, .08, {41.3, 16.3, 11.9, 9.4, 8.5, 8.2}},
    };
    for (size_t i = 0; i < COUNT(rows); i++)
        for (size_t j = 0; j < COUNT(miles); j++) {
            struct td_gsrs_segment hill = {rows[i].grade, miles[j]};
            assert_near(td_gsrs_safe_mph(rows[i].set, 80000, &hill, 1, 95), rows[i].mph[j], 0.1001);
        }
    static const double by_weight[][4] = {
        {65000, 35.9, 25.0}, {70000, 25.7, 20.7}, {75000, 20.6, 17.7}, {80000, 17.3, 15.5}};
    const struct td_gsrs_segment hill = {0.06, 6};
    for (size_t i = 0; i < COUNT(by_weight); i++) {
        double lb = by_weight[i][0];
        assert_near(td_gsrs_safe_mph(TD_GSRS_1982, lb, &hill, 1, 95), by_weight[i][1], 0.1001);
        assert_near(td_gsrs_safe_mph(TD_GSRS_1989, lb, &hill, 1, 95), by_weight[i][2], 0.1001);
    }
}

/* One of the checks that support the constants: both cooling lines describe one thermal mass, and
 * 1.5 times the energy of a stop over it is the published emergency-stop coefficient. */
static void the_constants_hang_together(void **state)
{
    (void)state;
    for (double mph = 5; mph <= 60; mph += 5)
        assert_near(1 / (td_gsrs_k1_per_h(mph) * td_gsrs_k2_f_per_hp(mph)),
                    TD_GSRS_CAPACITY_HPH_PER_F, 3e-5);
    struct td_brakes brakes = td_brakes_published(5);
    assert_near(brakes.heat_capacity_j_per_k / 1.8 / 1e3, 206.8 * TD_J_PER_BTU / 1e3, 0.5);
    double energy_j = 0.5 * td_kg_from_lb(80000) * pow(td_mps_from_mph(50), 2);
    assert_near(1.5 * energy_j / brakes.heat_capacity_j_per_k * 1.8,
                td_gsrs_stop_f(80000, 50), 0.2);
    /* The ASCE abstract (J. Transp. Eng. 115(4), 1989): fuel saving is worth 0.34 % of grade. */
    assert_near((td_gsrs_drag_lbf(TD_GSRS_1982, 19) - td_gsrs_drag_lbf(TD_GSRS_1989, 19)) / 80000,
                0.0034, 5e-5);
}

static void chains_segments_and_never_cools_below_the_air(void **state)
{
    (void)state;
    const struct td_gsrs_segment hill[] = {{.06, 2}, {.01, 1}, {.06, 2}};
    double final_f = 0;
    assert_near(td_gsrs_peak_f(TD_GSRS_1982, 80000, hill, 1, 20, &final_f), 299.15, 0.01);
    (void)td_gsrs_peak_f(TD_GSRS_1982, 80000, hill, 2, 20, &final_f);
    assert_near(final_f, 281.70, 0.01);
    assert_near(td_gsrs_peak_f(TD_GSRS_1982, 80000, hill, 3, 20, &final_f), 409.80, 0.01);
    assert_near(td_gsrs_peak_f(TD_GSRS_1982, 80000, hill, 2, 20, NULL), 299.15, 0.01);
    struct td_gsrs_segment gentle = {.02, 500};
    assert_near(td_gsrs_final_f(TD_GSRS_1982, 80000, gentle, 45, 150), TD_GSRS_AMBIENT_F, 0.01);
}

static int rate(double hours, const double temp_f[], double rate_f[], void *of)
{
    (void)hours;
    const double *p = of; /* mph, hp */
    rate_f[0] = -td_gsrs_k1_per_h(p[0]) *
                (temp_f[0] - TD_GSRS_AMBIENT_F - td_gsrs_k2_f_per_hp(p[0]) * p[1]);
    return GSL_SUCCESS;
}

/* The closed form against the differential equation, solved by GSL (Runge-Kutta-Fehlberg 4,5). */
static void is_the_solution_of_its_equation(void **state)
{
    (void)state;
    for (double mph = 10; mph <= 60; mph += 10) {
        double of[] = {mph, td_gsrs_brake_hp(TD_GSRS_1989, 72000, .055, mph)};
        gsl_odeiv2_system system = {rate, NULL, 1, of};
        gsl_odeiv2_driver *driver =
            gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rkf45, 1e-4, 1e-9, 1e-9);
        double at_h = 0, temp_f[] = {TD_GSRS_START_F};
        assert_int_equal(gsl_odeiv2_driver_apply(driver, &at_h, 5 / mph, temp_f), GSL_SUCCESS);
        gsl_odeiv2_driver_free(driver);
        struct td_gsrs_segment hill = {.055, 5};
        assert_near(td_gsrs_final_f(TD_GSRS_1989, 72000, hill, mph, TD_GSRS_START_F), temp_f[0],
                    1e-5);
    }
}

/* At high speed drag makes T(V) fall again: the scan must not step over the first failure. */
static void stops_at_the_first_speed_that_fails(void **state)
{
    (void)state;
    const struct td_gsrs_segment hill = {0.05, 10};
    double safe = td_gsrs_safe_mph(TD_GSRS_1982, 80000, &hill, 1, 120);
    assert_near(safe, 18.6, 0.1001);
    double higher_f = td_gsrs_peak_f(TD_GSRS_1982, 80000, &hill, 1, 120, NULL);
    double middle_f = td_gsrs_peak_f(TD_GSRS_1982, 80000, &hill, 1, 60, NULL);
    assert_true(higher_f < middle_f);
    struct td_gsrs_segment cliff = {0.30, 20};
    assert_near(td_gsrs_safe_mph(TD_GSRS_1982, 400000, &cliff, 1, 95), 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_the_computed_rows),
        cmocka_unit_test(agrees_with_the_roadside_sign),
        cmocka_unit_test(gives_the_computed_safe_speeds),
        cmocka_unit_test(the_constants_hang_together),
        cmocka_unit_test(chains_segments_and_never_cools_below_the_air),
        cmocka_unit_test(is_the_solution_of_its_equation),
        cmocka_unit_test(stops_at_the_first_speed_that_fails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
