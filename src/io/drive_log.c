/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writer of drive logs. Records gather in one transaction that td_drive_log_sync commits. When a
 * write fails (a full disk), the transaction is given up, everything in it counts as lost, and the
 * next record tries anew; the first that succeeds puts the loss on file as a gap. */
#include "io/drive_log.h"

#include <inttypes.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/drive_schema.h"
#include "io/file.h"
#include "io/input_json.h"
#include "io/problem.h"
#include "io/setup_json.h"
#include "talkdown/units.h"

enum statement { INTO_META, INTO_HILL, INTO_HANDLE, INTO_STEP, INTO_EVENT, INTO_WORDS,
                 INTO_ESTIMATE, INTO_GAP, STATEMENTS };

static const char *const statement_text[STATEMENTS] = {
    [INTO_META] = "INSERT OR REPLACE INTO meta VALUES(?,?)",
    [INTO_HILL] = "INSERT OR IGNORE INTO hill VALUES(?,?,?,?)",
    [INTO_HANDLE] = "INSERT INTO handle VALUES(?,?,?)",
    [INTO_STEP] = "INSERT INTO step VALUES(?,?,?)",
    [INTO_EVENT] = "INSERT INTO event VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?)",
    [INTO_WORDS] = "INSERT OR REPLACE INTO words VALUES(?,?,?)",
    [INTO_ESTIMATE] = "INSERT INTO estimate VALUES(?,?,?,?,?,?,?,?,?,?,?)",
    [INTO_GAP] = "INSERT INTO gap VALUES(?,?,?,?)",
};

struct td_drive_log {
    sqlite3 *db;
    sqlite3_stmt *statements[STATEMENTS];
    char *path;
    int64_t seq; /* of the last step, from 1 */
    int64_t now_ns;
    bool in_transaction;
    uint32_t pending; /* records in the transaction */
    uint32_t lost;    /* records given up and not yet on file as a gap */
    bool has_estimate;
    int64_t estimate_second;
    enum td_where where;
};

static enum td_result failed(const struct td_drive_log *log, struct td_problem *problem,
                             const char *what)
{
    return td_problem_set(problem, TD_IO, log->path, 0, "cannot %s: %s", what,
                          sqlite3_errmsg(log->db));
}

/* After a failure: what was not committed is gone, and counted. */
static enum td_result give_up(struct td_drive_log *log, struct td_problem *problem)
{
    enum td_result result = failed(log, problem, "write the drive log");
    if (log->in_transaction && sqlite3_get_autocommit(log->db) == 0)
        (void)sqlite3_exec(log->db, "ROLLBACK", NULL, NULL, NULL);
    log->in_transaction = false;
    log->lost += log->pending + 1;
    log->pending = 0;
    log->has_estimate = false;
    return result;
}

static bool run(struct td_drive_log *log, enum statement which)
{
    sqlite3_stmt *statement = log->statements[which];
    bool done = sqlite3_step(statement) == SQLITE_DONE;
    (void)sqlite3_reset(statement);
    (void)sqlite3_clear_bindings(statement);
    return done;
}

static void bind_text(sqlite3_stmt *statement, int at, const char *text)
{
    (void)sqlite3_bind_text(statement, at, text, -1, SQLITE_STATIC);
}

static bool put_gap(struct td_drive_log *log, uint32_t count, const char *what)
{
    sqlite3_stmt *s = log->statements[INTO_GAP];
    (void)sqlite3_bind_int64(s, 1, log->seq);
    (void)sqlite3_bind_int64(s, 2, log->now_ns);
    (void)sqlite3_bind_int64(s, 3, count);
    bind_text(s, 4, what);
    return run(log, INTO_GAP);
}

static bool begin(struct td_drive_log *log)
{
    if (log->in_transaction)
        return true;
    if (sqlite3_exec(log->db, "BEGIN IMMEDIATE", NULL, NULL, NULL) != SQLITE_OK)
        return false;
    log->in_transaction = true;
    if (log->lost == 0)
        return true;
    if (!put_gap(log, log->lost, "write failed"))
        return false;
    /* Counted once more should this transaction fail too. */
    log->pending += log->lost;
    log->lost = 0;
    return true;
}

