/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A grade that is not on file, seen from the receiver's height alone.
 *
 * Heights are biased by tens of metres and wander by some metres within a minute, so only the fall
 * over a kilometre and more counts, and more of it over a shorter way. Pure, fixed memory. */
#ifndef TD_CORE_COACH_UNFILED_H
#define TD_CORE_COACH_UNFILED_H

#include <stdbool.h>
#include <stdint.h>

/* Heights are kept as means over pieces of road. */
#define TD_UNFILED_PIECE_M 50.0
enum { TD_UNFILED_PIECES = 60 };

struct td_unfiled {
    bool set;          /* the three below are of a fix */
    double told_m;     /* height told last */
    double told_at_m;  /* odometer then */
    int64_t told_ns;
    double piece_m;    /* odometer where the piece under way began */
    int64_t piece_ns;
    double sum_m;      /* heights in it */
    unsigned told;     /* how many */
    double height_m[TD_UNFILED_PIECES]; /* of whole pieces without a gap, newest first */
    unsigned count;
};

/* Forgets the road so far: it is on file, or the position is not known. */
void td_unfiled_restart(struct td_unfiled *unfiled);
/* A believed fix with its height. A gap or a step that no road has begins anew. */
void td_unfiled_fix(struct td_unfiled *unfiled, double odometer_m, double height_m,
                    int64_t now_ns);
/* A descent of more than 4 % for a kilometre lies behind the truck and goes on: at least 4 % and
 * what a receiver's height may be off by (15 m), over 1 to 3 km, and no quarter of it under 2 %. */
bool td_unfiled_grade(const struct td_unfiled *unfiled);

#endif
