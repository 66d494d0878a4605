/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectra by GSL's radix-2 transform. */
#include "support/spectrum.h"

#include <gsl/gsl_fft_real.h>
#include <math.h>
#include <string.h>

static const double lowest_hz = 20;

double a_weighting_db(double hz)
{
    double f2 = hz * hz;
    double ra = 12194.217 * 12194.217 * f2 * f2 /
                ((f2 + 20.598997 * 20.598997) *
                 sqrt((f2 + 107.65265 * 107.65265) * (f2 + 737.86223 * 737.86223)) *
                 (f2 + 12194.217 * 12194.217));
    return 20 * log10(ra) + 2.0;
}

void spectrum_take(const double *samples, size_t count, double rate_hz, struct spectrum *spectrum)
{
    static double work[SPECTRUM_SIZE];
    memset(work, 0, sizeof work);
    memcpy(work, samples, count * sizeof work[0]);
    (void)gsl_fft_real_radix2_transform(work, 1, SPECTRUM_SIZE);
    spectrum->line_hz = rate_hz / SPECTRUM_SIZE;
    spectrum->power[0] = 0;
    for (size_t k = 1; k < SPECTRUM_SIZE / 2; k++) {
        double re = work[k], im = work[SPECTRUM_SIZE - k];
        spectrum->power[k] = 2 * (re * re + im * im) / SPECTRUM_SIZE / (double)count;
    }
}

/* As factors of the lines' powers; computed once for a rate. */
static const double *line_weights(double line_hz)
{
    static double weights[SPECTRUM_SIZE / 2], made_for_hz;
    for (size_t k = 1; k < SPECTRUM_SIZE / 2 && made_for_hz != line_hz; k++)
        weights[k] = pow(10, a_weighting_db((double)k * line_hz) / 10);
    made_for_hz = line_hz;
    return weights;
}

static double sum(const struct spectrum *spectrum, double from_hz, double to_hz, int weighted)
{
    const double *weights = line_weights(spectrum->line_hz);
    double power = 0;
    size_t from = (size_t)(fmax(from_hz, lowest_hz) / spectrum->line_hz) + 1;
    for (size_t k = from; k < SPECTRUM_SIZE / 2 && (double)k * spectrum->line_hz <= to_hz; k++)
        power += spectrum->power[k] * (weighted ? weights[k] : 1);
    return 10 * log10(power + 1e-30);
}

double spectrum_band_db(const struct spectrum *spectrum, double from_hz, double to_hz)
{
    return sum(spectrum, from_hz, to_hz, 0);
}

double spectrum_octave_db(const struct spectrum *spectrum, double centre_hz)
{
    return spectrum_band_db(spectrum, centre_hz / sqrt(2.0), centre_hz * sqrt(2.0));
}

double spectrum_a_weighted_db(const struct spectrum *spectrum, double from_hz, double to_hz)
{
    return sum(spectrum, from_hz, to_hz, 1);
}

void spectrum_levels(const struct spectrum *spectrum, double *levels_db)
{
    for (size_t i = 0; i < SII_THIRDS; i++) {
        double edge = pow(2, 1.0 / 6), hz = sii_third_hz[i];
        levels_db[i] = spectrum_band_db(spectrum, hz / edge, hz * edge) - sii_third_width_db[i];
    }
}

/* Level of a third of an octave at 1 kHz. */
static double slope_anchor_db(const struct slope_noise *noise)
{
    double power = 0;
    for (int i = -13; i <= 10; i++) { /* 50 Hz to 10 kHz */
        double octaves = i / 3.0;
        power += pow(10, (noise->slope_db * octaves + a_weighting_db(1000 * pow(2, octaves))) / 10);
    }
    return noise->level_dba - 10 * log10(power);
}

double slope_octave_db(const struct slope_noise *noise, double centre_hz)
{
    double octaves = log2(centre_hz / 1000), power = 0;
    for (int i = -1; i <= 1; i++)
        power += pow(10, noise->slope_db * i / 30);
    return slope_anchor_db(noise) + noise->slope_db * octaves + 10 * log10(power);
}

void slope_levels(const struct slope_noise *noise, double *levels_db)
{
    double anchor_db = slope_anchor_db(noise);
    for (size_t i = 0; i < SII_THIRDS; i++)
        levels_db[i] = anchor_db + noise->slope_db * log2(sii_third_hz[i] / 1000) -
                       sii_third_width_db[i];
}