static bool put_meta(struct td_drive_log *log, const char *key, const char *value)
{
    sqlite3_stmt *s = log->statements[INTO_META];
    bind_text(s, 1, key);
    bind_text(s, 2, value);
    return run(log, INTO_META);
}

static bool put_meta_whole(struct td_drive_log *log, const char *key, int64_t value)
{
    char text[24];
    (void)snprintf(text, sizeof text, "%" PRId64, value);
    return put_meta(log, key, text);
}

static bool put_head(struct td_drive_log *log, const struct td_drive_head *head)
{
    char *setup = td_setup_to_json(head->setup);
    bool put = setup != NULL && put_meta(log, "program", head->program) &&
               put_meta(log, "rig_name", head->rig_name) &&
               put_meta(log, "language", head->language) &&
               put_meta_whole(log, "start_utc_ms", head->start_utc_ms) &&
               put_meta_whole(log, "start_ns", head->start_ns) && put_meta(log, "setup", setup);
    free(setup);
    return put;
}

static bool prepare_all(struct td_drive_log *log)
{
    for (int i = 0; i < STATEMENTS; i++)
        if (sqlite3_prepare_v3(log->db, statement_text[i], -1, SQLITE_PREPARE_PERSISTENT,
                               &log->statements[i], NULL) != SQLITE_OK)
            return false;
    return true;
}

static bool set_up(struct td_drive_log *log, const struct td_drive_head *head)
{
    char pragmas[256];
    /* The size cap keeps the write-ahead log from staying large after one long stall. */
    (void)snprintf(pragmas, sizeof pragmas,
                   "PRAGMA page_size=4096; PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;"
                   "PRAGMA journal_size_limit=1048576; PRAGMA application_id=%d;"
                   "PRAGMA user_version=%d;",
                   (int)TD_DRIVE_APPLICATION_ID, (int)TD_DRIVE_VERSION);
    return sqlite3_exec(log->db, pragmas, NULL, NULL, NULL) == SQLITE_OK &&
           sqlite3_exec(log->db, "BEGIN IMMEDIATE;" TD_DRIVE_SCHEMA, NULL, NULL, NULL) ==
               SQLITE_OK &&
           prepare_all(log) && put_head(log, head) &&
           sqlite3_exec(log->db, "COMMIT", NULL, NULL, NULL) == SQLITE_OK;
}

static void free_log(struct td_drive_log *log)
{
    for (int i = 0; i < STATEMENTS; i++)
        (void)sqlite3_finalize(log->statements[i]);
    (void)sqlite3_close(log->db);
    free(log->path);
    free(log);
}

static void remove_all(const char *path)
{
    static const char *const tails[] = {"", "-wal", "-shm"};
    size_t size = strlen(path) + sizeof "-wal";
    char *name = malloc(size);
    for (size_t i = 0; name != NULL && i < sizeof tails / sizeof tails[0]; i++) {
        (void)snprintf(name, size, "%s%s", path, tails[i]);
        (void)unlink(name);
    }
    free(name);
}

/* SQLite would open a file that is there; creating it first makes sure that it is ours. */
static enum td_result make_file(const char *path, struct td_problem *problem)
{
    int fd = -1;
    enum td_result result = td_file_create_private(path, &fd, problem);
    if (result == TD_OK)
        (void)close(fd);
    return result;
}

