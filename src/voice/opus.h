/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A clip as Ogg/Opus in memory, for a page that carries its own sound. Any thread. */
#ifndef TD_VOICE_OPUS_H
#define TD_VOICE_OPUS_H

#include <stdint.h>

#include "voice/synth.h"

/* Opus knows 24,000 samples a second and not TD_SOUND_RATE_HZ: the clip is resampled. The bytes
 * are the caller's to free. TD_UNSUPPORTED where libsndfile has no Opus. */
TD_CHECKED enum td_result td_opus_make(const struct td_sound_clip *clip, uint8_t **bytes,
                                       size_t *length, struct td_problem *problem);

/* 16-bit samples from TD_SOUND_RATE_HZ to 24,000 a second by a windowed sinc (Lanczos, 16 zero
 * crossings a side); what lies beyond the clip counts as silence. Writes
 * td_opus_resampled(count) samples. */
#define TD_OPUS_RATE_HZ 24000
size_t td_opus_resampled(size_t count);
void td_opus_resample(const int16_t *from, size_t count, float *to);

#endif
