/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A truck on a route over a road net, step by step of its receiver. */
#include "support/net_drive.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/geo.h"
#include "talkdown/units.h"

#define START_NS (5 * TD_NS_PER_S)
#define UTC_MS   1700000000000LL
/* Comfort of a loaded truck; assumed. */
#define SLOWS_MPS2  0.7
#define GAINS_MPS2  0.35
#define ACROSS_MPS2 1.5

struct net_receiver net_receiver_draw(struct td_rng *rng)
{
    static const double sigmas[] = {1, 2, 3, 5, 8, 10, 15};
    static const double rates[] = {1, 1, 1, 1, 1, 1, 1, 2, 5, 10};
    static const double claims[] = {1, 1, 1, 0.5, 0};
    return (struct net_receiver){
        .sigma_m = sigmas[td_rng_below(rng, 7)],
        .claim = claims[td_rng_below(rng, 5)],
        .rate_hz = rates[td_rng_below(rng, 10)],
        .wander_s = td_rng_between(rng, 10, 200),
    };
}

static double heading_at(const struct net_line *line, size_t i)
{
    const struct net_point *a = &line->points[i];
    return atan2(a[1].y_m - a[0].y_m, a[1].x_m - a[0].x_m);
}

/* What bends and grade allow, then what must be slowed down for ahead. */
static void limit_speeds(struct net_drive *drive, struct td_rng *rng)
{
    const struct net_line *line = &drive->line;
    double cruise = td_rng_between(rng, 14, 28), crawl = td_rng_between(rng, 7, 16);
    for (size_t i = 0; i < line->count; i++) {
        size_t a = i < 2 ? 0 : i - 2, b = i + 3 < line->count ? i + 2 : line->count - 2;
        double turn = fabs(td_geo_turn_deg(
            td_deg_from_rad(heading_at(line, b) - heading_at(line, a))));
        double over_m = line->points[b].along_m - line->points[a].along_m;
        double radius_m = over_m / fmax(1e-4, td_rad_from_deg(turn));
        double road_m;
        size_t piece = net_path_piece(&drive->route->path, line->points[i].along_m, &road_m);
        bool grade = drive->route->path.pieces[piece].road == 0 &&
                     road_m > drive->net->crest_m && road_m < drive->net->foot_m;
        drive->limit_mps[i] = fmin(grade ? crawl : cruise, sqrt(ACROSS_MPS2 * radius_m));
        drive->limit_mps[i] = fmax(3, drive->limit_mps[i]);
    }
    for (size_t i = line->count - 1; i-- > 0;) {
        double ahead = drive->limit_mps[i + 1];
        double step_m = line->points[i + 1].along_m - line->points[i].along_m;
        drive->limit_mps[i] =
            fmin(drive->limit_mps[i], sqrt(ahead * ahead + 2 * SLOWS_MPS2 * step_m));
    }
}

static void plan_stops(struct net_drive *drive, struct td_rng *rng)
{
    double length_m = drive->line.points[drive->line.count - 1].along_m;
    drive->stop_count = td_rng_below(rng, NET_STOPS_MAX);
    drive->stop_next = 0;
    double at_m = 0;
    for (size_t i = 0; i < drive->stop_count; i++) {
        at_m += td_rng_between(rng, 0.1, 0.5) * length_m;
        drive->stop_m[i] = at_m;
        drive->stop_s[i] = 5 * exp(td_rng_between(rng, 0, 4)); /* 5 s to 4.5 min */
    }
}

static void lay_stations(struct net_drive *drive)
{
    for (size_t i = 0; i < drive->line.count; i++) {
        const struct net_point *point = &drive->line.points[i];
        struct td_station *station = &drive->stations[i];
        *station = (struct td_station){.along_m = point->along_m, .elevation_m = point->z_m};
        net_place(point, &station->lat_deg, &station->lon_deg);
    }
    drive->as_hill.stations = drive->stations;
    drive->as_hill.station_count = drive->line.count;
    drive->as_hill.length_m = drive->line.points[drive->line.count - 1].along_m;
}

void net_drive_begin(struct net_drive *drive, const struct net *net,
                     const struct net_route *route, const struct net_receiver *receiver,
                     uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x64726976U);
    memset(&drive->as_hill, 0, sizeof drive->as_hill);
    memset(&drive->truck, 0, sizeof drive->truck);
    drive->net = net;
    drive->route = route;
    drive->receiver = *receiver;
    net_path_line(net, &route->path, &drive->line);
    limit_speeds(drive, &rng);
    plan_stops(drive, &rng);
    lay_stations(drive);
    struct td_gnss_options options = td_gnss_options_default();
    options.rate_hz = receiver->rate_hz;
    options.sigma_m = receiver->sigma_m;
    options.wander_s = receiver->wander_s;
    drive->truck.hill = &drive->as_hill;
    drive->truck.speed_mps = drive->limit_mps[0];
    drive->standing_s = 0;
    drive->now_ns = START_NS;
    td_gnss_init(&drive->gnss, &options, seed, START_NS, UTC_MS);
}

