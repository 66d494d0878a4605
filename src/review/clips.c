/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Distinct wordings of one or many drives, each synthesised once. */
#include "review/clips.h"

#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "review/facts_parts.h"
#include "voice/opus.h"
#include "voice/synth.h"

int td_clips_find(const struct td_clips *clips, const struct td_review_prompt *prompt)
{
    for (size_t i = 0; clips != NULL && prompt->said && i < clips->count; i++)
        if (clips->items[i].category == prompt->spoken.prompt.category &&
            strcmp(clips->items[i].words, prompt->spoken.words) == 0)
            return (int)i;
    return -1;
}

static enum td_result make(struct td_clips *clips, struct td_synth *synth,
                           const struct td_review_prompt *prompt, struct td_problem *problem)
{
    struct td_sound_clip sound;
    if (clips->count == TD_CLIPS_MAX)
        return td_problem_set(problem, TD_FULL, NULL, 0,
                              "more than %d different prompts; name fewer drives, or --no-sound",
                              (int)TD_CLIPS_MAX);
    struct td_clip *items = td_facts_grown(clips->items, clips->count, sizeof *items);
    if (items == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the sound");
    clips->items = items;
    enum td_result result = td_synth_say(synth, prompt->spoken.prompt.category,
                                         prompt->spoken.words, &sound, problem);
    if (result != TD_OK)
        return result;
    struct td_clip clip = {.category = prompt->spoken.prompt.category,
                           .words = strdup(prompt->spoken.words),
                           .seconds = (double)sound.count / TD_SOUND_RATE_HZ};
    result = clip.words != NULL
                 ? td_opus_make(&sound, &clip.opus, &clip.length, problem)
                 : td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the sound");
    td_sound_clip_free(&sound);
    if (result != TD_OK) {
        free(clip.words);
        return result;
    }
    items[clips->count++] = clip;
    return TD_OK;
}

/* Prompts of one drive, in the voice it was made with. */
static enum td_result make_of(struct td_clips *clips, const struct td_review_drive *drive,
                              int rate_wpm, struct td_problem *problem)
{
    struct td_synth *synth = NULL;
    enum td_result result = TD_OK;
    for (size_t i = 0; i < drive->prompt_count && result == TD_OK; i++) {
        const struct td_review_prompt *prompt = &drive->prompts[i];
        if (!prompt->said || prompt->spoken.words[0] == '\0' || td_clips_find(clips, prompt) >= 0)
            continue;
        if (synth == NULL)
            result = td_synth_open(drive->language, rate_wpm, &synth, problem);
        if (result == TD_OK)
            result = make(clips, synth, prompt, problem);
    }
    td_synth_close(&synth);
    return result;
}

enum td_result td_clips_make(struct td_review_drive *const *drives, size_t count, int rate_wpm,
                             struct td_clips **out, struct td_problem *problem)
{
    struct td_clips *clips = calloc(1, sizeof *clips);
    if (clips == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the sound");
    enum td_result result = TD_OK;
    for (size_t i = 0; i < count && result == TD_OK; i++)
        result = make_of(clips, drives[i], rate_wpm, problem);
    if (result != TD_OK) {
        td_clips_free(&clips);
        return result;
    }
    *out = clips;
    return TD_OK;
}

void td_clips_free(struct td_clips **clips)
{
    if (clips == NULL || *clips == NULL)
        return;
    for (size_t i = 0; i < (*clips)->count; i++) {
        free((*clips)->items[i].words);
        free((*clips)->items[i].opus);
    }
    free((*clips)->items);
    free(*clips);
    *clips = NULL;
}
