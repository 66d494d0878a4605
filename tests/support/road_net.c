/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Paths over a net, what of it is on file and with which error, and which ways are driven. */
#include "support/road_net.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/geo.h"
#include "talkdown/units.h"

#define NET_LAT_DEG (-47.0) /* open ocean */
#define NET_LON_DEG (-125.0)
#define WGS84_A_M   6378137.0
#define WGS84_E2    6.69437999014e-3

enum { ERROR_WAVES = 8 };

void net_place(const struct net_point *point, double *lat_deg, double *lon_deg)
{
    double sin_lat = sin(td_rad_from_deg(NET_LAT_DEG)), w2 = 1 - WGS84_E2 * sin_lat * sin_lat;
    double meridian_m = WGS84_A_M * (1 - WGS84_E2) / (w2 * sqrt(w2));
    *lat_deg = NET_LAT_DEG + td_deg_from_rad(point->y_m / meridian_m);
    double sin_here = sin(td_rad_from_deg(*lat_deg));
    double normal_m = WGS84_A_M / sqrt(1 - WGS84_E2 * sin_here * sin_here);
    *lon_deg = NET_LON_DEG +
               td_deg_from_rad(point->x_m / (normal_m * cos(td_rad_from_deg(*lat_deg))));
}

double net_road_length_m(const struct net_road *road)
{
    return road->points[road->count - 1].along_m;
}

/* Index of the piece that holds along_m, by halving. */
static size_t piece_at(const struct net_point *points, size_t count, double along_m)
{
    size_t low = 0, high = count - 1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (points[middle].along_m <= along_m)
            low = middle;
        else
            high = middle;
    }
    return low;
}

struct net_point net_road_at(const struct net_road *road, double along_m)
{
    double at_m = fmax(0, fmin(net_road_length_m(road), along_m));
    const struct net_point *a = &road->points[piece_at(road->points, road->count, at_m)];
    double ratio = (at_m - a[0].along_m) / (a[1].along_m - a[0].along_m);
    return (struct net_point){a[0].x_m + ratio * (a[1].x_m - a[0].x_m),
                              a[0].y_m + ratio * (a[1].y_m - a[0].y_m),
                              a[0].z_m + ratio * (a[1].z_m - a[0].z_m), at_m};
}

double net_path_length_m(const struct net_path *path)
{
    double length_m = 0;
    for (size_t i = 0; i < path->count; i++)
        length_m += fabs(path->pieces[i].to_m - path->pieces[i].from_m);
    return length_m;
}

size_t net_path_piece(const struct net_path *path, double path_m, double *road_m)
{
    size_t i = 0;
    double length_m = fabs(path->pieces[0].to_m - path->pieces[0].from_m);
    while (path_m > length_m && i + 1 < path->count) {
        path_m -= length_m;
        i++;
        length_m = fabs(path->pieces[i].to_m - path->pieces[i].from_m);
    }
    const struct net_piece *piece = &path->pieces[i];
    *road_m = piece->from_m + (piece->to_m > piece->from_m ? path_m : -path_m);
    return i;
}

void net_path_line(const struct net *net, const struct net_path *path, struct net_line *line)
{
    double length_m = net_path_length_m(path);
    line->count = 0;
    /* Half the roads' own spacing, so that hairpins stay round. */
    size_t count = (size_t)(length_m / (NET_SPACING_M / 2)) + 1;
    count = count < NET_LINE_MAX ? count : NET_LINE_MAX;
    for (size_t i = 0; i < count; i++) {
        double at_m = length_m * (double)i / (double)(count - 1), road_m;
        size_t piece = net_path_piece(path, at_m, &road_m);
        struct net_point point = net_road_at(&net->roads[path->pieces[piece].road], road_m);
        const struct net_point *last = &line->points[line->count > 0 ? line->count - 1 : 0];
        point.along_m = at_m;
        if (line->count > 0 && hypot(point.x_m - last->x_m, point.y_m - last->y_m) < 0.05)
            continue; /* where pieces meet */
        line->points[line->count++] = point;
    }
}

/* A survey's error: smooth waves of 200 to 3000 m with sigma_m per axis in all. */
struct survey_error {
    double height_m[2][ERROR_WAVES], per_m[2][ERROR_WAVES], phase[2][ERROR_WAVES];
};

