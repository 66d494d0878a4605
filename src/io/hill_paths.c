/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Profiles of a folder, listed in an order that no locale changes. */
#include "io/hill_paths.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/problem.h"

static const char suffix[] = ".geojson";

static int is_profile(const struct dirent *entry)
{
    size_t length = strlen(entry->d_name), tail = sizeof suffix - 1;
    return entry->d_name[0] != '.' && length > tail &&
           strcmp(entry->d_name + length - tail, suffix) == 0;
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
                                 struct td_hill_paths *made, struct td_problem *problem)
{
    if (count > TD_HILL_PATHS_MAX)
        return td_problem_set(problem, TD_FULL, folder, 0,
                              "holds %zu profiles; %d are the most of a folder", count,
                              (int)TD_HILL_PATHS_MAX);
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

static enum td_result list_folder(const char *folder, struct td_hill_paths *made,
                                  struct td_problem *problem)
{
    struct dirent **names = NULL;
    int count = scandir(folder, &names, is_profile, by_name);
    if (count < 0)
        return td_problem_set(problem, errno == ENOMEM ? TD_NO_MEMORY : TD_IO, folder, 0,
                              "cannot list it: %s", strerror(errno));
    enum td_result result = take_names(folder, names, (size_t)count, made, problem);
    for (int i = 0; i < count; i++)
        free(names[i]);
    free(names);
    return result;
}

static enum td_result list_file(const char *path, struct td_hill_paths *made,
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

enum td_result td_hill_paths_list(const char *path, struct td_hill_paths *paths,
                                  struct td_problem *problem)
{
    struct stat about;
    if (stat(path, &about) != 0)
        return td_problem_set(problem, errno == ENOENT ? TD_NOT_FOUND : TD_IO, path, 0,
                              "cannot find the hills: %s", strerror(errno));
    struct td_hill_paths made = {0};
    enum td_result result = S_ISDIR(about.st_mode) ? list_folder(path, &made, problem)
                                                   : list_file(path, &made, problem);
    if (result == TD_OK)
        *paths = made;
    else
        td_hill_paths_free(&made);
    return result;
}

void td_hill_paths_free(struct td_hill_paths *paths)
{
    for (size_t i = 0; i < paths->count; i++)
        free(paths->paths[i]);
    free(paths->paths);
    *paths = (struct td_hill_paths){0};
}
