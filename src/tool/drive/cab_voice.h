/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice of a virtual cab: takes words in virtual time, reports what became of them as the real
 * voice does, and keeps the sound on the drive's own timeline. Without sound it models lengths. */
#ifndef TD_TOOL_CAB_VOICE_H
#define TD_TOOL_CAB_VOICE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/coach.h"
#include "voice/sink.h"

enum { TD_CAB_OWED_MAX = 4 };

struct td_cab_voice {
    struct td_synth *synth; /* NULL: no sound, lengths are modelled */
    struct td_sink *sink;   /* NULL without sound */
    int speed;              /* of a quick listen: silences shrink to one part in so many; 0 or 1 the
                               drive's own time */
    int64_t laid_ms;        /* end in the sink of the last clip */
    int64_t laid_ns;        /* its end in the drive's time */
    int64_t start_ns;       /* of the timeline */
    int32_t delay_ms;       /* from speak to first sample */
    const int32_t *speech_ms; /* longest speech of each prompt; 0 where not measured */
    bool busy, started;
    struct td_prompt prompt;
    int64_t starts_ns, ends_ns;
    struct td_sound_clip clip;
    struct td_report owed[TD_CAB_OWED_MAX]; /* reports that go with the next step */
    unsigned owed_count;
    int64_t owed_ns;
};

/* Says words for a prompt at now_ns. Busy, too late or without words: reported DROPPED. */
TD_CHECKED enum td_result td_cab_voice_speak(struct td_cab_voice *voice,
                                             const struct td_prompt *prompt, const char *words,
                                             int64_t now_ns, struct td_problem *problem);
/* No words could be made for the prompt. */
void td_cab_voice_drop(struct td_cab_voice *voice, uint32_t serial, int64_t now_ns);
TD_CHECKED enum td_result td_cab_voice_cut(struct td_cab_voice *voice, uint32_t serial,
                                           int64_t now_ns, struct td_problem *problem);
/* When it next has something to report; INT64_MAX never. */
int64_t td_cab_voice_next_ns(const struct td_cab_voice *voice);
/* Adds what is due at now_ns to the input. *heard is set when a prompt was said to its end, which
 * *prompt then is. */
TD_CHECKED enum td_result td_cab_voice_report(struct td_cab_voice *voice, int64_t now_ns,
                                              struct td_input *input, bool *heard,
                                              struct td_prompt *prompt,
                                              struct td_problem *problem);
/* How long the sound would be, closed at end_ns; 0 without sound. */
double td_cab_voice_length_s(const struct td_cab_voice *voice, int64_t end_ns);
/* Closes the sink at end_ns and frees everything. */
TD_CHECKED enum td_result td_cab_voice_close(struct td_cab_voice *voice, int64_t end_ns,
                                             struct td_problem *problem);

#endif
