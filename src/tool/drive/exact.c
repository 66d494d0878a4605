/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The proof that a log explains itself: the same inputs, the same prompts. */
#include "tool/drive/exact.h"

#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/drive_log.h"
#include "io/problem.h"

/* Estimates are kept as doubles; half a unit of what is told to people. */
#define SAME_M    0.05
#define SAME_MPS  0.005
#define SAME_C    0.05

struct said {
    struct td_spoken *items;
    size_t count, room;
};

struct exact_run {
    struct td_drive_reader *reader;
    struct td_coach *coach;
    void *memory;
    struct said said;
    struct td_exact *exact;
    int64_t start_ns;
    int64_t differs_ns; /* the earliest difference, where there is one */
};

static void differ(struct exact_run *run, int64_t at_ns, const char *format, ...)
    TD_PRINTF(3, 4);

/* Keeps the earliest. Estimates are compared on the way and prompts at the end, so the first that
 * is found need not be it. */
static void differ(struct exact_run *run, int64_t at_ns, const char *format, ...)
{
    struct td_exact *exact = run->exact;
    if (exact->difference[0] != '\0' && at_ns >= run->differs_ns)
        return;
    run->differs_ns = at_ns;
    va_list args;
    va_start(args, format);
    (void)vsnprintf(exact->difference, sizeof exact->difference, format, args);
    va_end(args);
}

static struct td_spoken *item_of(struct said *said, uint32_t serial)
{
    for (size_t i = said->count; i > 0; i--)
        if (said->items[i - 1].prompt.serial == serial)
            return &said->items[i - 1];
    if (said->count == said->room) {
        size_t room = said->room == 0 ? 64 : 2 * said->room;
        struct td_spoken *items = realloc(said->items, room * sizeof *items);
        if (items == NULL)
            return NULL;
        said->items = items;
        said->room = room;
    }
    struct td_spoken *item = &said->items[said->count++];
    *item = (struct td_spoken){.hill_id = ""};
    return item;
}

/* As the log's reader puts a prompt together from its events. */
static bool take_event(struct said *said, const struct td_event *event,
                       const struct td_estimate *estimate, int64_t now_ns)
{
    if (event->prompt.serial == 0)
        return true;
    struct td_spoken *item = item_of(said, event->prompt.serial);
    if (item == NULL)
        return false;
    if (item->prompt.serial == 0 || event->kind == TD_EVENT_ISSUED) {
        item->prompt = event->prompt;
        item->along_m = estimate->along_m;
        item->speed_mps = estimate->speed_mps;
    }
    item->fate = event->kind;
    item->fate_ns = now_ns;
    if (event->kind == TD_EVENT_ISSUED)
        item->issued_ns = now_ns;
    return true;
}

/* What of two prompts with one meaning is not the same, in `text`; false when all is. */
static bool tell_prompt(const struct td_prompt *was, const struct td_prompt *now, char *text,
                        size_t size)
{
    text[0] = '\0';
    for (unsigned i = 0; i < was->arg_count && i < now->arg_count && i < TD_PROMPT_ARGS_MAX; i++) {
        if (was->args[i].unit == now->args[i].unit && was->args[i].value == now->args[i].value)
            continue;
        (void)snprintf(text, size, "number %u is %" PRId32 " in the log and %" PRId32 " now%s",
                       i + 1, was->args[i].value, now->args[i].value,
                       was->args[i].unit != now->args[i].unit ? ", in another unit" : "");
        return true;
    }
    if (was->arg_count != now->arg_count)
        (void)snprintf(text, size, "it has %u numbers in the log and %u now", was->arg_count,
                       now->arg_count);
    else if (was->decided_ns != now->decided_ns || was->expires_ns != now->expires_ns)
        (void)snprintf(text, size, "it is decided %.3f s and expires %.3f s later now",
                       (double)(now->decided_ns - was->decided_ns) * 1e-9,
                       (double)(now->expires_ns - was->expires_ns) * 1e-9);
    else if (fabs(was->about_m - now->about_m) > SAME_M || was->place != now->place)
        (void)snprintf(text, size, "it is about the place at %.1f m in the log and %.1f m now",
                       was->about_m, now->about_m);
    else if (was->serial != now->serial || was->category != now->category ||
             was->hill_handle != now->hill_handle)
        (void)snprintf(text, size, "its serial, category or hill is another one now");
    return text[0] != '\0';
}

/* True when they are the same. */
static bool compare_pair(struct exact_run *run, size_t number, const struct td_spoken *was,
                         const struct td_spoken *now)
{
    char what[160];
    int64_t at_ns = was->prompt.decided_ns;
    double at_s = (double)(at_ns - run->start_ns) * 1e-9;
    const char *key = td_prompt_key(was->prompt.id);
    if (was->prompt.id != now->prompt.id)
        differ(run, at_ns, "prompt %zu at %.1f s: the log has %s \"%s\", this core says %s", number,
               at_s, key, was->words, td_prompt_key(now->prompt.id));
    else if (tell_prompt(&was->prompt, &now->prompt, what, sizeof what))
        differ(run, at_ns, "prompt %zu at %.1f s: %s \"%s\": %s", number, at_s, key, was->words,
               what);
    else if (was->fate != now->fate)
        differ(run, at_ns, "prompt %zu at %.1f s: %s \"%s\" was %s, this core has it %s", number,
               at_s, key, was->words, td_event_name(was->fate), td_event_name(now->fate));
    else if (was->fate_ns != now->fate_ns || was->issued_ns != now->issued_ns)
        differ(run, at_ns, "prompt %zu at %.1f s: %s \"%s\" was %s, %.3f s later now", number, at_s,
               key, was->words, td_event_name(was->fate),
               (double)(now->fate_ns - was->fate_ns) * 1e-9);
    else if (fabs(was->along_m - now->along_m) > SAME_M ||
             fabs(was->speed_mps - now->speed_mps) > SAME_MPS)
        differ(run, at_ns, "prompt %zu at %.1f s: the log has the truck at %.1f m with %.2f m/s, "
                           "this core at %.1f m with %.2f m/s", number, at_s, was->along_m,
               was->speed_mps, now->along_m, now->speed_mps);
    else
        return true;
    return false;
}