static void draw_survey_error(struct survey_error *error, double sigma_m, struct td_rng *rng)
{
    for (int axis = 0; axis < 2; axis++)
        for (int i = 0; i < ERROR_WAVES; i++) {
            error->height_m[axis][i] = sigma_m * sqrt(2.0 / ERROR_WAVES);
            error->per_m[axis][i] = 2 * TD_PI / (200 * exp(td_rng_between(rng, 0, log(15.0))));
            error->phase[axis][i] = td_rng_between(rng, 0, 2 * TD_PI);
        }
}

static double survey_error_m(const struct survey_error *error, int axis, double at_m)
{
    double sum_m = 0;
    for (int i = 0; i < ERROR_WAVES; i++)
        sum_m += error->height_m[axis][i] *
                 sin(error->per_m[axis][i] * at_m + error->phase[axis][i]);
    return sum_m;
}

static void put_places(struct net_hill *hill)
{
    struct td_hill *on_file = &hill->hill;
    double crest_m = on_file->crest_m, grade_m = on_file->foot_m - crest_m;
    struct td_place places[NET_PLACES] = {
        {.kind = TD_PLACE_BRAKE_CHECK, .at_m = fmax(0, crest_m - 600), .side = TD_SIDE_RIGHT},
        {.kind = TD_PLACE_TRUCK_SPEED, .has = TD_PLACE_SPEED, .at_m = crest_m,
         .speed_mps = 25 * TD_MPS_PER_MPH},
        {.kind = TD_PLACE_ESCAPE_LANE, .at_m = crest_m + 0.45 * grade_m, .side = TD_SIDE_RIGHT},
        {.kind = TD_PLACE_ESCAPE_LANE, .at_m = crest_m + 0.8 * grade_m, .side = TD_SIDE_RIGHT},
        {.kind = TD_PLACE_STOP, .at_m = on_file->length_m - 10},
    };
    for (size_t i = 0; i < NET_PLACES; i++)
        places[i].material = places[i].say = places[i].name = "";
    memcpy(hill->places, places, sizeof places);
    on_file->places = hill->places;
    on_file->place_count = on_file->coached ? NET_PLACES : 0;
}

/* Three surveys of four say how well their line is known, none better than by a quarter. Drawn
 * apart, so that nets stay what they were. */
static double told_survey_sigma_m(const struct net *net, double sigma_m)
{
    struct td_rng rng;
    td_rng_seed(&rng, net->seed * TD_HILL_SLOTS + net->hill_count, 0x73757276U);
    if (td_rng_below(&rng, 4) == 0)
        return 0;
    return sigma_m * exp(td_rng_between(&rng, -log(4.0 / 3.0), log(4.0 / 3.0)));
}

static void put_on_file(struct net *net, const struct net_path *path, struct td_rng *rng)
{
    static _Thread_local struct net_line line;
    if (net->hill_count == TD_HILL_SLOTS || net_path_length_m(path) < 800)
        return;
    struct net_hill *hill = &net->hills[net->hill_count];
    struct survey_error error;
    struct td_problem problem;
    memset(&hill->hill, 0, sizeof hill->hill);
    hill->path = *path;
    hill->survey_sigma_m = td_rng_between(rng, 1, 5);
    draw_survey_error(&error, hill->survey_sigma_m, rng);
    net_path_line(net, path, &line);
    size_t every = 2, count = 0;
    while (line.count / every >= NET_STATIONS_MAX)
        every++;
    for (size_t i = 0; i < line.count && count < NET_STATIONS_MAX; i += every) {
        struct net_point point = line.points[i];
        point.x_m += survey_error_m(&error, 0, point.along_m);
        point.y_m += survey_error_m(&error, 1, point.along_m);
        hill->x_m[count] = point.x_m;
        hill->y_m[count] = point.y_m;
        hill->path_m[count] = point.along_m;
        struct td_station *station = &hill->stations[count++];
        net_place(&point, &station->lat_deg, &station->lon_deg);
        station->elevation_m = point.z_m;
    }
    (void)snprintf(hill->id, sizeof hill->id, "net-%zu", net->hill_count);
    hill->hill.id = hill->hill.name = hill->id;
    hill->hill.stations = hill->stations;
    hill->hill.station_count = count;
    if (td_hill_derive(&hill->hill, hill->stations, &problem) != TD_OK) {
        fprintf(stderr, "net %llu, hill %zu: %s\n", (unsigned long long)net->seed,
                net->hill_count, problem.text);
        abort();
    }
    hill->hill.position_sigma_m = told_survey_sigma_m(net, hill->survey_sigma_m);
    put_places(hill);
    net->hill_count++;
}

