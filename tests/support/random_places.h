/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands beside a random hill (support/random_hills.h). */
#ifndef TD_TESTS_RANDOM_PLACES_H
#define TD_TESTS_RANDOM_PLACES_H

#include "support/random_hills.h"

/* Puts signs, lots, escape lanes and what comes after the foot on a derived hill, sorted. */
void random_places_put(struct random_hill *made, struct td_rng *rng);

#endif
