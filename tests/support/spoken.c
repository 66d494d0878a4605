/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Measures prompts as the synthesiser says them. */
#include "support/spoken.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define HEARD_RATIO 0.01 /* -40 dB */

static void find_speech(const struct td_sound_clip *clip, struct spoken *spoken)
{
    int peak = 0;
    for (size_t i = clip->speech_from; i < clip->count; i++)
        peak = abs(clip->samples[i]) > peak ? abs(clip->samples[i]) : peak;
    size_t first = clip->count, last = clip->speech_from;
    for (size_t i = clip->speech_from; i < clip->count; i++) {
        if (abs(clip->samples[i]) <= HEARD_RATIO * peak)
            continue;
        first = i < first ? i : first;
        last = i;
    }
    spoken->whole_s = (double)clip->count / TD_SOUND_RATE_HZ;
    spoken->tone_s = (double)first / TD_SOUND_RATE_HZ;
    spoken->speech_s = last > first ? (double)(last - first) / TD_SOUND_RATE_HZ : 0.0;
}

bool spoken_measure(struct td_synth *synth, const struct td_phrase_file *file,
                    const struct td_prompt *prompt, struct spoken *spoken)
{
    struct td_sound_clip clip = {.samples = NULL};
    struct td_problem problem = {.text = "no words"};
    english_say(file, prompt, spoken->words);
    if (spoken->words[0] == '\0' || td_synth_say(synth, prompt->category, spoken->words, &clip,
                                                 &problem) != TD_OK) {
        fprintf(stderr, "%s: %s\n", td_prompt_key(prompt->id), problem.text);
        return false;
    }
    find_speech(&clip, spoken);
    td_sound_clip_free(&clip);
    return true;
}

bool spoken_each(struct td_synth *synth, const struct td_phrase_file *file, spoken_fn *each,
                 void *context)
{
    bool all = true;
    _Static_assert((int)TD_PHRASE_GEARBOXES == (int)TD_PHRASE_HOLDERS, "one variant of each");
    for (int variant = 0; variant < TD_PHRASE_GEARBOXES; variant++) {
        struct td_prompt prompt;
        struct spoken spoken;
        english_variant((enum td_gearbox)variant, (enum td_holder)variant);
        for (unsigned i = 0; english_every(i, &prompt); i++) {
            if (variant > 0 && td_phrase_rig_slot(prompt.id) == TD_SLOT_NONE)
                continue;
            if (spoken_measure(synth, file, &prompt, &spoken))
                each(context, &prompt, &spoken);
            else
                all = false;
        }
    }
    english_variant(TD_GEARBOX_MANUAL, TD_HOLDER_ENGINE_BRAKE);
    return all;
}

static void keep_longest(void *context, const struct td_prompt *prompt,
                         const struct spoken *spoken)
{
    int32_t *longest_ms = context;
    int32_t whole_ms = (int32_t)ceil(spoken->whole_s * 1000.0);
    if (whole_ms > longest_ms[prompt->id])
        longest_ms[prompt->id] = whole_ms;
}

bool spoken_longest(struct td_synth *synth, const struct td_phrase_file *file,
                    int32_t longest_ms[TD_PROMPT_IDS])
{
    for (int id = 0; id < TD_PROMPT_IDS; id++)
        longest_ms[id] = 0;
    return spoken_each(synth, file, keep_longest, longest_ms);
}