static struct net_path one_piece(int road, double from_m, double to_m)
{
    return (struct net_path){1, {{road, from_m, to_m}}};
}

static void then(struct net_path *path, int road, double from_m, double to_m)
{
    if (fabs(to_m - from_m) > 1)
        path->pieces[path->count++] = (struct net_piece){road, from_m, to_m};
}

void net_draw_hills(struct net *net, struct td_rng *rng)
{
    double end_m = net_road_length_m(&net->roads[0]);
    net->hill_count = 0;
    struct net_path path = one_piece(0, net->lead_m, end_m);
    put_on_file(net, &path, rng);
    for (int i = 1; i < (int)net->road_count; i++) {
        const struct net_road *road = &net->roads[i];
        double length_m = net_road_length_m(road);
        bool chosen = td_rng_below(rng, 10) < 4;
        if (road->kind == NET_NEXT) {
            path = one_piece(0, end_m - 900, end_m);
            then(&path, i, 0, length_m);
            put_on_file(net, &path, rng);
        } else if (road->kind == NET_FORK && chosen) {
            path = one_piece(0, fmax(net->lead_m, road->from_m - 2000), road->from_m);
            then(&path, i, 0, length_m);
            put_on_file(net, &path, rng);
        } else if ((road->kind == NET_PARALLEL || road->kind == NET_CROSSING) && chosen) {
            path = one_piece(i, 0, length_m);
            put_on_file(net, &path, rng);
        }
    }
    if (td_rng_below(rng, 3) == 0) { /* the same road is a grade the other way */
        path = one_piece(0, fmin(end_m, net->crest_m + 2000), 0);
        put_on_file(net, &path, rng);
    }
}

static void add_route(struct net *net, const struct net_path *path, enum net_kind kind, bool up)
{
    if (net->route_count == NET_ROUTES_MAX || net_path_length_m(path) < 300)
        return;
    net->routes[net->route_count++] = (struct net_route){*path, kind, up};
}

static void route_over(struct net *net, int i)
{
    const struct net_road *road = &net->roads[i];
    double length_m = net_road_length_m(road), end_m = net_road_length_m(&net->roads[0]);
    struct net_path path = one_piece(i, 0, length_m), back = one_piece(i, length_m, 0);
    bool leaves = road->kind == NET_FRONTAGE || road->kind == NET_EXIT || road->kind == NET_FORK;
    bool joins = road->kind == NET_FRONTAGE || road->kind == NET_ENTRY || road->kind == NET_JOIN;
    if (leaves) {
        path = one_piece(0, fmax(0, road->from_m - 3000), road->from_m);
        then(&path, i, 0, length_m);
    }
    if (joins)
        then(&path, 0, road->to_m, end_m);
    if (road->kind == NET_NEXT) {
        path = one_piece(0, fmax(0, end_m - 4000), end_m);
        then(&path, i, 0, length_m);
    }
    add_route(net, &path, road->kind, false);
    if (!leaves && !joins && road->kind != NET_NEXT)
        add_route(net, &back, road->kind, false);
    if (road->kind == NET_CROSSING) { /* turning onto the grade, and off it */
        path = one_piece(i, 0, road->aside_m);
        then(&path, 0, road->from_m, end_m);
        add_route(net, &path, NET_JOIN, false);
        path = one_piece(0, fmax(0, road->from_m - 2500), road->from_m);
        then(&path, i, road->aside_m, length_m);
        add_route(net, &path, NET_FORK, false);
    }
}

