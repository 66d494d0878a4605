/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Seeded random numbers for the simulator and the property tests: the same seed gives the same
 * numbers on every machine. Not for secrets.
 *
 * Generator: PCG32 (M. E. O'Neill, "PCG: A Family of Simple Fast Space-Efficient Statistically
 * Good Algorithms for Random Number Generation", HMC-CS-2014-0905, XSH-RR 64/32 variant). */
#ifndef TD_RNG_H
#define TD_RNG_H

#include <stdint.h>

struct td_rng {
    uint64_t state;
    uint64_t stream; /* always odd */
};

void td_rng_seed(struct td_rng *rng, uint64_t seed, uint64_t stream);
uint32_t td_rng_u32(struct td_rng *rng);
/* Whole number in [0, below), unbiased; below >= 1. */
uint32_t td_rng_below(struct td_rng *rng, uint32_t below);
/* Uniform in [0, 1). */
double td_rng_unit(struct td_rng *rng);
/* Uniform in [low, high). */
double td_rng_between(struct td_rng *rng, double low, double high);
/* Normal with mean 0 and standard deviation 1 (Box and Muller 1958, Ann. Math. Stat. 29). */
double td_rng_normal(struct td_rng *rng);

#endif
