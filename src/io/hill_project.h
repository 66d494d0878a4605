/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a place beside the road lies along it. */
#ifndef TD_IO_HILL_PROJECT_H
#define TD_IO_HILL_PROJECT_H

#include <stdbool.h>

#include "talkdown/hill.h"

#define TD_PLACE_OFF_ROAD_M 60.0 /* a place further from the road is an error */

struct td_projection {
    double at_m;
    double off_m;        /* distance from the road there */
    double left_m;       /* the same, negative on the right */
    bool has_other;      /* another leg of the road comes as near and no hint says which */
    double other_at_m, other_off_m;
};

/* Nearest point of the derived hill's road; with has_hint only within 250 m of hint_m along it, and
 * of two legs there the one nearer to the hint. */
struct td_projection td_hill_project(const struct td_hill *hill, double lat_deg, double lon_deg,
                                     bool has_hint, double hint_m);

/* The point of the road's own line at a distance along it, clamped to its ends. */
void td_hill_point(const struct td_hill *hill, double at_m, double *lat_deg, double *lon_deg);

#endif