enum td_result td_drive_log_create(const char *path, const struct td_drive_head *head,
                                   struct td_drive_log **out, struct td_problem *problem)
{
    struct td_drive_log *log = calloc(1, sizeof *log);
    if (log == NULL || (log->path = strdup(path)) == NULL) {
        free(log);
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory for the drive log");
    }
    enum td_result result = make_file(path, problem);
    if (result != TD_OK) {
        free(log->path);
        free(log);
        return result;
    }
    log->now_ns = head->start_ns;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX;
    if (sqlite3_open_v2(path, &log->db, flags, NULL) != SQLITE_OK || !set_up(log, head)) {
        result = failed(log, problem, "set up the drive log");
        free_log(log);
        remove_all(path);
        return result;
    }
    /* A reader that looks at a drive under way must not cost records. */
    (void)sqlite3_busy_timeout(log->db, 200);
    *out = log;
    return TD_OK;
}

enum td_result td_drive_log_hill(struct td_drive_log *log, const struct td_hill_file *file,
                                 struct td_problem *problem)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    size_t length = 0;
    const char *bytes = td_hill_file_bytes(file, &length);
    sqlite3_stmt *s = log->statements[INTO_HILL];
    if (!begin(log))
        return give_up(log, problem);
    (void)sqlite3_bind_blob(s, 1, hill->hash, TD_HASH_BYTES, SQLITE_STATIC);
    bind_text(s, 2, hill->id);
    bind_text(s, 3, hill->name);
    (void)sqlite3_bind_blob64(s, 4, bytes, length, SQLITE_STATIC);
    if (!run(log, INTO_HILL))
        return give_up(log, problem);
    log->pending++;
    return TD_OK;
}

static bool put_handle(struct td_drive_log *log, const struct td_offer *offer)
{
    sqlite3_stmt *s = log->statements[INTO_HANDLE];
    if (offer->kind != TD_OFFER_HILL || offer->hill == NULL)
        return true;
    (void)sqlite3_bind_int64(s, 1, log->seq);
    (void)sqlite3_bind_int64(s, 2, offer->handle);
    (void)sqlite3_bind_blob(s, 3, offer->hill->hash, TD_HASH_BYTES, SQLITE_STATIC);
    return run(log, INTO_HANDLE);
}

static bool put_step(struct td_drive_log *log, const struct td_input *input)
{
    char *json = td_input_to_json(input);
    if (json == NULL)
        return false;
    sqlite3_stmt *s = log->statements[INTO_STEP];
    (void)sqlite3_bind_int64(s, 1, log->seq);
    (void)sqlite3_bind_int64(s, 2, input->now_ns);
    bind_text(s, 3, json);
    bool put = run(log, INTO_STEP);
    free(json);
    return put;
}

static bool put_event(struct td_drive_log *log, unsigned place, const struct td_event *event,
                      const struct td_estimate *estimate)
{
    bool of_prompt = event->prompt.serial != 0;
    char *json = of_prompt ? td_prompt_to_json(&event->prompt) : NULL;
    if (of_prompt && json == NULL)
        return false;
    uint32_t handle = event->prompt.hill_handle;
    sqlite3_stmt *s = log->statements[INTO_EVENT];
    (void)sqlite3_bind_int64(s, 1, log->seq);
    (void)sqlite3_bind_int64(s, 2, place);
    (void)sqlite3_bind_int64(s, 3, log->now_ns);
    bind_text(s, 4, td_event_name(event->kind));
    bind_text(s, 5, td_why_word(event->why));
    (void)sqlite3_bind_int64(s, 6, event->value);
    if (of_prompt) {
        (void)sqlite3_bind_int64(s, 7, event->prompt.serial);
        bind_text(s, 8, td_prompt_key(event->prompt.id));
        bind_text(s, 9, td_category_name(event->prompt.category));
        bind_text(s, 13, json);
    }
    (void)sqlite3_bind_int64(s, 10, handle != 0 ? handle : estimate->handle);
    (void)sqlite3_bind_double(s, 11, estimate->along_m);
    (void)sqlite3_bind_double(s, 12, estimate->speed_mps);
    bool put = run(log, INTO_EVENT);
    free(json);
    return put;
}

static bool put_events(struct td_drive_log *log, const struct td_output *output)
{
    for (unsigned i = 0; i < output->event_count && i < TD_EVENTS_MAX; i++)
        if (!put_event(log, i, &output->events[i], &output->estimate))
            return false;
    return output->events_lost == 0 || put_gap(log, output->events_lost, "events");
}

