/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Roads for tests, drawn piece by piece on the open ocean of an invented country, so that the truth
 * of grade and place is known. */
#ifndef TD_TESTS_ROAD_H
#define TD_TESTS_ROAD_H

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/hill.h"
#include "talkdown/units.h"

#define ROAD_LAT_DEG (-47.0) /* open ocean, south of everything */
#define ROAD_LON_DEG (-125.0)

struct road {
    struct td_station stations[TD_HILL_STATIONS_MAX];
    size_t count;
    struct td_hill hill;
    double x_m, y_m, z_m, heading_rad; /* pen; heading from east, left positive */
    double lat0_deg, lon0_deg;
};

static inline void road_put(struct road *road)
{
    struct td_station *station = &road->stations[road->count++];
    /* Radii of the sphere: the derived distances come from the coordinates, not from the pen. */
    station->lat_deg = road->lat0_deg + td_deg_from_rad(road->y_m / 6371008.8);
    double lon = road->lon0_deg + td_deg_from_rad(road->x_m / 6371008.8 /
                                                  cos(td_rad_from_deg(station->lat_deg)));
    station->lon_deg = lon >= 180.0 ? lon - 360.0 : lon;
    station->elevation_m = road->z_m;
}

static inline void road_begin(struct road *road, double lat_deg, double lon_deg, double x_m,
                              double y_m, double z_m, double heading_deg)
{
    memset(road, 0, sizeof *road);
    road->lat0_deg = lat_deg;
    road->lon0_deg = lon_deg;
    road->x_m = x_m;
    road->y_m = y_m;
    road->z_m = z_m;
    road->heading_rad = td_rad_from_deg(heading_deg);
    road_put(road);
}

/* A piece of `length_m` that turns by turn_deg in all (left positive), falling by downgrade. */
static inline void road_add(struct road *road, double length_m, double turn_deg, double downgrade,
                            double spacing_m)
{
    int pieces = (int)ceil(length_m / spacing_m - 1e-9);
    double edge_m = length_m / pieces;
    double turn = td_rad_from_deg(turn_deg) / pieces;
    for (int i = 0; i < pieces; i++) {
        road->heading_rad += turn / 2.0;
        road->x_m += edge_m * cos(road->heading_rad);
        road->y_m += edge_m * sin(road->heading_rad);
        road->heading_rad += turn / 2.0;
        road->z_m -= edge_m * downgrade;
        road_put(road);
    }
}

static inline enum td_result road_finish(struct road *road, struct td_problem *problem)
{
    road->hill.id = "test";
    road->hill.name = "Test";
    road->hill.stations = road->stations;
    road->hill.station_count = road->count;
    return td_hill_derive(&road->hill, road->stations, problem);
}

/* Finishes a road that must be right. */
static inline void road_done(struct road *road)
{
    struct td_problem problem;
    if (road_finish(road, &problem) != TD_OK) {
        fprintf(stderr, "road: %s\n", problem.text);
        abort();
    }
}

#endif
