/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads many logs with a few threads and keeps a row a descent. */
#include "review/fleet.h"

#include <math.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "review/fleet_list.h"
#include "review/fleet_parts.h"
#include "talkdown/text.h"

/* Descents of one log that keep their order among those of others. */
enum { DESCENTS_A_LOG = 1 << 16, MERGE_LEAST = 4096 };

struct reading {
    const struct td_fleet_options *options;
    struct td_fleet_list list;
    struct td_fleet *fleet;
    pthread_mutex_t lock; /* over all below and *fleet */
    size_t next, done;
    size_t merge_at; /* so many counts of prompts are put together */
    bool no_memory;
};

/* The array with room for one more; NULL without memory, the old one then stays. */
static void *grown(void *array, size_t count, size_t size)
{
    bool full = (count & (count - 1)) == 0; /* 0 and powers of two */
    return full ? realloc(array, (count == 0 ? 1 : 2 * count) * size) : array;
}

static void take_marks(struct td_fleet_row *row, const struct td_review_drive *drive,
                       const struct td_marks *marks, int descent)
{
    for (size_t i = 0; i < drive->prompt_count; i++) {
        const struct td_review_prompt *prompt = &drive->prompts[i];
        if (prompt->descent != descent || !prompt->said)
            continue;
        const struct td_mark *mark = td_marks_find(marks, prompt->spoken.prompt.serial);
        row->prompts_said++;
        if (mark != NULL)
            row->marks[mark->kind]++;
    }
}

static void name_row(const struct reading *reading, size_t order,
                     const struct td_review_drive *drive, struct td_fleet_row *row)
{
    if (reading->options->anonymous)
        (void)snprintf(row->log, sizeof row->log, "drive %zu", order + 1);
    else
        (void)td_text_copy(row->log, sizeof row->log,
                           reading->list.paths[order] + reading->list.skip);
    (void)td_text_copy(row->rig, sizeof row->rig, drive->rig_name);
}

static struct td_fleet_row row_of(const struct td_review_drive *drive,
                                  const struct td_review_descent *descent)
{
    const struct td_review_hill *hill = &drive->hills[descent->hill];
    struct td_fleet_row row = {
        .start_utc_ms = td_review_utc_ms(drive, descent->from_ns),
        .load_kg = descent->load_kg,
        .went_down = descent->went_down,
        .reached_foot = descent->reached_foot,
        .grade_s = descent->grade_s,
        .fastest_mps = descent->fastest_mps,
        .check = descent->check,
        .check_stood_s = descent->check_stood_s,
        .judged = descent->judged,
        .over_most_mps = descent->over_most_mps,
        .over_s = descent->over_s,
        .over_longest_s = descent->over_longest_s,
        .heat_known = descent->heat_known,
        .least_c = descent->least_c,
        .likely_c = descent->likely_c,
        .most_c = descent->most_c,
        .limit_c = descent->limit_c,
        .snubs = (unsigned)descent->snub_count,
        .snub_drop_mps = descent->snub_drop_mps,
        .snub_s = descent->snub_seconds,
        .warnings = descent->warnings,
        .warnings_slowed = descent->warnings_slowed,
        .warnings_unknown = descent->warnings_unknown,
        .answer_median_s = descent->answer_median_s,
        .answer_longest_s = descent->answer_longest_s,
        .lost_s = descent->lost_s,
        .hole_s = descent->hole_s,
        .silent_s = descent->silent_s,
        .lost_steps = descent->lost_steps,
    };
    (void)td_text_copy(row.hill, sizeof row.hill, hill->id);
    (void)td_text_copy(row.hill_name, sizeof row.hill_name,
                       hill->hill != NULL ? hill->hill->name : "");
    (void)td_text_copy(row.load, sizeof row.load, descent->load_name);
    return row;
}

/* Under the lock. */
static bool add_row(struct td_fleet *fleet, const struct td_fleet_row *row)
{
    struct td_fleet_row *rows = grown(fleet->rows, fleet->row_count, sizeof *rows);
    if (rows == NULL)
        return false;
    fleet->rows = rows;
    rows[fleet->row_count++] = *row;
    return true;
}

static bool refuse(struct td_fleet *fleet, size_t order, const struct td_problem *problem)
{
    struct td_fleet_refused *refused =
        grown(fleet->refused, fleet->refused_count, sizeof *refused);
    if (refused == NULL)
        return false;
    fleet->refused = refused;
    refused[fleet->refused_count++] = (struct td_fleet_refused){order, *problem};
    return true;
}

/* The count of that prompt among those of this log, from `from` on. */
static struct td_fleet_prompt *prompt_of(struct td_fleet *fleet, size_t from, const char *hill,
                                         enum td_prompt_id id)
{
    for (size_t i = from; i < fleet->prompt_count; i++)
        if (fleet->prompts[i].id == id && strcmp(fleet->prompts[i].hill, hill) == 0)
            return &fleet->prompts[i];
    struct td_fleet_prompt *prompts = grown(fleet->prompts, fleet->prompt_count, sizeof *prompts);
    if (prompts == NULL)
        return NULL;
    fleet->prompts = prompts;
    struct td_fleet_prompt *prompt = &prompts[fleet->prompt_count++];
    *prompt = (struct td_fleet_prompt){.id = id};
    (void)td_text_copy(prompt->hill, sizeof prompt->hill, hill);
    return prompt;
}

/* Each log's counts are put at the end, and all are put together now and then: so neither time nor
 * memory grows with the hills times the logs. */
