/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the two measurements of bench_voice_settings share: speech of a setting in noise. */
#ifndef TD_TESTS_VOICE_BENCH_H
#define TD_TESTS_VOICE_BENCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "support/noise.h"

/* One way to make speech. A compressor ratio of 1 and a shelf of 0 dB leave them out. */
struct voice_setting {
    const char *name, *voice;
    int rate_wpm;
    double high_pass_hz, shelf_db, ratio;
    int pitch; /* as eSpeak NG counts it; 0 leaves it as it is */
};

/* Words as speech of the setting whose voice is open, trimmed; 0 when it failed. */
size_t bench_speech(const struct voice_setting *setting, const char *words, double *speech);
/* The speech in pink noise so many dB(A) below it (a great number: none), the same level of speech
 * whatever the setting, half a second of noise at both ends; `notched` takes 3 to 6 kHz from it, as
 * a worn ear does. Returns the samples of `mixed`. */
size_t bench_mix(const double *speech, size_t count, double snr_db, unsigned realisation,
                 bool notched, int16_t *mixed);
/* Numbers and gears in noise: which wording is mistaken least. */
int bench_words(unsigned realisations);

#endif
