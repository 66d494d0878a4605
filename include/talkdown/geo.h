/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places on the WGS 84 ellipsoid (NIMA TR8350.2: a 6378137 m, 1/f 298.257223563) and a flat frame
 * for one hill's neighbourhood.
 *
 * The frame is the plane tangent at its origin: points of the ellipsoid's surface dropped straight
 * on it, x east, y north. It shortens a distance radially by at most (d/R)^2 / 2, so 1.2e-5 at
 * 30 km and 1.3e-4 at 100 km from the origin; farther points are refused. It needs no care at the
 * antimeridian. North turns with longitude: a course differs from the frame's by the difference in
 * longitude times sin(latitude), 0.5 degrees 30 km east at latitude 60. Origins beyond 85 degrees
 * of latitude are refused, since nothing above holds there. Heights play no part: a road at 3000 m
 * is 5e-4 longer than its trace. */
#ifndef TD_GEO_H
#define TD_GEO_H

#include <stdbool.h>

#define TD_GEO_REACH_M     100000.0
#define TD_GEO_LATITUDE_MOST_DEG 85.0

struct td_frame {
    double ecef_m[3]; /* of the origin */
    double sin_lat, cos_lat, sin_lon, cos_lon;
};

struct td_point {
    double x_m, y_m;
};

/* False when the origin is not finite or lies beyond the latitude above. */
bool td_frame_init(struct td_frame *frame, double lat_deg, double lon_deg);
/* False, with *point untouched, when the place is farther than TD_GEO_REACH_M. */
bool td_frame_point(const struct td_frame *frame, double lat_deg, double lon_deg,
                    struct td_point *point);

/* Length of the geodesic between two places: chord and first term of its arc; relative error under
 * 3e-9 up to 10 km and under 3e-7 up to 100 km. */
double td_geo_distance_m(double from_lat_deg, double from_lon_deg, double to_lat_deg,
                         double to_lon_deg);
/* Direction at the first place toward the second, from true north, 0 to <360; meant for places up
 * to 100 km apart and not at a pole. 0 when they coincide. */
double td_geo_bearing_deg(double from_lat_deg, double from_lon_deg, double to_lat_deg,
                          double to_lon_deg);

/* Where a point lies against the straight piece a to b. */
struct td_foot_point {
    double ratio;      /* of the nearest point of the piece, 0 at a to 1 at b */
    double distance_m; /* to that point */
    double lateral_m;  /* signed, of the endless line through the piece: left positive */
};
struct td_foot_point td_geo_project(struct td_point a, struct td_point b, struct td_point p);

/* Brings an angle difference into [-180, 180). */
double td_geo_turn_deg(double deg);

#endif
