/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words into shaped, levelled sound: eSpeak NG, then high-pass, shelf and compression, then one
 * loudness, with the category's tone in front. Each utterance is synthesised in a fork of a process
 * that initialised eSpeak NG once: byte-identical every time, and a crash stays outside.
 * eSpeak NG types stay inside synth_server.c. Thread: the one that made it; open it before any
 * other thread of the process starts, since it forks. */
#ifndef TD_VOICE_SYNTH_H
#define TD_VOICE_SYNTH_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/prompt.h"
#include "talkdown/result.h"

enum { TD_SOUND_RATE_HZ = 22050, TD_SOUND_SECONDS_MAX = 20 };

struct td_sound_clip {
    int16_t *samples; /* mono, TD_SOUND_RATE_HZ; free with td_sound_clip_free */
    size_t count;
    size_t speech_from; /* first sample after the tone and its pause */
};

struct td_synth;

/* Starts the synthesis process. `voice` as eSpeak NG names it ("en-us"); TD_NOT_FOUND when it is
 * not there. rate_wpm 80 to 300. */
TD_CHECKED enum td_result td_synth_open(const char *voice, int rate_wpm, struct td_synth **out,
                                        struct td_problem *problem);
/* `words` is UTF-8 without control characters, at most 512 bytes, never markup. TD_INVALID when
 * there is nothing in it that can be said, TD_FULL when it would last over TD_SOUND_SECONDS_MAX,
 * TD_IO when synthesis failed: open anew. Blocks for some 10 ms, 8 s at the worst. */
TD_CHECKED enum td_result td_synth_say(struct td_synth *synth, enum td_category category,
                                       const char *words, struct td_sound_clip *clip,
                                       struct td_problem *problem);
void td_synth_close(struct td_synth **synth);
void td_sound_clip_free(struct td_sound_clip *clip);

#endif
