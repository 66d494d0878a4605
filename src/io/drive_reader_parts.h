/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the drive log's reader share, and nobody else: drive_reader.c opens it and
 * gives the inputs, drive_prompts.c the prompts, drive_trace.c what needs no input. */
#ifndef TD_IO_DRIVE_READER_PARTS_H
#define TD_IO_DRIVE_READER_PARTS_H

#include <sqlite3.h>

#include "io/drive_log.h"
#include "io/drive_trace.h"
#include "io/input_json.h"

struct td_drive_hill_row {
    uint8_t hash[TD_HASH_BYTES];
    char id[TD_HILL_NAME_MAX];
    struct td_hill_file *file; /* NULL until it is asked for */
};

/* From step seq on the handle means this hill. */
struct td_drive_handle_row {
    int64_t seq;
    uint32_t handle;
    int hill; /* index; -1 not on file */
};

struct td_drive_reader {
    sqlite3 *db;
    sqlite3_stmt *steps;
    sqlite3_stmt *estimates;
    sqlite3_stmt *trace; /* NULL until it is asked for */
    char *path;
    struct td_setup setup;
    int64_t start_ns, start_utc_ms;
    int64_t seq; /* of the last step read */
    uint32_t lost;
    struct td_drive_hill_row *hills;
    size_t hill_count;
    struct td_drive_handle_row *handles; /* by seq; NULL until the trace is asked for */
    size_t handle_count;
    struct td_input_read read;
};

enum td_result td_drive_bad(const struct td_drive_reader *reader, struct td_problem *problem,
                            const char *what);
bool td_drive_prepare(const struct td_drive_reader *reader, const char *text, sqlite3_stmt **out);
/* The value of a key of `meta`, for the caller to free; NULL when it is not there. */
char *td_drive_meta(const struct td_drive_reader *reader, const char *key);
/* NULL: none of that hash. */
struct td_drive_hill_row *td_drive_find_hill(struct td_drive_reader *reader, const uint8_t *hash);
enum td_result td_drive_load_hill(struct td_drive_reader *reader, struct td_drive_hill_row *hill,
                                  struct td_problem *problem);
/* The estimate in columns `from` and up: place, handle, along_m, sigma_m, speed_mps, target_mps and
 * the three heats. False when it cannot be read. */
bool td_drive_read_estimate(sqlite3_stmt *s, int from, struct td_estimate *estimate);

#endif
