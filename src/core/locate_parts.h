/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside of the locator's step: trust in fixes, and the truck's motion from them. */
#ifndef TD_CORE_LOCATE_PARTS_H
#define TD_CORE_LOCATE_PARTS_H

#include "talkdown/geo.h"
#include "talkdown/locate.h"

enum td_trust {
    TD_TRUST_NOT = 0,
    TD_TRUST_FOLLOWS,   /* from the last one believed */
    TD_TRUST_ELSEWHERE, /* does not, but has been borne out: what was thought before is wrong */
};

/* Whether a fix is believed, and the time of its place. */
enum td_trust td_locate_trust(struct td_locator *locator, const struct td_fix *fix,
                              int64_t now_ns, int64_t *place_ns);

/* Speed, course, height and way made, from a fix believed and those before it. */
struct td_motion td_locate_motion(struct td_locator *locator, const struct td_fix *fix,
                                  int64_t place_ns);
/* By how much the receiver's claim of its error, told_m, is to be multiplied: 1 to 2. */
double td_locate_claim_ratio(struct td_claim *claim, const struct td_fix *fix,
                             const struct td_motion *motion, double told_m, int64_t place_ns);
void td_locate_forget_places(struct td_locator *locator);
/* True when the last places lie on a line, passed at one speed, as hardly any driver passes them
 * and as a receiver makes them up that has lost its satellites. Three stretches of ten seconds
 * in 11,000 look so in recordings: it counts only against a receiver that leaves the road. */
bool td_locate_runs_straight(const struct td_straight *straight);

#endif
