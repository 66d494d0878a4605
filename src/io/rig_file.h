/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs on disk: YAML, units as text (docs/formats.md). libcyaml stays inside the .c file. */
#ifndef TD_IO_RIG_FILE_H
#define TD_IO_RIG_FILE_H

#include "talkdown/rig.h"

/* Reads, fills in published defaults (docs/physics.md), converts to SI and runs td_rig_check. */
TD_CHECKED enum td_result td_rig_file_read(const char *path, struct td_rig *rig,
                                           struct td_problem *problem);
TD_CHECKED enum td_result td_rig_file_parse(const char *name, const char *bytes, size_t length,
                                            struct td_rig *rig, struct td_problem *problem);

#endif
