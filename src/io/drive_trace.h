/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive log without its inputs: estimates once a second, losses, sound, changes of load. A report
 * over thousands of drives needs no more, and reads it some twenty times faster than the inputs.
 * Everything is checked as it is read: reals are finite, kinds are known. */
#ifndef TD_IO_DRIVE_TRACE_H
#define TD_IO_DRIVE_TRACE_H

#include "io/drive_log.h"

struct td_drive_row {
    int64_t seq, now_ns;
    struct td_estimate estimate;
    int hill; /* index of the hill its handle means; -1 none */
};

/* The next estimate on file, in order; TD_NOT_FOUND at the end. */
TD_CHECKED enum td_result td_drive_trace(struct td_drive_reader *reader, struct td_drive_row *row,
                                         struct td_problem *problem);

/* Hills on file, whether the truck was on them or not. */
size_t td_drive_hill_count(const struct td_drive_reader *reader);
const char *td_drive_hill_id(const struct td_drive_reader *reader, size_t index);
/* Reads the hill when it was not read yet; it stays until the reader closes. */
TD_CHECKED enum td_result td_drive_hill(struct td_drive_reader *reader, size_t index,
                                        const struct td_hill **hill, struct td_problem *problem);

/* The same with its bytes. */
TD_CHECKED enum td_result td_drive_hill_file(struct td_drive_reader *reader, size_t index,
                                             const struct td_hill_file **file,
                                             struct td_problem *problem);

/* Value of a key of `meta` ("program", "rig_name", "language"), cut to `size`; "" when it is not
 * there. Returns `value`. */
const char *td_drive_head_text(const struct td_drive_reader *reader, const char *key, char *value,
                               size_t size);
/* When the log was closed; else its last step (a cut of power); its start when it has none. */
int64_t td_drive_end_ns(const struct td_drive_reader *reader);

/* What td_drive_marks gives, in order of time. */
enum td_drive_mark_kind {
    TD_DRIVE_MARK_LOSS = 0, /* value: records lost; text: how */
    TD_DRIVE_MARK_SOUND,    /* value: enum td_sound */
    TD_DRIVE_MARK_LOAD,     /* value: index into rig.loads */
};

struct td_drive_mark {
    int64_t now_ns;
    int64_t seq; /* the last step before a loss */
    enum td_drive_mark_kind kind;
    int64_t value;
    char text[32];
};

/* All of them; the array is the caller's to free. */
TD_CHECKED enum td_result td_drive_marks(struct td_drive_reader *reader,
                                         struct td_drive_mark **marks, size_t *count,
                                         struct td_problem *problem);

#endif
