/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The virtual cab: what the core asks is answered as the daemon would, a fixed time later. */
#include "tool/drive/cab.h"

#include <stdlib.h>
#include <string.h>

#include "io/answers.h"
#include "io/drive_log.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/drive/cab_outputs.h"
#include "tool/drive/cab_voice.h"
#include "tool/drive/prompt_lines.h"

/* What the daemon's I/O thread takes for a hill or a plan; fixed, so that runs repeat. */
#define ANSWER_NS (20 * TD_NS_PER_MS)
/* A core that wakes again at once would hold virtual time still. */
#define WAKE_LEAST_NS TD_NS_PER_MS
/* Commits of the log, in virtual time: a rehearsal has no power cuts. */
#define SYNC_NS (900 * TD_NS_PER_S)

enum { OFFERS_DUE_MAX = 4 * TD_OFFERS_MAX, PLANS_DUE_MAX = 16 };

struct due_offer {
    int64_t due_ns;
    struct td_offer offer;
};

struct due_plan {
    int64_t due_ns;
    uint32_t serial;
    struct td_plan plan;
};

struct td_cab {
    struct td_cab_options options;
    struct td_setup setup;
    void *memory;
    struct td_coach *coach;
    struct td_answers *answers;
    struct td_cab_outputs outputs;
    struct td_cab_voice voice;
    struct td_prompt_lines lines;
    struct due_offer offers[OFFERS_DUE_MAX];
    size_t offer_count;
    struct due_plan plans[PLANS_DUE_MAX];
    size_t plan_count;
    struct td_output output; /* of the last step */
    int64_t now_ns, wake_ns, synced_ns;
    struct td_cab_summary summary;
};

static enum td_result open_parts(struct td_cab *cab, struct td_problem *problem)
{
    const struct td_cab_options *options = &cab->options;
    struct td_drive_head head = {
        .program = options->program,
        .rig_name = cab->setup.rig.name,
        .language = td_phrase_file_voice(options->phrases),
        .start_utc_ms = options->start_utc_ms,
        .start_ns = options->start_ns,
        .setup = &cab->setup,
    };
    enum td_result result = td_answers_open(options->shelf, &cab->answers, problem);
    if (result != TD_OK || options->out_dir == NULL)
        return result;
    result = td_cab_outputs_open(&cab->outputs, options->out_dir, options->replace,
                                 options->sound, &head, problem);
    if (result == TD_OK && options->sound)
        result = td_synth_open(td_phrase_file_voice(options->phrases),
                               td_phrase_file_rate_wpm(options->phrases), &cab->voice.synth,
                               problem);
    if (result != TD_OK)
        return result;
    cab->voice.sink = cab->outputs.sink;
    cab->outputs.sink = NULL; /* the voice closes it */
    cab->lines.file = cab->outputs.prompts;
    return TD_OK;
}

enum td_result td_cab_open(const struct td_cab_options *options, struct td_cab **out,
                           struct td_problem *problem)
{
    struct td_cab *cab = calloc(1, sizeof *cab);
    void *memory = malloc(td_coach_size());
    if (cab == NULL || memory == NULL) {
        free(cab);
        free(memory);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the coach");
    }
    cab->options = *options;
    cab->setup = *options->setup;
    cab->memory = memory;
    cab->now_ns = cab->wake_ns = cab->synced_ns = options->start_ns;
    cab->voice = (struct td_cab_voice){
        .start_ns = options->start_ns,
        .delay_ms = cab->setup.sound_delay_ms,
        .speed = options->speed,
        .speech_ms = cab->setup.speech_ms,
    };
    cab->lines = (struct td_prompt_lines){
        .json = options->json,
        .print = options->print,
        .told = options->told,
        .who = options->told_who,
        .start_ns = options->start_ns,
        .start_utc_ms = options->start_utc_ms,
    };
    cab->coach = td_coach_init(memory, &cab->setup, options->start_ns);
    enum td_result result = TD_OK;
    if (cab->coach == NULL)
        result = td_problem_set(problem, TD_INVALID, NULL, 0, "the coach refuses the rig");
    if (result == TD_OK)
        result = open_parts(cab, problem);
    if (result != TD_OK) {
        (void)td_cab_close(&cab, options->start_ns, NULL, NULL);
        return result;
    }
    *out = cab;
    return TD_OK;
}

/* Takes the first offer and the first plan that are due. One of each a step: so does the daemon. */
static void take_answers(struct td_cab *cab, int64_t now_ns, struct td_input *input,
                         struct due_plan *plan)
{
    if (cab->offer_count > 0 && cab->offers[0].due_ns <= now_ns) {
        input->offer = cab->offers[0].offer;
        cab->offer_count--;
        memmove(&cab->offers[0], &cab->offers[1], cab->offer_count * sizeof cab->offers[0]);
    }
    if (cab->plan_count > 0 && cab->plans[0].due_ns <= now_ns) {
        *plan = cab->plans[0];
        input->plan_serial = plan->serial;
        input->plan = &plan->plan;
        cab->plan_count--;
        memmove(&cab->plans[0], &cab->plans[1], cab->plan_count * sizeof cab->plans[0]);
    }
}

