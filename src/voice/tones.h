/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tones in front of prompts, made by arithmetic. Pure.
 *
 * Four, distinct from the start, ramps of 25 ms, energy from 0.5 to 5 kHz, one loudness; that of
 * warning and danger is short and has every mark of an alarm (Singer et al., ESV 15-0455: plateau
 * at least 0.7 of the burst, gaps at most 125 ms, three harmonics or more, base at least 1,000 Hz),
 * a notice's and an advice's at most two of them. A tone before urgent speech slowed the answer in
 * one study (Simpson and Williams, Human Factors 22(3), 1980) and is asked for elsewhere
 * (MIL-STD-1472, from memory); in the noise of a cab the first word is easily lost, so it is there,
 * and under 0.2 s. */
#ifndef TD_VOICE_TONES_H
#define TD_VOICE_TONES_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/prompt.h"

enum { TD_TONE_SAMPLES_MAX = 16384 };

/* Writes the category's tone at TD_SOUND_RATE_HZ, -1 to 1, and then its pause before the speech, to
 * `samples` of TD_TONE_SAMPLES_MAX. Returns how many. */
size_t td_tone_render(enum td_category category, double *samples);

/* -1 to 1 as a 16-bit sample, nearest, held at full scale. */
int16_t td_sound_sample(double value);

#endif