void net_draw_routes(struct net *net, struct td_rng *rng)
{
    double end_m = net_road_length_m(&net->roads[0]);
    net->route_count = 0;
    struct net_path path = one_piece(0, 0, end_m);
    add_route(net, &path, NET_MAIN, false);
    path = one_piece(0, td_rng_between(rng, 0, net->crest_m), end_m);
    add_route(net, &path, NET_MAIN, false);
    path = one_piece(0, td_rng_between(rng, net->crest_m, net->foot_m), end_m);
    add_route(net, &path, NET_MAIN, false);
    path = one_piece(0, end_m, 0);
    add_route(net, &path, NET_MAIN, true);
    for (int i = 1; i < (int)net->road_count; i++)
        route_over(net, i);
}

void net_draw(struct net *net, uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x726f6164U);
    net->seed = seed;
    net_draw_roads(net, &rng);
    net_draw_hills(net, &rng);
    net_draw_routes(net, &rng);
}

double net_hill_path_m(const struct net_hill *hill, int road, double road_m, int direction)
{
    double before_m = 0;
    for (size_t i = 0; i < hill->path.count; i++) {
        const struct net_piece *piece = &hill->path.pieces[i];
        int way = piece->to_m > piece->from_m ? 1 : -1;
        double into_m = way * (road_m - piece->from_m);
        double length_m = way * (piece->to_m - piece->from_m);
        if (piece->road == road && way == direction && into_m >= 0 && into_m <= length_m)
            return before_m + into_m;
        before_m += length_m;
    }
    return -1;
}

static struct td_foot_point foot_on(const struct net_hill *hill, size_t i, double x_m, double y_m)
{
    return td_geo_project((struct td_point){hill->x_m[i], hill->y_m[i]},
                          (struct td_point){hill->x_m[i + 1], hill->y_m[i + 1]},
                          (struct td_point){x_m, y_m});
}

double net_hill_along_m(const struct net_hill *hill, double path_m, double x_m, double y_m)
{
    enum { AROUND_M = 40 };
    size_t low = 0, high = hill->hill.station_count - 1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        *(hill->path_m[middle] <= path_m ? &low : &high) = middle;
    }
    while (low > 0 && hill->path_m[low] > path_m - AROUND_M)
        low--;
    double nearest_m = HUGE_VAL, along_m = 0;
    for (size_t i = low; i + 1 < hill->hill.station_count && hill->path_m[i] < path_m + AROUND_M;
         i++) {
        struct td_foot_point foot = foot_on(hill, i, x_m, y_m);
        if (foot.distance_m < nearest_m) {
            const struct td_station *a = &hill->stations[i];
            nearest_m = foot.distance_m;
            along_m = a[0].along_m + foot.ratio * (a[1].along_m - a[0].along_m);
        }
    }
    return along_m;
}

double net_hill_distance_m(const struct net_hill *hill, double x_m, double y_m, double heading_rad)
{
    double nearest_m = HUGE_VAL, east = cos(heading_rad), north = sin(heading_rad);
    for (size_t i = 0; i + 1 < hill->hill.station_count; i++) {
        double dx = hill->x_m[i + 1] - hill->x_m[i], dy = hill->y_m[i + 1] - hill->y_m[i];
        if (dx * east + dy * north > 0.707 * hypot(dx, dy))
            nearest_m = fmin(nearest_m, foot_on(hill, i, x_m, y_m).distance_m);
    }
    return nearest_m;
}

double net_neighbour_m(const struct net *net, int road, const struct net_point *at,
                       double heading_rad)
{
    double nearest_m = HUGE_VAL, east = cos(heading_rad), north = sin(heading_rad);
    for (int r = 0; r < (int)net->road_count; r++) {
        const struct net_road *other = &net->roads[r];
        for (size_t i = 0; r != road && i + 1 < other->count; i++) {
            const struct net_point *a = &other->points[i];
            double away_m = hypot(a[0].x_m - at->x_m, a[0].y_m - at->y_m);
            double dx = a[1].x_m - a[0].x_m, dy = a[1].y_m - a[0].y_m;
            if (away_m < nearest_m && fabs(dx * east + dy * north) > 0.866 * hypot(dx, dy))
                nearest_m = away_m;
        }
    }
    return nearest_m;
}

const char *net_kind_name(enum net_kind kind)
{
    static const char *const names[NET_KINDS] = {"main",  "parallel", "frontage", "exit", "entry",
                                                 "stacked", "fork", "join", "crossing", "next"};
    return names[kind];
}
