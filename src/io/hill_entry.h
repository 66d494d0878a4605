/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a list tells of a hill, and the leaf that stands for it in a library's manifest. */
#ifndef TD_IO_HILL_ENTRY_H
#define TD_IO_HILL_ENTRY_H

#include "io/hash.h"
#include "io/hill_file.h"
#include "io/road_box.h"
#include "io/utc.h"

struct td_hill_entry {
    char id[TD_HILL_NAME_MAX + 1], name[TD_HILL_NAME_MAX + 1];
    char surveyed[TD_DATE_SIZE]; /* "2031-05-17"; "" where the profile has none */
    unsigned revision; /* 0 where the profile has none */
    uint8_t hash[TD_HASH_BYTES]; /* of the profile's bytes */
    uint8_t leaf[TD_HASH_BYTES];
    /* Of the whole road, degrees; a road over the antimeridian goes on past 180. */
    double south_deg, north_deg, west_deg, east_deg;
    double length_m;
    bool coached;
    double crest_m, foot_m, mean_downgrade_ratio; /* 0 where not coached */
    double steepest_downgrade_ratio;
    size_t pieces; /* boxes of the road */
    size_t places;
};

/* False when the hash cannot be made (libsodium). */
bool td_hill_entry_make(const struct td_hill_file *file, struct td_hill_entry *entry);

/* A leaf is the hash of the id, a NUL, the hash of the bytes, then south, north, west and east of
 * each piece's box as single precision, least byte first. */
bool td_leaf_begin(struct td_hash *leaf, const char *id, const uint8_t hash[TD_HASH_BYTES]);
void td_leaf_box(struct td_hash *leaf, const struct td_box *box);

#endif
