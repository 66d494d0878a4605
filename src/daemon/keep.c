/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Old drive logs go: those past the days first, then the oldest until the rest fits. */
#include "daemon/keep.h"

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/journal.h"
#include "io/settings.h"
#include "io/utc.h"

enum { STAMP_LENGTH = 16, LOG_PATH_MAX = TD_PATH_MAX + 80 };

#define DAY_MS     (24 * 3600 * INT64_C(1000))
#define MB_BYTES   INT64_C(1000000)

/* What stands beside a log and goes with it. The marks' name is that of io/marks. */
static const char *const tails[] = {".db", ".db-wal", ".db-shm", ".marks.yaml"};

struct log_on_file {
    char stem[64];  /* "drive-20310517T080000Z-2" */
    int64_t utc_ms; /* when it began, by its name */
    long again;     /* the number after the time, 1 when there is none */
    int64_t bytes;
    bool under_way;
};

struct logs {
    struct log_on_file *items;
    size_t count, room;
    int64_t bytes;
};

/* "20310517T080000Z" as the log thread writes it. */
static bool read_stamp(const char *stamp, int64_t *utc_ms)
{
    char text[32];
    if (strlen(stamp) < STAMP_LENGTH)
        return false;
    (void)snprintf(text, sizeof text, "%.4s-%.2s-%.5s:%.2s:%.3s", stamp, stamp + 4, stamp + 6,
                   stamp + 11, stamp + 13);
    return td_utc_parse(text, utc_ms);
}

/* True for a name that the log thread gives: "drive-", time, "-N" from the second on, ".db". */
static bool read_name(const char *name, struct log_on_file *log)
{
    static const char head[] = "drive-";
    size_t length = strlen(name);
    if (length < sizeof head - 1 + STAMP_LENGTH + 3 || length - 3 >= sizeof log->stem ||
        strncmp(name, head, sizeof head - 1) != 0 || strcmp(name + length - 3, ".db") != 0 ||
        !read_stamp(name + sizeof head - 1, &log->utc_ms))
        return false;
    memcpy(log->stem, name, length - 3);
    log->stem[length - 3] = '\0';
    const char *rest = log->stem + sizeof head - 1 + STAMP_LENGTH;
    char *end = NULL;
    log->again = 1;
    if (*rest == '\0')
        return true;
    log->again = *rest == '-' && rest[1] >= '1' && rest[1] <= '9' ? strtol(rest + 1, &end, 10) : 0;
    return log->again > 1 && end != NULL && *end == '\0';
}

static void path_of(const char *folder, const struct log_on_file *log, const char *tail,
                    char path[LOG_PATH_MAX])
{
    (void)snprintf(path, LOG_PATH_MAX, "%s/%s%s", folder, log->stem, tail);
}

static bool add(struct logs *logs, const char *folder, const char *name, const char *under_way)
{
    struct log_on_file log = {.bytes = 0};
    char path[LOG_PATH_MAX];
    if (!read_name(name, &log))
        return true;
    path_of(folder, &log, tails[0], path);
    log.under_way = strcmp(path, under_way) == 0;
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        struct stat about;
        path_of(folder, &log, tails[i], path);
        if (lstat(path, &about) == 0 && S_ISREG(about.st_mode))
            log.bytes += about.st_size;
    }
    if (logs->count == logs->room) {
        size_t room = logs->room == 0 ? 64 : 2 * logs->room;
        struct log_on_file *items = realloc(logs->items, room * sizeof *items);
        if (items == NULL)
            return false;
        logs->items = items;
        logs->room = room;
    }
    logs->items[logs->count++] = log;
    logs->bytes += log.bytes;
    return true;
}

static int by_age(const void *one, const void *other)
{
    const struct log_on_file *a = one, *b = other;
    if (a->utc_ms != b->utc_ms)
        return a->utc_ms < b->utc_ms ? -1 : 1;
    return (a->again > b->again) - (a->again < b->again);
}

/* False when the folder cannot be listed. */
static bool list(const char *folder, const char *under_way, struct logs *logs)
{
    DIR *dir = opendir(folder);
    if (dir == NULL)
        return errno == ENOENT; /* no folder, nothing to delete; the log's own error tells of it */
    bool whole = true;
    for (const struct dirent *entry = readdir(dir); whole && entry != NULL; entry = readdir(dir))
        whole = add(logs, folder, entry->d_name, under_way);
    (void)closedir(dir);
    if (logs->count > 0)
        qsort(logs->items, logs->count, sizeof *logs->items, by_age);
    return whole;
}

/* The log itself goes last: while it is there, what stands beside it can still be found. */
static bool delete_log(const char *folder, const struct log_on_file *log, const char *why)
{
    char path[LOG_PATH_MAX];
    for (size_t i = sizeof tails / sizeof tails[0]; i-- > 0;) {
        path_of(folder, log, tails[i], path);
        if (unlink(path) != 0 && errno != ENOENT) {
            td_journal(TD_LEVEL_WARN, "%s: cannot delete it: %s", path, strerror(errno));
            return false;
        }
    }
    td_journal(TD_LEVEL_INFO, "%s: deleted, %s", path, why);
    return true;
}

unsigned td_keep_within(const char *folder, const struct td_keep *keep, int64_t utc_ms,
                        const char *under_way)
{
    struct logs logs = {.items = NULL};
    unsigned gone = 0;
    if (keep->days == 0 && keep->mb == 0)
        return 0;
    if (!list(folder, under_way, &logs))
        td_journal(TD_LEVEL_WARN, "%s: cannot look for old drive logs: %s", folder,
                   strerror(errno));
    for (size_t i = 0; i < logs.count; i++) {
        const struct log_on_file *log = &logs.items[i];
        bool old = keep->days > 0 && utc_ms - log->utc_ms > keep->days * DAY_MS;
        bool over = keep->mb > 0 && logs.bytes > keep->mb * MB_BYTES;
        if (log->under_way || !(old || over))
            continue;
        if (!delete_log(folder, log, old ? "older than keep_days" : "logs over keep_mb"))
            continue;
        logs.bytes -= log->bytes;
        gone++;
    }
    free(logs.items);
    return gone;
}
