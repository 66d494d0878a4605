/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places projected on the road, with the other leg of a hairpin found where there is one. */
#include "io/hill_project.h"

#include <math.h>

#include "talkdown/geo.h"

static const double hint_reach_m = 250.0;
/* Two points of the road this far apart along it are two legs, not one. A straight road cannot have
 * both within 60 m of a place unless they lie within 120 m. */
static const double leg_apart_m = 120.0;
/* The nearer leg is clear when the other is this much further away. */
static const double clear_by_m = 25.0;

struct search {
    const struct td_hill *hill;
    struct td_point point;
    double from_m, to_m;         /* part of the road looked at */
    double avoid_m, avoid_reach_m; /* part left out; reach below 0: none */
};

/* Nearest point of what the search leaves; off_m stays infinite when it leaves nothing. */
static void nearest(const struct search *search, double *at_m, double *off_m, double *left_m)
{
    *off_m = (double)INFINITY;
    *at_m = 0;
    const struct td_station *station = search->hill->stations;
    for (size_t i = 0; i + 1 < search->hill->station_count; i++) {
        struct td_point a = {station[i].x_m, station[i].y_m};
        struct td_point b = {station[i + 1].x_m, station[i + 1].y_m};
        struct td_foot_point foot = td_geo_project(a, b, search->point);
        double along_m = station[i].along_m +
                         foot.ratio * (station[i + 1].along_m - station[i].along_m);
        if (along_m < search->from_m || along_m > search->to_m ||
            fabs(along_m - search->avoid_m) <= search->avoid_reach_m)
            continue;
        if (foot.distance_m < *off_m) {
            *off_m = foot.distance_m;
            *left_m = copysign(foot.distance_m, foot.lateral_m);
            *at_m = along_m;
        }
    }
}

struct td_projection td_hill_project(const struct td_hill *hill, double lat_deg, double lon_deg,
                                     bool has_hint, double hint_m)
{
    struct td_projection made = {.off_m = (double)INFINITY};
    struct td_frame frame;
    struct search search = {.hill = hill, .to_m = hill->length_m, .avoid_reach_m = -1};
    if (!td_frame_init(&frame, hill->origin_lat_deg, hill->origin_lon_deg) ||
        !td_frame_point(&frame, lat_deg, lon_deg, &search.point))
        return made;
    if (has_hint) {
        search.from_m = hint_m - hint_reach_m;
        search.to_m = hint_m + hint_reach_m;
    }
    double other_left_m = 0;
    nearest(&search, &made.at_m, &made.off_m, &made.left_m);
    if (made.off_m > TD_PLACE_OFF_ROAD_M)
        return made;
    search.avoid_m = made.at_m;
    search.avoid_reach_m = leg_apart_m;
    nearest(&search, &made.other_at_m, &made.other_off_m, &other_left_m);
    made.has_other = made.other_off_m <= TD_PLACE_OFF_ROAD_M &&
                     made.other_off_m < made.off_m + clear_by_m;
    /* Short legs: both lie within reach of the hint, which means the nearer one along the road. */
    if (has_hint && made.has_other &&
        fabs(made.other_at_m - hint_m) < fabs(made.at_m - hint_m)) {
        made.at_m = made.other_at_m;
        made.off_m = made.other_off_m;
        made.left_m = other_left_m;
    }
    made.has_other = made.has_other && !has_hint;
    return made;
}

void td_hill_point(const struct td_hill *hill, double at_m, double *lat_deg, double *lon_deg)
{
    const struct td_station *a = &hill->stations[td_hill_station_at(hill, at_m)], *b = a + 1;
    double share = fmin(1, fmax(0, (at_m - a->along_m) / (b->along_m - a->along_m)));
    *lat_deg = a->lat_deg + share * (b->lat_deg - a->lat_deg);
    *lon_deg = td_geo_turn_deg(a->lon_deg + share * td_geo_turn_deg(b->lon_deg - a->lon_deg));
}
