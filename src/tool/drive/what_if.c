/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What would be said now. Only what came from outside counts as given: positions, when they came,
 * and what the driver commanded. Hills are found anew, plans solved anew, the voice is modelled, so
 * even with nothing changed a prompt may come some tenths of a second sooner or later. */
#include "tool/drive/what_if.h"

#include <stdlib.h>
#include <string.h>

#include "io/drive_trace.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/drive/cab.h"

/* Time the last words get after the last step. */
#define AFTER_NS (8 * TD_NS_PER_S)

struct run {
    const struct td_drive_options *options;
    struct td_what_if *what_if;
    struct td_drive_reader *reader;
    struct td_setup setup;
    struct td_shelf *shelf;
    struct td_phrase_file *phrases;
    struct td_cab *cab;
    int64_t start_ns, now_ns;
    bool no_memory;
};

static bool was_said(enum td_event_kind fate)
{
    return fate == TD_EVENT_STARTED || fate == TD_EVENT_SPOKEN || fate == TD_EVENT_CUT ||
           fate == TD_EVENT_LOST;
}

static void take_now(void *who, const struct td_prompt_line *line)
{
    struct run *run = who;
    if (!line->issued || !was_said(line->fate))
        return;
    struct td_said *said = td_said_add(&run->what_if->now);
    if (said == NULL) {
        run->no_memory = true;
        return;
    }
    said->t_s = td_s_from_ns(line->at_ns - run->start_ns);
    said->id = line->prompt.id;
    said->category = line->prompt.category;
    said->fate = line->fate;
    (void)td_text_copy(said->words, sizeof said->words, line->words);
    (void)td_text_copy(said->hill, sizeof said->hill, line->hill_id);
    said->along_m = line->along_m;
    said->speed_mps = line->speed_mps;
}

static enum td_result take_then(struct run *run, struct td_problem *problem)
{
    struct td_spoken *spoken = NULL;
    size_t count = 0;
    enum td_result result = td_drive_prompts(run->reader, &spoken, &count, problem);
    for (size_t i = 0; i < count && result == TD_OK; i++) {
        const struct td_spoken *one = &spoken[i];
        if (one->issued_ns == 0 || !was_said(one->fate))
            continue;
        struct td_said *said = td_said_add(&run->what_if->then);
        run->no_memory |= said == NULL;
        if (said == NULL)
            break;
        said->t_s = td_s_from_ns(one->issued_ns - run->start_ns);
        said->id = one->prompt.id;
        said->category = one->prompt.category;
        said->fate = one->fate;
        (void)td_text_copy(said->words, sizeof said->words, one->words);
        (void)td_text_copy(said->hill, sizeof said->hill, one->hill_id);
        said->along_m = one->along_m;
        said->speed_mps = one->speed_mps;
    }
    free(spoken);
    return result;
}

static int by_time(const void *one, const void *other)
{
    const struct td_said *a = one, *b = other;
    return (a->t_s > b->t_s) - (a->t_s < b->t_s);
}

/* A command of the other truck's as this one has it: by name. False: it has no such thing, or the
 * command line has said otherwise. */
static bool translate(const struct run *run, struct td_command *command)
{
    const struct td_rig *was = &td_drive_setup(run->reader)->rig, *now = &run->setup.rig;
    const char *name = NULL;
    switch (command->kind) {
    case TD_COMMAND_ROAD:
        return run->options->road == NULL;
    case TD_COMMAND_LOAD:
        if (run->options->load != NULL || command->value < 0 ||
            (size_t)command->value >= was->load_count)
            return false;
        name = was->loads[command->value].name;
        for (size_t i = 0; i < now->load_count; i++)
            if (strcmp(now->loads[i].name, name) == 0) {
                command->value = (int32_t)i;
                return true;
            }
        return false;
    case TD_COMMAND_ENGINE_BRAKE:
        if (command->value < 0)
            return true;
        if ((size_t)command->value >= was->stage_count)
            return false;
        name = was->stages[command->value].name;
        for (size_t i = 0; i < now->stage_count; i++)
            if (strcmp(now->stages[i].name, name) == 0) {
                command->value = (int32_t)i;
                return true;
            }
        return false;
    default:
        return true;
    }
}

/* The driver's own; what the shell told of its hills is not. */
static bool is_drivers(enum td_command_kind kind)
{
    return kind != TD_COMMAND_NOTHING && kind != TD_COMMAND_HILLS_CHANGED &&
           kind != TD_COMMAND_LIBRARY_REFUSED && kind != TD_COMMAND_LIBRARY_DAMAGED;
}

