/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plausible mountain roads, drawn from a seed: an approach, a descent of downgrades with easings
 * and level breaks between them, curves from sweeping to hairpins, and what stands beside such a
 * road. Invented, on the open ocean. The mix (how steep, how long, how many signs) is of the road
 * books' ranges as we know them; common practice, no source. */
#ifndef TD_TESTS_RANDOM_HILLS_H
#define TD_TESTS_RANDOM_HILLS_H

#include <stdbool.h>
#include <stdint.h>

#include "support/road.h"
#include "talkdown/rng.h"

enum random_style { RANDOM_OPEN = 0, RANDOM_WINDING, RANDOM_HAIRPINS, RANDOM_STYLES };

struct random_hill {
    struct road road; /* road.hill is the hill; it points into this struct */
    struct td_place places[TD_HILL_PLACES_MAX];
    struct td_place lost; /* what was beyond the road's ends or one too many */
    char id[32];
    enum random_style style;
    double downgrade; /* that most of it is drawn with */
    bool is_short;    /* ended before its drawn length: the stations or the height were used up */
};

/* Draws the hill of a seed. Never fails: a drawing that crosses itself or that td_hill_derive
 * refuses is thrown away for the next of the same seed. */
void random_hill_draw(struct random_hill *made, uint64_t seed);

#endif
