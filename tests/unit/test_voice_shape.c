/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Speech shaping against the responses of the analogue prototypes, which the bilinear transform
 * with prewarping keeps exactly at W = tan(w/2) / tan(w0/2) (W3C Audio EQ Cookbook; a Butterworth
 * high-pass by its definition). */
#include "support/cm.h"

#include <string.h>

#include "voice/shape.h"

enum { LENGTH = 22050 };
static const double rate_hz = 22050;
static const double pi = 3.14159265358979323846;
static double samples[LENGTH];

/* Gain in dB at one frequency of what is in `samples`, taken as an impulse response. */
static double response_db(double hz)
{
    double re = 0, im = 0;
    for (int i = 0; i < LENGTH; i++) {
        re += samples[i] * cos(2 * pi * hz / rate_hz * i);
        im -= samples[i] * sin(2 * pi * hz / rate_hz * i);
    }
    return 10 * log10(re * re + im * im);
}

static void set_impulse(void)
{
    memset(samples, 0, sizeof samples);
    samples[0] = 1;
}

static double warped(double hz, double corner_hz)
{
    return tan(pi * hz / rate_hz) / tan(pi * corner_hz / rate_hz);
}

static void high_pass_is_a_butterworth(void **state)
{
    (void)state;
    struct td_biquad section = td_biquad_high_pass(rate_hz, 300, sqrt(0.5));
    set_impulse();
    td_biquad_run(&section, samples, LENGTH);
    static const double at_hz[] = {50, 100, 200, 300, 500, 1000, 4000, 9000};
    for (size_t i = 0; i < sizeof at_hz / sizeof at_hz[0]; i++) {
        double w4 = pow(warped(at_hz[i], 300), 4);
        assert_near(response_db(at_hz[i]), 10 * log10(w4 / (1 + w4)), 0.01);
    }
    assert_near(response_db(300), -3.0103, 0.01);
}

static void high_shelf_follows_its_prototype(void **state)
{
    (void)state;
    struct td_biquad section = td_biquad_high_shelf(rate_hz, 1500, 6);
    set_impulse();
    td_biquad_run(&section, samples, LENGTH);
    static const double at_hz[] = {100, 500, 1000, 1500, 2000, 3000, 6000, 10000};
    double a = pow(10, 6.0 / 40), q = sqrt(0.5);
    for (size_t i = 0; i < sizeof at_hz / sizeof at_hz[0]; i++) {
        /* H(s) = A (A s^2 + sqrt(A)/Q s + 1) / (s^2 + sqrt(A)/Q s + A) at s = jW */
        double w = warped(at_hz[i], 1500), cross = sqrt(a) / q * w;
        double above = pow(1 - a * w * w, 2) + cross * cross;
        double below = pow(a - w * w, 2) + cross * cross;
        assert_near(response_db(at_hz[i]), 10 * log10(a * a * above / below), 0.01);
    }
    assert_near(response_db(20), 0, 0.05);
    assert_near(response_db(1500), 3, 0.01);
    assert_near(response_db(11000), 6, 0.05);
}

/* Level at the end of a second of a 1 kHz sine of this amplitude, in dB re full scale. */
static double squeezed_db(const struct td_compressor *compressor, double amplitude)
{
    for (int i = 0; i < LENGTH; i++)
        samples[i] = amplitude * sin(2 * pi * 1000 / rate_hz * i);
    td_compress(compressor, rate_hz, samples, LENGTH);
    double peak = 0;
    for (int i = LENGTH - 2205; i < LENGTH; i++)
        peak = fmax(peak, fabs(samples[i]));
    return 20 * log10(peak);
}

static void compressor_turns_four_db_into_one(void **state)
{
    (void)state;
    struct td_compressor compressor = {-24, 4, 0.002, 0.050};
    double quiet = squeezed_db(&compressor, 0.2), loud = squeezed_db(&compressor, 0.8);
    assert_near(loud - quiet, 20 * log10(4) / 4, 0.1);
}

static void compressor_leaves_quiet_sound_alone(void **state)
{
    (void)state;
    struct td_compressor compressor = {-24, 4, 0.002, 0.050};
    assert_near(squeezed_db(&compressor, 0.06), 20 * log10(0.06), 0.01); /* -24.4 dB */
}

static void compressor_attacks_in_2_ms_and_releases_in_50(void **state)
{
    (void)state;
    struct td_compressor compressor = {-20, 4, 0.002, 0.050};
    /* A constant: its level rises as 1 - exp(-t/2 ms) and falls as exp(-t/50 ms). */
    for (int i = 0; i < LENGTH; i++)
        samples[i] = i < 11025 ? 1.0 : 0.001;
    td_compress(&compressor, rate_hz, samples, LENGTH);
    int at = (int)(0.002 * rate_hz);
    double level = 1 - exp(-(at + 1) / (0.002 * rate_hz));
    assert_near(samples[at], pow(level / 0.1, -0.75), 0.001);
    at = (int)(0.050 * rate_hz);
    level = exp(-(at + 1) / (0.050 * rate_hz));
    assert_near(samples[11025 + at] / 0.001, pow(level / 0.1, -0.75), 0.002);
}

static void finds_where_it_sounds(void **state)
{
    (void)state;
    memset(samples, 0, sizeof samples);
    assert_int_equal(td_shape_sounding(samples, 100, 40).to, 0);
    samples[10] = 0.009; /* 41 dB under the peak */
    samples[20] = -0.011;
    samples[30] = 1;
    samples[40] = 0.02;
    struct td_span span = td_shape_sounding(samples, 100, 40);
    assert_int_equal(span.from, 20);
    assert_int_equal(span.to, 41);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(high_pass_is_a_butterworth),
        cmocka_unit_test(high_shelf_follows_its_prototype),
        cmocka_unit_test(compressor_turns_four_db_into_one),
        cmocka_unit_test(compressor_leaves_quiet_sound_alone),
        cmocka_unit_test(compressor_attacks_in_2_ms_and_releases_in_50),
        cmocka_unit_test(finds_where_it_sounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