/* Up to the first difference: what comes after it follows from it. */
static void compare_prompts(struct exact_run *run, const struct td_spoken *logged, size_t count)
{
    const struct said *said = &run->said;
    for (size_t i = 0; i < count || i < said->count; i++) {
        const struct td_spoken *was = i < count ? &logged[i] : NULL;
        const struct td_spoken *now = i < said->count ? &said->items[i] : NULL;
        if (was != NULL && now != NULL) {
            if (!compare_pair(run, i + 1, was, now))
                return;
            continue;
        }
        const struct td_spoken *one = was != NULL ? was : now;
        differ(run, one->prompt.decided_ns, "prompt %zu at %.1f s: %s%s%s%s is %s", i + 1,
               (double)(one->prompt.decided_ns - run->start_ns) * 1e-9,
               td_prompt_key(one->prompt.id), was != NULL ? " \"" : "",
               was != NULL ? was->words : "", was != NULL ? "\"" : "",
               was != NULL ? "in the log, but this core does not say it"
                           : "said by this core, but not in the log");
        return;
    }
}

static bool same_number(double was, double now, double within)
{
    return (isnan(was) && isnan(now)) || fabs(was - now) <= within;
}

static void compare_estimate(struct exact_run *run, const struct td_estimate *was,
                             const struct td_estimate *now, int64_t now_ns)
{
    const struct {
        const char *name;
        double was, now, within;
    } rows[] = {
        {"place (m)", was->along_m, now->along_m, SAME_M},
        {"speed (m/s)", was->speed_mps, now->speed_mps, SAME_MPS},
        {"target (m/s)", was->target_mps, now->target_mps, SAME_MPS},
        {"doubt of the place (m)", was->sigma_m, now->sigma_m, SAME_M},
        {"least heat (C)", was->heat_least_c, now->heat_least_c, SAME_C},
        {"likely heat (C)", was->heat_likely_c, now->heat_likely_c, SAME_C},
        {"most heat (C)", was->heat_most_c, now->heat_most_c, SAME_C},
    };
    double at_s = (double)(now_ns - run->start_ns) * 1e-9;
    if (was->where != now->where || was->handle != now->handle) {
        differ(run, now_ns, "estimate at %.1f s: the log has the truck %s (hill %" PRIu32
                            "), this core %s (hill %" PRIu32 ")", at_s, td_where_name(was->where),
               was->handle, td_where_name(now->where), now->handle);
        return;
    }
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (same_number(rows[i].was, rows[i].now, rows[i].within))
            continue;
        differ(run, now_ns, "estimate at %.1f s: %s is %.2f in the log and %.2f now", at_s,
               rows[i].name, rows[i].was, rows[i].now);
        return;
    }
}

static enum td_result run_steps(struct exact_run *run, struct td_problem *problem)
{
    for (;;) {
        struct td_input input;
        struct td_output output;
        struct td_problem why;
        enum td_result result = td_drive_next(run->reader, &input, &why);
        if (result == TD_NOT_FOUND)
            return TD_OK;
        if (result != TD_OK) {
            *problem = why;
            return result;
        }
        td_coach_step(run->coach, &input, &output);
        run->exact->steps++;
        for (unsigned i = 0; i < output.event_count && i < TD_EVENTS_MAX; i++)
            if (!take_event(&run->said, &output.events[i], &output.estimate, input.now_ns))
                return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for prompts");
        struct td_estimate kept;
        if (td_drive_estimate(run->reader, &kept))
            compare_estimate(run, &kept, &output.estimate, input.now_ns);
    }
}

static enum td_result compare(struct exact_run *run, struct td_problem *problem)
{
    const struct td_setup *setup = td_drive_setup(run->reader);
    run->start_ns = td_drive_start_ns(run->reader);
    run->memory = malloc(td_coach_size());
    if (run->memory == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the coach");
    run->coach = td_coach_init(run->memory, setup, run->start_ns);
    if (run->coach == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "the log's rig is refused");
    enum td_result result = run_steps(run, problem);
    struct td_spoken *logged = NULL;
    size_t count = 0;
    if (result == TD_OK)
        result = td_drive_prompts(run->reader, &logged, &count, problem);
    if (result == TD_OK) {
        run->exact->lost = td_drive_lost(run->reader);
        run->exact->prompts = (unsigned)count;
        if (run->exact->steps == 0)
            differ(run, run->start_ns, "the log holds no step");
        compare_prompts(run, logged, count);
        run->exact->same = run->exact->difference[0] == '\0';
    }
    free(logged);
    return result;
}

enum td_result td_exact_run(const char *path, struct td_exact *exact, struct td_problem *problem)
{
    struct exact_run run = {.exact = exact};
    *exact = (struct td_exact){.same = false};
    enum td_result result = td_drive_open(path, &run.reader, problem);
    if (result == TD_OK)
        result = compare(&run, problem);
    free(run.said.items);
    free(run.memory);
    td_drive_close(&run.reader);
    return result;
}
