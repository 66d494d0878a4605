/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reader of drive logs: inputs in order for a replay, prompts with their fate for people. A log may
 * come from anywhere, so everything in it is checked before the core sees it. */
#include <inttypes.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#include "io/drive_log.h"
#include "io/drive_schema.h"
#include "io/input_json.h"
#include "io/problem.h"
#include "io/setup_json.h"
#include "talkdown/text.h"

struct hill_on_file {
    uint8_t hash[TD_HASH_BYTES];
    char id[TD_HILL_NAME_MAX];
    struct td_hill_file *file; /* NULL until a step offers it */
};

struct td_drive_reader {
    sqlite3 *db;
    sqlite3_stmt *steps;
    sqlite3_stmt *estimates;
    char *path;
    struct td_setup setup;
    int64_t start_ns, start_utc_ms;
    int64_t seq; /* of the last step read */
    uint32_t lost;
    struct hill_on_file *hills;
    size_t hill_count;
    struct td_input_read read;
};

static enum td_result bad(const struct td_drive_reader *reader, struct td_problem *problem,
                          const char *what)
{
    return td_problem_set(problem, TD_INVALID, reader->path, 0, "%s: %s", what,
                          sqlite3_errmsg(reader->db));
}

static bool prepare(const struct td_drive_reader *reader, const char *text, sqlite3_stmt **out)
{
    return sqlite3_prepare_v2(reader->db, text, -1, out, NULL) == SQLITE_OK;
}

