/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closed-loop drives (closed_loop.h) watched for runaways: what was true of the truck, which no
 * coach can see, and what was called.
 *
 * A runaway in truth: even all that is left of the service brakes, in the gear and stage it has,
 * leaves the truck gaining by 0.2 m/s2 or more (half a mile an hour each second), at ten miles an
 * hour over its ceiling or more, where it falls by 6 % or more, and so for 8 s without a break,
 * with more than 400 m to the foot left after them. It begins with the first of those seconds.
 *
 * Held by nothing is a truck from the later of that second and the one in which a driver of three
 * times the reaction time (7.5 s from the end of the first warning since it was last under its
 * ceiling, or of the word that it should not go down) would have had his foot on the brake: until
 * then a truck with good brakes looks the same. */
#ifndef TD_TESTS_RUNAWAY_DRIVE_H
#define TD_TESTS_RUNAWAY_DRIVE_H

#include "support/closed_loop.h"

#define RUNAWAY_LASTS_S 8.0

enum { RUNAWAY_CALLS_MAX = 8 };

/* A last call that was heard to its end. */
struct runaway_last_call {
    double end_m, at_m;  /* where the speech ended, where the gore is */
    double lead_s;       /* time between, as driven; -1 while it has not come to the gore */
    int64_t end_ns;
};

struct runaway_seen {
    bool ran_away;
    int64_t from_ns; /* when it began */
    int64_t told_ns; /* when the driver had been told, as of the first call; 0 not */
    double downgrade; /* there */
    bool called;
    int64_t called_ns; /* its first word begins */
    double called_m, called_over_mph;
    bool false_call;    /* what is left of the brakes would still slow it as it is called */
    bool blind;         /* three seconds without a fix while it ran away and was not called */
    unsigned closed;    /* calls of a lane that is closed */
    unsigned behind;    /* calls of a lane that lies behind as the words begin */
    unsigned lesser;    /* begun below danger while it was called, notices excepted */
    double pause_most_s; /* longest between two calls that followed each other, last calls apart */
    struct runaway_last_call calls[RUNAWAY_CALLS_MAX];
    unsigned call_count;

    /* Of the drive under way. */
    int64_t held_not_ns; /* since when it runs away, 0 it does not */
    double held_not_downgrade;
    int64_t fix_ns;
    int64_t warned_ns, refused_ns;
    int64_t silent_ns; /* when a danger was last spoken to its end, 0 none to follow */
    double ceiling_mps;
};

#define RUNAWAY_REACTS_S 7.5

/* When it was held by nothing: as above. */
int64_t runaway_free_ns(const struct runaway_seen *seen);

/* Drives one; fills *seen. */
struct loop_outcome runaway_drive(struct loop *loop, uint64_t seed,
                                  const struct loop_choice *choice, struct runaway_seen *seen);

#endif
