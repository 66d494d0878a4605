/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The quick way through a drive log: estimates and what marks them, without the inputs' JSON. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "io/drive_reader_parts.h"
#include "io/problem.h"
#include "talkdown/text.h"

/* The array with room for one more; NULL without memory, the old one then stays. Arrays double, so
 * that `count` tells when. */
static void *grown(void *array, size_t count, size_t size)
{
    bool full = (count & (count - 1)) == 0; /* 0 and powers of two */
    return full ? realloc(array, (count == 0 ? 1 : 2 * count) * size) : array;
}

static int hill_index(struct td_drive_reader *reader, sqlite3_stmt *s, int column)
{
    const void *hash = sqlite3_column_blob(s, column);
    if (hash == NULL || sqlite3_column_bytes(s, column) != TD_HASH_BYTES)
        return -1;
    const struct td_drive_hill_row *hill = td_drive_find_hill(reader, hash);
    return hill != NULL ? (int)(hill - reader->hills) : -1;
}

static enum td_result read_handles(struct td_drive_reader *reader, struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    if (!td_drive_prepare(reader, "SELECT seq, handle, hash FROM handle ORDER BY seq", &s))
        return td_drive_bad(reader, problem, "handle");
    enum td_result result = TD_OK;
    int step = SQLITE_DONE;
    while (result == TD_OK && (step = sqlite3_step(s)) == SQLITE_ROW) {
        struct td_drive_handle_row *rows =
            grown(reader->handles, reader->handle_count, sizeof *rows);
        if (rows == NULL) {
            result = td_problem_set(problem, TD_NO_MEMORY, reader->path, 0,
                                    "no memory for its handles");
            break;
        }
        reader->handles = rows;
        rows[reader->handle_count++] = (struct td_drive_handle_row){
            .seq = sqlite3_column_int64(s, 0),
            .handle = (uint32_t)sqlite3_column_int64(s, 1),
            .hill = hill_index(reader, s, 2),
        };
    }
    if (result == TD_OK && step != SQLITE_DONE)
        result = td_drive_bad(reader, problem, "handle");
    (void)sqlite3_finalize(s);
    return result;
}

static enum td_result open_trace(struct td_drive_reader *reader, struct td_problem *problem)
{
    enum td_result result = reader->handles == NULL ? read_handles(reader, problem) : TD_OK;
    if (result == TD_OK &&
        !td_drive_prepare(reader, "SELECT seq, now_ns, place, handle, along_m, sigma_m, speed_mps,"
                                  " target_mps, heat_least_c, heat_likely_c, heat_most_c"
                                  " FROM estimate ORDER BY seq",
                          &reader->trace))
        result = td_drive_bad(reader, problem, "estimate");
    return result;
}

/* A handle is the name of the hill last offered under it. */
static int hill_of(const struct td_drive_reader *reader, uint32_t handle, int64_t seq)
{
    for (size_t i = reader->handle_count; handle != 0 && i > 0; i--)
        if (reader->handles[i - 1].handle == handle && reader->handles[i - 1].seq <= seq)
            return reader->handles[i - 1].hill;
    return -1;
}

enum td_result td_drive_trace(struct td_drive_reader *reader, struct td_drive_row *row,
                              struct td_problem *problem)
{
    enum td_result result = reader->trace == NULL ? open_trace(reader, problem) : TD_OK;
    if (result != TD_OK)
        return result;
    int step = sqlite3_step(reader->trace);
    if (step == SQLITE_DONE)
        return td_problem_set(problem, TD_NOT_FOUND, reader->path, 0, "no more estimates");
    if (step != SQLITE_ROW)
        return td_drive_bad(reader, problem, "estimate");
    struct td_drive_row read = {.seq = sqlite3_column_int64(reader->trace, 0),
                                .now_ns = sqlite3_column_int64(reader->trace, 1)};
    if (!td_drive_read_estimate(reader->trace, 2, &read.estimate))
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "estimate %" PRId64 ": an unknown place, or a figure that is none",
                              read.seq);
    read.hill = hill_of(reader, read.estimate.handle, read.seq);
    *row = read;
    return TD_OK;
}

size_t td_drive_hill_count(const struct td_drive_reader *reader)
{
    return reader->hill_count;
}

const char *td_drive_hill_id(const struct td_drive_reader *reader, size_t index)
{
    return reader->hills[index].id;
}

enum td_result td_drive_hill_file(struct td_drive_reader *reader, size_t index,
                                  const struct td_hill_file **file, struct td_problem *problem)
{
    struct td_drive_hill_row *row = &reader->hills[index];
    enum td_result result = row->file == NULL ? td_drive_load_hill(reader, row, problem) : TD_OK;
    if (result == TD_OK)
        *file = row->file;
    return result;
}