static bool pragma_is(const struct td_drive_reader *reader, const char *text, int value)
{
    sqlite3_stmt *s = NULL;
    bool is = prepare(reader, text, &s) && sqlite3_step(s) == SQLITE_ROW &&
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

/* The value of a key of `meta`, for the caller to free; NULL when it is not there. */
static char *meta(const struct td_drive_reader *reader, const char *key)
{
    sqlite3_stmt *s = NULL;
    char *value = NULL;
    if (prepare(reader, "SELECT value FROM meta WHERE key=?", &s)) {
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
    char *text = meta(reader, key);
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
    char *text = meta(reader, "setup");
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
    struct hill_on_file *hills = realloc(reader->hills, (count + 1) * sizeof *hills);
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
    if (!prepare(reader, "SELECT hash, id FROM hill ORDER BY rowid", &s))
        return bad(reader, problem, "hill");
    enum td_result result = TD_OK;
    int step = SQLITE_DONE;
    while (result == TD_OK && (step = sqlite3_step(s)) == SQLITE_ROW)
        result = read_hill_row(reader, s, problem);
    if (result == TD_OK && step != SQLITE_DONE)
        result = bad(reader, problem, "hill");
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
        !prepare(reader, "SELECT seq, input FROM step ORDER BY seq", &reader->steps))
        result = bad(reader, problem, "step");
    if (result == TD_OK &&
        !prepare(reader, "SELECT place, handle, along_m, sigma_m, speed_mps, target_mps,"
                         " heat_least_c, heat_likely_c, heat_most_c FROM estimate WHERE seq=?",
                 &reader->estimates))
        result = bad(reader, problem, "estimate");
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

static struct hill_on_file *find_hill(struct td_drive_reader *reader, const uint8_t *hash)
{
    for (size_t i = 0; i < reader->hill_count; i++)
        if (memcmp(reader->hills[i].hash, hash, TD_HASH_BYTES) == 0)
            return &reader->hills[i];
    return NULL;
}

static enum td_result load_hill(struct td_drive_reader *reader, struct hill_on_file *hill,
                                struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    if (!prepare(reader, "SELECT bytes FROM hill WHERE hash=?", &s))
        return bad(reader, problem, "hill");
    (void)sqlite3_bind_blob(s, 1, hill->hash, TD_HASH_BYTES, SQLITE_STATIC);
    enum td_result result;
    struct td_problem why = {0};
    if (sqlite3_step(s) != SQLITE_ROW) {
        result = bad(reader, problem, "hill");
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
    struct hill_on_file *hill = find_hill(reader, reader->read.hash);
    if (hill == NULL)
        return td_problem_set(problem, TD_INVALID, reader->path, 0,
                              "step %" PRId64 ": offers a hill that is not on file", reader->seq);
    enum td_result result = hill->file != NULL ? TD_OK : load_hill(reader, hill, problem);
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
    if (prepare(reader, "SELECT MAX(seq) FROM gap WHERE what<>'events'", &s) &&
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
        return bad(reader, problem, "step");
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

bool td_drive_estimate(struct td_drive_reader *reader, struct td_estimate *estimate)
{
    sqlite3_stmt *s = reader->estimates;
    (void)sqlite3_bind_int64(s, 1, reader->seq);
    struct td_estimate read = {.where = TD_WHERE_NO_FIX};
    bool there = sqlite3_step(s) == SQLITE_ROW &&
                 where_of((const char *)sqlite3_column_text(s, 0), &read.where);
    if (there) {
        double *const reals[] = {&read.along_m,      &read.sigma_m,       &read.speed_mps,
                                 &read.target_mps,   &read.heat_least_c,  &read.heat_likely_c,
                                 &read.heat_most_c};
        read.handle = (uint32_t)sqlite3_column_int64(s, 1);
        for (int i = 0; i < (int)(sizeof reals / sizeof reals[0]); i++)
            *reals[i] = sqlite3_column_double(s, 2 + i);
        *estimate = read;
    }
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
    (void)sqlite3_close((*reader)->db);
    free((*reader)->path);
    free(*reader);
    *reader = NULL;
}

/* --- prompts and their fate --- */

struct prompt_list {
    struct td_spoken *items;
    size_t count, room;
};

static int event_kind(const char *name)
{
    for (int kind = 0; name != NULL && kind < TD_EVENT_KINDS; kind++)
        if (strcmp(td_event_name((enum td_event_kind)kind), name) == 0)
            return kind;
    return -1;
}

/* The prompt of that serial, made when it is new; NULL without memory. */
static struct td_spoken *item_of(struct prompt_list *list, uint32_t serial)
{
    for (size_t i = list->count; i > 0; i--)
        if (list->items[i - 1].prompt.serial == serial)
            return &list->items[i - 1];
    if (list->count == list->room) {
        size_t room = list->room == 0 ? 64 : 2 * list->room;
        struct td_spoken *items = realloc(list->items, room * sizeof *items);
        if (items == NULL)
            return NULL;
        list->items = items;
        list->room = room;
    }
    struct td_spoken *item = &list->items[list->count++];
    memset(item, 0, sizeof *item);
    item->hill_id = "";
    return item;
}

static const char *hill_id_of(struct td_drive_reader *reader, sqlite3_stmt *s, int column)
{
    const void *hash = sqlite3_column_blob(s, column);
    if (hash == NULL || sqlite3_column_bytes(s, column) != TD_HASH_BYTES)
        return "";
    const struct hill_on_file *hill = find_hill(reader, hash);
    return hill != NULL ? hill->id : "";
}

static enum td_result take_event(struct td_drive_reader *reader, sqlite3_stmt *s,
                                 struct prompt_list *list, struct td_problem *problem)
{
    const char *json = (const char *)sqlite3_column_text(s, 2);
    int kind = event_kind((const char *)sqlite3_column_text(s, 1));
    struct td_prompt prompt;
    struct td_problem why = {.text = "unknown kind of event"};
    if (json == NULL || kind < 0 ||
        td_prompt_from_json(json, strlen(json), &prompt, &why) != TD_OK)
        return td_problem_set(problem, TD_INVALID, reader->path, 0, "event: %s", why.text);
    struct td_spoken *item = item_of(list, prompt.serial);
    if (item == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, reader->path, 0, "no memory for its prompts");
    bool is_new = item->prompt.serial == 0;
    if (is_new || kind == TD_EVENT_ISSUED) {
        item->prompt = prompt;
        item->along_m = sqlite3_column_double(s, 3);
        item->speed_mps = sqlite3_column_double(s, 4);
        item->hill_id = hill_id_of(reader, s, 5);
    }
    item->fate = (enum td_event_kind)kind;
    item->fate_ns = sqlite3_column_int64(s, 0);
    if (kind == TD_EVENT_ISSUED)
        item->issued_ns = item->fate_ns;
    const char *words = (const char *)sqlite3_column_text(s, 6);
    (void)td_text_copy(item->words, sizeof item->words, words != NULL ? words : "");
    return TD_OK;
}

enum td_result td_drive_prompts(struct td_drive_reader *reader, struct td_spoken **prompts,
                                size_t *count, struct td_problem *problem)
{
    /* A handle is the name of the hill last offered under it. */
    static const char query[] =
        "SELECT event.now_ns, kind, json, along_m, speed_mps, (SELECT hash FROM handle"
        " WHERE handle.handle=event.handle AND handle.seq<=event.seq ORDER BY handle.seq DESC"
        " LIMIT 1), words FROM event LEFT JOIN words USING(serial)"
        " WHERE json IS NOT NULL ORDER BY event.seq, event.place";
    sqlite3_stmt *s = NULL;
    if (!prepare(reader, query, &s))
        return bad(reader, problem, "event");
    struct prompt_list list = {0};
    enum td_result result = TD_OK;
    int step = SQLITE_DONE;
    while (result == TD_OK && (step = sqlite3_step(s)) == SQLITE_ROW)
        result = take_event(reader, s, &list, problem);
    if (result == TD_OK && step != SQLITE_DONE)
        result = bad(reader, problem, "event");
    (void)sqlite3_finalize(s);
    if (result != TD_OK) {
        free(list.items);
        return result;
    }
    *prompts = list.items;
    *count = list.count;
    return TD_OK;
}
