/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lengths of synthesised prompts: what the table speech_ms of a phrase file must hold, and what the
 * limits of spoken prompts are measured on. */
#ifndef TD_TESTS_SPOKEN_H
#define TD_TESTS_SPOKEN_H

#include "support/english.h"
#include "voice/synth.h"

struct spoken {
    char words[TD_WORDS_MAX];
    double whole_s;  /* tone, pause and speech to the last sample */
    double tone_s;   /* from the start to the first sound of the speech */
    double speech_s; /* first to last sample above -40 dB of the speech's peak */
};

/* Says the prompt; false, with a message on standard error, when it has no words or no sound. */
bool spoken_measure(struct td_synth *synth, const struct td_phrase_file *file,
                    const struct td_prompt *prompt, struct spoken *spoken);
/* Says every prompt of english_every, gears with each kind of gearbox and stages of each kind;
 * false when one failed. */
typedef void spoken_fn(void *context, const struct td_prompt *prompt, const struct spoken *spoken);
bool spoken_each(struct td_synth *synth, const struct td_phrase_file *file, spoken_fn *each,
                 void *context);
/* The longest whole length of each prompt so said, in milliseconds rounded up. */
bool spoken_longest(struct td_synth *synth, const struct td_phrase_file *file,
                    int32_t longest_ms[TD_PROMPT_IDS]);

#endif
