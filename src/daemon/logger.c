/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The log thread. A failing disk is told to the journal once, and once more when it works again. */
#include "daemon/logger.h"

#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon/journal.h"
#include "daemon/ring.h"
#include "io/clock.h"
#include "io/file.h"
#include "io/problem.h"
#include "talkdown/text.h"

enum { RECORDS_MAX = 1024, RESERVED = 256, SYNC_MS = 500, SAME_SECOND_MAX = 100 };

enum record_kind { RECORD_OPEN, RECORD_HILL, RECORD_STEP, RECORD_WORDS, RECORD_CLOSE,
                   RECORD_STATE_FILE, RECORD_STOP };

struct head {
    struct td_drive_head head;
    struct td_setup setup;
    char program[64], rig_name[TD_RIG_NAME_MAX], language[16], folder[TD_PATH_MAX];
};

struct step {
    struct td_input input;
    struct td_output output;
    struct td_plan plan;
    uint8_t hash[TD_HASH_BYTES];
};

struct record {
    enum record_kind kind;
    bool keep;
    int64_t now_ns;
    uint32_t serial;
    uint32_t lost_before; /* records that found no room since the last one that did */
    void *data;           /* head, step, hill bytes, words or file text; freed once written */
    size_t length;
    char path[TD_PATH_MAX];
};

struct td_logger {
    pthread_t thread;
    pthread_mutex_t lock; /* over `state` and `keep` */
    struct td_ring *ring;
    struct td_logger_state state;
    struct td_keep keep;
    uint32_t lost_before; /* these two are the poll loop's */
    int64_t now_ns;       /* of its last step */
    struct td_drive_log *log; /* the thread's from here on */
    bool failing, state_failing;
    bool wrote; /* something since the last sync */
    char path[TD_PATH_MAX + 64];
    char folder[TD_PATH_MAX]; /* of the last log opened */
};

static void set_state(struct td_logger *logger, enum td_logger_health health, const char *path)
{
    (void)pthread_mutex_lock(&logger->lock);
    logger->state.health = health;
    (void)td_text_copy(logger->state.path, sizeof logger->state.path, path);
    (void)pthread_mutex_unlock(&logger->lock);
}

static void count_lost(struct td_logger *logger, uint64_t lost)
{
    (void)pthread_mutex_lock(&logger->lock);
    logger->state.lost += lost;
    (void)pthread_mutex_unlock(&logger->lock);
}

/* Takes note of a write that failed; tells of the first only. */
static void note_failure(struct td_logger *logger, const struct td_problem *problem)
{
    char line[sizeof logger->state.problem];
    (void)td_problem_line(problem, line, sizeof line);
    (void)pthread_mutex_lock(&logger->lock);
    logger->state.lost++;
    (void)td_text_copy(logger->state.problem, sizeof logger->state.problem, line);
    (void)pthread_mutex_unlock(&logger->lock);
    logger->wrote = false;
    if (logger->failing)
        return;
    logger->failing = true;
    set_state(logger, TD_LOGGER_FAILING, logger->path);
    td_journal(TD_LEVEL_ERROR, "the drive is not being logged: %s", line);
}

static void went(struct td_logger *logger, enum td_result result, const struct td_problem *problem)
{
    if (result == TD_OK)
        logger->wrote = true;
    else
        note_failure(logger, problem);
}

static void delete_old(struct td_logger *logger)
{
    (void)pthread_mutex_lock(&logger->lock);
    struct td_keep keep = logger->keep;
    (void)pthread_mutex_unlock(&logger->lock);
    (void)td_keep_within(logger->folder, &keep, td_clock_utc_ms(), logger->path);
}

static void remove_file(const char *path)
{
    if (unlink(path) != 0)
        td_journal(TD_LEVEL_WARN, "%s: cannot remove the log of a drive that was none", path);
}

static void close_log(struct td_logger *logger, bool keep)
{
    if (logger->log == NULL)
        return;
    td_drive_log_close(&logger->log);
    if (!keep)
        remove_file(logger->path);
    logger->path[0] = '\0';
    logger->failing = false;
    set_state(logger, TD_LOGGER_OFF, "");
    delete_old(logger);
}

static void name_log(const struct head *head, unsigned again, char *path, size_t size)
{
    time_t seconds = (time_t)(head->head.start_utc_ms / 1000);
    struct tm utc;
    char stamp[32] = "unknown";
    if (gmtime_r(&seconds, &utc) != NULL)
        (void)strftime(stamp, sizeof stamp, "%Y%m%dT%H%M%SZ", &utc);
    if (again == 0)
        (void)snprintf(path, size, "%s/drive-%s.db", head->folder, stamp);
    else
        (void)snprintf(path, size, "%s/drive-%s-%u.db", head->folder, stamp, again + 1);
}

