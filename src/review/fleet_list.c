/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Finds the drive logs of a folder and of the folders in it. */
#include "review/fleet_list.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/problem.h"

enum { DEPTH_MAX = 8, PATH_MOST = 4096 };

static enum td_result no_memory(struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the list of logs");
}

static enum td_result add(struct td_fleet_list *list, const char *path, struct td_problem *problem)
{
    if (list->count == list->room) {
        size_t room = list->room == 0 ? 64 : 2 * list->room;
        char **paths = realloc(list->paths, room * sizeof *paths);
        if (paths == NULL)
            return no_memory(problem);
        list->paths = paths;
        list->room = room;
    }
    list->paths[list->count] = strdup(path);
    if (list->paths[list->count] == NULL)
        return no_memory(problem);
    list->count++;
    return TD_OK;
}

static bool is_log_name(const char *name)
{
    size_t length = strlen(name);
    return length > 3 && strcmp(name + length - 3, ".db") == 0;
}

static enum td_result walk(struct td_fleet_list *list, const char *folder, int depth,
                           struct td_problem *problem)
{
    DIR *dir = opendir(folder);
    if (dir == NULL)
        return td_problem_set(problem, errno == ENOENT ? TD_NOT_FOUND : TD_IO, folder, 0,
                              "cannot look into the folder: %s", strerror(errno));
    enum td_result result = TD_OK;
    for (const struct dirent *entry = readdir(dir); entry != NULL && result == TD_OK;
         entry = readdir(dir)) {
        char path[PATH_MOST];
        struct stat about;
        int length = snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (entry->d_name[0] == '.' || length < 0 || length >= PATH_MOST ||
            lstat(path, &about) != 0)
            continue;
        if (S_ISDIR(about.st_mode) && depth < DEPTH_MAX)
            result = walk(list, path, depth + 1, problem);
        else if (S_ISREG(about.st_mode) && is_log_name(entry->d_name))
            result = add(list, path, problem);
    }
    (void)closedir(dir);
    return result;
}

static int by_name(const void *one, const void *other)
{
    return strcmp(*(char *const *)one, *(char *const *)other);
}

enum td_result td_fleet_list(const char *folder, struct td_fleet_list *list,
                             struct td_problem *problem)
{
    *list = (struct td_fleet_list){.skip = strlen(folder) + 1};
    enum td_result result = walk(list, folder, 0, problem);
    if (result == TD_OK && list->count == 0)
        result = td_problem_set(problem, TD_INVALID, folder, 0,
                                "holds no drive log; name a folder with .db files of drives");
    if (list->count > 0)
        qsort(list->paths, list->count, sizeof *list->paths, by_name);
    return result;
}

void td_fleet_list_free(struct td_fleet_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        free(list->paths[i]);
    free(list->paths);
    *list = (struct td_fleet_list){0};
}
