/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hill profiles on disk: GeoJSON (RFC 7946) in, an immutable td_hill out. docs/formats.md specifies
 * the members. jansson stays inside hill_file.c. Thread: any, one file at a time each. */
#ifndef TD_IO_HILL_FILE_H
#define TD_IO_HILL_FILE_H

#include <stddef.h>

#include "io/mileposts.h"
#include "talkdown/hill.h"

enum { TD_HILL_FILE_BYTES_MAX = 8 * 1024 * 1024 };

struct td_hill_file; /* owns the hill, its arrays, its strings and the bytes it was read from */

/* Reads and checks a whole profile. On anything but TD_OK *out is untouched and the problem names
 * file, line or feature, what is wrong and what would be right. Free with td_hill_file_free. */
TD_CHECKED enum td_result td_hill_file_read(const char *path, struct td_hill_file **out,
                                            struct td_problem *problem);
/* The same from memory; `name` stands for the file in messages. The bytes are copied. */
TD_CHECKED enum td_result td_hill_file_parse(const char *name, const char *bytes, size_t length,
                                             struct td_hill_file **out,
                                             struct td_problem *problem);
const struct td_hill *td_hill_file_hill(const struct td_hill_file *file);
/* Date of the survey as the road has it ("2031-05-17"), "" where it has none. */
const char *td_hill_file_surveyed(const struct td_hill_file *file);
/* Of the profile, as the road has it, 1 and up; 0 where it has none. */
unsigned td_hill_file_revision(const struct td_hill_file *file);
/* How many recorded passes the road was made of; 0 when the file does not say. */
unsigned td_hill_file_passes(const struct td_hill_file *file);
/* Where a place of the hill (by its index there) stands in the file, and how far its point lies
 * left of the road; right is negative. With `index` at place_count: the road's own line. */
int td_hill_file_line(const struct td_hill_file *file, size_t index);
/* Which feature of the file that is, from 1. */
size_t td_hill_file_feature(const struct td_hill_file *file, size_t index);
/* What a place has on file that the core has no use for. Of a place only. */
struct td_hill_place_file {
    const char *id; /* "" where it has none; no two places of a profile have the same */
    double lat_deg, lon_deg; /* of its point */
    double left_m;  /* as td_hill_file_left_m */
    bool has_at;    /* it has an at_m */
};
struct td_hill_place_file td_hill_file_place(const struct td_hill_file *file, size_t index);
/* Of the road; count 0 where it has none. */
const struct td_mileposts *td_hill_file_mileposts(const struct td_hill_file *file);
/* "escape-lane": how a profile names that kind of place. */
const char *td_place_role(enum td_place_kind kind);
double td_hill_file_left_m(const struct td_hill_file *file, size_t index);
/* The bytes as read; hill->hash is their BLAKE2b-256 (libsodium generic hash). */
const char *td_hill_file_bytes(const struct td_hill_file *file, size_t *length);
void td_hill_file_free(struct td_hill_file **file); /* accepts NULL and *file NULL */

#endif