/* Once a second, and whenever the state of locating changes. */
static bool put_estimate(struct td_drive_log *log, const struct td_estimate *estimate)
{
    int64_t second = log->now_ns / TD_NS_PER_S;
    if (log->has_estimate && second == log->estimate_second && estimate->where == log->where)
        return true;
    log->has_estimate = true;
    log->estimate_second = second;
    log->where = estimate->where;
    sqlite3_stmt *s = log->statements[INTO_ESTIMATE];
    const double reals[] = {
        estimate->along_m,      estimate->sigma_m,       estimate->speed_mps,  estimate->target_mps,
        estimate->heat_least_c, estimate->heat_likely_c, estimate->heat_most_c};
    (void)sqlite3_bind_int64(s, 1, log->seq);
    (void)sqlite3_bind_int64(s, 2, log->now_ns);
    bind_text(s, 3, td_where_name(estimate->where));
    (void)sqlite3_bind_int64(s, 4, estimate->handle);
    for (int i = 0; i < (int)(sizeof reals / sizeof reals[0]); i++)
        (void)sqlite3_bind_double(s, 5 + i, reals[i]);
    return run(log, INTO_ESTIMATE);
}

enum td_result td_drive_log_step(struct td_drive_log *log, const struct td_input *input,
                                 const struct td_output *output, struct td_problem *problem)
{
    /* The number goes on through a failure, so that a reader sees what is missing. */
    log->seq++;
    log->now_ns = input->now_ns;
    if (!begin(log) || !put_handle(log, &input->offer) || !put_step(log, input) ||
        !put_events(log, output) || !put_estimate(log, &output->estimate))
        return give_up(log, problem);
    log->pending++;
    return TD_OK;
}

enum td_result td_drive_log_words(struct td_drive_log *log, int64_t now_ns, uint32_t serial,
                                  const char *words, struct td_problem *problem)
{
    sqlite3_stmt *s = log->statements[INTO_WORDS];
    if (!begin(log))
        return give_up(log, problem);
    (void)sqlite3_bind_int64(s, 1, serial);
    (void)sqlite3_bind_int64(s, 2, now_ns);
    bind_text(s, 3, words);
    if (!run(log, INTO_WORDS))
        return give_up(log, problem);
    log->pending++;
    return TD_OK;
}

enum td_result td_drive_log_gap(struct td_drive_log *log, int64_t now_ns, uint32_t count,
                                struct td_problem *problem)
{
    log->now_ns = now_ns;
    /* Steps among them are missing: the next one's number shows it. */
    log->seq += count;
    if (!begin(log) || !put_gap(log, count, "queue full"))
        return give_up(log, problem);
    log->pending++;
    return TD_OK;
}

enum td_result td_drive_log_sync(struct td_drive_log *log, struct td_problem *problem)
{
    if (!log->in_transaction)
        return TD_OK;
    if (sqlite3_exec(log->db, "COMMIT", NULL, NULL, NULL) != SQLITE_OK)
        return give_up(log, problem);
    log->in_transaction = false;
    log->pending = 0;
    return TD_OK;
}

void td_drive_log_close(struct td_drive_log **log)
{
    if (log == NULL || *log == NULL)
        return;
    /* Where this fails the log simply has no end_ns, as after a cut of power. */
    bool ended = begin(*log) && put_meta_whole(*log, "end_ns", (*log)->now_ns) &&
                 td_drive_log_sync(*log, NULL) == TD_OK;
    (void)ended;
    for (int i = 0; i < STATEMENTS; i++) {
        (void)sqlite3_finalize((*log)->statements[i]);
        (*log)->statements[i] = NULL;
    }
    /* One plain file that can be copied and opened read-only. */
    (void)sqlite3_exec((*log)->db, "PRAGMA journal_mode=DELETE", NULL, NULL, NULL);
    free_log(*log);
    *log = NULL;
}
