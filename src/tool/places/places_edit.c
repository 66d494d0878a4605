/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown places add, move, change and remove: one place at a time. What was done is told with
 * what "hills check" finds there now. */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "io/problem.h"
#include "tool/places/places.h"
#include "tool/tool.h"

/* By its feature, in the profile as it is now. */
static size_t index_of(const struct td_hill_file *file, size_t feature)
{
    size_t count = td_hill_file_hill(file)->place_count, i = 0;
    while (i < count && td_hill_file_feature(file, i) != feature)
        i++;
    return i;
}

static int fail_about(const char *words, enum td_result result, struct td_problem *problem)
{
    struct td_problem said = {0};
    if (problem->file[0] != '\0')
        return td_tool_fail(problem);
    (void)td_problem_set(&said, result, NULL, 0, "places %s: %s", words, problem->text);
    return td_tool_fail(&said);
}

/* Saves and tells; 1 where the place would keep the hill off the trucks. */
static int save(struct td_places_open *open, const struct td_places_job *job, size_t feature,
                const char *did)
{
    struct td_hill_file *saved = NULL;
    struct td_problem problem = {0};
    const char *path = job->out != NULL ? job->out : job->path;
    open->dry_run = job->dry_run;
    enum td_result result = td_places_save(open, job->out, job->force, &saved, &problem);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    size_t index = index_of(saved, feature);
    char called[TD_PLACE_CALLED_SIZE];
    (void)printf("%s: %s %s, ", path, did, td_place_called(saved, index, called));
    td_places_tell_where(saved, td_hill_file_hill(saved)->places[index].at_m);
    size_t errors = td_places_tell_findings(path, saved, index);
    if (job->dry_run)
        (void)puts("a trial, nothing was written");
    td_hill_file_free(&saved);
    return errors > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}

static int nothing(const struct td_places_job *job)
{
    (void)printf("%s: it is so already; nothing was written\n", job->path);
    return TD_EXIT_DONE;
}

/* Another place has the id already. `own` is the place it is for. */
static enum td_result check_id(const struct td_hill_file *file, const struct td_places_job *job,
                               size_t own, struct td_problem *problem)
{
    const char *id = job->texts.texts[0]; /* first of td_place_keys */
    char called[TD_PLACE_CALLED_SIZE];
    for (size_t i = 0; id != NULL && id[0] != '\0' && i < td_hill_file_hill(file)->place_count; i++)
        if (i != own && strcmp(td_hill_file_place(file, i).id, id) == 0)
            return td_problem_set(problem, TD_INVALID, NULL, 0,
                                  "the id \"%s\" is that of the %s; give it another", id,
                                  td_place_called(file, i, called));
    return TD_OK;
}

int td_places_add(const struct td_places_job *job, const char *role)
{
    struct td_places_open open;
    struct td_where where;
    struct td_problem problem = {0};
    enum td_result result = td_places_open(job->path, true, &open, &problem);
    if (result == TD_OK)
        result = td_place_try(NULL, role, &job->texts, NULL, 0, &problem);
    if (result == TD_OK)
        result = check_id(open.file, job, SIZE_MAX, &problem);
    if (result == TD_OK)
        result = td_where_read(open.file, &job->where, &where, &problem);
    int code = TD_EXIT_DONE;
    if (result != TD_OK) {
        code = fail_about("add", result, &problem);
    } else {
        td_place_add(&open, role, &job->texts, &where);
        code = save(&open, job, td_hill_file_hill(open.file)->place_count + 2, "added the");
    }
    td_places_close(&open);
    return code;
}

/* The place that is meant, open for change, and whether it would be right. */
static enum td_result begin(const struct td_places_job *job, const char *which,
                            struct td_places_open *open, size_t *index, struct td_problem *problem)
{
    enum td_result result = td_places_open(job->path, true, open, problem);
    if (result == TD_OK)
        result = td_place_which(open->file, which, index, problem);
    if (result == TD_OK)
        result = td_place_try(td_places_properties(open, *index), NULL, &job->texts, NULL, 0,
                              problem);
    if (result == TD_OK)
        result = check_id(open->file, job, *index, problem);
    return result;
}

static int alter(const struct td_places_job *job, const char *which, bool moves)
{
    struct td_places_open open;
    struct td_where where;
    struct td_problem problem = {0};
    size_t index = 0;
    int code = TD_EXIT_DONE;
    enum td_result result = begin(job, which, &open, &index, &problem);
    if (result == TD_OK && moves)
        result = td_where_read(open.file, &job->where, &where, &problem);
    if (result != TD_OK) {
        code = fail_about(moves ? "move" : "change", result, &problem);
    } else {
        unsigned became = td_place_apply(&open, index, &job->texts, moves ? &where : NULL);
        size_t feature = td_hill_file_feature(open.file, index);
        code = became == TD_PLACE_SAME
                   ? nothing(job)
                   : save(&open, job, feature,
                          (became & TD_PLACE_MOVED) != 0 ? "moved the" : "changed the");
    }
    td_places_close(&open);
    return code;
}

int td_places_move(const struct td_places_job *job, const char *which)
{
    return alter(job, which, true);
}

int td_places_change(const struct td_places_job *job, const char *which)
{
    if (!td_place_texts_given(&job->texts))
        return td_tool_fail_words("places change: nothing to change; give a property, for example "
                                  "--speed \"20 mph\"");
    return alter(job, which, false);
}

int td_places_remove(const struct td_places_job *job, const char *which)
{
    struct td_places_open open;
    struct td_problem problem = {0};
    struct td_hill_file *saved = NULL;
    char called[TD_PLACE_CALLED_SIZE] = "";
    size_t index = 0;
    enum td_result result = begin(job, which, &open, &index, &problem);
    if (result == TD_OK) {
        (void)td_place_called(open.file, index, called);
        td_place_remove(&open, index);
        open.dry_run = job->dry_run;
        result = td_places_save(&open, job->out, job->force, &saved, &problem);
    }
    int code = TD_EXIT_DONE;
    if (result != TD_OK)
        code = fail_about("remove", result, &problem);
    else
        (void)printf("%s: removed the %s; %zu places are left%s\n",
                     job->out != NULL ? job->out : job->path, called,
                     td_hill_file_hill(saved)->place_count,
                     job->dry_run ? "; a trial, nothing was written" : "");
    td_hill_file_free(&saved);
    td_places_close(&open);
    return code;
}
