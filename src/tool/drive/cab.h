/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A virtual cab: the coach core with all that the daemon's shell would do for it, in virtual time.
 * Rehearsal feeds it a simulated truck's fixes, replay a recording's; both get the drive log, the
 * list of prompts and the sound as they would have been. */
#ifndef TD_TOOL_CAB_H
#define TD_TOOL_CAB_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "io/phrase_file.h"
#include "io/shelf.h"
#include "talkdown/coach.h"
#include "tool/drive/prompt_lines.h"

struct td_cab;

struct td_cab_options {
    const struct td_setup *setup;
    const struct td_shelf *shelf;        /* outlives the cab */
    const struct td_phrase_file *phrases; /* outlives the cab */
    const char *out_dir; /* made when it is not there; gets drive.db, prompts.txt and voice.wav;
                            NULL: nothing is written */
    bool replace;        /* outputs of an earlier run may be replaced */
    bool sound;          /* synthesise: voice.wav; not without out_dir */
    int speed;           /* of voice.wav, see td_cab_voice; 0 or 1 the drive's own time */
    bool json;
    FILE *print;         /* each prompt as it falls; NULL for none */
    const char *program; /* for the log */
    int64_t start_ns, start_utc_ms;
    /* Each prompt with its fate, in the order of the print; NULL for nobody. */
    void (*told)(void *told_who, const struct td_prompt_line *line);
    void *told_who;
    /* Somebody in the cab: called when a prompt was said to its end. NULL for nobody. */
    void (*hear)(void *who, const struct td_prompt *prompt, int64_t now_ns);
    void *who;
};

struct td_cab_summary {
    unsigned steps;
    unsigned prompts;                   /* spoken or cut */
    unsigned by_category[TD_CATEGORIES];
    unsigned failed_answers;            /* hills that could not be read */
    double sound_s;                     /* length of voice.wav, 0 without */
};

TD_CHECKED enum td_result td_cab_open(const struct td_cab_options *options, struct td_cab **out,
                                      struct td_problem *problem);
/* Runs timers, answers and voice up to and including until_ns. Time never runs back. */
TD_CHECKED enum td_result td_cab_run_to(struct td_cab *cab, int64_t until_ns,
                                        struct td_problem *problem);
/* A step with a fix at now_ns, after running to it. */
TD_CHECKED enum td_result td_cab_fix(struct td_cab *cab, const struct td_fix *fix, int64_t now_ns,
                                     struct td_problem *problem);
/* The same with a fix, or none, and a command of the driver's. */
TD_CHECKED enum td_result td_cab_command(struct td_cab *cab, const struct td_fix *fix,
                                         const struct td_command *command, int64_t now_ns,
                                         struct td_problem *problem);
/* What the coach thought after the last step. */
const struct td_estimate *td_cab_estimate(const struct td_cab *cab);
bool td_cab_is_talking(const struct td_cab *cab);
/* Ends the drive at end_ns, finishes the outputs and frees. *summary may be NULL. Always frees. */
enum td_result td_cab_close(struct td_cab **cab, int64_t end_ns, struct td_cab_summary *summary,
                            struct td_problem *problem);

#endif
