/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seed of a property test: TD_SEED when set, else the test's own; printed, so that any failure can
 * be replayed. */
#ifndef TD_TESTS_SEED_H
#define TD_TESTS_SEED_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "talkdown/rng.h"

static inline void test_seed(struct td_rng *rng, const char *test, uint64_t own)
{
    const char *text = getenv("TD_SEED");
    uint64_t seed = text != NULL ? strtoull(text, NULL, 10) : own;
    printf("%s: seed %llu (TD_SEED=%llu replays it)\n", test, (unsigned long long)seed,
           (unsigned long long)seed);
    td_rng_seed(rng, seed, 1);
}

#endif
