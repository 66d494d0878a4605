/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Speech Intelligibility Index from its published numbers. */
#include "support/sii.h"

#include <math.h>
#include <stddef.h>

const double sii_third_hz[SII_THIRDS] = {160,  200,  250,  315,  400,  500,  630,  800,  1000,
                                         1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000};
const double sii_third_width_db[SII_THIRDS] = {
    15.65, 16.65, 17.65, 18.65, 19.65, 20.65, 21.65, 22.65, 23.65,
    24.65, 25.65, 26.65, 27.65, 28.65, 29.65, 30.65, 31.65, 32.65};
const double sii_third_importance[SII_THIRDS] = {
    .0083, .0095, .0150, .0289, .0440, .0578, .0653, .0711, .0818,
    .0844, .0882, .0898, .0868, .0844, .0771, .0527, .0364, .0185};
const double sii_third_short_passages[SII_THIRDS] = {
    .0114, .0153, .0179, .0558, .0898, .0944, .0709, .0660, .0628,
    .0672, .0747, .0755, .0820, .0808, .0483, .0453, .0274, .0145};
const double sii_third_speech[SII_SHOUT + 1][SII_THIRDS] = {
    {32.41, 34.48, 34.75, 33.98, 34.59, 34.27, 32.06, 28.30, 25.01, 23.00, 20.15, 17.32, 13.18,
     11.55, 9.33, 5.31, 2.59, 1.13},
    {33.81, 33.92, 38.98, 38.57, 39.11, 40.15, 38.78, 36.37, 33.86, 31.89, 28.58, 25.32, 22.35,
     20.15, 16.78, 11.47, 7.67, 5.07},
    {35.29, 37.76, 41.55, 43.78, 43.30, 44.85, 45.55, 44.05, 42.16, 40.53, 37.70, 34.39, 30.98,
     28.21, 25.41, 18.35, 13.87, 11.39},
    {30.77, 36.65, 42.50, 46.51, 47.40, 49.24, 51.21, 51.44, 51.31, 49.63, 47.65, 44.32, 40.80,
     38.13, 34.41, 28.24, 23.45, 20.72},
};
const double sii_octave_importance[SII_OCTAVES] = {.0617, .1671, .2373, .2648, .2142, .0549};

/* Spectrum level of the ear's own noise. */
static const double third_inner[SII_THIRDS] = {.6,    -1.7,  -3.9,  -6.1,  -8.2,  -9.7,
                                               -10.8, -11.9, -12.5, -13.5, -15.4, -17.7,
                                               -21.2, -24.2, -25.9, -23.6, -15.8, -7.1};
static const double octave_inner[SII_OCTAVES] = {-3.9, -9.7, -12.5, -17.7, -25.9, -7.1};
static const double octave_normal[SII_OCTAVES] = {34.75, 34.27, 25.01, 17.32, 9.33, 1.13};

static double power(double level_db)
{
    return pow(10, 0.1 * level_db);
}

/* Noise with what spreads upward from lower bands, of the noise or of the voice itself. */
static void mask(const double *speech, const double *noise, double *masking)
{
    double within[SII_THIRDS], slope[SII_THIRDS];
    for (size_t i = 0; i < SII_THIRDS; i++) {
        within[i] = fmax(noise[i], speech[i] - 24);
        slope[i] = -80 + 0.6 * (within[i] + 10 * log10(sii_third_hz[i]) - 6.353);
        double sum = power(noise[i]);
        for (size_t k = 0; k < i; k++)
            sum += power(within[k] +
                         3.32 * slope[k] * log10(0.89 * sii_third_hz[i] / sii_third_hz[k]));
        masking[i] = i == 0 ? within[0] : 10 * log10(sum);
    }
}

/* What one band gives: how much of it is above noise and threshold, less where it is too loud. */
static double audible(double speech, double disturbance, double normal)
{
    double distortion = fmin(1, 1 - (speech - normal - 10) / 160);
    double above = (speech - disturbance + 15) / 30;
    return distortion * fmax(0, fmin(1, above));
}

double sii_third_octave(const double *speech, const double *noise, const double *threshold_hl,
                        const double *importance)
{
    double masking[SII_THIRDS], sii = 0;
    const double *weight = importance ? importance : sii_third_importance;
    mask(speech, noise, masking);
    for (size_t i = 0; i < SII_THIRDS; i++) {
        double disturbance = fmax(masking[i], third_inner[i] + threshold_hl[i]);
        sii += weight[i] * audible(speech[i], disturbance, sii_third_speech[SII_NORMAL][i]);
    }
    return sii;
}

double sii_octave(const double *speech, const double *noise, const double *threshold_hl,
                  const double *importance)
{
    double sii = 0;
    const double *weight = importance ? importance : sii_octave_importance;
    for (size_t i = 0; i < SII_OCTAVES; i++) {
        double disturbance = fmax(noise[i], octave_inner[i] + threshold_hl[i]);
        sii += weight[i] * audible(speech[i], disturbance, octave_normal[i]);
    }
    return sii;
}

double sii_sentence_score(double sii)
{
    static const double at[] = {0, .20, .25, .30, .35, .40, .45, .50, .55, .60, .70, 1};
    static const double score[] = {0, .20, .45, .60, .74, .84, .90, .94, .96, .98, .99, 1};
    size_t i = 1;
    while (i + 1 < sizeof at / sizeof at[0] && sii > at[i])
        i++;
    double part = fmax(0, fmin(1, (sii - at[i - 1]) / (at[i] - at[i - 1])));
    return score[i - 1] + part * (score[i] - score[i - 1]);
}
