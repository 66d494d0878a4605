/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Does this core say what the log says? Feeds the stored inputs of a drive, step by step, to a
 * fresh coach and compares every prompt (meaning, numbers, times, fate) and every estimate on
 * file, rounded. */
#ifndef TD_TOOL_EXACT_H
#define TD_TOOL_EXACT_H

#include <stdbool.h>
#include <stdint.h>

#include "talkdown/result.h"

enum { TD_EXACT_DIFFERENCE_MAX = 512 };

struct td_exact {
    bool same;
    unsigned steps, prompts;
    uint32_t lost; /* steps the log itself says are missing */
    char difference[TD_EXACT_DIFFERENCE_MAX]; /* the first one, "" when same */
};

/* TD_OK when the log could be read to its end, whatever it says; see exact->same. */
TD_CHECKED enum td_result td_exact_run(const char *path, struct td_exact *exact,
                                       struct td_problem *problem);

#endif
