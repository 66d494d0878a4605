/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills by name. In a library ids stand in order: one is found in a few looks; only to name those
 * near a wrong one are all of them read. */
#include "io/hill_named.h"

#include <string.h>
#include <sys/stat.h>

#include "io/library_file.h"
#include "io/problem.h"
#include "talkdown/text.h"

enum { NEAR_SHOWN = 4, NEAR_MOST = 6, PATH_ROOM = 1024 };

/* Cuts "LIBRARY:ID" in two. NULL when the name is that of a file, or of no library. */
static const char *split(const char *name, char path[PATH_ROOM])
{
    struct stat about;
    const char *colon = strrchr(name, ':');
    if (stat(name, &about) == 0 || colon == NULL || (size_t)(colon - name) >= PATH_ROOM)
        return NULL;
    memcpy(path, name, (size_t)(colon - name));
    path[colon - name] = '\0';
    return td_library_file_is(path) ? colon + 1 : NULL;
}

bool td_hill_named_path(const char *name, char *path, size_t size)
{
    char room[PATH_ROOM];
    return td_text_copy(path, size, split(name, room) != NULL ? room : name);
}

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Letters put in, left out or mistaken between two ids (V. I. Levenshtein, Soviet Physics Doklady
 * 10, 1966); a part of the other counts as near. */
static size_t apart(const char *a, const char *b)
{
    size_t row[TD_HILL_NAME_MAX + 1], length = strlen(b);
    if (length > TD_HILL_NAME_MAX)
        return SIZE_MAX;
    if (a[0] != '\0' && strstr(b, a) != NULL)
        return 0;
    for (size_t k = 0; k <= length; k++)
        row[k] = k;
    for (size_t i = 1; a[i - 1] != '\0'; i++) {
        size_t before = row[0];
        row[0] = i;
        for (size_t k = 1; k <= length; k++) {
            size_t change = before + (a[i - 1] != b[k - 1]);
            before = row[k];
            row[k] = least(change, least(row[k], row[k - 1]) + 1);
        }
    }
    return row[length];
}

struct near {
    size_t apart;
    char id[TD_HILL_NAME_MAX + 1];
};

static void put_near(struct near near[NEAR_SHOWN], size_t far, const char *id)
{
    for (size_t i = 0; i < NEAR_SHOWN; i++)
        if (far < near[i].apart) {
            memmove(&near[i + 1], &near[i], (NEAR_SHOWN - 1 - i) * sizeof near[0]);
            near[i].apart = far;
            (void)td_text_copy(near[i].id, sizeof near[i].id, id);
            return;
        }
}

static enum td_result no_such_id(struct td_library_file *library, const char *path, const char *id,
                                 struct td_problem *problem)
{
    struct near near[NEAR_SHOWN];
    char list[NEAR_SHOWN * (TD_HILL_NAME_MAX + 2)] = "";
    struct td_hill_entry entry;
    struct td_text text;
    for (size_t i = 0; i < NEAR_SHOWN; i++)
        near[i].apart = NEAR_MOST;
    for (size_t i = 0; i < td_library_file_count(library); i++) {
        enum td_result result = td_library_file_entry(library, i, &entry, problem);
        if (result != TD_OK)
            return result;
        put_near(near, apart(id, entry.id), entry.id);
    }
    td_text_init(&text, list, sizeof list);
    for (size_t i = 0; i < NEAR_SHOWN && near[i].apart < NEAR_MOST; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, near[i].id);
    }
    if (list[0] != '\0')
        return td_problem_set(problem, TD_NOT_FOUND, path, 0, "has no hill \"%.64s\"; near it: %s",
                              id, list);
    return td_problem_set(problem, TD_NOT_FOUND, path, 0,
                          "has no hill \"%.64s\" and none near it; \"talkdown hills list\" tells "
                          "its %zu",
                          id, td_library_file_count(library));
}

/* Ids are in the order of their bytes. */
static enum td_result find_id(struct td_library_file *library, const char *path, const char *id,
                              size_t *index, struct td_problem *problem)
{
    size_t low = 0, high = td_library_file_count(library);
    while (low < high) {
        struct td_hill_entry entry;
        size_t middle = low + (high - low) / 2;
        enum td_result result = td_library_file_entry(library, middle, &entry, problem);
        if (result != TD_OK)
            return result;
        int order = strcmp(id, entry.id);
        if (order == 0) {
            *index = middle;
            return TD_OK;
        }
        if (order < 0)
            high = middle;
        else
            low = middle + 1;
    }
    return no_such_id(library, path, id, problem);
}

static enum td_result only_one(struct td_library_file *library, const char *path, size_t *index,
                               struct td_problem *problem)
{
    size_t count = td_library_file_count(library);
    struct td_hill_entry entry;
    enum td_result result = td_library_file_entry(library, 0, &entry, problem);
    if (result != TD_OK)
        return result;
    if (count > 1)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "holds %zu hills; name one by its id, for example %.200s:%s", count,
                              path, entry.id);
    *index = 0;
    return TD_OK;
}

enum td_result td_hill_named_read(const char *name, struct td_hill_file **out,
                                  struct td_problem *problem)
{
    char room[PATH_ROOM];
    const char *id = split(name, room), *path = id != NULL ? room : name;
    struct td_library_file *library = NULL;
    if (id == NULL && !td_library_file_is(name))
        return td_hill_file_read(name, out, problem);
    enum td_result result = td_library_file_open(path, &library, problem);
    size_t index = 0;
    if (result == TD_OK)
        result = id != NULL ? find_id(library, path, id, &index, problem)
                            : only_one(library, path, &index, problem);
    if (result == TD_OK)
        result = td_library_file_read(library, index, out, problem);
    td_library_file_close(&library);
    return result;
}
