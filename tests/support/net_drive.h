/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A truck on a route over a road net, and its receiver: where it truly is at each fix, and on which
 * hills. Speeds are a loaded truck's (assumed): slow on the grade, slowing for bends, with stops.
 * The receiver's error is first-order Gauss-Markov in each axis (src/sim/gnss.h). */
#ifndef TD_TESTS_NET_DRIVE_H
#define TD_TESTS_NET_DRIVE_H

#include "sim/gnss.h"
#include "support/road_net.h"

enum { NET_STOPS_MAX = 3 };

struct net_receiver {
    double sigma_m;  /* true, per axis */
    double claim;    /* what it says over what is true; 0: says nothing */
    double rate_hz;
    double wander_s;
};

struct net_truth {
    double route_m;
    double x_m, y_m, heading_rad, speed_mps;
    int road;
    double road_m;
    int direction; /* along its road */
};

struct net_drive {
    const struct net *net;
    const struct net_route *route;
    struct net_receiver receiver;
    struct net_line line;
    double limit_mps[NET_LINE_MAX]; /* for bends, grade and what comes after */
    struct td_station stations[NET_LINE_MAX]; /* the line, for the receiver */
    struct td_hill as_hill;
    struct td_truck truck;
    struct td_gnss gnss;
    size_t stop_count, stop_next;
    double stop_m[NET_STOPS_MAX], stop_s[NET_STOPS_MAX];
    double standing_s; /* left of the stop it stands at */
    int64_t now_ns;
    /* Of this step. */
    bool has_fix;
    struct td_fix fix;
    struct net_truth truth;
};

/* A receiver as common ones are; sigma_m from the list of the report, 1 to 15 m. */
struct net_receiver net_receiver_draw(struct td_rng *rng);
void net_drive_begin(struct net_drive *drive, const struct net *net,
                     const struct net_route *route, const struct net_receiver *receiver,
                     uint64_t seed);
/* One step of the receiver's period; false at the end of the route. */
bool net_drive_next(struct net_drive *drive);
/* The truth at another place of the route than this step's. */
void net_drive_look(struct net_drive *drive, double route_m);
/* Along hill k on file, where the truck truly is; below 0 when it is not on it. */
double net_drive_along_m(const struct net_drive *drive, size_t k);
/* Distance to the road of hill k as on file where it runs the truck's way, least over the last
 * `over_m` of the route: a turn off it is not apart yet. INFINITY when it runs nowhere so. */
double net_drive_away_m(const struct net_drive *drive, size_t k, double over_m);
/* What is known of the distance between truck and the road of hill k, one sigma: of the receiver,
 * as the locator must take it when it is not told, and of the survey. */
double net_drive_doubt_m(const struct net_drive *drive, size_t k);

#endif
