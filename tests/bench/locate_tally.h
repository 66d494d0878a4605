/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The locator judged on a road net: errors along the road, how soon a hill is recognised, what was
 * recognised that the truck was not on. Counts and histograms only, so that tallies add up to the
 * same whatever thread made them. */
#ifndef TD_BENCH_LOCATE_TALLY_H
#define TD_BENCH_LOCATE_TALLY_H

#include "support/net_drive.h"

enum { TALLY_BINS = 4001, TALLY_SIGMAS = 7, TALLY_EVENTS_MAX = 400 };

/* Values from 0 in steps of step_m; what is over goes into the last bin. */
struct tally_spread {
    double step;
    uint64_t count, bins[TALLY_BINS];
    double most;
};

enum tally_what {
    TALLY_FALSE_CLEAR = 0, /* recognised, with its road 8 sigma off or more, or across */
    TALLY_FALSE_SURVEY,    /* so by the receiver's sigma alone, not with the survey's */
    TALLY_FALSE_NEAR,      /* recognised, on another road nearer than that, which is not on file */
    TALLY_FALSE_FILED,     /* the same, but the other road is on file too */
    TALLY_HELD,            /* told still, over 150 m driven 8 sigma off the road it left */
    TALLY_WRONG_PLACE,     /* right hill, but elsewhere on it: another leg */
    TALLY_LATE,            /* isolated, long approach; not recognised a mile ahead */
    TALLY_MISSED,          /* over 800 m on a hill, never recognised */
    TALLY_WAITED,          /* the same, another hill on file within 8 sigma most of the way */
    TALLY_GIVEN_UP,        /* no longer told, though the truck is still on that hill's road */
    TALLY_WHATS
};

/* One finding, to be looked at again. */
struct tally_event {
    enum tally_what what;
    uint64_t seed;
    size_t route, hill;
    struct net_receiver receiver;
    double route_m, away_m;
};

struct tally {
    struct tally_spread error[TALLY_SIGMAS][2]; /* honest claims; flattering or none */
    struct tally_spread error_share; /* error over 2 sigma + 2 m, honest claims */
    struct tally_spread cold_m, cold_s, joined_m, joined_s; /* until recognised */
    struct tally_spread held_m; /* driven 8 sigma off the road while still told on it */
    uint64_t nets, drives, fixes, told_fixes;
    uint64_t approaches, approaches_told;       /* 2 km and longer, alone */
    uint64_t shared, shared_told; /* the same, but another hill on file has the road as well */
    uint64_t flattered, flattered_told; /* the same, but the receiver claims half its error */
    uint64_t visits, visits_told;               /* of hill roads, 800 m and longer */
    double driven_m, off_hill_m;
    uint64_t whats[TALLY_WHATS];
    uint64_t near_under_2, near_under_4;        /* FALSE_NEAR by sigmas apart */
    uint64_t near_both;                         /* of them: both roads are on file */
    uint64_t false_kinds[NET_KINDS];
    size_t event_count;
    struct tally_event events[TALLY_EVENTS_MAX];
};

/* Sigmas of the receivers, in order. */
extern const double tally_sigmas_m[TALLY_SIGMAS];

void tally_init(struct tally *tally);
void tally_spread_add(struct tally_spread *spread, double value);
double tally_spread_share(const struct tally_spread *spread, double share);
void tally_merge(struct tally *into, const struct tally *from);

/* Scratch of one thread. */
struct tally_work;
struct tally_work *tally_work_new(void);
/* Of one net looked at by itself. */
struct tally_only {
    long route; /* -1 all */
    bool trace; /* prints every step */
};
/* Draws the net of the seed and drives its routes; `only` NULL: one of many nets. */
void tally_net(struct tally_work *work, struct tally *tally, uint64_t seed,
               const struct tally_only *only);

const char *tally_what_name(enum tally_what what);

#endif
