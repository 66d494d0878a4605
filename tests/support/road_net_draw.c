/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The roads of a net: a pen that draws curving roads over a smooth random terrain, and roads beside
 * another at a distance that changes along it. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/road_net.h"
#include "talkdown/units.h"

enum { WAVES = 5 };

/* Height of the country: a sum of waves. */
struct terrain {
    double height_m[WAVES], east[WAVES], north[WAVES], phase[WAVES];
};

struct pen {
    double x_m, y_m, heading_rad;
    struct net_road *road;
};

static void draw_terrain(struct terrain *terrain, struct td_rng *rng)
{
    for (int i = 0; i < WAVES; i++) {
        double length_m = td_rng_between(rng, 2500, 12000);
        double toward = td_rng_between(rng, 0, 2 * TD_PI);
        terrain->height_m[i] = length_m * td_rng_between(rng, 0.002, 0.006);
        terrain->east[i] = 2 * TD_PI / length_m * cos(toward);
        terrain->north[i] = 2 * TD_PI / length_m * sin(toward);
        terrain->phase[i] = td_rng_between(rng, 0, 2 * TD_PI);
    }
}

static double terrain_m(const struct terrain *terrain, double x_m, double y_m)
{
    double z_m = 1500;
    for (int i = 0; i < WAVES; i++)
        z_m += terrain->height_m[i] *
               sin(terrain->east[i] * x_m + terrain->north[i] * y_m + terrain->phase[i]);
    return z_m;
}

static struct net_road *new_road(struct net *net, enum net_kind kind)
{
    if (net->road_count == NET_ROADS_MAX)
        abort();
    struct net_road *road = &net->roads[net->road_count++];
    road->kind = kind;
    road->count = 0;
    road->from_m = road->to_m = road->aside_m = 0;
    return road;
}

static void put(struct net_road *road, double x_m, double y_m)
{
    if (road->count == NET_POINTS_MAX)
        return;
    struct net_point *point = &road->points[road->count];
    *point = (struct net_point){.x_m = x_m, .y_m = y_m};
    if (road->count > 0)
        point->along_m =
            point[-1].along_m + hypot(x_m - point[-1].x_m, y_m - point[-1].y_m);
    road->count++;
}

/* A piece of road that turns by turn_rad in all, left positive. */
static void pen_add(struct pen *pen, double length_m, double turn_rad)
{
    int steps = (int)ceil(length_m / NET_SPACING_M);
    /* Hairpins need closer points. */
    int least = (int)ceil(fabs(turn_rad) / 0.35);
    steps = steps < least ? least : steps;
    steps = steps < 1 ? 1 : steps;
    for (int i = 0; i < steps; i++) {
        pen->heading_rad += turn_rad / steps / 2;
        pen->x_m += length_m / steps * cos(pen->heading_rad);
        pen->y_m += length_m / steps * sin(pen->heading_rad);
        pen->heading_rad += turn_rad / steps / 2;
        put(pen->road, pen->x_m, pen->y_m);
    }
}

/* Straights and bends of at least that radius, for a length. */
static void pen_wander(struct pen *pen, struct td_rng *rng, double length_m, double radius_m)
{
    while (length_m > 1) {
        double piece_m = fmin(length_m, td_rng_between(rng, 80, 500));
        double turn = 0;
        if (td_rng_below(rng, 5) >= 2)
            turn = piece_m / (radius_m * exp(td_rng_between(rng, 0, 2))) *
                   (td_rng_below(rng, 2) == 0 ? 1 : -1);
        turn = fmax(-1.6, fmin(1.6, turn));
        pen_add(pen, piece_m, turn);
        length_m -= piece_m;
    }
}

/* Legs that climb back and forth, their bends 12 to 30 m wide. */
static void pen_hairpins(struct pen *pen, struct td_rng *rng)
{
    int legs = 2 + (int)td_rng_below(rng, 5);
    double side = td_rng_below(rng, 2) == 0 ? 1 : -1;
    double radius_m = td_rng_between(rng, 12, 30);
    for (int i = 0; i < legs; i++) {
        pen_add(pen, td_rng_between(rng, 150, 450), td_rng_between(rng, -0.1, 0.1));
        double turn = td_rng_between(rng, 2.85, TD_PI);
        pen_add(pen, radius_m * turn, side * turn);
        side = -side;
    }
}