static const struct td_hill *hill_of(const struct td_cab *cab, uint32_t handle)
{
    const struct td_hill_file *file = td_answers_hill(cab->answers, handle);
    return file != NULL ? td_hill_file_hill(file) : NULL;
}

static bool words_of(const struct td_cab *cab, const struct td_prompt *prompt, char *words)
{
    words[0] = '\0';
    return td_phrase_words(td_phrase_file_book(cab->options.phrases), prompt,
                           hill_of(cab, prompt->hill_handle), &cab->setup.rig, words) == TD_OK;
}

static void take_events(struct td_cab *cab)
{
    const struct td_output *output = &cab->output;
    for (unsigned i = 0; i < output->event_count && i < TD_EVENTS_MAX; i++) {
        const struct td_event *event = &output->events[i];
        char words[TD_WORDS_MAX] = "";
        const struct td_hill *hill = NULL;
        if (event->prompt.serial != 0) {
            (void)words_of(cab, &event->prompt, words);
            hill = hill_of(cab, event->prompt.hill_handle);
        }
        td_prompt_lines_event(&cab->lines, cab->now_ns, event, &output->estimate, words,
                              hill != NULL ? hill->id : "");
    }
}

static enum td_result take_speech(struct td_cab *cab, struct td_problem *problem)
{
    const struct td_output *output = &cab->output;
    enum td_result result = TD_OK;
    if (output->cut_serial != 0)
        result = td_cab_voice_cut(&cab->voice, output->cut_serial, cab->now_ns, problem);
    if (result != TD_OK || !output->has_speak)
        return result;
    char words[TD_WORDS_MAX];
    if (!words_of(cab, &output->speak, words)) {
        td_cab_voice_drop(&cab->voice, output->speak.serial, cab->now_ns);
        return TD_OK;
    }
    td_prompt_lines_words(&cab->lines, output->speak.serial, words);
    if (cab->outputs.log != NULL)
        result = td_drive_log_words(cab->outputs.log, cab->now_ns, output->speak.serial, words,
                                    problem);
    if (result == TD_OK)
        result = td_cab_voice_speak(&cab->voice, &output->speak, words, cab->now_ns, problem);
    return result;
}

