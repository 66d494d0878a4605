/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shaping of speech: filters and a compressor, plain arithmetic on a buffer. */
#include "voice/shape.h"

#include <math.h>

static const double pi = 3.14159265358979323846;

struct td_biquad td_biquad_high_pass(double rate_hz, double corner_hz, double q)
{
    double w = 2 * pi * corner_hz / rate_hz;
    double alpha = sin(w) / (2 * q), c = cos(w), a0 = 1 + alpha;
    struct td_biquad section = {
        .b0 = (1 + c) / 2 / a0, .b1 = -(1 + c) / a0, .b2 = (1 + c) / 2 / a0,
        .a1 = -2 * c / a0, .a2 = (1 - alpha) / a0,
    };
    return section;
}

struct td_biquad td_biquad_high_shelf(double rate_hz, double corner_hz, double gain_db)
{
    double a = pow(10, gain_db / 40), w = 2 * pi * corner_hz / rate_hz;
    double c = cos(w), root = sqrt(a) * sin(w) * sqrt(2.0); /* 2 sqrt(A) alpha at S = 1 */
    double a0 = (a + 1) - (a - 1) * c + root;
    struct td_biquad section = {
        .b0 = a * ((a + 1) + (a - 1) * c + root) / a0,
        .b1 = -2 * a * ((a - 1) + (a + 1) * c) / a0,
        .b2 = a * ((a + 1) + (a - 1) * c - root) / a0,
        .a1 = 2 * ((a - 1) - (a + 1) * c) / a0,
        .a2 = ((a + 1) - (a - 1) * c - root) / a0,
    };
    return section;
}

void td_biquad_run(const struct td_biquad *section, double *samples, size_t count)
{
    double s1 = 0, s2 = 0; /* transposed direct form II */
    for (size_t i = 0; i < count; i++) {
        double x = samples[i], y = section->b0 * x + s1;
        s1 = section->b1 * x - section->a1 * y + s2;
        s2 = section->b2 * x - section->a2 * y;
        samples[i] = y;
    }
}

void td_compress(const struct td_compressor *compressor, double rate_hz, double *samples,
                 size_t count)
{
    double attack = exp(-1 / (compressor->attack_s * rate_hz));
    double release = exp(-1 / (compressor->release_s * rate_hz));
    double threshold = pow(10, compressor->threshold_db / 20), level = 0;
    for (size_t i = 0; i < count; i++) {
        double size = fabs(samples[i]), keep = size > level ? attack : release;
        level = keep * level + (1 - keep) * size;
        if (level > threshold)
            samples[i] *= pow(level / threshold, 1 / compressor->ratio - 1);
    }
}

void td_shape_speech(double rate_hz, double *samples, size_t count)
{
    struct td_biquad high_pass = td_biquad_high_pass(rate_hz, 300, sqrt(0.5));
    struct td_biquad shelf = td_biquad_high_shelf(rate_hz, 1500, 6);
    /* The raw voice peaks at about -4 dBFS; -24 keeps all but its faintest sounds under the 4:1. */
    struct td_compressor compressor = {-24, 4, 0.002, 0.050};
    td_biquad_run(&high_pass, samples, count);
    td_biquad_run(&shelf, samples, count);
    td_compress(&compressor, rate_hz, samples, count);
}

struct td_span td_shape_sounding(const double *samples, size_t count, double below_peak_db)
{
    double peak = 0;
    for (size_t i = 0; i < count; i++)
        peak = fmax(peak, fabs(samples[i]));
    struct td_span span = {0, 0};
    double least = peak * pow(10, -below_peak_db / 20);
    if (!(peak > 0))
        return span;
    while (fabs(samples[span.from]) < least)
        span.from++;
    span.to = count;
    while (fabs(samples[span.to - 1]) < least)
        span.to--;
    return span;
}
