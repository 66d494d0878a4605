/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sound of what was said: one Ogg/Opus clip for each distinct wording, synthesised anew by the
 * voice that the log names. Thread: as td_synth. */
#ifndef TD_REVIEW_CLIPS_H
#define TD_REVIEW_CLIPS_H

#include <stddef.h>
#include <stdint.h>

#include "review/drive_facts.h"

struct td_clip {
    enum td_category category; /* its tone goes before the words */
    char *words;
    uint8_t *opus;
    size_t length;
    double seconds;
};

struct td_clips {
    struct td_clip *items;
    size_t count;
};

/* A clip for every prompt begun in these drives. `rate_wpm` as the phrase file has it. TD_FULL
 * when there would be more than TD_CLIPS_MAX. */
enum { TD_CLIPS_MAX = 600 };
TD_CHECKED enum td_result td_clips_make(struct td_review_drive *const *drives, size_t count,
                                        int rate_wpm, struct td_clips **out,
                                        struct td_problem *problem);
/* Index of the prompt's clip; -1 when it has none. */
int td_clips_find(const struct td_clips *clips, const struct td_review_prompt *prompt);
void td_clips_free(struct td_clips **clips);

#endif