static double smooth(double ratio)
{
    double r = fmax(0, fmin(1, ratio));
    return r * r * (3 - 2 * r);
}

/* Level or climbing to the crest, down to the foot, level from there. */
static void main_heights(struct net *net, struct td_rng *rng)
{
    struct net_road *road = &net->roads[0];
    double approach = td_rng_below(rng, 3) == 0 ? -0.05 : td_rng_between(rng, -0.015, 0.01);
    double steep = td_rng_between(rng, 0.05, 0.085), beyond = td_rng_between(rng, -0.01, 0.01);
    double z_m = 2000;
    for (size_t i = 0; i < road->count; i++) {
        double along_m = road->points[i].along_m;
        double grade = approach + (steep - approach) * smooth((along_m - net->crest_m) / 120);
        grade += (beyond - steep) * smooth((along_m - net->foot_m) / 120);
        if (i > 0)
            z_m -= grade * (along_m - road->points[i - 1].along_m);
        road->points[i].z_m = z_m;
    }
}

static void draw_main(struct net *net, struct td_rng *rng)
{
    struct net_road *road = new_road(net, NET_MAIN);
    struct pen pen = {.heading_rad = td_rng_between(rng, -TD_PI, TD_PI), .road = road};
    put(road, 0, 0);
    net->lead_m = td_rng_between(rng, 300, 1500);
    double approach_m = td_rng_below(rng, 4) == 0 ? td_rng_between(rng, 300, 2000)
                                                  : td_rng_between(rng, 2050, 4000);
    pen_wander(&pen, rng, net->lead_m + approach_m, 500);
    net->crest_m = road->points[road->count - 1].along_m;
    net->hairpins = td_rng_below(rng, 3) == 0;
    pen_wander(&pen, rng, td_rng_between(rng, 600, 2500), net->hairpins ? 60 : 180);
    if (net->hairpins)
        pen_hairpins(&pen, rng);
    pen_wander(&pen, rng, td_rng_between(rng, 600, 2500), net->hairpins ? 60 : 180);
    net->foot_m = road->points[road->count - 1].along_m;
    pen_wander(&pen, rng, td_rng_between(rng, 1000, 2500), 300);
    main_heights(net, rng);
}

/* Heights over the terrain, joined to the main road's where the road meets it. */
static void terrain_heights(struct net *net, const struct terrain *terrain, struct net_road *road,
                            double meets_m)
{
    struct net_point at = net_road_at(&net->roads[0], meets_m);
    double shift_m = at.z_m - terrain_m(terrain, at.x_m, at.y_m);
    for (size_t i = 0; i < road->count; i++)
        road->points[i].z_m = shift_m + terrain_m(terrain, road->points[i].x_m,
                                                  road->points[i].y_m);
}

/* Distance aside of a road that runs at aside_m from `from` to `to`; its ends lead away 250 m, or
 * onto the main road. */
struct beside {
    double from_m, to_m, aside_m;
    bool leaves, joins; /* on the main road at the begin, at the end */
    double taper_m;
};

static double beside_m(const struct beside *beside, double along_m)
{
    double away_m = beside->aside_m + (beside->aside_m < 0 ? -250 : 250);
    double d = beside->aside_m;
    if (along_m < beside->from_m && !beside->leaves)
        d += (away_m - d) * smooth((beside->from_m - along_m) / 600);
    if (along_m > beside->to_m && !beside->joins)
        d += (away_m - d) * smooth((along_m - beside->to_m) / 600);
    if (beside->leaves)
        d *= smooth((along_m - beside->from_m) / beside->taper_m);
    if (beside->joins)
        d *= smooth((beside->to_m - along_m) / beside->taper_m);
    return d;
}

