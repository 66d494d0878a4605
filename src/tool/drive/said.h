/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two accounts of one drive, side by side: what was said then, and what would be said now. */
#ifndef TD_TOOL_SAID_H
#define TD_TOOL_SAID_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "talkdown/coach.h"
#include "talkdown/phrase.h"

/* A voice answers some tenths of a second sooner or later than its model: within so much it is the
 * same moment. */
#define TD_SAID_SAME_S 1.0
/* Further apart than this they are two prompts, not one that moved. */
#define TD_SAID_MOVED_S 120.0

/* A prompt that was begun: spoken to its end or cut. */
struct td_said {
    double t_s; /* from the start of the drive */
    enum td_prompt_id id;
    enum td_category category;
    enum td_event_kind fate;
    char words[TD_WORDS_MAX];
    char hill[TD_HILL_NAME_MAX]; /* "" none */
    double along_m, speed_mps;
};

struct td_said_list {
    struct td_said *items;
    size_t count, room;
};

/* The new item, zeroed, at the end of the list; NULL without memory. */
struct td_said *td_said_add(struct td_said_list *list);
void td_said_free(struct td_said_list *list);

enum td_said_kind { TD_SAID_SAME = 0, TD_SAID_MOVED, TD_SAID_OTHER_WORDS, TD_SAID_ONLY_THEN,
                    TD_SAID_ONLY_NOW, TD_SAID_KINDS };

struct td_said_pair {
    enum td_said_kind kind;
    const struct td_said *then, *now; /* NULL for one that is not there */
};

/* Pairs the two lists, each in order of time, so that as many as can be are the same prompt, words
 * and all, then the same prompt with other words, then nearest in time. Order is kept: a pair never
 * crosses another. `*pairs` is the caller's to free. TD_NO_MEMORY; TD_FULL for more than some 4,000
 * of each. */
TD_CHECKED enum td_result td_said_pair_up(const struct td_said_list *then,
                                          const struct td_said_list *now,
                                          struct td_said_pair **pairs, size_t *count,
                                          struct td_problem *problem);

/* A line a pair, and how many of each kind. */
void td_said_print(FILE *to, const struct td_said_pair *pairs, size_t count);
/* One JSON object a pair. */
void td_said_print_json(FILE *to, const struct td_said_pair *pairs, size_t count);

#endif