static void move(struct net_drive *drive, double dt_s)
{
    struct td_truck *truck = &drive->truck;
    if (drive->standing_s > 0) {
        drive->standing_s -= dt_s;
        truck->speed_mps = 0;
        return;
    }
    size_t i = td_hill_station_at(&drive->as_hill, truck->along_m + 0.5 * truck->speed_mps * dt_s);
    double allowed = drive->limit_mps[i], left_m = HUGE_VAL;
    if (drive->stop_next < drive->stop_count) {
        left_m = fmax(0, drive->stop_m[drive->stop_next] - truck->along_m);
        allowed = fmin(allowed, sqrt(2 * SLOWS_MPS2 * left_m) + 0.3);
    }
    double faster = truck->speed_mps + GAINS_MPS2 * dt_s;
    double before = truck->speed_mps;
    truck->speed_mps = fmin(faster, allowed);
    truck->along_m += 0.5 * (before + truck->speed_mps) * dt_s;
    if (left_m < fmax(1, truck->speed_mps * dt_s)) {
        drive->standing_s = drive->stop_s[drive->stop_next++];
        truck->speed_mps = 0;
    }
}

void net_drive_look(struct net_drive *drive, double route_m)
{
    struct net_truth *truth = &drive->truth;
    size_t i = td_hill_station_at(&drive->as_hill, route_m);
    const struct net_point *a = &drive->line.points[i];
    double ratio = (route_m - a[0].along_m) / (a[1].along_m - a[0].along_m);
    truth->route_m = route_m;
    truth->x_m = a[0].x_m + ratio * (a[1].x_m - a[0].x_m);
    truth->y_m = a[0].y_m + ratio * (a[1].y_m - a[0].y_m);
    truth->heading_rad = heading_at(&drive->line, i);
    truth->speed_mps = drive->truck.speed_mps;
    const struct net_path *path = &drive->route->path;
    const struct net_piece *piece =
        &path->pieces[net_path_piece(path, truth->route_m, &truth->road_m)];
    truth->road = piece->road;
    truth->direction = piece->to_m > piece->from_m ? 1 : -1;
}

bool net_drive_next(struct net_drive *drive)
{
    double dt_s = 1 / drive->receiver.rate_hz;
    move(drive, dt_s);
    if (drive->truck.along_m >= drive->as_hill.length_m)
        return false;
    drive->now_ns += (int64_t)(dt_s * (double)TD_NS_PER_S);
    net_drive_look(drive, drive->truck.along_m);
    drive->has_fix = td_gnss_fix(&drive->gnss, &drive->truck, drive->now_ns, &drive->fix);
    if (drive->has_fix) {
        drive->fix.sigma_m = drive->receiver.sigma_m * drive->receiver.claim;
        if (drive->receiver.claim <= 0)
            drive->fix.has &= ~(unsigned)TD_FIX_SIGMA;
    }
    return true;
}

double net_drive_along_m(const struct net_drive *drive, size_t k)
{
    const struct net_truth *truth = &drive->truth;
    const struct net_hill *hill = &drive->net->hills[k];
    double path_m = net_hill_path_m(hill, truth->road, truth->road_m, truth->direction);
    return path_m < 0 ? -1 : net_hill_along_m(hill, path_m, truth->x_m, truth->y_m);
}

double net_drive_away_m(const struct net_drive *drive, size_t k, double over_m)
{
    double least_m = HUGE_VAL;
    for (double back_m = 0; back_m <= over_m; back_m += 10) {
        double at_m = fmax(0, drive->truth.route_m - back_m);
        size_t i = td_hill_station_at(&drive->as_hill, at_m);
        const struct net_point *a = &drive->line.points[i];
        least_m = fmin(least_m, net_hill_distance_m(&drive->net->hills[k], a->x_m, a->y_m,
                                                    heading_at(&drive->line, i)));
    }
    return least_m;
}

double net_drive_doubt_m(const struct net_drive *drive, size_t k)
{
    double sigma_m = drive->receiver.sigma_m;
    if (drive->receiver.claim <= 0)
        sigma_m = fmax(sigma_m, TD_LOCATE_SIGMA_M);
    double line_m = drive->net->hills[k].survey_sigma_m;
    if (drive->net->hills[k].hill.position_sigma_m <= 0)
        line_m = fmax(line_m, TD_LOCATE_LINE_SIGMA_M);
    return hypot(sigma_m, line_m);
}
