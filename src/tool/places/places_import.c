/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown places import: a table of places into a profile, all of it or nothing. Rows find their
 * place by id, by name, or by standing where one of the same kind stands; others are new. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/csv.h"
#include "io/hill_feature.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "tool/places/places.h"
#include "tool/places/places_rows.h"
#include "tool/tool.h"

enum { LINES_TOLD = 20 };

/* --- Into the profile --- */

static void count(struct td_places_import *import, const struct td_place_row *row, unsigned became)
{
    import->added += row->index == TD_PLACE_NEW;
    import->removed += row->removes;
    if (row->index == TD_PLACE_NEW || row->removes)
        return;
    import->moved += (became & TD_PLACE_MOVED) != 0;
    import->changed += became == TD_PLACE_CHANGED;
    import->same += became == TD_PLACE_SAME;
}

/* Changes, then what is new, at the end, so that numbers stay; what goes comes after that. */
static void apply(struct td_places_import *import)
{
    struct td_places_open *open = &import->open;
    for (size_t i = 0; i < import->count; i++) {
        struct td_place_row *row = &import->rows[i];
        if (row->removes || row->index == TD_PLACE_NEW)
            continue;
        row->became = td_place_apply(open, row->index, &row->texts,
                                     row->has_where ? &row->where : NULL);
        row->feature = td_hill_file_feature(open->file, row->index);
        count(import, row, row->became);
    }
    size_t last = td_hill_file_hill(open->file)->place_count + 1;
    for (size_t i = 0; i < import->count; i++) {
        struct td_place_row *row = &import->rows[i];
        if (row->index != TD_PLACE_NEW)
            continue;
        td_place_add(open, row->role, &row->texts, &row->where);
        row->feature = ++last;
        count(import, row, 0);
    }
}

static struct td_place_row *last_to_remove(struct td_places_import *import)
{
    struct td_place_row *last = NULL;
    size_t most = 0;
    for (size_t i = 0; i < import->count; i++) {
        struct td_place_row *row = &import->rows[i];
        size_t feature = row->removes && !row->done
                             ? td_hill_file_feature(import->open.file, row->index)
                             : 0;
        if (feature > most) {
            most = feature;
            last = row;
        }
    }
    return last;
}

static void remove_rows(struct td_places_import *import)
{
    struct td_place_row *gone = NULL;
    while ((gone = last_to_remove(import)) != NULL) {
        size_t feature = td_hill_file_feature(import->open.file, gone->index);
        td_place_remove(&import->open, gone->index);
        gone->done = true;
        count(import, gone, 0);
        for (size_t i = 0; i < import->count; i++)
            import->rows[i].feature -= import->rows[i].feature > feature;
    }
}

/* --- Told --- */

static size_t tell_row(const struct td_places_import *import, const struct td_place_row *row,
                       const char *path, const struct td_hill_file *saved)
{
    char called[TD_PLACE_CALLED_SIZE];
    if (row->removes) {
        (void)printf("%s:%d: removed the %s\n", import->csv_path, row->line,
                     td_place_called(import->open.file, row->index, called));
        return 0;
    }
    if (row->index != TD_PLACE_NEW && row->became == TD_PLACE_SAME)
        return 0;
    size_t index = 0;
    while (td_hill_file_feature(saved, index) != row->feature)
        index++;
    (void)printf("%s:%d: %s the %s, ", import->csv_path, row->line,
                 row->index == TD_PLACE_NEW              ? "added"
                 : (row->became & TD_PLACE_MOVED) != 0 ? "moved"
                                                         : "changed",
                 td_place_called(saved, index, called));
    td_places_tell_where(saved, td_hill_file_hill(saved)->places[index].at_m);
    return td_places_tell_findings(path, saved, index);
}

static int tell(const struct td_places_import *import, const struct td_places_job *job,
                const struct td_hill_file *saved)
{
    size_t errors = 0;
    const char *path = job->out != NULL ? job->out : job->path;
    for (size_t i = 0; i < import->count; i++)
        errors += tell_row(import, &import->rows[i], path, saved);
    (void)printf("%s: %zu added, %zu moved, %zu changed, %zu removed, %zu as they were%s\n", path,
                 import->added, import->moved, import->changed, import->removed, import->same,
                 job->dry_run ? "; a trial, nothing was written" : "");
    return errors > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}

static int save(struct td_places_import *import, const struct td_places_job *job)
{
    struct td_hill_file *saved = NULL;
    struct td_problem problem = {0};
    if (import->added + import->moved + import->changed + import->removed == 0) {
        (void)printf("%s: all %zu places are so already; nothing was written\n", job->path,
                     import->same);
        return TD_EXIT_DONE;
    }
    import->open.dry_run = job->dry_run;
    if (td_places_save(&import->open, job->out, job->force, &saved, &problem) != TD_OK)
        return td_tool_fail(&problem);
    int code = tell(import, job, saved);
    td_hill_file_free(&saved);
    return code;
}

/* Every line that is wrong, so that a table is mended in one go. */
static int tell_wrong(const struct td_places_import *import)
{
    size_t bad = 0;
    for (size_t i = 0; i < import->count; i++) {
        const struct td_place_row *row = &import->rows[i];
        if (row->result != TD_OK && ++bad <= LINES_TOLD)
            (void)td_tool_fail(&row->problem);
    }
    if (bad > LINES_TOLD)
        (void)fprintf(stderr, "talkdown: %s: and %zu more lines are wrong\n", import->csv_path,
                      bad - LINES_TOLD);
    return bad > 0 ? TD_EXIT_ERROR : TD_EXIT_DONE;
}

int td_places_import(const struct td_places_job *job, const char *csv)
{
    static struct td_places_import import;
    import = (struct td_places_import){.csv_path = csv};
    struct td_problem problem = {0};
    enum td_result result = td_places_open(job->path, true, &import.open, &problem);
    if (result == TD_OK)
        result = td_csv_read(csv, &import.csv, &problem);
    if (result == TD_OK)
        result = td_place_rows_read(&import, &problem);
    int code = result == TD_OK ? tell_wrong(&import) : td_tool_fail(&problem);
    if (code == TD_EXIT_DONE) {
        apply(&import);
        remove_rows(&import);
        code = save(&import, job);
    }
    free(import.rows);
    td_csv_free(&import.csv);
    td_places_close(&import.open);
    return code;
}
