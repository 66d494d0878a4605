/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Noises, ears and levels of the reference cab. */
#include "support/cab_ear.h"

#include <math.h>
#include <string.h>

enum { OCTAVES = 7, MOMENT_MAX = 8192 };

const struct cab_noise cab_noises[CAB_NOISES] = {
    {"pink", {0, 79}}, {"-3 dB/octave", {-3, 79}}, {"-5 dB/octave", {-5, 79}}};

const struct cab_hearing cab_hearings[CAB_HEARINGS] = {
    {"ordinary", {0}},
    {"40 dB loss", {40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40, 40}},
    {"3-6 kHz notch", {10, 10, 10, 10, 10, 10, 10, 10, 10, 10, 15, 20, 35, 60, 65, 65, 60, 45}}};

double cab_sii(const double *levels_db, double gain_db, const struct cab_noise *noise,
               const struct cab_hearing *hearing)
{
    double speech[SII_THIRDS], masker[SII_THIRDS];
    for (size_t i = 0; i < SII_THIRDS; i++)
        speech[i] = levels_db[i] + CAB_EAR_DB + gain_db;
    slope_levels(&noise->noise, masker);
    return sii_third_octave(speech, masker, hearing->threshold_hl, NULL);
}

void cab_loudest_moment(const double *samples, size_t count, double rate_hz,
                        struct cab_moment *moment)
{
    static double part[MOMENT_MAX];
    static struct spectrum spectrum;
    size_t length = (size_t)(rate_hz / 8);
    moment->a_weighted_db = -HUGE_VAL;
    for (size_t from = 0; from < count; from += length / 8) {
        size_t some = count - from < length ? count - from : length;
        memset(part, 0, length * sizeof part[0]);
        memcpy(part, samples + from, some * sizeof part[0]);
        spectrum_take(part, length, rate_hz, &spectrum);
        double level_db = spectrum_a_weighted_db(&spectrum, 20, rate_hz / 2);
        if (level_db <= moment->a_weighted_db)
            continue;
        moment->from = from;
        moment->a_weighted_db = level_db;
        moment->spectrum = spectrum;
    }
}

double cab_octave_margin_db(const struct spectrum *spectrum, double gain_db,
                            const struct cab_noise *noise)
{
    double threshold_db = -HUGE_VAL, best_db = -HUGE_VAL;
    for (int i = 0; i < OCTAVES; i++) {
        double centre_hz = 125 * pow(2, i);
        double noise_db = slope_octave_db(&noise->noise, centre_hz);
        threshold_db = fmax(noise_db, threshold_db - 7.5);
        double sound_db = spectrum_octave_db(spectrum, centre_hz) + CAB_EAR_DB + gain_db;
        best_db = fmax(best_db, sound_db - threshold_db);
    }
    return best_db;
}
