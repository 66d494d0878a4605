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
    bool has_other;      /* another leg of the road comes as near: say which with at_m */
    double other_at_m, other_off_m;
};

/* Nearest point of the derived hill's road; with has_hint only within 250 m of hint_m along it. */
struct td_projection td_hill_project(const struct td_hill *hill, double lat_deg, double lon_deg,
                                     bool has_hint, double hint_m);

#endif
