/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The queue of prompts: who speaks next, who is cut, who came too late. One voice at a time.
 *
 * Every serial gets exactly one last fate (spoken, cut, lost, expired, dropped). A prompt that was
 * cut by a higher one, lost with the sound, or cut because it had not begun in time, and still
 * matters is decided anew under a new serial and starts from its first word. A voice that stops
 * answering is told to be quiet and then taken as silent, so that it cannot block the queue. */
#ifndef TD_CORE_QUEUE_H
#define TD_CORE_QUEUE_H

#include "core/cue.h"
#include "talkdown/coach.h"

enum { TD_QUEUE_MAX = 24, TD_SPOKEN_MAX = 8 };

struct td_waiting {
    struct td_prompt prompt;
    unsigned tries;        /* how often the sound was lost under it */
    unsigned cuts;         /* how often it was cut by a higher one */
    int64_t not_before_ns; /* back-off after a loss */
    enum td_fill fill;     /* of this step */
    bool answers;          /* who asked for it waits: no silence is kept before it */
};

/* The prompt handed to the voice. */
struct td_flight {
    bool busy, started;
    struct td_prompt prompt;
    unsigned tries, cuts;
    int64_t issued_ns, started_ns;
    int64_t cut_ns; /* 0: not asked to stop */
    enum td_why cut_why;
};

struct td_queue {
    struct td_waiting waiting[TD_QUEUE_MAX];
    unsigned count;
    struct td_flight flight;
    uint32_t last_serial;
    int64_t free_ns;  /* when the voice last fell silent; INT64_MIN never spoke */
    bool sound_up;
    bool spoke_once;
    struct td_prompt spoken[TD_SPOKEN_MAX]; /* newest first, for "again" */
    unsigned spoken_count;
};

void td_queue_init(struct td_queue *queue);
/* Takes a wish in under a new serial; one already waiting for the same thing makes it needless. A
 * full queue drops the least pressing. */
void td_queue_add(struct td_queue *queue, const struct td_moment *moment,
                  const struct td_prompt *prompt, enum td_why why, struct td_output *output);
/* What became of the prompt in flight. Reports of other serials are left out. */
void td_queue_report(struct td_queue *queue, const struct td_moment *moment,
                     struct td_visit *visit, const struct td_report *report,
                     struct td_output *output);
/* Drops what no longer holds, then at most one cut or speak. */
void td_queue_step(struct td_queue *queue, const struct td_moment *moment,
                   struct td_visit *visit, struct td_output *output);
/* The driver wants quiet: the prompt in flight and its repeats, dangers excepted. */
void td_queue_quiet(struct td_queue *queue, const struct td_moment *moment,
                    struct td_visit *visit, struct td_output *output);
/* What waits of this prompt is no longer true. */
void td_queue_clear(struct td_queue *queue, enum td_prompt_id id, struct td_output *output);
/* The menu speaks anew: what it said before neither waits nor goes on. */
void td_queue_clear_menu(struct td_queue *queue, const struct td_moment *moment,
                         struct td_output *output);
bool td_queue_has(const struct td_queue *queue, enum td_prompt_id id);
/* When the queue would act by time alone; INT64_MAX never. */
int64_t td_queue_next_ns(const struct td_queue *queue, const struct td_moment *moment,
                         const struct td_visit *visit);

void td_event_add(struct td_output *output, enum td_event_kind kind, enum td_why why,
                  int32_t value, const struct td_prompt *prompt);

#endif
