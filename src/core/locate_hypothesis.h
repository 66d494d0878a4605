/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of locating: roads searched, hypotheses seeded, run on and weighed. */
#ifndef TD_CORE_LOCATE_HYPOTHESIS_H
#define TD_CORE_LOCATE_HYPOTHESIS_H

#include "talkdown/geo.h"
#include "talkdown/locate.h"

enum { TD_LEGS_MAX = 8 };

/* A place of the road near a point. */
struct td_leg {
    double along_m;    /* beyond the last station when `past_end`, before the first likewise */
    double distance_m;
    double lateral_m;  /* left of the way down positive */
};

/* What a fix says in one hill's frame. */
struct td_look {
    struct td_point point;
    double sigma_m; /* per axis */
    double dt_s;    /* since the last believed fix */
    double late_s;  /* how long ago the truck was there */
    bool standing;  /* speed known and under walking pace: hold the place */
    const struct td_motion *motion;
};

/* Every place where the road comes within reach_m of the point and is nearest to it among its
 * neighbours, at most TD_LEGS_MAX of them, nearest kept. Leaps over what cannot be near: a road
 * cannot close a gap faster than it runs. */
size_t td_road_legs(const struct td_hill *hill, struct td_point point, double reach_m,
                    struct td_leg legs[TD_LEGS_MAX]);
/* True when any of the road lies within reach_m. */
bool td_road_is_near(const struct td_hill *hill, struct td_point point, double reach_m);
/* Where a place is looked for, and what speaks for one besides being near. */
struct td_expected {
    double along_m, window_m;
    double along_sigma_m, across_sigma_m;
    int direction;                  /* of travel along the road */
    const struct td_motion *motion; /* NULL: the course does not count */
};
/* The place within the window that fits best: distance, nearness to where it is expected, and the
 * course, which tells the two legs of a hairpin apart. The end pieces go on straight. */
struct td_leg td_road_nearest(const struct td_hill *hill, struct td_point point,
                              const struct td_expected *expected);
/* How far the motion's course is off the road's direction, 0 to 180 degrees, with along_m known to
 * slack_m only. */
double td_road_course_off_deg(const struct td_hill *hill, double along_m, int direction,
                              double slack_m, const struct td_motion *motion);

void td_hypothesis_run_on(struct td_hypothesis *hypothesis, double dt_s);
void td_hypothesis_weigh(struct td_hypothesis *hypothesis, const struct td_hill *hill,
                         const struct td_look *look);
/* One sigma of the distance across the road at which a receiver of sigma_m sees a truck on it. */
double td_across_sigma_m(const struct td_hill *hill, double sigma_m);
/* True when it went against its road, off it, or past its end. */
bool td_hypothesis_is_dead(const struct td_hypothesis *hypothesis, const struct td_hill *hill);
/* True when nothing speaks for it any more. To be asked of a truck that drives: what a receiver
 * tells at a stop or at walking pace rules nothing out. */
bool td_hypothesis_is_ruled_out(const struct td_hypothesis *hypothesis, double sigma_m);
/* True when a hypothesis stands for that place of that road, that way, already. */
bool td_hypothesis_is_thought_of(const struct td_locator *locator,
                                 const struct td_hypothesis *newcomer);
/* Takes up the road's places that fit the look and are not yet thought of. */
void td_hypotheses_seed(struct td_locator *locator, uint32_t handle, const struct td_hill *hill,
                        const struct td_look *look);
/* Takes the height told and the profile's at this distance; evidence of at most 0. */
double td_climb_weigh(struct td_climb *climb, double age_m, double travelled_m, bool has_height,
                      double told_m, double profile_m);
/* True when the road told about climbs or falls otherwise than the truck did. */
bool td_climb_contradicts(const struct td_climb *climb);
/* True when on a grade the heights might be those of a level road beside it. */
bool td_climb_is_doubtful(const struct td_climb *climb);
/* Which hypothesis may be told, -1 none: clear evidence, and no rival it cannot be told from. */
int td_hypotheses_choose(const struct td_locator *locator,
                         const struct td_hill_slot slots[TD_HILL_SLOTS]);
/* True when the last fix does not fit the hill in force, which only waits for the truck to come out
 * of a lot, but fits another road on file that the truck has followed since. */
bool td_hypothesis_left_a_lot(const struct td_locator *locator,
                              const struct td_hill_slot slots[TD_HILL_SLOTS]);
const struct td_hill *td_slot_hill(const struct td_hill_slot slots[TD_HILL_SLOTS],
                                   uint32_t handle);

#endif
