/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The drive log: SQLite, WAL, synchronous FULL, one file a drive, everything a replay needs: setup,
 * hills (their bytes, once each, by hash), every input of every step in order, every event, prompts
 * with words and fate, estimates at 1 Hz. sqlite3 stays inside the .c files.
 *
 * The writer is called from one thread (the daemon's log thread, or a tool). Inputs are stored as
 * JSON text with 17 significant digits, so that they come back bit for bit. */
#ifndef TD_IO_DRIVE_LOG_H
#define TD_IO_DRIVE_LOG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "io/hill_file.h"
#include "talkdown/coach.h"

struct td_drive_log; /* writer */

struct td_drive_head {
    const char *program;  /* "talkdownd 0.1.0" */
    const char *rig_name;
    const char *language;
    int64_t start_utc_ms;
    int64_t start_ns;
    const struct td_setup *setup;
};

/* Creates the file, readable by owner and group only; never overwrites one. */
TD_CHECKED enum td_result td_drive_log_create(const char *path, const struct td_drive_head *head,
                                              struct td_drive_log **out,
                                              struct td_problem *problem);
/* Stores the hill's bytes unless they are there. Before the first input that offers it. */
TD_CHECKED enum td_result td_drive_log_hill(struct td_drive_log *log,
                                            const struct td_hill_file *hill,
                                            struct td_problem *problem);
/* Of an offered hill only the hash is read, so that a queue need not keep the hill. */
TD_CHECKED enum td_result td_drive_log_step(struct td_drive_log *log, const struct td_input *input,
                                            const struct td_output *output,
                                            struct td_problem *problem);
/* Words as dispatched. Its fate follows from later steps' events. */
TD_CHECKED enum td_result td_drive_log_words(struct td_drive_log *log, int64_t now_ns,
                                             uint32_t serial, const char *words,
                                             struct td_problem *problem);
/* A gap: `count` steps were lost because the queue was full. */
TD_CHECKED enum td_result td_drive_log_gap(struct td_drive_log *log, int64_t now_ns,
                                           uint32_t count, struct td_problem *problem);
/* Commits what was written; the daemon calls it at least once a second. When this or a write above
 * fails, what was not committed is lost and counted; the next call tries anew, and the first that
 * succeeds puts the loss on file as a gap. */
TD_CHECKED enum td_result td_drive_log_sync(struct td_drive_log *log, struct td_problem *problem);
void td_drive_log_close(struct td_drive_log **log);

struct td_drive_reader;

TD_CHECKED enum td_result td_drive_open(const char *path, struct td_drive_reader **out,
                                        struct td_problem *problem);
const struct td_setup *td_drive_setup(const struct td_drive_reader *reader);
int64_t td_drive_start_ns(const struct td_drive_reader *reader);
int64_t td_drive_start_utc_ms(const struct td_drive_reader *reader);
/* Steps missing so far between those that td_drive_next gave (a full queue or disk): a replay over
 * such a drive is no longer exact. */
uint32_t td_drive_lost(const struct td_drive_reader *reader);
/* The next step's input, with its hill and plan pointers valid until the reader closes (hills) or
 * the next call (plan). TD_NOT_FOUND at the end. */
TD_CHECKED enum td_result td_drive_next(struct td_drive_reader *reader, struct td_input *input,
                                        struct td_problem *problem);
/* The estimate on file for the step that td_drive_next gave last. False when none was kept for it
 * (they are kept once a second) or it cannot be read. */
bool td_drive_estimate(struct td_drive_reader *reader, struct td_estimate *estimate);
struct td_spoken {
    struct td_prompt prompt; /* as issued */
    int64_t issued_ns;
    int64_t started_ns;      /* its first sound; 0 never */
    enum td_event_kind fate; /* last event of it */
    int64_t fate_ns;
    char words[256];
    double along_m, speed_mps;
    const char *hill_id; /* "" none; the reader's memory */
};
/* Every prompt decided, in order; the array is the caller's to free. */
TD_CHECKED enum td_result td_drive_prompts(struct td_drive_reader *reader,
                                           struct td_spoken **prompts, size_t *count,
                                           struct td_problem *problem);
void td_drive_close(struct td_drive_reader **reader);

#endif
