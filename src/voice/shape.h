/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shaping of speech for a noisy cab: high-pass, high shelf, compression (docs/voice.md has the
 * figures that chose them). Pure: no heap, clock or I/O; samples are -1 to 1 at full scale.
 *
 * Filters are second-order sections after R. Bristow-Johnson, "Cookbook formulae for audio EQ
 * biquad filter coefficients" (W3C Audio EQ Cookbook). */
#ifndef TD_VOICE_SHAPE_H
#define TD_VOICE_SHAPE_H

#include <stddef.h>

/* y[n] = b0 x[n] + b1 x[n-1] + b2 x[n-2] - a1 y[n-1] - a2 y[n-2] */
struct td_biquad {
    double b0, b1, b2, a1, a2;
};

struct td_compressor {
    double threshold_db; /* re full scale; above it the level rises 1 dB for `ratio` dB */
    double ratio;
    double attack_s, release_s; /* time constants of the level's rise and fall */
};

/* corner_hz above 0 and below half the rate. */
struct td_biquad td_biquad_high_pass(double rate_hz, double corner_hz, double q);
/* gain_db far above the corner, half of it (in dB) at the corner, 0 far below; slope S = 1. */
struct td_biquad td_biquad_high_shelf(double rate_hz, double corner_hz, double gain_db);
void td_biquad_run(const struct td_biquad *section, double *samples, size_t count);

/* Feed-forward, level from the rectified signal, no make-up gain. */
void td_compress(const struct td_compressor *compressor, double rate_hz, double *samples,
                 size_t count);

/* The whole chain with the coach's values: 300 Hz high-pass, +6 dB above 1.5 kHz, 4:1. */
void td_shape_speech(double rate_hz, double *samples, size_t count);

/* First and one past the last sample above `below_peak_db` under the loudest (40: the bound of a
 * prompt's length). Both 0 for silence. */
struct td_span {
    size_t from, to;
};
struct td_span td_shape_sounding(const double *samples, size_t count, double below_peak_db);

#endif
