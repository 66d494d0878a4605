/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs from files, folders and lists of them. One bad rig is told and the others go on. */
#include "tool/plan/plan_rigs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/paths.h"
#include "io/problem.h"
#include "io/rig_file.h"
#include "talkdown/text.h"
#include "tool/tool.h"

enum { RIGS_MAX = 10000, PATH_ROOM = 4096, WEIGHT_ROOM = 64 };

/* --- weights --- */

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* "60000 lb, 79,900 lb": a comma after a unit parts two, one after a digit groups thousands. */
static size_t one_weight(const char *text)
{
    for (size_t at = 0; text[at] != '\0'; at++) {
        size_t before = at;
        while (before > 0 && text[before - 1] == ' ')
            before--;
        if (text[at] == ',' && before > 0 && is_letter(text[before - 1]))
            return at;
    }
    return strlen(text);
}

static enum td_result read_weights(const char *text, struct td_plan_weights *weights,
                                   struct td_problem *problem)
{
    for (;;) {
        char one[WEIGHT_ROOM];
        text += strspn(text, " ");
        size_t length = one_weight(text);
        if (weights->count == TD_PLAN_WEIGHTS_MAX)
            return td_problem_set(problem, TD_INVALID, NULL, 0, "--weight: more than %d weights",
                                  (int)TD_PLAN_WEIGHTS_MAX);
        if (length >= sizeof one)
            return td_problem_set(problem, TD_INVALID, NULL, 0, "--weight \"%.70s\" is no weight",
                                  text);
        memcpy(one, text, length);
        one[length] = '\0';
        enum td_result result =
            td_plan_read_weight(one, &weights->mass_kg[weights->count], problem);
        if (result != TD_OK)
            return result;
        weights->count++;
        if (text[length] == '\0')
            return TD_OK;
        text += length + 1;
    }
}

static enum td_result choose_loads(const struct td_plan_table_options *options,
                                   struct td_plan_rig *item, struct td_problem *problem)
{
    const struct td_rig *rig = &item->rig;
    struct td_plan_weights *weights = &item->weights;
    size_t from = 0, to = rig->load_count;
    if (options->load != NULL) {
        enum td_result result = td_plan_find_load(rig, item->path, options->load, &from, problem);
        if (result != TD_OK)
            return result;
        to = from + 1;
    }
    for (; from < to; from++) {
        weights->load[weights->count] = rig->loads[from].name;
        weights->mass_kg[weights->count++] = rig->loads[from].mass_kg;
    }
    return TD_OK;
}

/* Between the lightest and the heaviest that is on file or asked about. */
static void bound(struct td_plan_rig *item)
{
    struct td_plan_weights *weights = &item->weights;
    weights->least_kg = weights->most_kg = item->rig.loads[0].mass_kg;
    for (size_t i = 0; i < item->rig.load_count; i++) {
        weights->least_kg = fmin(weights->least_kg, item->rig.loads[i].mass_kg);
        weights->most_kg = fmax(weights->most_kg, item->rig.loads[i].mass_kg);
    }
    for (size_t i = 0; i < weights->count; i++) {
        weights->least_kg = fmin(weights->least_kg, weights->mass_kg[i]);
        weights->most_kg = fmax(weights->most_kg, weights->mass_kg[i]);
    }
}

static enum td_result ask(const struct td_plan_table_options *options, struct td_plan_rig *item,
                          struct td_problem *problem)
{
    item->weights.query = td_plan_query_default(&item->rig);
    enum td_result result =
        td_plan_conditions_read(&options->conditions, &item->weights.query, problem);
    if (result == TD_OK)
        result = options->weights != NULL
                     ? read_weights(options->weights, &item->weights, problem)
                     : choose_loads(options, item, problem);
    if (result == TD_OK)
        bound(item);
    return result;
}

/* --- files --- */

static void free_item(struct td_plan_rig *item)
{
    if (item != NULL)
        free(item->path);
    free(item);
}

static enum td_result keep(struct td_plan_rigs *rigs, struct td_plan_rig *item,
                           struct td_problem *problem)
{
    if (rigs->count % 64 == 0) {
        struct td_plan_rig **more =
            realloc(rigs->items, (rigs->count + 64) * sizeof *rigs->items);
        if (more == NULL)
            return td_problem_set(problem, TD_NO_MEMORY, item->path, 0, "no memory for the rigs");
        rigs->items = more;
    }
    rigs->items[rigs->count++] = item;
    return TD_OK;
}

/* Of a rig only what is wrong with its file is passed over; the rest is wrong with all of them. */
static enum td_result add_rig(const struct td_plan_table_options *options, const char *path,
                              struct td_plan_rigs *rigs, struct td_problem *problem)
{
    if (rigs->count + rigs->unread == RIGS_MAX)
        return td_problem_set(problem, TD_FULL, path, 0, "one rig too many; %d are the most",
                              (int)RIGS_MAX);
    struct td_plan_rig *item = calloc(1, sizeof *item);
    char *copy = malloc(strlen(path) + 1);
    if (item == NULL || copy == NULL) {
        free(copy);
        free(item);
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory for the rigs");
    }
    memcpy(copy, path, strlen(path) + 1);
    item->path = copy;
    enum td_result result = td_rig_file_read(path, &item->rig, problem);
    bool of_file = result != TD_OK && result != TD_NO_MEMORY;
    if (result == TD_OK) {
        result = ask(options, item, problem);
        of_file = result == TD_NOT_FOUND; /* no such load */
    }
    if (result == TD_OK)
        result = keep(rigs, item, problem);
    if (result != TD_OK)
        free_item(item);
    if (!of_file)
        return result;
    (void)td_tool_fail(problem);
    rigs->unread++;
    return TD_OK;
}

static enum td_result add_path(const struct td_plan_table_options *options, const char *path,
                               struct td_plan_rigs *rigs, struct td_problem *problem)
{
    struct td_paths paths = {0};
    enum td_result result = td_paths_list(path, &td_paths_rigs, &paths, problem);
    if (result == TD_OK && paths.count == 0)
        result = td_problem_set(problem, TD_NOT_FOUND, path, 0,
                                "holds no rig; rigs end in .yaml");
    for (size_t i = 0; result == TD_OK && i < paths.count; i++)
        result = add_rig(options, paths.paths[i], rigs, problem);
    td_paths_free(&paths);
    return result;
}

enum td_result td_plan_rigs_read(const struct td_plan_table_options *options,
                                 struct td_plan_rigs *rigs, struct td_problem *problem)
{
    const char *text = options->rigs;
    char one[PATH_ROOM];
    for (bool last = false; !last;) {
        /* A file that is there may have a comma in its name. */
        size_t length = access(text, F_OK) == 0 ? strlen(text) : strcspn(text, ",");
        if (length >= sizeof one)
            return td_problem_set(problem, TD_INVALID, NULL, 0, "--rig: a path is too long");
        memcpy(one, text, length);
        one[length] = '\0';
        enum td_result result = add_path(options, one, rigs, problem);
        if (result != TD_OK)
            return result;
        last = text[length] == '\0';
        text += length + 1;
    }
    if (rigs->count == 0)
        return td_problem_set(problem, TD_NOT_FOUND, options->rigs, 0,
                              "no rig that could be read; see above");
    return TD_OK;
}

void td_plan_rigs_free(struct td_plan_rigs *rigs)
{
    for (size_t i = 0; i < rigs->count; i++)
        free_item(rigs->items[i]);
    free(rigs->items);
    *rigs = (struct td_plan_rigs){0};
}
