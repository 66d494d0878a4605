/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Files of a folder, listed in an order that no locale changes. */
#include "io/paths.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/problem.h"

const struct td_paths_kind td_paths_profiles = {".geojson", "profiles"};
const struct td_paths_kind td_paths_rigs = {".yaml", "rigs"};

static bool is_of(const struct td_paths_kind *kind, const struct dirent *entry)
{
    size_t length = strlen(entry->d_name), tail = strlen(kind->suffix);
    return entry->d_name[0] != '.' && length > tail &&
           strcmp(entry->d_name + length - tail, kind->suffix) == 0;
}

/* scandir gives its filter no context, so there is one a kind. */
static int is_profile(const struct dirent *entry)
{
    return is_of(&td_paths_profiles, entry);
}

static int is_rig(const struct dirent *entry)
{
    return is_of(&td_paths_rigs, entry);
}

/* alphasort would follow the locale. */
static int by_name(const struct dirent **a, const struct dirent **b)
{
    return strcmp((*a)->d_name, (*b)->d_name);
}

static char *join(const char *folder, const char *name)
{
    size_t folder_length = strlen(folder);
    const char *slash = folder_length > 0 && folder[folder_length - 1] == '/' ? "" : "/";
    size_t size = folder_length + strlen(name) + 2;
    char *path = malloc(size);
    if (path != NULL)
        (void)snprintf(path, size, "%s%s%s", folder, slash, name);
    return path;
}

static enum td_result no_memory(const char *path, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to list it");
}

static enum td_result take_names(const char *folder, struct dirent **names, size_t count,
                                 const struct td_paths_kind *kind, struct td_paths *made,
                                 struct td_problem *problem)
{
    if (count > TD_PATHS_MAX)
        return td_problem_set(problem, TD_FULL, folder, 0,
                              "holds %zu %s; %d are the most of a folder", count, kind->many,
                              (int)TD_PATHS_MAX);
    made->paths = calloc(count + 1, sizeof *made->paths);
    if (made->paths == NULL)
        return no_memory(folder, problem);
    for (; made->count < count; made->count++) {
        made->paths[made->count] = join(folder, names[made->count]->d_name);
        if (made->paths[made->count] == NULL)
            return no_memory(folder, problem);
    }
    return TD_OK;
}

static enum td_result list_folder(const char *folder, const struct td_paths_kind *kind,
                                  struct td_paths *made, struct td_problem *problem)
{
    struct dirent **names = NULL;
    int count =
        scandir(folder, &names, kind == &td_paths_rigs ? is_rig : is_profile, by_name);
    if (count < 0)
        return td_problem_set(problem, errno == ENOMEM ? TD_NO_MEMORY : TD_IO, folder, 0,
                              "cannot list it: %s", strerror(errno));
    enum td_result result = take_names(folder, names, (size_t)count, kind, made, problem);
    for (int i = 0; i < count; i++)
        free(names[i]);
    free(names);
    return result;
}

static enum td_result list_file(const char *path, struct td_paths *made,
                                struct td_problem *problem)
{
    size_t size = strlen(path) + 1;
    made->paths = calloc(1, sizeof *made->paths);
    char *copy = malloc(size);
    if (made->paths == NULL || copy == NULL) {
        free(copy);
        return no_memory(path, problem);
    }
    memcpy(copy, path, size);
    made->paths[0] = copy;
    made->count = 1;
    return TD_OK;
}

enum td_result td_paths_list(const char *path, const struct td_paths_kind *kind,
                             struct td_paths *paths, struct td_problem *problem)
{
    struct stat about;
    if (stat(path, &about) != 0)
        return td_problem_set(problem, errno == ENOENT ? TD_NOT_FOUND : TD_IO, path, 0,
                              "cannot find the %s: %s", kind == &td_paths_rigs ? "rigs" : "hills",
                              strerror(errno));
    struct td_paths made = {0};
    enum td_result result = S_ISDIR(about.st_mode) ? list_folder(path, kind, &made, problem)
                                                   : list_file(path, &made, problem);
    if (result == TD_OK)
        *paths = made;
    else
        td_paths_free(&made);
    return result;
}

void td_paths_free(struct td_paths *paths)
{
    for (size_t i = 0; i < paths->count; i++)
        free(paths->paths[i]);
    free(paths->paths);
    *paths = (struct td_paths){0};
}