static void draw_beside(struct net *net, enum net_kind kind, const struct beside *beside,
                        double lower_m)
{
    const struct net_road *whole = &net->roads[0];
    struct net_road *road = new_road(net, kind);
    double begin_m = beside->leaves ? beside->from_m : beside->from_m - 600;
    double end_m = beside->joins ? beside->to_m : beside->to_m + 600;
    begin_m = fmax(0, begin_m);
    end_m = fmin(end_m, net_road_length_m(whole));
    for (double at_m = begin_m; at_m <= end_m; at_m += NET_SPACING_M) {
        struct net_point a = net_road_at(whole, at_m - 5), b = net_road_at(whole, at_m + 5);
        struct net_point mid = net_road_at(whole, at_m);
        double heading = atan2(b.y_m - a.y_m, b.x_m - a.x_m), d = beside_m(beside, at_m);
        double x_m = mid.x_m - d * sin(heading), y_m = mid.y_m + d * cos(heading);
        const struct net_point *last = &road->points[road->count > 0 ? road->count - 1 : 0];
        /* On the inside of a bend the points run backwards: left out. */
        if (road->count > 0 && (x_m - last->x_m) * cos(heading) +
                                       (y_m - last->y_m) * sin(heading) < 1)
            continue;
        put(road, x_m, y_m);
        road->points[road->count - 1].z_m = mid.z_m - lower_m;
    }
    road->from_m = begin_m;
    road->to_m = end_m;
    road->aside_m = beside->aside_m;
}

/* A stretch of the main road without hairpins: the approach, or all of it. */
static void pick_stretch(const struct net *net, struct td_rng *rng, double length_m,
                         struct beside *beside)
{
    double least_m = 100;
    double most_m = net->hairpins ? net->crest_m : net_road_length_m(&net->roads[0]) - 100;
    length_m = fmin(length_m, most_m - least_m - 10);
    beside->from_m = td_rng_between(rng, least_m, most_m - length_m);
    beside->to_m = beside->from_m + length_m;
}

static void draw_one_beside(struct net *net, struct td_rng *rng, enum net_kind kind)
{
    double side = td_rng_below(rng, 2) == 0 ? 1 : -1;
    struct beside beside = {.taper_m = td_rng_between(rng, 120, 300)};
    double lower_m = td_rng_between(rng, -3, 3);
    switch (kind) {
    case NET_PARALLEL:
        pick_stretch(net, rng, td_rng_between(rng, 1500, 5000), &beside);
        beside.aside_m = side * 10 * exp(td_rng_between(rng, 0, log(20.0)));
        break;
    case NET_STACKED:
        pick_stretch(net, rng, td_rng_between(rng, 600, 2500), &beside);
        beside.aside_m = td_rng_between(rng, -8, 8);
        lower_m = 8;
        break;
    default:
        pick_stretch(net, rng, td_rng_between(rng, 500, 2500), &beside);
        beside.aside_m = side * td_rng_between(rng, 15, 80);
        beside.leaves = kind == NET_FRONTAGE || kind == NET_EXIT;
        beside.joins = kind == NET_FRONTAGE || kind == NET_ENTRY;
        break;
    }
    draw_beside(net, kind, &beside, lower_m);
}

static void reverse_points(struct net_road *road)
{
    double length_m = net_road_length_m(road);
    for (size_t i = 0, j = road->count - 1; i < j; i++, j--) {
        struct net_point point = road->points[i];
        road->points[i] = road->points[j];
        road->points[j] = point;
    }
    for (size_t i = 0; i < road->count; i++)
        road->points[i].along_m = length_m - road->points[i].along_m;
}

static struct pen pen_on_main(struct net *net, double at_m, struct net_road *road, double turn)
{
    struct net_point a = net_road_at(&net->roads[0], at_m - 5);
    struct net_point b = net_road_at(&net->roads[0], at_m + 5);
    struct net_point mid = net_road_at(&net->roads[0], at_m);
    struct pen pen = {mid.x_m, mid.y_m, atan2(b.y_m - a.y_m, b.x_m - a.x_m) + turn, road};
    put(road, mid.x_m, mid.y_m);
    road->from_m = road->to_m = at_m;
    return pen;
}

