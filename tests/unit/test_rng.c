/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include "talkdown/rng.h"

/* Output of the generator's own sample program for seed 42, stream 54 (PCG, O'Neill; values from
 * memory). */
static void matches_the_published_sequence(void **state)
{
    (void)state;
    static const uint32_t expected[] = {0xa15c02b7u, 0x7b47f409u, 0xba1d3330u,
                                        0x83d2f293u, 0xbfa4784bu, 0xcbed606eu};
    struct td_rng rng;
    td_rng_seed(&rng, 42, 54);
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++)
        assert_int_equal(td_rng_u32(&rng), expected[i]);
}

static void below_stays_below_and_reaches_every_value(void **state)
{
    (void)state;
    struct td_rng rng;
    unsigned seen[7] = {0};
    td_rng_seed(&rng, 1, 1);
    for (int i = 0; i < 7000; i++) {
        uint32_t value = td_rng_below(&rng, 7);
        assert_true(value < 7);
        seen[value]++;
    }
    for (int i = 0; i < 7; i++)
        assert_in_range(seen[i], 850, 1150); /* 1000 +- 5 sigma */
}

static void normal_has_mean_0_and_deviation_1(void **state)
{
    (void)state;
    struct td_rng rng;
    double sum = 0, squares = 0;
    int n = 100000;
    td_rng_seed(&rng, 7, 3);
    for (int i = 0; i < n; i++) {
        double value = td_rng_normal(&rng);
        assert_true(isfinite(value));
        sum += value;
        squares += value * value;
    }
    assert_near(sum / n, 0.0, 0.016); /* 5 sigma of the mean */
    assert_near(squares / n, 1.0, 0.023);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(matches_the_published_sequence),
        cmocka_unit_test(below_stays_below_and_reaches_every_value),
        cmocka_unit_test(normal_has_mean_0_and_deviation_1),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
