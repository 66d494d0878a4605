/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The reference model on rows nobody listed: a grid of weights, grades, lengths and speeds against
 * the published formula written down a second time (support/gsrs_by_hand.h; from memory), and the
 * method for hills of several grades. */
#include "support/cm.h"
#include "support/gsrs_by_hand.h"
#include "support/seed.h"
#include "talkdown/gsrs.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static const enum td_gsrs_set sets[] = {TD_GSRS_1982, TD_GSRS_1989};

static void every_temperature_of_the_grid_is_the_formula(void **state)
{
    (void)state;
    int rows = 0;
    for (size_t s = 0; s < COUNT(sets); s++)
        for (double w = 20000; w <= 140000; w += 4000)
            for (double theta = 0; theta < 0.1301; theta += 0.005)
                for (double l = 0.25; l <= 16; l *= 2)
                    for (double v = 3; v <= 75; v += 6) {
                        struct td_gsrs_segment segment = {theta, l};
                        double by_hand_f =
                            by_hand_final_f(sets[s] == TD_GSRS_1982, w, theta, l, v, 150);
                        assert_near(td_gsrs_final_f(sets[s], w, segment, v, 150), by_hand_f,
                                    1e-9 * fabs(by_hand_f));
                        assert_near(td_gsrs_stop_f(w, v), by_hand_stop_f(w, v), 1e-9);
                        rows++;
                    }
    printf("published_gsrs: %d temperatures\n", rows);
}

static void every_safe_speed_of_the_grid_is_the_formula(void **state)
{
    (void)state;
    int rows = 0, limited = 0;
    for (size_t s = 0; s < COUNT(sets); s++)
        for (double w = 30000; w <= 120000; w += 10000)
            for (int percent = 3; percent <= 12; percent++)
                for (double l = 1; l <= 12; l += 1) {
                    double theta = percent / 100.0;
                    const struct td_gsrs_segment hill = {theta, l};
                    int tenths = by_hand_safe_tenths(sets[s] == TD_GSRS_1982, w, theta, l, 950);
                    assert_near(td_gsrs_safe_mph(sets[s], w, &hill, 1, 95), tenths / 10.0, 1e-9);
                    rows++;
                    limited += tenths < 950;
                }
    assert_true(limited > rows / 2);
    printf("published_gsrs: %d safe speeds, %d below 95 mph\n", rows, limited);
}

/* Continuous slope: one speed, each grade entered at the temperature the last one left (method from
 * memory, medium confidence). */
static void chains_are_the_formula_piece_by_piece(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "published_gsrs", 19820185);
    for (int round = 0; round < 2000; round++) {
        bool of_1982 = td_rng_below(&rng, 2) == 0;
        double w = td_rng_between(&rng, 30000, 120000), v = td_rng_between(&rng, 5, 65);
        struct td_gsrs_segment hill[6];
        size_t count = 1 + td_rng_below(&rng, 6);
        double temp_f = 150, peak_f = 150, final_f = 0;
        for (size_t i = 0; i < count; i++) {
            hill[i] = (struct td_gsrs_segment){td_rng_between(&rng, -0.02, 0.09),
                                               td_rng_between(&rng, 0.2, 3)};
            temp_f = by_hand_final_f(of_1982, w, hill[i].grade_ratio, hill[i].length_mi, v, temp_f);
            peak_f = fmax(peak_f, temp_f);
        }
        double got_f = td_gsrs_peak_f(of_1982 ? TD_GSRS_1982 : TD_GSRS_1989, w, hill, count, v,
                                      &final_f);
        assert_near(got_f, peak_f, 1e-9 * peak_f);
        assert_near(final_f, temp_f, 1e-9 * fabs(temp_f));
        assert_true(temp_f >= 90 - 1e-9); /* never cooler than the air */
    }
}

/* Grade that needs no brakes at 80,000 lb, computed once by another program: 1982 2.35, 2.29 and
 * 2.37 % at 30, 45 and 55 mph; 1989 1.86, 1.67 and 1.70 %. */
static void brakes_begin_where_the_computed_grade_says(void **state)
{
    (void)state;
    static const struct {
        enum td_gsrs_set set;
        double mph, percent;
    } rows[] = {{TD_GSRS_1982, 30, 2.35}, {TD_GSRS_1982, 45, 2.29}, {TD_GSRS_1982, 55, 2.37},
                {TD_GSRS_1989, 30, 1.86}, {TD_GSRS_1989, 45, 1.67}, {TD_GSRS_1989, 55, 1.70}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        double below = (rows[i].percent - 0.006) / 100, above = (rows[i].percent + 0.006) / 100;
        assert_near(td_gsrs_brake_hp(rows[i].set, 80000, below, rows[i].mph), 0, 0);
        assert_true(td_gsrs_brake_hp(rows[i].set, 80000, above, rows[i].mph) > 0);
    }
}

/* T(V) falls again where drag wins, and a search that starts above the trap would miss it: the
 * speeds above the one given must contain the failure that stopped the scan. */
static void the_first_speed_that_fails_ends_it(void **state)
{
    (void)state;
    int traps = 0;
    for (int percent = 4; percent <= 8; percent++)
        for (double l = 2; l <= 12; l += 1) {
            const struct td_gsrs_segment hill = {percent / 100.0, l};
            double safe = td_gsrs_safe_mph(TD_GSRS_1982, 60000, &hill, 1, 120);
            if (safe >= 119.95)
                continue;
            double next_f = td_gsrs_peak_f(TD_GSRS_1982, 60000, &hill, 1, safe + 0.1, NULL) +
                            td_gsrs_stop_f(60000, safe + 0.1);
            assert_true(next_f > TD_GSRS_LIMIT_F);
            double thermal_f = td_gsrs_peak_f(TD_GSRS_1982, 60000, &hill, 1, 110, NULL);
            traps += thermal_f < td_gsrs_peak_f(TD_GSRS_1982, 60000, &hill, 1, 50, NULL);
        }
    assert_true(traps > 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_temperature_of_the_grid_is_the_formula),
        cmocka_unit_test(every_safe_speed_of_the_grid_is_the_formula),
        cmocka_unit_test(chains_are_the_formula_piece_by_piece),
        cmocka_unit_test(brakes_begin_where_the_computed_grade_says),
        cmocka_unit_test(the_first_speed_that_fails_ends_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
