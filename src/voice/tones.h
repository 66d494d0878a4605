/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tones in front of prompts, one a category, made by arithmetic. Pure.
 *
 * Four at most, distinct from the start, ramps of 25 ms, energy from 0.5 to 4 kHz, one loudness;
 * the warning's is short and has every mark of an alarm (Singer et al., ESV 15-0455: plateau at
 * least 0.7 of the burst, gaps at most 125 ms, three harmonics or more, base at least 1,000 Hz), a
 * notice's and an advice's at most two of them. A danger has none: a tone before the most urgent
 * speech slowed the answer (Simpson and Williams, Human Factors 22(3), 1980). */
#ifndef TD_VOICE_TONES_H
#define TD_VOICE_TONES_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/prompt.h"

enum { TD_TONE_SAMPLES_MAX = 16384 };

/* Writes the category's tone at TD_SOUND_RATE_HZ, -1 to 1, and then its pause before the speech, to
 * `samples` of TD_TONE_SAMPLES_MAX. Returns how many; 0 for a category without a tone. */
size_t td_tone_render(enum td_category category, double *samples);

/* -1 to 1 as a 16-bit sample, nearest, held at full scale. */
int16_t td_sound_sample(double value);

#endif
