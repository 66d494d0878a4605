/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Spectra of sound and of the noises it is judged in. Levels in dB: of samples re a mean square of
 * 1, of noise as sound pressure at the ear. GSL's transform. */
#ifndef TD_TESTS_SPECTRUM_H
#define TD_TESTS_SPECTRUM_H

#include <stddef.h>

#include "support/sii.h"

enum { SPECTRUM_SIZE = 1 << 17 }; /* 5.9 s at 22,050 Hz */

struct spectrum {
    double power[SPECTRUM_SIZE / 2]; /* mean square in each line, of the part that was given */
    double line_hz;
};

/* count at most SPECTRUM_SIZE. */
void spectrum_take(const double *samples, size_t count, double rate_hz, struct spectrum *spectrum);
/* Level between two frequencies. */
double spectrum_band_db(const struct spectrum *spectrum, double from_hz, double to_hz);
double spectrum_octave_db(const struct spectrum *spectrum, double centre_hz);
/* A-weighted level (IEC 61672-1) between two frequencies. */
double spectrum_a_weighted_db(const struct spectrum *spectrum, double from_hz, double to_hz);
/* Spectrum levels (in a band 1 Hz wide) in the bands of sii.h. */
void spectrum_levels(const struct spectrum *spectrum, double *levels_db);

/* A noise whose octave levels change by slope_db from octave to octave (0: pink) and whose whole
 * level from 50 Hz to 10 kHz is level_dba. */
struct slope_noise {
    double slope_db, level_dba;
};
double slope_octave_db(const struct slope_noise *noise, double centre_hz);
/* Spectrum levels in the bands of sii.h. */
void slope_levels(const struct slope_noise *noise, double *levels_db);

/* IEC 61672-1, in dB; 0 at 1 kHz. */
double a_weighting_db(double hz);

#endif
