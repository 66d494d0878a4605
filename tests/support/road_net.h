/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A dense net of roads around a grade, drawn from a seed on the open ocean of an invented country:
 * the grade's own road with hairpins or without, and beside it what makes a locator go wrong:
 * parallel roads 10 to 200 m off, frontage roads that leave and come back, ramps, forks, roads that
 * join and cross, one road above the other, a next grade that shares road with this one, the same
 * road as a grade the other way. Some of the roads are on file, with a survey's own error; a grade
 * among them has a brake check area, a speed for trucks, two escape lanes and a stop at its end.
 *
 * Every length, share and angle here is assumed; the reasons stand in docs/locating.md. */
#ifndef TD_TESTS_ROAD_NET_H
#define TD_TESTS_ROAD_NET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/hill.h"
#include "talkdown/locate.h"
#include "talkdown/rng.h"

enum {
    NET_ROADS_MAX = 24,
    NET_POINTS_MAX = 2048,   /* of a road */
    NET_LINE_MAX = 4096,     /* points of a path */
    NET_PIECES_MAX = 4,
    NET_ROUTES_MAX = 48,
    NET_STATIONS_MAX = 1600, /* of a hill on file */
    NET_PLACES = 5,
};

#define NET_SPACING_M 10.0

/* x east, y north of the net's origin. */
struct net_point {
    double x_m, y_m, z_m, along_m;
};

enum net_kind {
    NET_MAIN = 0, /* the grade's own road */
    NET_PARALLEL, /* comes beside it, and goes */
    NET_FRONTAGE, /* leaves it and comes back */
    NET_EXIT,     /* leaves it, runs beside it, goes */
    NET_ENTRY,    /* comes beside it and joins */
    NET_STACKED,  /* above or below it */
    NET_FORK,     /* a Y: leaves it at an angle */
    NET_JOIN,     /* joins it at an angle */
    NET_CROSSING,
    NET_NEXT,     /* goes on from its end, down again */
    NET_KINDS
};

struct net_road {
    enum net_kind kind;
    size_t count;
    struct net_point points[NET_POINTS_MAX];
    double from_m, to_m; /* where it leaves and meets the main road, along that; or crosses it */
    double aside_m;      /* of a road beside the main one, left positive */
};

/* Part of a road, driven backwards when to_m < from_m. */
struct net_piece {
    int road;
    double from_m, to_m;
};

struct net_path {
    size_t count;
    struct net_piece pieces[NET_PIECES_MAX];
};

/* A path drawn out. */
struct net_line {
    size_t count;
    struct net_point points[NET_LINE_MAX]; /* along_m counts from the path's begin */
};

/* A path on file, in the direction of descent. */
struct net_hill {
    struct net_path path;
    double survey_sigma_m;
    double x_m[NET_STATIONS_MAX], y_m[NET_STATIONS_MAX]; /* of the stations, in the net's plane */
    double path_m[NET_STATIONS_MAX]; /* where on the path each station was taken */
    struct td_station stations[NET_STATIONS_MAX];
    struct td_place places[NET_PLACES];
    struct td_hill hill;
    char id[16];
};

struct net_route {
    struct net_path path;
    enum net_kind kind; /* of the road it is about */
    bool up;            /* the main road upwards */
};

struct net {
    uint64_t seed;
    size_t road_count;
    struct net_road roads[NET_ROADS_MAX];
    double lead_m, crest_m, foot_m; /* of the main road: where its file begins, the grade */
    bool hairpins;
    size_t hill_count; /* hill 0 is the main road */
    struct net_hill hills[TD_HILL_SLOTS];
    size_t route_count;
    struct net_route routes[NET_ROUTES_MAX];
};

/* Draws the net of a seed: roads, hills on file, routes. */
void net_draw(struct net *net, uint64_t seed);
/* The parts of it, in order. */
void net_draw_roads(struct net *net, struct td_rng *rng);
void net_draw_hills(struct net *net, struct td_rng *rng);
void net_draw_routes(struct net *net, struct td_rng *rng);

/* A point of the net's plane on the ellipsoid. */
void net_place(const struct net_point *point, double *lat_deg, double *lon_deg);
double net_road_length_m(const struct net_road *road);
struct net_point net_road_at(const struct net_road *road, double along_m);
double net_path_length_m(const struct net_path *path);
void net_path_line(const struct net *net, const struct net_path *path, struct net_line *line);
/* Which piece holds a place of the path, and where on its road that is. */
size_t net_path_piece(const struct net_path *path, double path_m, double *road_m);

/* Where the hill's road has that place of a road, driven in that direction (1 or -1); -1 when it
 * does not hold it. */
double net_hill_path_m(const struct net_hill *hill, int road, double road_m, int direction);
/* Along the hill as on file, of a point on its road at path_m. */
double net_hill_along_m(const struct net_hill *hill, double path_m, double x_m, double y_m);
/* Distance to the nearest part of the hill's road as on file that runs within 45 degrees of the
 * heading (radians from east); INFINITY when none does. */
double net_hill_distance_m(const struct net_hill *hill, double x_m, double y_m,
                           double heading_rad);
/* Distance from the point to the nearest road, other than `road`, that runs within 30 degrees of
 * the heading, either way. */
double net_neighbour_m(const struct net *net, int road, const struct net_point *at,
                       double heading_rad);

const char *net_kind_name(enum net_kind kind);

#endif