static enum td_result take_step(struct run *run, const struct td_input *input,
                                struct td_problem *problem)
{
    struct td_command command = input->command;
    bool commanded = is_drivers(command.kind);
    if (commanded && !translate(run, &command)) {
        commanded = false;
        run->what_if->left_out++;
    }
    run->now_ns = input->now_ns > run->now_ns ? input->now_ns : run->now_ns;
    if (!commanded && !input->has_fix)
        return TD_OK;
    return td_cab_command(run->cab, input->has_fix ? &input->fix : NULL,
                          commanded ? &command : NULL, run->now_ns, problem);
}

static enum td_result play(struct run *run, struct td_problem *problem)
{
    enum td_result result = td_cab_run_to(run->cab, run->start_ns, problem);
    while (result == TD_OK) {
        struct td_input input;
        struct td_problem why;
        enum td_result next = td_drive_next(run->reader, &input, &why);
        if (next == TD_NOT_FOUND)
            break;
        if (next == TD_OK) {
            result = take_step(run, &input, problem);
        } else {
            *problem = why;
            result = next;
        }
    }
    run->what_if->lost = td_drive_lost(run->reader);
    return result == TD_OK ? td_cab_run_to(run->cab, run->now_ns + AFTER_NS, problem) : result;
}

/* The hills that the log carries. */
static enum td_result shelf_of_log(struct run *run, struct td_problem *problem)
{
    size_t count = td_drive_hill_count(run->reader);
    const struct td_hill_file **files = calloc(count + 1, sizeof *files);
    if (files == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the hills");
    enum td_result result = TD_OK;
    for (size_t i = 0; i < count && result == TD_OK; i++)
        result = td_drive_hill_file(run->reader, i, &files[i], problem);
    if (result == TD_OK)
        result = td_shelf_of_files(files, count, &run->shelf, problem);
    free(files);
    return result;
}

static enum td_result open_parts(struct run *run, struct td_problem *problem)
{
    const struct td_drive_options *options = run->options;
    char language[32];
    run->setup = *td_drive_setup(run->reader);
    enum td_result result = td_drive_change_setup(options, &run->setup, problem);
    if (result == TD_OK)
        result = options->hills != NULL ? td_shelf_open(options->hills, &run->shelf, problem)
                                        : shelf_of_log(run, problem);
    if (result != TD_OK)
        return result;
    run->setup.hills_on_board = options->hills != NULL ? (uint32_t)td_shelf_count(run->shelf)
                                                       : run->setup.hills_on_board;
    (void)td_drive_head_text(run->reader, "language", language, sizeof language);
    result = td_drive_phrases_open(options->phrases, language, &run->phrases, problem);
    for (int id = 0; id < TD_PROMPT_IDS && result == TD_OK; id++)
        /* Prompts that the log's core did not know have no length in it. */
        if (options->phrases != NULL || run->setup.speech_ms[id] == 0)
            run->setup.speech_ms[id] = td_phrase_file_speech_ms(run->phrases)[id];
    return result;
}

static enum td_result drive_again(struct run *run, struct td_problem *problem)
{
    enum td_result result = open_parts(run, problem);
    if (result != TD_OK)
        return result;
    const struct td_cab_options cab = {
        .setup = &run->setup,
        .shelf = run->shelf,
        .phrases = run->phrases,
        .out_dir = run->options->out,
        .replace = run->options->force,
        .program = "talkdown replay --what-if",
        .start_ns = run->start_ns,
        .start_utc_ms = td_drive_start_utc_ms(run->reader),
        .told = take_now,
        .told_who = run,
    };
    struct td_cab_summary summary = {.steps = 0};
    result = td_cab_open(&cab, &run->cab, problem);
    if (result == TD_OK)
        result = play(run, problem);
    enum td_result closed = td_cab_close(&run->cab, run->now_ns + AFTER_NS, &summary,
                                         result == TD_OK ? problem : NULL);
    run->what_if->failed_answers = summary.failed_answers;
    return result == TD_OK ? closed : result;
}

enum td_result td_what_if_run(const char *path, const struct td_drive_options *options,
                              struct td_what_if *what_if, struct td_problem *problem)
{
    struct run run = {.options = options, .what_if = what_if};
    *what_if = (struct td_what_if){.lost = 0};
    enum td_result result = td_drive_open(path, &run.reader, problem);
    if (result == TD_OK) {
        run.start_ns = run.now_ns = td_drive_start_ns(run.reader);
        result = take_then(&run, problem);
    }
    if (result == TD_OK)
        result = drive_again(&run, problem);
    if (result == TD_OK && run.no_memory)
        result = td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the prompts");
    if (what_if->then.count > 0)
        qsort(what_if->then.items, what_if->then.count, sizeof *what_if->then.items, by_time);
    if (what_if->now.count > 0)
        qsort(what_if->now.items, what_if->now.count, sizeof *what_if->now.items, by_time);
    td_phrase_file_free(&run.phrases);
    td_shelf_close(&run.shelf);
    td_drive_close(&run.reader);
    return result;
}
