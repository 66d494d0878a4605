/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Speech in noise, and speech before any shaping, for tests and measurements. */
#ifndef TD_TESTS_NOISE_H
#define TD_TESTS_NOISE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"
#include "talkdown/rng.h"

enum { NOISE_SAMPLES_MAX = 220500 /* 10 s at 22,050 Hz */ };

/* Pink noise; set_level scales to a root mean square re full scale. */
void noise_pink(struct td_rng *rng, double *noise, size_t count);
void noise_set_level(double *samples, size_t count, double level);

/* The synthesis process itself, before any shaping. One at a time. The text is at most
 * NOISE_SAMPLES_MAX samples long; 0 when it failed. */
bool raw_voice_open(const char *voice, int rate_wpm);
size_t raw_voice_say(const char *words, double *speech);
void raw_voice_close(void);

#endif
