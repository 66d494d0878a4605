/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sound into a file on a timeline: a WAV in which each clip starts at its own time. libsndfile
 * stays inside sink.c. */
#ifndef TD_VOICE_SINK_H
#define TD_VOICE_SINK_H

#include "voice/synth.h"

struct td_sink;

TD_CHECKED enum td_result td_sink_create(const char *path, struct td_sink **out,
                                         struct td_problem *problem);
/* Silence up to at_ms (from the start), then the first `count` samples of the clip. Clips come in
 * order and do not overlap: one that begins before the end of the last is TD_INVALID. */
TD_CHECKED enum td_result td_sink_put(struct td_sink *sink, int64_t at_ms,
                                      const struct td_sound_clip *clip, size_t count,
                                      struct td_problem *problem);
/* Silence up to end_ms, then the header; frees. */
TD_CHECKED enum td_result td_sink_close(struct td_sink **sink, int64_t end_ms,
                                        struct td_problem *problem);

#endif
