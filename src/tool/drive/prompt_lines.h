/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was said, as lines: one a prompt when its fate is known, on standard output (text, or JSON
 * for machines) and in prompts.txt. Lines come in the order in which prompts were spoken; one that
 * was dropped while another was being said follows that one. */
#ifndef TD_TOOL_PROMPT_LINES_H
#define TD_TOOL_PROMPT_LINES_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "talkdown/coach.h"
#include "talkdown/phrase.h"

enum { TD_LINES_OPEN_MAX = 32, TD_LINES_HILL_MAX = 72 };

/* One prompt on its way to its fate. */
struct td_prompt_line {
    struct td_prompt prompt;
    int64_t at_ns;           /* issued; or when its fate came, for one never issued */
    char words[TD_WORDS_MAX];
    char hill_id[TD_LINES_HILL_MAX]; /* "" none */
    double along_m, speed_mps;
    bool on_hill;
    bool issued, closed;
    enum td_event_kind fate;
};

struct td_prompt_lines {
    bool json;
    FILE *print; /* NULL: nothing is printed */
    FILE *file;  /* prompts.txt, NULL: none */
    /* Called with each line as it is printed; NULL: nobody. */
    void (*told)(void *who, const struct td_prompt_line *line);
    void *who;
    int64_t start_ns, start_utc_ms;
    struct td_prompt_line open[TD_LINES_OPEN_MAX];
    unsigned open_count;
    unsigned printed;
    unsigned by_category[TD_CATEGORIES]; /* spoken or cut, by category */
    bool write_failed;
};

/* An event of the step at now_ns. `words` and `hill_id` as known then; "" when not. */
void td_prompt_lines_event(struct td_prompt_lines *lines, int64_t now_ns,
                           const struct td_event *event, const struct td_estimate *estimate,
                           const char *words, const char *hill_id);
/* Words dispatched for a prompt that was issued. */
void td_prompt_lines_words(struct td_prompt_lines *lines, uint32_t serial, const char *words);
/* The drive is over: prompts still open are printed with the fate they had reached. */
void td_prompt_lines_end(struct td_prompt_lines *lines);
/* "spoken", "cut", "dropped", "expired", "lost", or "open". */
const char *td_fate_word(enum td_event_kind fate);

#endif
