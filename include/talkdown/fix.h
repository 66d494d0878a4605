/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One position report, and whether it may be believed.
 *
 * Everything that came from a receiver is validated here, once, before any other module sees it.
 * Absent values carry no bit in `has`; their fields are then 0 and must not be read. */
#ifndef TD_FIX_H
#define TD_FIX_H

#include <stdbool.h>
#include <stdint.h>

enum td_fix_has {
    TD_FIX_POSITION = 1 << 0,
    TD_FIX_ALTITUDE = 1 << 1,
    TD_FIX_SPEED = 1 << 2,
    TD_FIX_TRACK = 1 << 3,
    TD_FIX_SIGMA = 1 << 4,
    TD_FIX_UTC = 1 << 5,
};

struct td_fix {
    int64_t received_ns; /* monotonic, when its last byte was read */
    unsigned has;        /* enum td_fix_has bits */
    int64_t utc_ms;      /* since 1970; for the log, and its differences for telling repeats and
                            lateness: never taken for a moment of received_ns */
    double lat_deg;      /* -90 to 90 */
    double lon_deg;      /* -180 to 180 */
    double altitude_m;   /* above mean sea level; biased by up to 50 m between days and devices */
    double speed_mps;    /* over ground, 0 and up */
    double track_deg;    /* course over ground from true north, 0 to <360 */
    double sigma_m;      /* one standard deviation of horizontal position error per axis */
};

/* True when the fix has a position and every value it carries is finite and inside the range
 * above (speed at most 70 m/s, altitude -500 to 9000 m, sigma above 0 and at most 1000 m;
 * exactly 0,0 is what a receiver sends that does not know and is refused). */
bool td_fix_is_sane(const struct td_fix *fix);

#endif
