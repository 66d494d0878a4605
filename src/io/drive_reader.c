/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reader of drive logs: opens and checks, and gives the inputs in order for a replay. A log may
 * come from anywhere, so everything in it is checked before the core sees it. */
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/drive_reader_parts.h"
#include "io/drive_schema.h"
#include "io/problem.h"
#include "io/setup_json.h"
#include "talkdown/text.h"

enum td_result td_drive_bad(const struct td_drive_reader *reader, struct td_problem *problem,
                            const char *what)
{
    return td_problem_set(problem, TD_INVALID, reader->path, 0, "%s: %s", what,
                          sqlite3_errmsg(reader->db));
}

bool td_drive_prepare(const struct td_drive_reader *reader, const char *text, sqlite3_stmt **out)
{
    return sqlite3_prepare_v2(reader->db, text, -1, out, NULL) == SQLITE_OK;
}

static bool pragma_is(const struct td_drive_reader *reader, const char *text, int value)
{
    sqlite3_stmt *s = NULL;
    bool is = td_drive_prepare(reader, text, &s) && sqlite3_step(s) == SQLITE_ROW &&
              sqlite3_column_int(s, 0) == value;
    (void)sqlite3_finalize(s);
    return is;
}

static enum td_result check_kind(const struct td_drive_reader *reader, struct td_problem *problem)
{
    if (!pragma_is(reader, "PRAGMA application_id", TD_DRIVE_APPLICATION_ID))
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "is no drive log of this program; a drive.db is needed");
    if (!pragma_is(reader, "PRAGMA user_version", TD_DRIVE_VERSION))
        return td_problem_set(problem, TD_UNSUPPORTED, reader->path, 0,
                              "is a drive log of another version; this program reads version %d",
                              (int)TD_DRIVE_VERSION);
    return TD_OK;
}

char *td_drive_meta(const struct td_drive_reader *reader, const char *key)
{
    sqlite3_stmt *s = NULL;
    char *value = NULL;
    if (td_drive_prepare(reader, "SELECT value FROM meta WHERE key=?", &s)) {
        (void)sqlite3_bind_text(s, 1, key, -1, SQLITE_STATIC);
        if (sqlite3_step(s) == SQLITE_ROW && sqlite3_column_text(s, 0) != NULL)
            value = strdup((const char *)sqlite3_column_text(s, 0));
    }
    (void)sqlite3_finalize(s);
    return value;
}

static enum td_result read_whole(const struct td_drive_reader *reader, const char *key,
                                 int64_t *value, struct td_problem *problem)
{
    char *text = td_drive_meta(reader, key);
    char *end = text;
    *value = text != NULL ? strtoll(text, &end, 10) : 0;
    bool whole = text != NULL && end != text && *end == '\0';
    free(text);
    if (!whole)
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "meta: %s: a whole number is needed", key);
    return TD_OK;
}

static enum td_result read_head(struct td_drive_reader *reader, struct td_problem *problem)
{
    enum td_result result = read_whole(reader, "start_ns", &reader->start_ns, problem);
    if (result == TD_OK)
        result = read_whole(reader, "start_utc_ms", &reader->start_utc_ms, problem);
    if (result != TD_OK)
        return result;
    char *text = td_drive_meta(reader, "setup");
    if (text == NULL)
        return td_problem_set(problem, TD_INVALID, reader->path, 0, "meta: setup is missing");
    struct td_problem why = {0};
    result = td_setup_from_json(text, strlen(text), &reader->setup, &why);
    if (result == TD_OK && reader->setup.rig_is_set)
        result = td_rig_check(&reader->setup.rig, &why);
    free(text);
    if (result != TD_OK)
        return td_problem_set(problem, result, reader->path, 0, "setup: %s", why.text);
    return TD_OK;
}

static enum td_result read_hill_row(struct td_drive_reader *reader, sqlite3_stmt *s,
                                    struct td_problem *problem)
{
    size_t count = reader->hill_count;
    struct td_drive_hill_row *hills = realloc(reader->hills, (count + 1) * sizeof *hills);
    if (hills == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, reader->path, 0, "no memory for its hills");
    reader->hills = hills;
    const char *id = (const char *)sqlite3_column_text(s, 1);
    if (sqlite3_column_bytes(s, 0) != TD_HASH_BYTES || id == NULL)
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "hill: a hash of 32 bytes and an id are needed");
    memset(&hills[count], 0, sizeof hills[count]);
    memcpy(hills[count].hash, sqlite3_column_blob(s, 0), TD_HASH_BYTES);
    (void)td_text_copy(hills[count].id, sizeof hills[count].id, id);
    reader->hill_count++;
    return TD_OK;
}

