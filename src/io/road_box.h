/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boxes of latitude and longitude round pieces of a road, by which hills near a truck are found.
 * Both kinds of shelf cut and measure by this file, so that a folder and a library made of it
 * answer alike. Pure arithmetic.
 *
 * A box is kept in single precision, rounded outward, since that is what an R*Tree of SQLite keeps:
 * it is at most 2 m too large. Longitudes are unwrapped from the piece's first vertex, so that they
 * may pass 180 degrees by the width of a piece. */
#ifndef TD_IO_ROAD_BOX_H
#define TD_IO_ROAD_BOX_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/hill.h"

#define TD_ROAD_PIECE_M 1000.0

struct td_box {
    float south_deg, north_deg, west_deg, east_deg;
};

/* Cuts the road into pieces of whole edges, each ended as soon as it is TD_ROAD_PIECE_M long, so at
 * most that and one edge. Neighbours share a vertex. Begin with *station 0; false at the end. */
bool td_box_next(const struct td_hill *hill, size_t *station, struct td_box *box);

/* From a place to the nearest point of the box, 0 inside; never more than to the road in it. Right
 * at the antimeridian and next to a pole. Beyond 100 km it only grows. */
double td_box_distance_m(const struct td_box *box, double lat_deg, double lon_deg);

/* Every box within radius_m of the place meets these bounds, or does so once it is turned by 360
 * degrees to the east or to the west. */
struct td_bounds {
    double south_deg, north_deg, west_deg, east_deg;
};
struct td_bounds td_bounds_round(double lat_deg, double lon_deg, double radius_m);

/* The nearest of what is put in, by distance, then by index; room for TD_NEAR_MAX. */
enum { TD_NEAR_MAX = 64 };
struct td_nearest {
    size_t *indexes; /* the caller's, room for `most` */
    size_t most, kept, found;
    double radius_m;
    double distances_m[TD_NEAR_MAX];
};
void td_nearest_begin(struct td_nearest *nearest, double radius_m, size_t *indexes, size_t most);
/* In rising order of index; beyond the radius it counts for nothing. */
void td_nearest_put(struct td_nearest *nearest, size_t index, double distance_m);

#endif
