/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A simulated satellite receiver: where the truck is, with a receiver's errors.
 *
 * Position error per axis and height error are first-order Gauss-Markov processes (they wander,
 * as real ones do, instead of jumping); speed and course carry white noise; now and then the
 * receiver falls silent for some seconds. Pure and deterministic. */
#ifndef TD_SIM_GNSS_H
#define TD_SIM_GNSS_H

#include <stdbool.h>
#include <stdint.h>

#include "sim/truck.h"
#include "talkdown/fix.h"
#include "talkdown/rng.h"

struct td_gnss_options {
    double rate_hz;        /* 1 to 10 */
    double sigma_m;        /* of position per axis; also what the receiver claims */
    double wander_s;       /* time constant of the error, above 0 */
    double altitude_sigma_m;
    double speed_sigma_mps;
    double silences_per_hour;
    double silence_least_s, silence_most_s;
};

/* A truck's receiver in the open: 1 Hz, 3 m, three short silences an hour. Assumed. */
struct td_gnss_options td_gnss_options_default(void);
/* Without any error or silence. */
struct td_gnss_options td_gnss_options_perfect(void);

struct td_gnss {
    struct td_gnss_options options;
    struct td_rng rng;
    double east_m, north_m, up_m; /* errors now */
    int64_t next_ns;
    int64_t silent_until_ns;
    int64_t utc_from_ms; /* UTC at time 0 of the simulation */
};

void td_gnss_init(struct td_gnss *gnss, const struct td_gnss_options *options, uint64_t seed,
                  int64_t first_ns, int64_t utc_from_ms);
/* True when a fix is due at now_ns and the receiver is not silent; fills it, received_ns = now_ns.
 * Call once every simulation step. */
bool td_gnss_fix(struct td_gnss *gnss, const struct td_truck *truck, int64_t now_ns,
                 struct td_fix *fix);

#endif
