/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One loudness for every prompt, after ITU-R BS.1770 and EBU R 128. libebur128 stays inside
 * loudness.c. */
#ifndef TD_VOICE_LOUDNESS_H
#define TD_VOICE_LOUDNESS_H

#include <stddef.h>

#include "talkdown/result.h"

/* The file level is our own choice: the loudest at which no prompt's peaks pass the ceiling, so
 * none is quieter than the others. The ceiling is R 128's. */
#define TD_LOUDNESS_LUFS (-18.0)
#define TD_TRUE_PEAK_DBTP (-1.0)

struct td_loudness {
    double integrated_lufs; /* mono played on two loudspeakers (dual mono) */
    double true_peak_dbtp;
};

/* Sound shorter than one 400 ms gating block is measured padded with silence to that length.
 * TD_INVALID when it is too quiet to have a loudness (below the -70 LUFS gate). */
TD_CHECKED enum td_result td_loudness_measure(const double *samples, size_t count, double rate_hz,
                                              struct td_loudness *loudness,
                                              struct td_problem *problem);
/* Gain to the loudness above, less where the true peak would pass its ceiling. */
TD_CHECKED enum td_result td_loudness_level(double *samples, size_t count, double rate_hz,
                                            struct td_problem *problem);

#endif
