/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boxes round pieces of a road: a long diagonal hill must not be near everything around it. */
#include "io/road_box.h"

#include <math.h>
#include <string.h>

#include "talkdown/geo.h"
#include "talkdown/units.h"

static float rounded_down(double value)
{
    float near = (float)value;
    return (double)near > value ? nextafterf(near, -HUGE_VALF) : near;
}

static float rounded_up(double value)
{
    return -rounded_down(-value);
}

bool td_box_next(const struct td_hill *hill, size_t *station, struct td_box *box)
{
    size_t from = *station;
    if (from + 1 >= hill->station_count)
        return false;
    const struct td_station *first = &hill->stations[from];
    double south = first->lat_deg, north = south, west = first->lon_deg, east = west;
    size_t to = from;
    while (to + 1 < hill->station_count &&
           hill->stations[to].along_m - first->along_m < TD_ROAD_PIECE_M) {
        const struct td_station *next = &hill->stations[++to];
        double lon_deg = first->lon_deg + td_geo_turn_deg(next->lon_deg - first->lon_deg);
        south = fmin(south, next->lat_deg);
        north = fmax(north, next->lat_deg);
        west = fmin(west, lon_deg);
        east = fmax(east, lon_deg);
    }
    *station = to;
    *box = (struct td_box){rounded_down(south), rounded_up(north), rounded_down(west),
                           rounded_up(east)};
    return true;
}

static double clamped(double value, double least, double most)
{
    return fmin(fmax(value, least), most);
}

double td_box_distance_m(const struct td_box *box, double lat_deg, double lon_deg)
{
    double west = (double)box->west_deg, east = (double)box->east_deg;
    double middle = (west + east) / 2;
    double lon_here = middle + td_geo_turn_deg(lon_deg - middle);
    double lon_there = clamped(lon_here, west, east);
    /* Nearest on a meridian is not the same latitude but one nearer to the pole (right spherical
     * triangle: tan lat = tan lat' / cos of the difference), which tells next to a pole. */
    double apart = td_rad_from_deg(lon_there - lon_here);
    double lat_there = td_deg_from_rad(atan2(tan(td_rad_from_deg(lat_deg)), cos(apart)));
    lat_there = clamped(lat_there, (double)box->south_deg, (double)box->north_deg);
    return td_geo_distance_m(lat_deg, lon_here, lat_there, lon_there);
}

struct td_bounds td_bounds_round(double lat_deg, double lon_deg, double radius_m)
{
    /* The smallest radius of curvature of WGS 84 (of the meridian at the equator, 6335.4 km) makes
     * the bounds a little too large everywhere. */
    double turn = radius_m / 6335000.0;
    double high_deg = td_deg_from_rad(turn), wide_deg = 180;
    if (fabs(lat_deg) + high_deg < 90)
        wide_deg = td_deg_from_rad(asin(fmin(1, sin(turn) / cos(td_rad_from_deg(lat_deg)))));
    double lon_near_deg = td_geo_turn_deg(lon_deg);
    return (struct td_bounds){lat_deg - high_deg, lat_deg + high_deg, lon_near_deg - wide_deg,
                              lon_near_deg + wide_deg};
}

void td_nearest_begin(struct td_nearest *nearest, double radius_m, size_t *indexes, size_t most)
{
    *nearest = (struct td_nearest){.indexes = indexes,
                                   .most = most < TD_NEAR_MAX ? most : TD_NEAR_MAX,
                                   .radius_m = radius_m};
}

void td_nearest_put(struct td_nearest *nearest, size_t index, double distance_m)
{
    if (!(distance_m <= nearest->radius_m))
        return;
    nearest->found++;
    size_t at = nearest->kept;
    while (at > 0 && nearest->distances_m[at - 1] > distance_m)
        at--;
    if (at >= nearest->most)
        return;
    if (nearest->kept < nearest->most)
        nearest->kept++;
    size_t after = nearest->kept - 1 - at;
    memmove(nearest->indexes + at + 1, nearest->indexes + at, after * sizeof *nearest->indexes);
    memmove(nearest->distances_m + at + 1, nearest->distances_m + at,
            after * sizeof *nearest->distances_m);
    nearest->indexes[at] = index;
    nearest->distances_m[at] = distance_m;
}
