/* SPDX-License-Identifier: GPL-3.0-or-later */
/* PCG32 (O'Neill, HMC-CS-2014-0905) and the distributions the simulator needs. */
#include "talkdown/rng.h"

#include <math.h>

#include "talkdown/units.h"

static const uint64_t multiplier = 6364136223846793005ULL; /* Knuth, MMIX */

void td_rng_seed(struct td_rng *rng, uint64_t seed, uint64_t stream)
{
    rng->state = 0;
    rng->stream = (stream << 1) | 1u;
    (void)td_rng_u32(rng);
    rng->state += seed;
    (void)td_rng_u32(rng);
}

uint32_t td_rng_u32(struct td_rng *rng)
{
    uint64_t old = rng->state;
    rng->state = old * multiplier + rng->stream;
    uint32_t shifted = (uint32_t)(((old >> 18) ^ old) >> 27);
    unsigned turn = (unsigned)(old >> 59);
    return (shifted >> turn) | (shifted << ((32u - turn) & 31u));
}

uint32_t td_rng_below(struct td_rng *rng, uint32_t below)
{
    uint32_t reject_under = (0u - below) % below; /* keeps the rest a multiple of `below` */
    for (;;) {
        uint32_t value = td_rng_u32(rng);
        if (value >= reject_under)
            return value % below;
    }
}

double td_rng_unit(struct td_rng *rng)
{
    return (double)td_rng_u32(rng) / 4294967296.0;
}

double td_rng_between(struct td_rng *rng, double low, double high)
{
    return low + (high - low) * td_rng_unit(rng);
}

double td_rng_normal(struct td_rng *rng)
{
    double radius = sqrt(-2.0 * log(1.0 - td_rng_unit(rng)));
    return radius * cos(2.0 * TD_PI * td_rng_unit(rng));
}
