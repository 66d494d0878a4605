/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The proof that a log explains itself: the same inputs, the same prompts. */
#include "tool/exact.h"

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
};

static void differ(struct td_exact *exact, const char *format, ...) TD_PRINTF(2, 3);

static void differ(struct td_exact *exact, const char *format, ...)
{
    if (exact->difference[0] != '\0')
        return;
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

static bool same_prompt(const struct td_prompt *a, const struct td_prompt *b)
{
    bool same = a->serial == b->serial && a->id == b->id && a->category == b->category &&
                a->hill_handle == b->hill_handle && a->place == b->place &&
                fabs(a->about_m - b->about_m) <= SAME_M && a->decided_ns == b->decided_ns &&
                a->expires_ns == b->expires_ns && a->arg_count == b->arg_count;
    for (unsigned i = 0; same && i < a->arg_count && i < TD_PROMPT_ARGS_MAX; i++)
        same = a->args[i].unit == b->args[i].unit && a->args[i].value == b->args[i].value;
    return same;
}

static void compare_prompts(struct exact_run *run, const struct td_spoken *logged, size_t count)
{
    struct td_exact *exact = run->exact;
    const struct said *said = &run->said;
    for (size_t i = 0; i < count || i < said->count; i++) {
        const struct td_spoken *was = i < count ? &logged[i] : NULL;
        const struct td_spoken *now = i < said->count ? &said->items[i] : NULL;
        double at_s = (double)((was != NULL ? was : now)->prompt.decided_ns - run->start_ns) * 1e-9;
        if (was == NULL || now == NULL) {
            differ(exact, "prompt %zu at %.1f s: %s \"%s\" is %s", i + 1, at_s,
                   td_prompt_key((was != NULL ? was : now)->prompt.id),
                   was != NULL ? was->words : "",
                   was != NULL ? "in the log, but this core does not say it"
                               : "said by this core, but not in the log");
            return;
        }
        if (!same_prompt(&was->prompt, &now->prompt))
            differ(exact, "prompt %zu at %.1f s: the log has %s \"%s\", this core says %s%s",
                   i + 1, at_s, td_prompt_key(was->prompt.id), was->words,
                   td_prompt_key(now->prompt.id),
                   was->prompt.id == now->prompt.id ? " with other numbers or times" : "");
        else if (was->fate != now->fate || was->fate_ns != now->fate_ns ||
                 was->issued_ns != now->issued_ns)
            differ(exact, "prompt %zu at %.1f s: %s \"%s\" was %s, this core has it %s", i + 1,
                   at_s, td_prompt_key(was->prompt.id), was->words, td_event_name(was->fate),
                   was->fate == now->fate ? "so at another time" : td_event_name(now->fate));
        else if (fabs(was->along_m - now->along_m) > SAME_M ||
                 fabs(was->speed_mps - now->speed_mps) > SAME_MPS)
            differ(exact, "prompt %zu at %.1f s: the log has the truck at %.1f m with %.2f m/s, "
                          "this core at %.1f m with %.2f m/s", i + 1, at_s, was->along_m,
                   was->speed_mps, now->along_m, now->speed_mps);
    }
}

static bool same_number(double was, double now, double within)
{
    return (isnan(was) && isnan(now)) || fabs(was - now) <= within;
}

static void compare_estimate(struct exact_run *run, const struct td_estimate *was,
                             const struct td_estimate *now, int64_t now_ns)
{
    bool same = was->where == now->where && was->handle == now->handle &&
                same_number(was->along_m, now->along_m, SAME_M) &&
                same_number(was->sigma_m, now->sigma_m, SAME_M) &&
                same_number(was->speed_mps, now->speed_mps, SAME_MPS) &&
                same_number(was->target_mps, now->target_mps, SAME_MPS) &&
                same_number(was->heat_least_c, now->heat_least_c, SAME_C) &&
                same_number(was->heat_likely_c, now->heat_likely_c, SAME_C) &&
                same_number(was->heat_most_c, now->heat_most_c, SAME_C);
    if (!same)
        differ(run->exact, "estimate at %.1f s: the log has %s %.1f m %.2f m/s, brakes %.1f C; "
                           "this core has %s %.1f m %.2f m/s, brakes %.1f C",
               (double)(now_ns - run->start_ns) * 1e-9, td_where_name(was->where), was->along_m,
               was->speed_mps, was->heat_likely_c, td_where_name(now->where), now->along_m,
               now->speed_mps, now->heat_likely_c);
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
            differ(run->exact, "the log holds no step");
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
