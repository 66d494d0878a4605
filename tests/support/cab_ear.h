/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The reference cab in which sound is judged: noises, ears and one loudness at the ear. All of it
 * is our own assumption, since no measured spectrum of a cab was found: 79 dBA is below the mean of
 * 82.7 that Seshagiri (1998) measured and near what newer trucks have (Morrison 1993); pink noise
 * did to speech what truck noise does (Morrison 1993); the two slopes are guesses. With them
 * designs are ranked; they say nothing of a truck whose noise and loudspeaker nobody measured. */
#ifndef TD_TESTS_CAB_EAR_H
#define TD_TESTS_CAB_EAR_H

#include "support/spectrum.h"

enum { CAB_NOISES = 3, CAB_HEARINGS = 3 };

/* Sound pressure level at the driver's ear of a sound file whose mean square is 1, at full volume:
 * a prompt at -18 LUFS then has 87 to 88 dBA. docs/voice.md says how a truck is set so. */
#define CAB_EAR_DB 110.5

struct cab_noise {
    const char *name;
    struct slope_noise noise;
};
extern const struct cab_noise cab_noises[CAB_NOISES];

/* Hearing thresholds in the bands of sii.h: an ordinary ear; 40 dB everywhere, the most that
 * 49 CFR 391.41(b)(11) allows on average at 0.5, 1 and 2 kHz; a notch from 3 to 6 kHz as noise cuts
 * it (its depth is our own choice). */
struct cab_hearing {
    const char *name;
    double threshold_hl[SII_THIRDS];
};
extern const struct cab_hearing cab_hearings[CAB_HEARINGS];

/* Index of speech with these spectrum levels (re a mean square of 1), gain_db louder than the
 * reference, for a noise and a hearing. */
double cab_sii(const double *levels_db, double gain_db, const struct cab_noise *noise,
               const struct cab_hearing *hearing);

/* The loudest 125 ms (time weighting "fast" is as long) of a sound: its start, A-weighted level
 * re a mean square of 1, and its spectrum. */
struct cab_moment {
    size_t from;
    double a_weighted_db;
    struct spectrum spectrum;
};
void cab_loudest_moment(const double *samples, size_t count, double rate_hz,
                        struct cab_moment *moment);

/* ISO 7731: the masked threshold in octaves 125 Hz to 8 kHz, LT1 = LN1, LTi = max(LNi, LT(i-1) -
 * 7.5) (read in a secondary source); the greatest margin of the sound over it. */
double cab_octave_margin_db(const struct spectrum *spectrum, double gain_db,
                            const struct cab_noise *noise);

#endif
