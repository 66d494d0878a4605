/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loudness against ITU-R BS.1770 / EBU Tech 3341: a 1 kHz sine of -20 dBFS in one channel reads
 * -23.0 LUFS, so as dual mono -20.0; 0 dBFS at 997 Hz reads -3.01 in one channel. */
#include "support/cm.h"

#include <string.h>

#include "voice/loudness.h"

enum { RATE = 22050, LENGTH = 2 * RATE };
static double samples[LENGTH];

static void set_sine(double hz, double amplitude, int count)
{
    for (int i = 0; i < LENGTH; i++)
        samples[i] = i < count ? amplitude * sin(2 * 3.14159265358979 * hz / RATE * i) : 0;
}

static void reads_the_published_levels(void **state)
{
    (void)state;
    struct td_loudness loudness;
    set_sine(1000, 0.1, LENGTH);
    assert_int_equal(td_loudness_measure(samples, LENGTH, RATE, &loudness, NULL), TD_OK);
    assert_near(loudness.integrated_lufs, -23.0 + 3.01, 0.1);
    assert_near(loudness.true_peak_dbtp, -20, 0.2);
    set_sine(997, 1, LENGTH);
    assert_int_equal(td_loudness_measure(samples, LENGTH, RATE, &loudness, NULL), TD_OK);
    assert_near(loudness.integrated_lufs, -3.01 + 3.01, 0.1);
}

static void levels_what_is_long_and_what_is_short(void **state)
{
    (void)state;
    static const int lengths[] = {LENGTH, RATE / 2, RATE / 4, RATE / 10};
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
        struct td_loudness loudness;
        set_sine(1500, 0.01, lengths[i]);
        assert_int_equal(td_loudness_level(samples, (size_t)lengths[i], RATE, NULL), TD_OK);
        assert_int_equal(td_loudness_measure(samples, (size_t)lengths[i], RATE, &loudness, NULL),
                         TD_OK);
        assert_near(loudness.integrated_lufs, -18, 0.1);
        assert_true(loudness.true_peak_dbtp <= -1 + 1e-6);
    }
}

static void never_passes_the_peak_for_loudness(void **state)
{
    (void)state;
    struct td_loudness loudness;
    set_sine(1000, 0.001, LENGTH);
    for (int i = 0; i < LENGTH; i += 2205)
        samples[i] = 0.5;
    assert_int_equal(td_loudness_level(samples, LENGTH, RATE, NULL), TD_OK);
    assert_int_equal(td_loudness_measure(samples, LENGTH, RATE, &loudness, NULL), TD_OK);
    assert_near(loudness.true_peak_dbtp, -1, 0.05);
    assert_true(loudness.integrated_lufs < -17);
}

static void silence_has_no_loudness(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    set_sine(1000, 0, LENGTH);
    assert_int_equal(td_loudness_level(samples, LENGTH, RATE, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "too quiet"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_the_published_levels),
        cmocka_unit_test(levels_what_is_long_and_what_is_short),
        cmocka_unit_test(never_passes_the_peak_for_loudness),
        cmocka_unit_test(silence_has_no_loudness),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
