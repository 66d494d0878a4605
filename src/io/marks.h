/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A trainer's marks on the prompts of one drive: right, late, early or wrong. A YAML file beside
 * the log, DRIVE.marks.yaml for DRIVE.db, so that the log itself stays as it was written
 * (docs/formats.md). */
#ifndef TD_IO_MARKS_H
#define TD_IO_MARKS_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"

enum { TD_MARKS_MAX = 2000, TD_MARK_NOTE_MAX = 241 };

enum td_mark_kind { TD_MARK_RIGHT = 0, TD_MARK_LATE, TD_MARK_EARLY, TD_MARK_WRONG, TD_MARK_KINDS };

struct td_mark {
    uint32_t serial; /* of the prompt, as in the log */
    enum td_mark_kind kind;
    char note[TD_MARK_NOTE_MAX]; /* "" none */
};

struct td_marks {
    struct td_mark *items; /* by serial */
    size_t count;
};

const char *td_mark_name(enum td_mark_kind kind);
/* -1 when there is none of that name. */
int td_mark_from_name(const char *name);

/* Where the marks of a log stand: its ".db" replaced by ".marks.yaml", or that added. TD_INVALID
 * when the path does not fit. */
TD_CHECKED enum td_result td_marks_path(const char *log_path, char *path, size_t size,
                                        struct td_problem *problem);

/* Free *marks with td_marks_free, whatever is returned. TD_NOT_FOUND when there is no such file:
 * nothing is marked. Two marks on one prompt, an unknown word or key: TD_INVALID with the line. */
TD_CHECKED enum td_result td_marks_read(const char *path, struct td_marks *marks,
                                        struct td_problem *problem);
TD_CHECKED enum td_result td_marks_parse(const char *name, const char *bytes, size_t length,
                                         struct td_marks *marks, struct td_problem *problem);
void td_marks_free(struct td_marks *marks);

/* NULL: that prompt is not marked. */
const struct td_mark *td_marks_find(const struct td_marks *marks, uint32_t serial);
/* Adds, or replaces the one on that prompt. The note is cut to what fits. */
TD_CHECKED enum td_result td_marks_set(struct td_marks *marks, uint32_t serial,
                                       enum td_mark_kind kind, const char *note,
                                       struct td_problem *problem);
/* Takes a mark off; nothing where there is none. */
void td_marks_remove(struct td_marks *marks, uint32_t serial);

/* Writes the file anew, readable by owner and group only. `tells` gives the comment after a
 * serial (when and what was said; "" none), for people who edit the file. */
TD_CHECKED enum td_result td_marks_write(const char *path, const struct td_marks *marks,
                                         const char *(*tells)(void *who, uint32_t serial),
                                         void *who, struct td_problem *problem);

#endif
