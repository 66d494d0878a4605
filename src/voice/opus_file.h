/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Samples into an Ogg/Opus file in memory; in sink.c, where libsndfile is. */
#ifndef TD_VOICE_OPUS_FILE_H
#define TD_VOICE_OPUS_FILE_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"

TD_CHECKED enum td_result td_opus_write(const float *samples, size_t count, int rate_hz,
                                        uint8_t **bytes, size_t *length,
                                        struct td_problem *problem);

#endif