static void open_log(struct td_logger *logger, struct head *head)
{
    close_log(logger, true);
    (void)td_text_copy(logger->folder, sizeof logger->folder, head->folder);
    head->head.program = head->program;
    head->head.rig_name = head->rig_name;
    head->head.language = head->language;
    head->head.setup = &head->setup;
    struct td_problem problem;
    enum td_result result = TD_INVALID;
    for (unsigned again = 0; result == TD_INVALID && again < SAME_SECOND_MAX; again++) {
        name_log(head, again, logger->path, sizeof logger->path);
        result = td_drive_log_create(logger->path, &head->head, &logger->log, &problem);
    }
    logger->failing = false;
    if (result != TD_OK) {
        note_failure(logger, &problem);
        return;
    }
    set_state(logger, TD_LOGGER_WRITING, logger->path);
    td_journal(TD_LEVEL_INFO, "logging to %s", logger->path);
    delete_old(logger);
}

static void write_hill(struct td_logger *logger, const struct record *record)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    if (logger->log == NULL)
        return;
    enum td_result result =
        td_hill_file_parse(record->path, record->data, record->length, &file, &problem);
    if (result == TD_OK)
        result = td_drive_log_hill(logger->log, file, &problem);
    td_hill_file_free(&file);
    went(logger, result, &problem);
}

static void write_step(struct td_logger *logger, const struct record *record)
{
    struct step *step = record->data;
    struct td_problem problem;
    if (logger->log == NULL)
        return;
    /* Of an offered hill the log reads the hash alone; the hill itself may be gone by now. */
    static const struct td_hill no_hill;
    struct td_hill named = no_hill;
    memcpy(named.hash, step->hash, TD_HASH_BYTES);
    if (step->input.offer.hill != NULL)
        step->input.offer.hill = &named;
    if (step->input.plan != NULL)
        step->input.plan = &step->plan;
    went(logger, td_drive_log_step(logger->log, &step->input, &step->output, &problem), &problem);
}

/* What was lost before this record, whatever kind it is: a loss just before the end of a drive went
 * unwritten once, and the log looked whole. */
static void write_gap(struct td_logger *logger, const struct record *record)
{
    struct td_problem problem;
    if (logger->log == NULL || record->lost_before == 0)
        return;
    went(logger, td_drive_log_gap(logger->log, record->now_ns, record->lost_before, &problem),
         &problem);
}

static void write_words(struct td_logger *logger, const struct record *record)
{
    struct td_problem problem;
    if (logger->log == NULL)
        return;
    enum td_result result =
        td_drive_log_words(logger->log, record->now_ns, record->serial, record->data, &problem);
    went(logger, result, &problem);
}

static void write_state_file(struct td_logger *logger, const struct record *record)
{
    struct td_problem problem;
    bool failed = td_file_write(record->path, record->data, record->length, true, &problem) !=
                  TD_OK;
    if (failed && !logger->state_failing)
        td_journal_problem(TD_LEVEL_ERROR, &problem);
    logger->state_failing = failed;
}

static bool do_one(struct td_logger *logger, struct record *record)
{
    write_gap(logger, record);
    switch (record->kind) {
    case RECORD_OPEN:
        open_log(logger, record->data);
        break;
    case RECORD_HILL:
        write_hill(logger, record);
        break;
    case RECORD_STEP:
        write_step(logger, record);
        break;
    case RECORD_WORDS:
        write_words(logger, record);
        break;
    case RECORD_STATE_FILE:
        write_state_file(logger, record);
        break;
    case RECORD_CLOSE:
        close_log(logger, record->keep);
        break;
    case RECORD_STOP:
        close_log(logger, record->keep);
        return false;
    }
    free(record->data);
    return true;
}

/* Only what is committed counts as logged: a full disk takes writes and refuses the commit. */
static void sync_log(struct td_logger *logger)
{
    struct td_problem problem;
    if (logger->log == NULL || !logger->wrote)
        return;
    if (td_drive_log_sync(logger->log, &problem) != TD_OK) {
        note_failure(logger, &problem);
        return;
    }
    logger->wrote = false;
    if (!logger->failing)
        return;
    logger->failing = false;
    set_state(logger, TD_LOGGER_WRITING, logger->path);
    td_journal(TD_LEVEL_WARN, "the drive is being logged again, with a gap");
}

static void *run(void *argument)
{
    struct td_logger *logger = argument;
    struct record record;
    for (;;) {
        struct pollfd wait = {.fd = td_ring_fd(logger->ring), .events = POLLIN};
        (void)poll(&wait, 1, SYNC_MS);
        td_ring_drain(logger->ring);
        while (td_ring_take(logger->ring, &record))
            if (!do_one(logger, &record))
                return NULL;
        sync_log(logger);
    }
}

enum td_result td_logger_start(struct td_logger **out, struct td_problem *problem)
{
    struct td_logger *logger = calloc(1, sizeof *logger);
    bool made = logger != NULL && pthread_mutex_init(&logger->lock, NULL) == 0;
    if (!made ||
        td_ring_new(sizeof(struct record), RECORDS_MAX, RESERVED, &logger->ring) != TD_OK ||
        pthread_create(&logger->thread, NULL, run, logger) != 0) {
        if (logger != NULL)
            td_ring_free(&logger->ring);
        free(logger);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "cannot start the log thread");
    }
    *out = logger;
    return TD_OK;
}

