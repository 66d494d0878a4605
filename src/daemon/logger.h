/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The log thread: writes the drive log and the state file, so that a slow or full disk never holds
 * up the poll loop. Its queue holds 1024 records, the last 256 of them for steps with a prompt in
 * them and for words; of other steps some may be lost when the disk stalls for minutes, and a gap
 * record says so. */
#ifndef TD_DAEMON_LOGGER_H
#define TD_DAEMON_LOGGER_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/keep.h"
#include "io/drive_log.h"
#include "io/settings.h"

struct td_logger;

TD_CHECKED enum td_result td_logger_start(struct td_logger **out, struct td_problem *problem);

/* What is kept of finished drives; no limits until this is called. Call it before the first log is
 * opened: old logs go whenever one is opened or closed. */
void td_logger_keep(struct td_logger *logger, const struct td_keep *keep);
/* A new drive log in `folder`, named after the time; the one before is closed. Never waits. */
void td_logger_open(struct td_logger *logger, const char *folder,
                    const struct td_drive_head *head);
/* The bytes are copied now. Hills that are in the log already are passed over. */
void td_logger_hill(struct td_logger *logger, const struct td_hill_file *file);
void td_logger_step(struct td_logger *logger, const struct td_input *input,
                    const struct td_output *output);
void td_logger_words(struct td_logger *logger, int64_t now_ns, uint32_t serial, const char *words);
/* Ends the drive; a log in which the truck never moved is not kept. */
void td_logger_close(struct td_logger *logger, bool keep);
/* Replaces the state file. `text` is copied. */
void td_logger_state_file(struct td_logger *logger, const char *path, const char *text);

enum td_logger_health { TD_LOGGER_OFF = 0, TD_LOGGER_WRITING, TD_LOGGER_FAILING };
struct td_logger_state {
    enum td_logger_health health;
    char path[TD_PATH_MAX + 64]; /* of the log being written, "" none */
    size_t queued;               /* records waiting to be written */
    uint64_t lost;               /* records that could not be queued or written */
    char problem[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX]; /* the last, "" none */
};
void td_logger_state(struct td_logger *logger, struct td_logger_state *state);

/* Writes out what is queued, closes and waits for the thread. */
void td_logger_stop(struct td_logger **logger, bool keep);

#endif