static enum td_result list_hills(struct td_drive_reader *reader, struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    if (!td_drive_prepare(reader, "SELECT hash, id FROM hill ORDER BY rowid", &s))
        return td_drive_bad(reader, problem, "hill");
    enum td_result result = TD_OK;
    int step = SQLITE_DONE;
    while (result == TD_OK && (step = sqlite3_step(s)) == SQLITE_ROW)
        result = read_hill_row(reader, s, problem);
    if (result == TD_OK && step != SQLITE_DONE)
        result = td_drive_bad(reader, problem, "hill");
    (void)sqlite3_finalize(s);
    return result;
}

enum td_result td_drive_open(const char *path, struct td_drive_reader **out,
                             struct td_problem *problem)
{
    struct td_drive_reader *reader = calloc(1, sizeof *reader);
    if (reader == NULL || (reader->path = strdup(path)) == NULL) {
        free(reader);
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to read it");
    }
    enum td_result result;
    if (sqlite3_open_v2(path, &reader->db, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL) !=
        SQLITE_OK)
        result = td_problem_set(problem, TD_NOT_FOUND, path, 0, "cannot open the drive log: %s",
                                sqlite3_errmsg(reader->db));
    else
        result = check_kind(reader, problem);
    if (result == TD_OK)
        result = read_head(reader, problem);
    if (result == TD_OK)
        result = list_hills(reader, problem);
    if (result == TD_OK &&
        !td_drive_prepare(reader, "SELECT seq, input FROM step ORDER BY seq", &reader->steps))
        result = td_drive_bad(reader, problem, "step");
    if (result == TD_OK &&
        !td_drive_prepare(reader, "SELECT place, handle, along_m, sigma_m, speed_mps, target_mps,"
                         " heat_least_c, heat_likely_c, heat_most_c FROM estimate WHERE seq=?",
                 &reader->estimates))
        result = td_drive_bad(reader, problem, "estimate");
    if (result != TD_OK) {
        td_drive_close(&reader);
        return result;
    }
    *out = reader;
    return TD_OK;
}

const struct td_setup *td_drive_setup(const struct td_drive_reader *reader)
{
    return &reader->setup;
}

int64_t td_drive_start_ns(const struct td_drive_reader *reader)
{
    return reader->start_ns;
}

int64_t td_drive_start_utc_ms(const struct td_drive_reader *reader)
{
    return reader->start_utc_ms;
}

uint32_t td_drive_lost(const struct td_drive_reader *reader)
{
    return reader->lost;
}

struct td_drive_hill_row *td_drive_find_hill(struct td_drive_reader *reader, const uint8_t *hash)
{
    for (size_t i = 0; i < reader->hill_count; i++)
        if (memcmp(reader->hills[i].hash, hash, TD_HASH_BYTES) == 0)
            return &reader->hills[i];
    return NULL;
}

enum td_result td_drive_load_hill(struct td_drive_reader *reader, struct td_drive_hill_row *hill,
                                  struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    if (!td_drive_prepare(reader, "SELECT bytes FROM hill WHERE hash=?", &s))
        return td_drive_bad(reader, problem, "hill");
    (void)sqlite3_bind_blob(s, 1, hill->hash, TD_HASH_BYTES, SQLITE_STATIC);
    enum td_result result;
    struct td_problem why = {0};
    if (sqlite3_step(s) != SQLITE_ROW) {
        result = td_drive_bad(reader, problem, "hill");
    } else {
        result = td_hill_file_parse(hill->id, sqlite3_column_blob(s, 0),
                                    (size_t)sqlite3_column_bytes(s, 0), &hill->file, &why);
        if (result != TD_OK)
            (void)td_problem_set(problem, result, reader->path, 0, "hill %s: %s", hill->id,
                                 why.text);
    }
    (void)sqlite3_finalize(s);
    if (result == TD_OK &&
        memcmp(td_hill_file_hill(hill->file)->hash, hill->hash, TD_HASH_BYTES) != 0) {
        td_hill_file_free(&hill->file);
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "hill %s: its bytes do not have the hash they are filed under",
                              hill->id);
    }
    return result;
}