/* A road that leaves at an angle of 3 to 60 degrees, or joins so. */
static void draw_fork(struct net *net, struct td_rng *rng, const struct terrain *terrain,
                      enum net_kind kind)
{
    struct net_road *road = new_road(net, kind);
    double at_m = td_rng_between(rng, net->lead_m + 300, net->foot_m - 200);
    double turn = 0.05 * exp(td_rng_between(rng, 0, 3)) * (td_rng_below(rng, 2) == 0 ? 1 : -1);
    struct pen pen = pen_on_main(net, at_m, road, kind == NET_JOIN ? TD_PI : 0);
    pen_add(&pen, td_rng_between(rng, 40, 200), turn);
    pen_add(&pen, 200, 0);
    pen_wander(&pen, rng, td_rng_between(rng, 2000, 4000), 150);
    terrain_heights(net, terrain, road, at_m);
    if (kind == NET_JOIN)
        reverse_points(road);
}

static void draw_crossing(struct net *net, struct td_rng *rng, const struct terrain *terrain)
{
    struct net_road *road = new_road(net, NET_CROSSING);
    double at_m = td_rng_between(rng, net->lead_m, net->foot_m);
    double turn = td_rng_between(rng, 0.26, 2.9) * (td_rng_below(rng, 2) == 0 ? 1 : -1);
    struct pen pen = pen_on_main(net, at_m, road, turn + TD_PI);
    double before_m = td_rng_between(rng, 1000, 2500);
    pen_add(&pen, 100, 0);
    pen_wander(&pen, rng, before_m, 200);
    reverse_points(road);
    struct net_point last = road->points[road->count - 1];
    struct net_point other = road->points[road->count - 2];
    pen = (struct pen){last.x_m, last.y_m,
                       atan2(last.y_m - other.y_m, last.x_m - other.x_m), road};
    road->aside_m = last.along_m; /* where on this road the two cross */
    pen_add(&pen, 100, 0);
    pen_wander(&pen, rng, td_rng_between(rng, 1500, 3000), 200);
    terrain_heights(net, terrain, road, at_m);
}

static void draw_next(struct net *net, struct td_rng *rng)
{
    double end_m = net_road_length_m(&net->roads[0]);
    struct net_road *road = new_road(net, NET_NEXT);
    struct pen pen = pen_on_main(net, end_m, road, 0);
    double crest_m = td_rng_between(rng, 300, 1500), z_m = net_road_at(&net->roads[0], end_m).z_m;
    pen_wander(&pen, rng, crest_m + td_rng_between(rng, 2000, 3500), 150);
    for (size_t i = 0; i < road->count; i++) {
        if (i > 0)
            z_m -= 0.06 * smooth((road->points[i].along_m - crest_m) / 120) *
                   (road->points[i].along_m - road->points[i - 1].along_m);
        road->points[i].z_m = z_m;
    }
}

void net_draw_roads(struct net *net, struct td_rng *rng)
{
    static const struct {
        enum net_kind kind;
        uint32_t least, more;
    } wanted[] = {{NET_PARALLEL, 1, 3}, {NET_FRONTAGE, 0, 2}, {NET_EXIT, 0, 2}, {NET_ENTRY, 0, 2},
                  {NET_STACKED, 0, 2},  {NET_FORK, 1, 2},     {NET_JOIN, 1, 2},
                  {NET_CROSSING, 1, 3}, {NET_NEXT, 0, 2}};
    struct terrain terrain;
    draw_terrain(&terrain, rng);
    net->road_count = 0;
    draw_main(net, rng);
    bool dense = td_rng_below(rng, 2) == 0; /* else open country */
    for (size_t w = 0; w < sizeof wanted / sizeof *wanted; w++) {
        uint32_t count = wanted[w].least + td_rng_below(rng, wanted[w].more);
        if (!dense)
            count = td_rng_below(rng, 6) == 0;
        for (uint32_t i = 0; i < count; i++) {
            if (wanted[w].kind == NET_FORK || wanted[w].kind == NET_JOIN)
                draw_fork(net, rng, &terrain, wanted[w].kind);
            else if (wanted[w].kind == NET_CROSSING)
                draw_crossing(net, rng, &terrain);
            else if (wanted[w].kind == NET_NEXT)
                draw_next(net, rng);
            else
                draw_one_beside(net, rng, wanted[w].kind);
        }
    }
}
