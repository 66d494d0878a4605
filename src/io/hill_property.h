/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The properties that a hill profile knows, and how each is read. Which role may have which is
 * hill_feature.c's. */
#ifndef TD_IO_HILL_PROPERTY_H
#define TD_IO_HILL_PROPERTY_H

#include "io/hill_feature.h"

enum td_property_bit {
    ROLE = 1 << 0, NAME = 1 << 1, ID = 1 << 2, FLASHERS = 1 << 3, SOURCE = 1 << 4,
    SURVEYED = 1 << 5, SAY = 1 << 6, AT = 1 << 7, SIDE = 1 << 8, SPEED = 1 << 9, OVER = 1 << 10,
    LENGTH = 1 << 11, GRADE = 1 << 12, MATERIAL = 1 << 13, MANDATORY = 1 << 14, STATUS = 1 << 15,
    CHECKED = 1 << 16, REVISION = 1 << 17, POSITION_SIGMA = 1 << 18,
    MILEPOSTS = 1 << 19,
    PASSES = 1 << 20, GRADE_SIGMA = 1 << 21, LONGEST_GAP = 1 << 22,
    EVERY_PLACE = ROLE | ID | NAME | SOURCE | SAY | AT,
};

struct td_property_reading {
    const struct td_feature_at *at;
    const char *key;
    struct td_feature *feature;
};

typedef enum td_result td_property_reader(const struct td_property_reading *reading,
                                          const json_t *value);

struct td_property {
    const char *key;
    unsigned bit;
    td_property_reader *read;
};

/* In the order in which they are listed to people; ends with a NULL key. */
extern const struct td_property td_properties[];
const struct td_property *td_property_find(const char *key); /* NULL unknown */

#endif
