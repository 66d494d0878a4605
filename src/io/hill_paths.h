/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which profiles a path stands for: one file, or the *.geojson files of a folder. */
#ifndef TD_IO_HILL_PATHS_H
#define TD_IO_HILL_PATHS_H

#include <stddef.h>

#include "talkdown/result.h"

enum { TD_HILL_PATHS_MAX = 200000 };

struct td_hill_paths {
    char **paths; /* of a folder sorted by name, by bytes, so that order is the same anywhere */
    size_t count;
};

/* Hidden files are left out. TD_NOT_FOUND, TD_IO, TD_FULL. Free with td_hill_paths_free. */
TD_CHECKED enum td_result td_hill_paths_list(const char *path, struct td_hill_paths *paths,
                                             struct td_problem *problem);
void td_hill_paths_free(struct td_hill_paths *paths); /* accepts a zeroed one */

#endif