enum td_result td_drive_hill(struct td_drive_reader *reader, size_t index,
                             const struct td_hill **hill, struct td_problem *problem)
{
    const struct td_hill_file *file = NULL;
    enum td_result result = td_drive_hill_file(reader, index, &file, problem);
    if (result == TD_OK)
        *hill = td_hill_file_hill(file);
    return result;
}

const char *td_drive_head_text(const struct td_drive_reader *reader, const char *key, char *value,
                               size_t size)
{
    char *text = td_drive_meta(reader, key);
    (void)td_text_copy(value, size, text != NULL ? text : "");
    free(text);
    return value;
}

int64_t td_drive_end_ns(const struct td_drive_reader *reader)
{
    static const char query[] =
        "SELECT COALESCE((SELECT CAST(value AS INTEGER) FROM meta WHERE key='end_ns'),"
        " (SELECT MAX(now_ns) FROM (SELECT now_ns FROM step ORDER BY seq DESC LIMIT 1)))";
    sqlite3_stmt *s = NULL;
    int64_t end_ns = reader->start_ns;
    if (td_drive_prepare(reader, query, &s) && sqlite3_step(s) == SQLITE_ROW &&
        sqlite3_column_type(s, 0) == SQLITE_INTEGER && sqlite3_column_int64(s, 0) > end_ns)
        end_ns = sqlite3_column_int64(s, 0);
    (void)sqlite3_finalize(s);
    return end_ns;
}

/* --- marks --- */

struct mark_list {
    struct td_drive_mark *items;
    size_t count;
};

static bool add_mark(struct mark_list *list, const struct td_drive_mark *mark)
{
    struct td_drive_mark *items = grown(list->items, list->count, sizeof *items);
    if (items == NULL)
        return false;
    list->items = items;
    items[list->count++] = *mark;
    return true;
}

/* Columns: kind, seq, now_ns, value, text. Of a command, text is the input. */
static enum td_result take_mark(const struct td_drive_reader *reader, sqlite3_stmt *s,
                                struct mark_list *list, struct td_problem *problem)
{
    const char *text = (const char *)sqlite3_column_text(s, 4);
    struct td_drive_mark mark = {.kind = (enum td_drive_mark_kind)sqlite3_column_int(s, 0),
                                 .seq = sqlite3_column_int64(s, 1),
                                 .now_ns = sqlite3_column_int64(s, 2),
                                 .value = sqlite3_column_int64(s, 3)};
    if (mark.kind == TD_DRIVE_MARK_LOAD) {
        struct td_input_read read;
        struct td_problem why = {0};
        if (text == NULL || td_input_from_json(text, strlen(text), &read, &why) != TD_OK)
            return td_problem_set(problem, TD_INVALID, reader->path, 0, "step %" PRId64 ": %s",
                                  mark.seq, why.text);
        if (read.input.command.kind != TD_COMMAND_LOAD)
            return TD_OK;
        mark.value = read.input.command.value;
    } else {
        (void)td_text_copy(mark.text, sizeof mark.text, text != NULL ? text : "");
    }
    if (!add_mark(list, &mark))
        return td_problem_set(problem, TD_NO_MEMORY, reader->path, 0, "no memory for its marks");
    return TD_OK;
}

enum td_result td_drive_marks(struct td_drive_reader *reader, struct td_drive_mark **marks,
                              size_t *count, struct td_problem *problem)
{
    static const char query[] =
        "SELECT 0, seq, now_ns, count, what FROM gap UNION ALL"
        " SELECT 1, seq, now_ns, value, NULL FROM event WHERE kind='sound' UNION ALL"
        " SELECT 2, seq, now_ns, 0, input FROM step WHERE instr(input,'\"command\"')>0"
        " ORDER BY 2, 1";
    sqlite3_stmt *s = NULL;
    struct mark_list list = {.items = NULL};
    if (!td_drive_prepare(reader, query, &s))
        return td_drive_bad(reader, problem, "gap");
    enum td_result result = TD_OK;
    int step = SQLITE_DONE;
    while (result == TD_OK && (step = sqlite3_step(s)) == SQLITE_ROW)
        result = take_mark(reader, s, &list, problem);
    if (result == TD_OK && step != SQLITE_DONE)
        result = td_drive_bad(reader, problem, "gap");
    (void)sqlite3_finalize(s);
    if (result != TD_OK) {
        free(list.items);
        return result;
    }
    *marks = list.items;
    *count = list.count;
    return TD_OK;
}
