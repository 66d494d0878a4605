/* SPDX-License-Identifier: GPL-3.0-or-later */
/* To every hill of a file, a folder or a library, or to one of a library by its id; one in memory
 * at a time. */
#include <stdio.h>
#include <string.h>

#include "io/hill_named.h"
#include "io/library_file.h"
#include "io/paths.h"
#include "io/problem.h"
#include "tool/hills/hills.h"

enum { NAME_ROOM = TD_PROBLEM_FILE_MAX + TD_HILL_NAME_MAX };

static enum td_result visit_profiles(const char *path, td_hill_visitor *go, void *context,
                                     struct td_problem *problem)
{
    struct td_paths paths;
    enum td_result result = td_paths_list(path, &td_paths_profiles, &paths, problem);
    if (result != TD_OK)
        return result;
    for (size_t i = 0; result == TD_OK && i < paths.count; i++) {
        struct td_hill_file *file = NULL;
        struct td_problem wrong = {0};
        enum td_result read = td_hill_file_read(paths.paths[i], &file, &wrong);
        const struct td_hill_visit visit = {paths.paths[i], read, file, &wrong};
        result = go(context, &visit, problem);
        td_hill_file_free(&file);
    }
    td_paths_free(&paths);
    return result;
}

static enum td_result visit_packed(struct td_library_file *library, const char *path, size_t index,
                                   td_hill_visitor *go, void *context, struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    struct td_problem wrong = {0};
    char name[NAME_ROOM];
    enum td_result read = td_library_file_read(library, index, &file, &wrong);
    if (read == TD_OK)
        (void)snprintf(name, sizeof name, "%s:%s", path, td_hill_file_hill(file)->id);
    else
        (void)snprintf(name, sizeof name, "%s", path);
    const struct td_hill_visit visit = {name, read, file, &wrong};
    enum td_result result = go(context, &visit, problem);
    td_hill_file_free(&file);
    return result;
}

static enum td_result visit_library(const char *path, td_hill_visitor *go, void *context,
                                    struct td_problem *problem)
{
    struct td_library_file *library = NULL;
    enum td_result result = td_library_file_open(path, &library, problem);
    if (result != TD_OK)
        return result;
    for (size_t i = 0; result == TD_OK && i < td_library_file_count(library); i++)
        result = visit_packed(library, path, i, go, context, problem);
    td_library_file_close(&library);
    return result;
}

/* LIBRARY:ID */
static bool is_named(const char *path)
{
    char file[NAME_ROOM];
    return td_hill_named_path(path, file, sizeof file) && strcmp(file, path) != 0;
}

static enum td_result visit_named(const char *path, td_hill_visitor *go, void *context,
                                  struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    struct td_problem wrong = {0};
    enum td_result read = td_hill_named_read(path, &file, &wrong);
    const struct td_hill_visit visit = {path, read, file, &wrong};
    enum td_result result = go(context, &visit, problem);
    td_hill_file_free(&file);
    return result;
}

enum td_result td_hills_visit(const char *path, td_hill_visitor *go, void *context,
                              struct td_problem *problem)
{
    if (is_named(path))
        return visit_named(path, go, context, problem);
    return td_library_file_is(path) ? visit_library(path, go, context, problem)
                                    : visit_profiles(path, go, context, problem);
}
