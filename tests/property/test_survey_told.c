/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a survey says of its own error: two of the sigma that it tells hold 95 of 100 pieces, on
 * invented hills with invented errors (bench_survey prints the whole table), an old profile counts
 * as the passes it was made of, and the widening for few differences is that of Student's t. */
#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

#include "support/cm.h"
#include "support/survey_drive.h"
#include "survey/survey_parts.h"
#include "talkdown/geo.h"

enum { SAMPLES_MAX = 20000, HILLS = 8, FIXES = 367 };

/* Outside reference: GSL's quantiles of Student's t. */
static void few_differences_widen_as_student_has_it(void **state)
{
    (void)state;
    static const double degrees[] = {3, 4, 5, 8, 12, 20, 50, 200, 5000};
    double normal = gsl_cdf_ugaussian_Pinv(0.975);
    for (size_t i = 0; i < sizeof degrees / sizeof degrees[0]; i++) {
        double right = gsl_cdf_tdist_Pinv(0.975, degrees[i]) / normal;
        assert_near(td_survey_widened(degrees[i]), right, 0.04 * right);
    }
    assert_near(td_survey_widened(0.1), td_survey_widened(2), 1e-12); /* no less is claimed */
}

static double two_sigma_hold(const struct receiver *receiver, size_t passes)
{
    static double values[3][SAMPLES_MAX];
    struct survey_tally tally = {.over_200 = {values[0], 0, SAMPLES_MAX, 0},
                                 .over_1000 = {values[1], 0, SAMPLES_MAX, 0},
                                 .line = {values[2], 0, SAMPLES_MAX, 0}};
    for (uint64_t seed = 1; seed <= HILLS; seed++)
        survey_measure(receiver, passes, seed, &tally);
    assert_true(tally.made > HILLS / 2 && tally.over_200.count > 500);
    double sum = 0;
    for (size_t i = 0; i < tally.over_200.count; i++)
        sum += values[0][i] * values[0][i];
    double rms = sqrt(sum / (double)tally.over_200.count);
    double told = tally.told_200 / (double)tally.made;
    double within = (double)tally.over_200.within / (double)tally.over_200.count;
    print_message("%s, %zu passes: told %.2f %%, is %.2f %%; %.1f of 100 within two of it\n",
                  receiver->name, passes, told * 100, rms * 100, within * 100);
    /* Nor may it be made true by telling far too much; one pass may be told twice what it is. */
    assert_true(told < (passes == 1 ? 2.2 : 1.4) * rms);
    return within;
}

/* Errors on one hill hang together, so eight hills are some 100 pieces: 95 is known to 3. */
static void two_told_sigma_hold_95_of_100_pieces(void **state)
{
    (void)state;
    assert_true(two_sigma_hold(&survey_barometer, 1) > 0.93);
    assert_true(two_sigma_hold(&survey_barometer, 3) > 0.92);
    assert_true(two_sigma_hold(&survey_satellite_3_drift, 3) > 0.92);
    assert_true(two_sigma_hold(&survey_satellite_3, 10) > 0.92);
}

/* Due east over open ocean at 15 m/s: 1.5 km level, 3 km at 7 %, 1 km level; all of it tilted. */
static void drive(struct td_fix fixes[FIXES], double tilt)
{
    double metre_lon = 1 / td_geo_distance_m(-47.1, -128.9, -47.1, -128.899) * 1e-3;
    for (size_t i = 0; i < FIXES; i++) {
        double along_m = 15.0 * (double)i;
        fixes[i] = (struct td_fix){
            .has = TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_UTC,
            .utc_ms = (int64_t)i * 1000,
            .lat_deg = -47.1,
            .lon_deg = -128.9 + along_m * metre_lon,
            .altitude_m = 900 - 0.07 * fmin(fmax(along_m - 1500, 0), 3000) + tilt * along_m,
        };
    }
}

static double told(double weight, double tilt)
{
    static struct td_fix level[FIXES], tilted[FIXES];
    struct surveyed *made = surveyed_new();
    drive(level, 0);
    drive(tilted, tilt);
    surveyed_add(made, level, FIXES);
    surveyed_add(made, tilted, FIXES);
    made->passes[0].weight = weight;
    assert_int_equal(surveyed_make(made), TD_OK);
    double sigma = made->report.grade_sigma_200;
    surveyed_free(&made);
    return sigma;
}

/* By hand. Two passes with grades g and g + t, of which the first stands for w passes: the mean is
 * g + t / (w + 1), so they are off it by t / (w + 1) and t w / (w + 1). w of the first's square and
 * the second's make t^2 w / (w + 1); n - 1 is 1; the mean's variance is (w + 1)th of that:
 * sigma = t sqrt(w) / (w + 1). For w = 1 that is t / 2, for w = 3 0.4330 t, for w = 8 0.3143 t.
 * One difference over this road is widened by some constant, alike for all three. */
static void an_old_profile_counts_as_its_passes(void **state)
{
    (void)state;
    double smoothing = told(1, 0); /* no difference: what the smoothing takes from the two bends */
    assert_true(smoothing > 0 && smoothing < 0.005);
    double spread[3], tilt = 0.0015;
    const double weights[] = {1, 3, 8};
    for (size_t i = 0; i < 3; i++) {
        double all = told(weights[i], tilt);
        spread[i] = sqrt(all * all - smoothing * smoothing) / tilt;
    }
    double widened = spread[0] / 0.5;
    assert_true(widened > 1 && widened < 2);
    assert_near(spread[1] / widened, 0.4330, 0.004);
    assert_near(spread[2] / widened, 0.3143, 0.004);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(few_differences_widen_as_student_has_it),
        cmocka_unit_test(two_told_sigma_hold_95_of_100_pieces),
        cmocka_unit_test(an_old_profile_counts_as_its_passes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
