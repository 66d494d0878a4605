/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/library_rig.h"

#include <dirent.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/cm.h"
#include "support/ocean_hills.h"

static char folder[32];

const char *rig_folder(void)
{
    (void)snprintf(folder, sizeof folder, "library.XXXXXX");
    assert_non_null(mkdtemp(folder));
    return folder;
}

const char *rig_in(const char *name)
{
    static char paths[4][320];
    static unsigned turn;
    char *path = paths[turn++ % 4];
    (void)snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

static size_t each_file(int (*go)(const char *path))
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    size_t count = 0;
    for (const struct dirent *entry = readdir(dir); entry != NULL; entry = readdir(dir)) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        count++;
        if (go != NULL)
            (void)go(rig_in(entry->d_name));
    }
    (void)closedir(dir);
    return count;
}

size_t rig_file_count(void)
{
    return each_file(NULL);
}

void rig_remove_folder(void)
{
    (void)each_file(unlink);
    (void)rmdir(folder);
}

char *rig_text(const struct rig_hill *hill, size_t *length)
{
    char *text = hill->lat_deg == 0 && hill->lon_deg == 0
                     ? ocean_hill_text(hill->index, length)
                     : ocean_hill_text_at(hill->index, hill->lat_deg, hill->lon_deg, length);
    assert_non_null(text);
    return text;
}

static enum td_result add(struct td_library_pack *pack, const struct rig_hill *hill,
                          struct td_problem *problem)
{
    size_t length = 0;
    struct td_hill_file *file = NULL;
    char source[32];
    char *text = rig_text(hill, &length);
    (void)snprintf(source, sizeof source, "hill %u", hill->index);
    assert_int_equal(td_hill_file_parse(source, text, length, &file, NULL), TD_OK);
    free(text);
    enum td_result result = td_library_pack_add(pack, file, source, problem);
    td_hill_file_free(&file);
    return result;
}

static enum td_result try_pack(const char *path, const struct rig_hill *hills, size_t count,
                               unsigned revision, struct td_problem *problem)
{
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    enum td_result result = td_library_pack_begin(path, true, &pack, problem);
    if (result == TD_OK)
        td_library_pack_revision(pack, revision);
    for (size_t i = 0; result == TD_OK && i < count; i++)
        result = add(pack, &hills[i], problem);
    if (result == TD_OK)
        result = td_library_pack_finish(&pack, NULL, NULL, &made, problem);
    td_library_pack_abandon(&pack);
    assert_null(pack);
    return result;
}

enum td_result rig_try_pack(const char *path, const struct rig_hill *hills, size_t count,
                            struct td_problem *problem)
{
    return try_pack(path, hills, count, 0, problem);
}

void rig_pack(const char *path, const struct rig_hill *hills, size_t count)
{
    rig_pack_revision(path, hills, count, 0);
}

void rig_pack_revision(const char *path, const struct rig_hill *hills, size_t count,
                       unsigned revision)
{
    struct td_problem problem = {0};
    if (try_pack(path, hills, count, revision, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
}

struct td_library_file *rig_open(const char *path)
{
    struct td_library_file *library = NULL;
    struct td_problem problem = {0};
    if (td_library_file_open(path, &library, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return library;
}

void rig_alter(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    assert_int_equal(sqlite3_close(db), SQLITE_OK);
}