static enum td_result fill_hill(struct td_drive_reader *reader, struct td_problem *problem)
{
    struct td_drive_hill_row *hill = td_drive_find_hill(reader, reader->read.hash);
    if (hill == NULL)
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "step %" PRId64 ": offers a hill that is not on file", reader->seq);
    enum td_result result = hill->file != NULL ? TD_OK : td_drive_load_hill(reader, hill, problem);
    if (result == TD_OK)
        reader->read.input.offer.hill = td_hill_file_hill(hill->file);
    return result;
}

static void count_lost(struct td_drive_reader *reader, int64_t seq)
{
    int64_t missing = seq - reader->seq - 1;
    if (missing > 0)
        reader->lost += missing < UINT32_MAX ? (uint32_t)missing : UINT32_MAX;
    reader->seq = seq;
}

/* Steps lost after the last one on file leave no hole in the numbers, only their gap. */
static void count_lost_at_end(struct td_drive_reader *reader)
{
    sqlite3_stmt *s = NULL;
    if (td_drive_prepare(reader, "SELECT MAX(seq) FROM gap WHERE what<>'events'", &s) &&
        sqlite3_step(s) == SQLITE_ROW && sqlite3_column_int64(s, 0) > reader->seq)
        count_lost(reader, sqlite3_column_int64(s, 0) + 1);
    (void)sqlite3_finalize(s);
}

enum td_result td_drive_next(struct td_drive_reader *reader, struct td_input *input,
                             struct td_problem *problem)
{
    int step = sqlite3_step(reader->steps);
    if (step == SQLITE_DONE) {
        count_lost_at_end(reader);
        return td_problem_set(problem, TD_NOT_FOUND, reader->path, 0, "no more steps");
    }
    if (step != SQLITE_ROW)
        return td_drive_bad(reader, problem, "step");
    count_lost(reader, sqlite3_column_int64(reader->steps, 0));
    const char *text = (const char *)sqlite3_column_text(reader->steps, 1);
    size_t length = (size_t)sqlite3_column_bytes(reader->steps, 1);
    struct td_problem why = {0};
    enum td_result result =
        td_input_from_json(text != NULL ? text : "", text != NULL ? length : 0, &reader->read,
                           &why);
    if (result != TD_OK)
        return td_problem_set(problem, result, reader->path, 0, "step %" PRId64 ": %s",
                              reader->seq, why.text);
    if (reader->read.has_hill)
        result = fill_hill(reader, problem);
    if (result == TD_OK)
        *input = reader->read.input;
    return result;
}

static bool where_of(const char *name, enum td_where *where)
{
    for (int i = TD_WHERE_NO_FIX; name != NULL && i <= TD_WHERE_LOST; i++) {
        *where = (enum td_where)i;
        if (strcmp(td_where_name(*where), name) == 0)
            return true;
    }
    return false;
}

bool td_drive_read_estimate(sqlite3_stmt *s, int from, struct td_estimate *estimate)
{
    struct td_estimate read = {.where = TD_WHERE_NO_FIX};
    double *const reals[] = {&read.along_m,      &read.sigma_m,       &read.speed_mps,
                             &read.target_mps,   &read.heat_least_c,  &read.heat_likely_c,
                             &read.heat_most_c};
    if (!where_of((const char *)sqlite3_column_text(s, from), &read.where))
        return false;
    read.handle = (uint32_t)sqlite3_column_int64(s, from + 1);
    for (int i = 0; i < (int)(sizeof reals / sizeof reals[0]); i++) {
        *reals[i] = sqlite3_column_double(s, from + 2 + i);
        if (!isfinite(*reals[i]))
            return false;
    }
    *estimate = read;
    return true;
}

bool td_drive_estimate(struct td_drive_reader *reader, struct td_estimate *estimate)
{
    sqlite3_stmt *s = reader->estimates;
    (void)sqlite3_bind_int64(s, 1, reader->seq);
    bool there = sqlite3_step(s) == SQLITE_ROW && td_drive_read_estimate(s, 0, estimate);
    (void)sqlite3_reset(s);
    return there;
}

void td_drive_close(struct td_drive_reader **reader)
{
    if (reader == NULL || *reader == NULL)
        return;
    for (size_t i = 0; i < (*reader)->hill_count; i++)
        td_hill_file_free(&(*reader)->hills[i].file);
    free((*reader)->hills);
    (void)sqlite3_finalize((*reader)->steps);
    (void)sqlite3_finalize((*reader)->estimates);
    (void)sqlite3_finalize((*reader)->trace);
    free((*reader)->handles);
    (void)sqlite3_close((*reader)->db);
    free((*reader)->path);
    free(*reader);
    *reader = NULL;
}