/* Finds the hills now and hands them over one a step, later. */
static enum td_result take_want(struct td_cab *cab, struct td_problem *problem)
{
    struct td_offer offers[TD_OFFERS_MAX];
    struct td_problem failed = {.line = 0};
    size_t count = td_answers_want(cab->answers, &cab->output.want, offers, &failed);
    for (size_t i = 0; i < count; i++)
        cab->summary.failed_answers +=
            offers[i].kind == TD_OFFER_FAILED || offers[i].kind == TD_OFFER_DAMAGED;
    if (cab->offer_count + count > OFFERS_DUE_MAX)
        return td_problem_set(problem, TD_FULL, NULL, 0,
                              "the coach asks for hills faster than it takes them");
    for (size_t i = 0; i < count; i++) {
        cab->offers[cab->offer_count++] = (struct due_offer){
            .due_ns = cab->now_ns + ANSWER_NS,
            .offer = offers[i],
        };
        const struct td_hill_file *file = offers[i].kind == TD_OFFER_HILL
                                              ? td_answers_hill(cab->answers, offers[i].handle)
                                              : NULL;
        if (file == NULL || cab->outputs.log == NULL)
            continue;
        enum td_result result = td_drive_log_hill(cab->outputs.log, file, problem);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

static enum td_result take_solve(struct td_cab *cab, struct td_problem *problem)
{
    if (cab->plan_count == PLANS_DUE_MAX)
        return td_problem_set(problem, TD_FULL, NULL, 0,
                              "the coach asks for plans faster than it takes them");
    struct due_plan *plan = &cab->plans[cab->plan_count];
    *plan = (struct due_plan){.due_ns = cab->now_ns + ANSWER_NS,
                              .serial = cab->output.solve.serial};
    /* A hill released meanwhile needs no plan; the core expects none. */
    if (td_answers_solve(cab->answers, &cab->output.solve, &cab->setup.rig, &plan->plan, NULL) ==
        TD_OK)
        cab->plan_count++;
    return TD_OK;
}

/* A hill on its way to the core again must not be freed under it. */
static bool is_offered(const struct td_cab *cab, uint32_t handle)
{
    for (size_t i = 0; i < cab->offer_count; i++)
        if (cab->offers[i].offer.kind == TD_OFFER_HILL && cab->offers[i].offer.handle == handle)
            return true;
    return false;
}

static enum td_result take_output(struct td_cab *cab, struct td_problem *problem)
{
    const struct td_output *output = &cab->output;
    take_events(cab);
    enum td_result result = take_speech(cab, problem);
    if (result == TD_OK && output->solve.serial != 0)
        result = take_solve(cab, problem);
    if (output->release_handle != 0 && !is_offered(cab, output->release_handle))
        td_answers_release(cab->answers, output->release_handle);
    if (result == TD_OK && output->want.serial != 0)
        result = take_want(cab, problem);
    cab->wake_ns = output->next_wake_ns;
    if (cab->wake_ns <= cab->now_ns)
        cab->wake_ns = cab->now_ns + WAKE_LEAST_NS;
    if (result == TD_OK && cab->outputs.log != NULL &&
        cab->now_ns - cab->synced_ns >= SYNC_NS) {
        cab->synced_ns = cab->now_ns;
        result = td_drive_log_sync(cab->outputs.log, problem);
    }
    return result;
}

static enum td_result step(struct td_cab *cab, int64_t now_ns, const struct td_fix *fix,
                           const struct td_command *command, struct td_problem *problem)
{
    struct td_input input = {.now_ns = now_ns};
    struct due_plan plan;
    struct td_prompt heard;
    bool was_heard = false;
    cab->now_ns = now_ns;
    if (fix != NULL) {
        input.has_fix = true;
        input.fix = *fix;
    }
    if (command != NULL)
        input.command = *command;
    enum td_result result =
        td_cab_voice_report(&cab->voice, now_ns, &input, &was_heard, &heard, problem);
    if (result != TD_OK)
        return result;
    take_answers(cab, now_ns, &input, &plan);
    td_coach_step(cab->coach, &input, &cab->output);
    cab->summary.steps++;
    if (input.command.kind == TD_COMMAND_LOAD)
        cab->setup.rig.load_now = (size_t)input.command.value;
    if (cab->outputs.log != NULL)
        result = td_drive_log_step(cab->outputs.log, &input, &cab->output, problem);
    if (result == TD_OK)
        result = take_output(cab, problem);
    if (was_heard && cab->options.hear != NULL)
        cab->options.hear(cab->options.who, &heard, now_ns);
    return result;
}

static int64_t next_ns(const struct td_cab *cab)
{
    int64_t next = cab->wake_ns;
    int64_t voice = td_cab_voice_next_ns(&cab->voice);
    next = voice < next ? voice : next;
    if (cab->offer_count > 0 && cab->offers[0].due_ns < next)
        next = cab->offers[0].due_ns;
    if (cab->plan_count > 0 && cab->plans[0].due_ns < next)
        next = cab->plans[0].due_ns;
    return next < cab->now_ns ? cab->now_ns : next;
}

enum td_result td_cab_run_to(struct td_cab *cab, int64_t until_ns, struct td_problem *problem)
{
    for (int64_t at_ns = next_ns(cab); at_ns <= until_ns; at_ns = next_ns(cab)) {
        enum td_result result = step(cab, at_ns, NULL, NULL, problem);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

enum td_result td_cab_command(struct td_cab *cab, const struct td_fix *fix,
                              const struct td_command *command, int64_t now_ns,
                              struct td_problem *problem)
{
    enum td_result result = td_cab_run_to(cab, now_ns - 1, problem);
    if (result != TD_OK)
        return result;
    return step(cab, now_ns, fix, command, problem);
}

enum td_result td_cab_fix(struct td_cab *cab, const struct td_fix *fix, int64_t now_ns,
                          struct td_problem *problem)
{
    return td_cab_command(cab, fix, NULL, now_ns, problem);
}

const struct td_estimate *td_cab_estimate(const struct td_cab *cab)
{
    return &cab->output.estimate;
}

bool td_cab_is_talking(const struct td_cab *cab)
{
    return cab->voice.busy;
}

enum td_result td_cab_close(struct td_cab **cab, int64_t end_ns, struct td_cab_summary *summary,
                            struct td_problem *problem)
{
    if (cab == NULL || *cab == NULL)
        return TD_OK;
    struct td_cab *old = *cab;
    td_prompt_lines_end(&old->lines);
    old->summary.sound_s = td_cab_voice_length_s(&old->voice, end_ns);
    enum td_result result = td_cab_voice_close(&old->voice, end_ns, problem);
    enum td_result closed =
        td_cab_outputs_close(&old->outputs, result == TD_OK ? problem : NULL);
    result = result == TD_OK ? closed : result;
    memcpy(old->summary.by_category, old->lines.by_category, sizeof old->lines.by_category);
    for (int i = 0; i < TD_CATEGORIES; i++)
        old->summary.prompts += old->lines.by_category[i];
    if (summary != NULL)
        *summary = old->summary;
    td_answers_close(&old->answers);
    free(old->memory);
    free(old);
    *cab = NULL;
    return result;
}
