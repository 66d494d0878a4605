/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Earth-centred coordinates in the middle of everything: no case for the antimeridian, and chords
 * keep a nanometre at any latitude. */
#include "talkdown/geo.h"

#include <math.h>

#include "talkdown/units.h"

static const double semi_major_m = 6378137.0;                         /* NIMA TR8350.2 */
static const double flattening = 1.0 / 298.257223563;                 /* NIMA TR8350.2 */
static const double mean_radius_m = 6371008.8; /* (2a + b) / 3; good enough under a cube */

static void ecef_of(double lat_deg, double lon_deg, double out_m[3])
{
    double lat = td_rad_from_deg(lat_deg), lon = td_rad_from_deg(lon_deg);
    double e2 = flattening * (2.0 - flattening);
    double s = sin(lat);
    double n = semi_major_m / sqrt(1.0 - e2 * s * s);
    double across = n * cos(lat);
    out_m[0] = across * cos(lon);
    out_m[1] = across * sin(lon);
    out_m[2] = n * (1.0 - e2) * s;
}

bool td_frame_init(struct td_frame *frame, double lat_deg, double lon_deg)
{
    if (!(fabs(lat_deg) <= TD_GEO_LATITUDE_MOST_DEG) || !(fabs(lon_deg) <= 180.0))
        return false;
    ecef_of(lat_deg, lon_deg, frame->ecef_m);
    frame->sin_lat = sin(td_rad_from_deg(lat_deg));
    frame->cos_lat = cos(td_rad_from_deg(lat_deg));
    frame->sin_lon = sin(td_rad_from_deg(lon_deg));
    frame->cos_lon = cos(td_rad_from_deg(lon_deg));
    return true;
}

bool td_frame_point(const struct td_frame *frame, double lat_deg, double lon_deg,
                    struct td_point *point)
{
    double at_m[3];
    ecef_of(lat_deg, lon_deg, at_m);
    double dx = at_m[0] - frame->ecef_m[0];
    double dy = at_m[1] - frame->ecef_m[1];
    double dz = at_m[2] - frame->ecef_m[2];
    /* Negated so that NaN is refused; the far side of the Earth would fold onto the near one. */
    if (!(dx * dx + dy * dy + dz * dz <= TD_GEO_REACH_M * TD_GEO_REACH_M))
        return false;
    double outward = frame->cos_lon * dx + frame->sin_lon * dy;
    point->x_m = -frame->sin_lon * dx + frame->cos_lon * dy;
    point->y_m = frame->cos_lat * dz - frame->sin_lat * outward;
    return true;
}

double td_geo_distance_m(double from_lat_deg, double from_lon_deg, double to_lat_deg,
                         double to_lon_deg)
{
    double a[3], b[3];
    ecef_of(from_lat_deg, from_lon_deg, a);
    ecef_of(to_lat_deg, to_lon_deg, b);
    double chord = sqrt((b[0] - a[0]) * (b[0] - a[0]) + (b[1] - a[1]) * (b[1] - a[1]) +
                        (b[2] - a[2]) * (b[2] - a[2]));
    double turn = chord / mean_radius_m;
    return chord * (1.0 + turn * turn / 24.0); /* arc = 2 R asin(chord / 2R), first term */
}

double td_geo_bearing_deg(double from_lat_deg, double from_lon_deg, double to_lat_deg,
                          double to_lon_deg)
{
    double a[3], b[3];
    ecef_of(from_lat_deg, from_lon_deg, a);
    ecef_of(to_lat_deg, to_lon_deg, b);
    double lat = td_rad_from_deg(from_lat_deg), lon = td_rad_from_deg(from_lon_deg);
    double dx = b[0] - a[0], dy = b[1] - a[1], dz = b[2] - a[2];
    double east = -sin(lon) * dx + cos(lon) * dy;
    double north = cos(lat) * dz - sin(lat) * (cos(lon) * dx + sin(lon) * dy);
    if (fabs(east) < 1e-6 && fabs(north) < 1e-6)
        return 0.0;
    double deg = td_deg_from_rad(atan2(east, north));
    if (deg < 0.0)
        deg += 360.0;
    return deg >= 360.0 ? 0.0 : deg;
}

struct td_foot_point td_geo_project(struct td_point a, struct td_point b, struct td_point p)
{
    struct td_foot_point foot = {0};
    double ux = b.x_m - a.x_m, uy = b.y_m - a.y_m;
    double vx = p.x_m - a.x_m, vy = p.y_m - a.y_m;
    double length2 = ux * ux + uy * uy;
    if (length2 > 0.0) {
        foot.ratio = fmin(1.0, fmax(0.0, (ux * vx + uy * vy) / length2));
        foot.lateral_m = (ux * vy - uy * vx) / sqrt(length2);
    }
    foot.distance_m = hypot(vx - foot.ratio * ux, vy - foot.ratio * uy);
    return foot;
}

double td_geo_turn_deg(double deg)
{
    double turn = fmod(deg + 180.0, 360.0);
    return (turn < 0.0 ? turn + 360.0 : turn) - 180.0;
}
