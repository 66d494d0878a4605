/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Entries of lists and libraries, made of a profile as read. */
#include "io/hill_entry.h"

#include <math.h>
#include <string.h>

#include "talkdown/geo.h"
#include "talkdown/text.h"

bool td_leaf_begin(struct td_hash *leaf, const char *id, const uint8_t hash[TD_HASH_BYTES])
{
    if (!td_hash_begin(leaf))
        return false;
    td_hash_add(leaf, id, strlen(id) + 1);
    td_hash_add(leaf, hash, TD_HASH_BYTES);
    return true;
}

static void add_float(struct td_hash *leaf, float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    const uint8_t bytes[4] = {(uint8_t)bits, (uint8_t)(bits >> 8), (uint8_t)(bits >> 16),
                              (uint8_t)(bits >> 24)};
    td_hash_add(leaf, bytes, sizeof bytes);
}

void td_leaf_box(struct td_hash *leaf, const struct td_box *box)
{
    add_float(leaf, box->south_deg);
    add_float(leaf, box->north_deg);
    add_float(leaf, box->west_deg);
    add_float(leaf, box->east_deg);
}

static void grow(struct td_hill_entry *entry, const struct td_box *box)
{
    double west = (double)box->west_deg, east = (double)box->east_deg;
    if (entry->pieces++ == 0) {
        *entry = (struct td_hill_entry){.south_deg = (double)box->south_deg,
                                        .north_deg = (double)box->north_deg,
                                        .west_deg = west,
                                        .east_deg = east,
                                        .pieces = 1};
        return;
    }
    double shift = entry->west_deg + td_geo_turn_deg(west - entry->west_deg) - west;
    entry->south_deg = fmin(entry->south_deg, (double)box->south_deg);
    entry->north_deg = fmax(entry->north_deg, (double)box->north_deg);
    entry->west_deg = fmin(entry->west_deg, west + shift);
    entry->east_deg = fmax(entry->east_deg, east + shift);
}

bool td_hill_entry_make(const struct td_hill_file *file, struct td_hill_entry *entry)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    struct td_hash leaf;
    struct td_box box;
    struct td_hill_entry made = {.pieces = 0};
    if (!td_leaf_begin(&leaf, hill->id, hill->hash))
        return false;
    for (size_t station = 0; td_box_next(hill, &station, &box);) {
        grow(&made, &box);
        td_leaf_box(&leaf, &box);
    }
    td_hash_end(&leaf, made.leaf);
    memcpy(made.hash, hill->hash, sizeof made.hash);
    (void)td_text_copy(made.id, sizeof made.id, hill->id);
    (void)td_text_copy(made.name, sizeof made.name, hill->name);
    (void)td_text_copy(made.surveyed, sizeof made.surveyed, td_hill_file_surveyed(file));
    made.revision = td_hill_file_revision(file);
    made.length_m = hill->length_m;
    made.coached = hill->coached;
    made.crest_m = hill->crest_m;
    made.foot_m = hill->foot_m;
    made.mean_downgrade_ratio = hill->mean_downgrade_ratio;
    made.steepest_downgrade_ratio = hill->steepest_downgrade_ratio;
    made.places = hill->place_count;
    *entry = made;
    return true;
}
