/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hills on board, of one profile, of a folder of them or of a library (one file, made by
 * "talkdown hills pack"); found by boxes round pieces of road, read only when a truck comes near.
 * Whichever it is, the same hills answer alike. Thread: one at a time; the daemon's I/O thread owns
 * it. */
#ifndef TD_IO_SHELF_H
#define TD_IO_SHELF_H

#include <stddef.h>

#include "io/hill_file.h"
#include "io/minisign.h"
#include "io/road_box.h"

struct td_shelf;

/* `path` is a .geojson file, a folder of them, or a library. Hills stand in the order of their ids.
 * Profiles are all read and checked now; the first bad one refuses the whole shelf with its
 * problem, since a half shelf would be silent where it must speak. Of a library only header, tables
 * and manifest are checked now, each hill as it is read; its hills take no memory until then. */
TD_CHECKED enum td_result td_shelf_open(const char *path, struct td_shelf **out,
                                        struct td_problem *problem);
/* The same of hills that lie in memory (those of a drive log); their bytes are copied. */
TD_CHECKED enum td_result td_shelf_of_files(const struct td_hill_file *const *files, size_t count,
                                            struct td_shelf **out, struct td_problem *problem);
/* The same where somebody's signature is asked for: with a key in `trust` only a library that one
 * of the keys signed is opened (TD_INVALID otherwise, a folder of profiles included); with none,
 * anything. */
TD_CHECKED enum td_result td_shelf_open_trusted(const char *path, const struct td_trust *trust,
                                                struct td_shelf **out,
                                                struct td_problem *problem);
/* What is known of it as a whole; it ends with the shelf. */
struct td_shelf_about {
    unsigned revision;   /* of the library; 0 none */
    const char *key_id;  /* of the trusted key that signed it; NULL when nobody asked */
    const char *comment; /* the signer's, "" when nobody asked */
};
struct td_shelf_about td_shelf_about(const struct td_shelf *shelf);
size_t td_shelf_count(const struct td_shelf *shelf);
/* The library behind it, which ends with the shelf; NULL for profiles. */
struct td_library_file *td_shelf_library(const struct td_shelf *shelf);
/* Writes to `indexes` (room for `most`; over TD_NEAR_MAX counts as that) the hills whose road comes
 * within radius_m of the point, nearest box first, then by index; *found is how many there are,
 * which may be more. Fails only where a library cannot be read. */
TD_CHECKED enum td_result td_shelf_near(const struct td_shelf *shelf, double lat_deg,
                                        double lon_deg, double radius_m, size_t *indexes,
                                        size_t most, size_t *found, struct td_problem *problem);
/* Reads one hill anew from its file; the caller frees it. TD_INVALID when the file has changed. */
TD_CHECKED enum td_result td_shelf_read(const struct td_shelf *shelf, size_t index,
                                        struct td_hill_file **out, struct td_problem *problem);
void td_shelf_close(struct td_shelf **shelf);

#endif