void td_logger_keep(struct td_logger *logger, const struct td_keep *keep)
{
    (void)pthread_mutex_lock(&logger->lock);
    logger->keep = *keep;
    (void)pthread_mutex_unlock(&logger->lock);
}

static void lose(struct td_logger *logger)
{
    logger->lost_before++;
    count_lost(logger, 1);
}

/* Takes over record->data. */
static void put(struct td_logger *logger, struct record *record, bool precious)
{
    record->lost_before = logger->lost_before;
    record->now_ns = logger->now_ns;
    if (td_ring_put(logger->ring, record, precious)) {
        logger->lost_before = 0;
        return;
    }
    free(record->data);
    lose(logger);
}

static void *copy_of(const void *data, size_t length)
{
    char *copy = malloc(length + 1);
    if (copy != NULL) {
        memcpy(copy, data, length);
        copy[length] = '\0';
    }
    return copy;
}

void td_logger_open(struct td_logger *logger, const char *folder, const struct td_drive_head *head)
{
    struct head *copy = calloc(1, sizeof *copy);
    if (copy == NULL) {
        lose(logger);
        return;
    }
    copy->head = *head;
    copy->setup = *head->setup;
    (void)td_text_copy(copy->program, sizeof copy->program, head->program);
    (void)td_text_copy(copy->rig_name, sizeof copy->rig_name, head->rig_name);
    (void)td_text_copy(copy->language, sizeof copy->language, head->language);
    (void)td_text_copy(copy->folder, sizeof copy->folder, folder);
    put(logger, &(struct record){.kind = RECORD_OPEN, .data = copy}, true);
}

void td_logger_hill(struct td_logger *logger, const struct td_hill_file *file)
{
    struct record record = {.kind = RECORD_HILL};
    const char *bytes = td_hill_file_bytes(file, &record.length);
    (void)td_text_copy(record.path, sizeof record.path, td_hill_file_hill(file)->id);
    record.data = copy_of(bytes, record.length);
    if (record.data != NULL)
        put(logger, &record, true);
    else
        lose(logger);
}

static bool is_precious(const struct td_input *input, const struct td_output *output)
{
    bool prompts = output->has_speak || output->cut_serial != 0 || input->report_count > 0;
    for (unsigned i = 0; i < output->event_count; i++)
        prompts = prompts || output->events[i].prompt.serial != 0;
    return prompts || input->offer.kind != TD_OFFER_NOTHING || input->plan != NULL;
}

void td_logger_step(struct td_logger *logger, const struct td_input *input,
                    const struct td_output *output)
{
    struct step *step = malloc(sizeof *step);
    struct record record = {.kind = RECORD_STEP, .data = step};
    logger->now_ns = input->now_ns;
    if (step == NULL) {
        lose(logger);
        return;
    }
    step->input = *input;
    step->output = *output;
    memset(step->hash, 0, sizeof step->hash);
    if (input->plan != NULL)
        step->plan = *input->plan;
    if (input->offer.hill != NULL)
        memcpy(step->hash, input->offer.hill->hash, TD_HASH_BYTES);
    put(logger, &record, is_precious(input, output));
}

void td_logger_words(struct td_logger *logger, int64_t now_ns, uint32_t serial, const char *words)
{
    struct record record = {.kind = RECORD_WORDS, .serial = serial,
                            .data = copy_of(words, strlen(words))};
    logger->now_ns = now_ns;
    if (record.data != NULL)
        put(logger, &record, true);
    else
        lose(logger);
}

void td_logger_close(struct td_logger *logger, bool keep)
{
    put(logger, &(struct record){.kind = RECORD_CLOSE, .keep = keep}, true);
}

void td_logger_state_file(struct td_logger *logger, const char *path, const char *text)
{
    struct record record = {.kind = RECORD_STATE_FILE, .length = strlen(text)};
    if (!td_text_copy(record.path, sizeof record.path, path))
        return;
    record.data = copy_of(text, record.length);
    if (record.data != NULL)
        put(logger, &record, true);
}

void td_logger_state(struct td_logger *logger, struct td_logger_state *state)
{
    (void)pthread_mutex_lock(&logger->lock);
    *state = logger->state;
    (void)pthread_mutex_unlock(&logger->lock);
    state->queued = td_ring_count(logger->ring);
}

void td_logger_stop(struct td_logger **logger, bool keep)
{
    if (logger == NULL || *logger == NULL)
        return;
    struct record stop = {.kind = RECORD_STOP, .keep = keep, .now_ns = (*logger)->now_ns,
                          .lost_before = (*logger)->lost_before};
    while (!td_ring_put((*logger)->ring, &stop, true))
        (void)poll(NULL, 0, 10);
    (void)pthread_join((*logger)->thread, NULL);
    td_ring_free(&(*logger)->ring);
    (void)pthread_mutex_destroy(&(*logger)->lock);
    free(*logger);
    *logger = NULL;
}
