/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hills on board: one profile or a folder of them, indexed by bounding box, read only when a
 * truck comes near. (The one-file library with a signature takes this interface's place behind it
 * later.) Thread: one at a time; the daemon's I/O thread owns it. */
#ifndef TD_IO_SHELF_H
#define TD_IO_SHELF_H

#include <stddef.h>

#include "io/hill_file.h"

struct td_shelf;

/* `path` is one .geojson file or a folder of them (sorted by name, so that order is the same on
 * every machine). Every profile is checked now; the first bad one refuses the whole shelf with its
 * problem, since a half shelf would be silent where it must speak. */
TD_CHECKED enum td_result td_shelf_open(const char *path, struct td_shelf **out,
                                        struct td_problem *problem);
size_t td_shelf_count(const struct td_shelf *shelf);
/* Writes to `indexes` (room for `most`) the hills whose road comes within radius_m of the point,
 * nearest bounding box first; returns how many there are, which may be more than `most`. */
size_t td_shelf_near(const struct td_shelf *shelf, double lat_deg, double lon_deg, double radius_m,
                     size_t *indexes, size_t most);
/* Reads one hill anew from its file; the caller frees it. TD_INVALID when the file has changed. */
TD_CHECKED enum td_result td_shelf_read(const struct td_shelf *shelf, size_t index,
                                        struct td_hill_file **out, struct td_problem *problem);
void td_shelf_close(struct td_shelf **shelf);

#endif
