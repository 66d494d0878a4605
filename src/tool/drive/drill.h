/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drills: rehearsals in which the simulated driver, or the truck, does one thing wrong, the voice
 * speaks, and a sheet asks the trainee at each prompt that matters what he would do now, with the
 * right answer worked out from the plan of this hill, truck and load. */
#ifndef TD_TOOL_DRILL_H
#define TD_TOOL_DRILL_H

#include <stdio.h>

#include "sim/trip.h"
#include "tool/drive/prompt_lines.h"
#include "tool/plan/plan_answer.h"

enum { TD_DRILL_IDS_MAX = 14 };

#define TD_DRILL_NO_CURVE                                                                          \
    "the ceiling of the whole grade is as low as its bends ask for, so none is called by itself"


struct td_drill {
    const char *name;
    const char *wrong; /* what goes wrong, a sentence */
    enum td_driver_kind driver;
    enum td_slip_kind slip;
    /* Prompts that the sheet asks about; dangers are always asked about. */
    unsigned ask_count;
    enum td_prompt_id ask[TD_DRILL_IDS_MAX];
    /* At least one of these has to be said, or the drill gave no occasion. */
    unsigned answer_count;
    enum td_prompt_id answers[TD_DRILL_IDS_MAX];
};

/* NULL when there is none of that name. */
const struct td_drill *td_drill_find(const char *name);
/* A line each. */
void td_drill_list(FILE *to);
/* Whether hill, truck and plan have what the drill needs; TD_INVALID says what is missing. */
TD_CHECKED enum td_result td_drill_fits(const struct td_drill *drill,
                                        const struct td_plan_answer *answer,
                                        struct td_problem *problem);

/* What happened, for the sheet. */
struct td_drill_moment { /* of the truth, once a second */
    int64_t at_ns;
    double along_m, speed_mps;
};

struct td_drill_run {
    const struct td_drill *drill;
    struct td_prompt_line *lines; /* begun, in order */
    size_t line_count, line_room;
    struct td_drill_moment *moments;
    size_t moment_count, moment_room;
    bool no_memory;
};

/* Notes a prompt's fate; *run is `who` of a cab's `told`. */
void td_drill_told(void *run, const struct td_prompt_line *line);
/* Call once a step; keeps a moment a second. */
void td_drill_watch(struct td_drill_run *run, const struct td_trip *trip);
/* Whether the voice said one of the prompts that the drill is about. */
bool td_drill_answered(const struct td_drill_run *run);
/* A drill of a bend on a plan in which none asks for less than the ceiling before it: one gear
 * holds for a whole descent, so its sharpest bend, or what is stricter, sets the whole ceiling. */
bool td_drill_calls_no_curve(const struct td_drill *drill, const struct td_plan *plan);
void td_drill_free(struct td_drill_run *run);

/* The sheet. Times count from start_ns. Returns the questions asked. */
unsigned td_drill_sheet(FILE *to, const struct td_drill_run *run,
                        const struct td_plan_answer *answer, const struct td_trip *trip,
                        int64_t start_ns);

#endif