static bool count_prompts(struct reading *reading, const struct td_review_drive *drive,
                          const struct td_marks *marks)
{
    struct td_fleet *fleet = reading->fleet;
    size_t from = fleet->prompt_count;
    for (size_t i = 0; i < drive->prompt_count; i++) {
        const struct td_spoken *spoken = &drive->prompts[i].spoken;
        bool off_hill = drive->prompts[i].descent < 0;
        if (!drive->prompts[i].said || (reading->options->anonymous && off_hill))
            continue;
        struct td_fleet_prompt *prompt =
            prompt_of(fleet, from, spoken->hill_id, spoken->prompt.id);
        if (prompt == NULL)
            return false;
        const struct td_mark *mark = td_marks_find(marks, spoken->prompt.serial);
        prompt->said++;
        if (mark != NULL)
            prompt->marks[mark->kind]++;
    }
    if (fleet->prompt_count < reading->merge_at)
        return true;
    td_fleet_merge_prompts(fleet);
    reading->merge_at = 2 * fleet->prompt_count > MERGE_LEAST ? 2 * fleet->prompt_count
                                                              : MERGE_LEAST;
    return true;
}

static bool take_drive(struct reading *reading, size_t order, const struct td_review_drive *drive,
                       const struct td_marks *marks)
{
    struct td_fleet *fleet = reading->fleet;
    fleet->logs++;
    for (size_t i = 0; i < drive->descent_count; i++) {
        struct td_fleet_row row = row_of(drive, &drive->descents[i]);
        name_row(reading, order, drive, &row);
        take_marks(&row, drive, marks, (int)i);
        row.order = order * DESCENTS_A_LOG + i;
        if (!add_row(fleet, &row))
            return false;
    }
    return count_prompts(reading, drive, marks);
}

static enum td_result read_marks(const char *path, struct td_marks *marks,
                                 struct td_problem *problem)
{
    char beside[4096];
    enum td_result result = td_marks_path(path, beside, sizeof beside, problem);
    if (result == TD_OK)
        result = td_marks_read(beside, marks, problem);
    return result == TD_NOT_FOUND ? TD_OK : result;
}

static void read_one(struct reading *reading, size_t order)
{
    const char *path = reading->list.paths[order];
    const struct td_review_options options = {.anonymous = reading->options->anonymous};
    struct td_review_drive *drive = NULL;
    struct td_marks marks = {0};
    struct td_problem problem = {0};
    enum td_result result = td_review_drive_read(path, &options, &drive, &problem);
    enum td_result marked = result == TD_OK ? read_marks(path, &marks, &problem) : TD_OK;
    (void)pthread_mutex_lock(&reading->lock);
    bool kept = true;
    if (result == TD_OK)
        kept = take_drive(reading, order, drive, &marks);
    if (result != TD_OK || marked != TD_OK)
        kept = refuse(reading->fleet, order, &problem) && kept;
    reading->no_memory |= !kept;
    reading->done++;
    if (reading->options->progress != NULL)
        reading->options->progress(reading->options->who, reading->done, reading->list.count);
    (void)pthread_mutex_unlock(&reading->lock);
    td_marks_free(&marks);
    td_review_drive_free(&drive);
}

static void *read_some(void *argument)
{
    struct reading *reading = argument;
    for (;;) {
        (void)pthread_mutex_lock(&reading->lock);
        size_t order = reading->next;
        reading->next += order < reading->list.count;
        (void)pthread_mutex_unlock(&reading->lock);
        if (order >= reading->list.count)
            return NULL;
        read_one(reading, order);
    }
}

/* This thread is one of them. */
static void read_all(struct reading *reading)
{
    pthread_t threads[TD_FLEET_THREADS_MAX];
    unsigned more = reading->options->threads > 0 ? reading->options->threads - 1 : 0;
    unsigned started = 0;
    if (more > TD_FLEET_THREADS_MAX - 1)
        more = TD_FLEET_THREADS_MAX - 1;
    while (started < more &&
           pthread_create(&threads[started], NULL, read_some, reading) == 0)
        started++;
    (void)read_some(reading);
    for (unsigned i = 0; i < started; i++)
        (void)pthread_join(threads[i], NULL);
}

static enum td_result read_list(struct reading *reading, struct td_problem *problem)
{
    if (pthread_mutex_init(&reading->lock, NULL) != 0)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory to read the logs");
    read_all(reading);
    (void)pthread_mutex_destroy(&reading->lock);
    if (reading->no_memory || !td_fleet_sum_up(reading->fleet))
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the table");
    return TD_OK;
}

enum td_result td_fleet_read(const char *folder, const struct td_fleet_options *options,
                             struct td_fleet **out, struct td_problem *problem)
{
    struct reading reading = {.options = options, .fleet = calloc(1, sizeof *reading.fleet)};
    if (reading.fleet == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the table");
    enum td_result result = td_fleet_list(folder, &reading.list, problem);
    if (result == TD_OK)
        result = read_list(&reading, problem);
    td_fleet_list_free(&reading.list);
    if (result == TD_OK)
        *out = reading.fleet;
    else
        td_fleet_free(&reading.fleet);
    return result;
}

void td_fleet_free(struct td_fleet **fleet)
{
    if (fleet == NULL || *fleet == NULL)
        return;
    free((*fleet)->rows);
    free((*fleet)->trends);
    free((*fleet)->prompts);
    free((*fleet)->refused);
    free(*fleet);
    *fleet = NULL;
}
