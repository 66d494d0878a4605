/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs on disk: YAML, units as text (docs/formats.md). A rig may name a base, another rig file that
 * has what it leaves out, and that one a base of its own. libcyaml stays inside the .c files. */
#ifndef TD_IO_RIG_FILE_H
#define TD_IO_RIG_FILE_H

#include <stddef.h>

#include "talkdown/rig.h"

/* Bases in a row, and bytes of the path of one. */
enum { TD_RIG_BASES_MAX = 4, TD_RIG_BASE_PATH_MAX = 255 };

/* Reads file and bases, merges them, fills in published defaults (docs/physics.md), converts to SI
 * and runs td_rig_check, once, on the whole. The problem names the file that holds the bad value.
 * TD_INVALID also for a base that is not there, leads back to a file of the chain, is one too many
 * or lies outside of the folder of the file that names it. */
TD_CHECKED enum td_result td_rig_file_read(const char *path, struct td_rig *rig,
                                           struct td_problem *problem);
TD_CHECKED enum td_result td_rig_file_parse(const char *name, const char *bytes, size_t length,
                                            struct td_rig *rig, struct td_problem *problem);

/* Where bases come from. `read` is as td_file_read: *bytes is freed by the caller. */
struct td_rig_source {
    enum td_result (*read)(void *context, const char *path, char **bytes, size_t *length,
                           struct td_problem *problem);
    void *context;
};
/* The same from another source than the disk, on which td_rig_file_parse finds bases beside
 * `name`. */
TD_CHECKED enum td_result td_rig_file_parse_with(const char *name, const char *bytes,
                                                 size_t length, const struct td_rig_source *source,
                                                 struct td_rig *rig, struct td_problem *problem);

#endif
