/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which files a path stands for: one file, or those of a folder that end as their kind does. */
#ifndef TD_IO_PATHS_H
#define TD_IO_PATHS_H

#include <stddef.h>

#include "talkdown/result.h"

enum { TD_PATHS_MAX = 200000 };

struct td_paths_kind {
    const char *suffix; /* ".geojson" */
    const char *many; /* in words: "profiles" */
};
extern const struct td_paths_kind td_paths_profiles; /* *.geojson */
extern const struct td_paths_kind td_paths_rigs;     /* *.yaml */

struct td_paths {
    char **paths; /* of a folder sorted by name, by bytes, so that order is the same anywhere */
    size_t count;
};

/* Hidden files and folders in the folder are left out. TD_NOT_FOUND, TD_IO, TD_FULL. Free with
 * td_paths_free. */
TD_CHECKED enum td_result td_paths_list(const char *path, const struct td_paths_kind *kind,
                                        struct td_paths *paths, struct td_problem *problem);
void td_paths_free(struct td_paths *paths); /* accepts a zeroed one */

#endif
