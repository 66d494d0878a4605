/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which fixes are believed. Receivers repeat a place with new times, jump by kilometres, go on
 * straight where they have lost their satellites, and their lines come late, twice and in another
 * order; all of that was found in recordings. */
#include <math.h>

#include "locate_parts.h"
#include "talkdown/units.h"

/* All of these are ours, tried on the recorded drives and on simulated faults (docs/decisions). */
#define WALKING_MPS       1.5    /* below it receivers tell no speed worth holding against places */
#define JUMP_SLACK_M      25.0   /* two bad looks in opposite directions */
#define JUMP_SPEED_MPS    10.0   /* beyond the speed told: the error wanders too, and more */
#define BRAKING_MPS2      6.0    /* no truck stops harder */
#define USUAL_STOP_MPS2   3.5    /* harder is an emergency or a receiver that gave up */
#define JUMP_AGREED       4      /* fixes that follow from each other bear a jump out */
#define JUMP_HELD_S       2.0    /* over at least so long, whatever the receiver's rate */
#define OLDER_RUN         3      /* so many older stamps in a row: its clock was set back */
#define LATE_MS           300    /* less is how lines come */
#define ANOTHER_CLOCK_MS  60000  /* more is another date, not lateness */
#define SOONER_MOST_MS    200    /* one wrong stamp must not make all later ones look late */
#define FROZEN_S          1.0    /* an impossible stop seen this long lasts until the place moves */
#define STOPPED_DEAD_MPS  3.5    /* from more a truck rolls some metres on before it stands */
/* Made-up motion: one velocity kept to 5 cm/s for four seconds. In some 11,000 recorded fixes none
 * kept it for more than three. */
#define SMOOTH_MPS        0.05
#define SMOOTH_S          3.9
#define SMOOTH_MARKS      4
#define SMOOTH_EVERY_S    0.8    /* faster receivers are looked at about once a second */
#define SMOOTH_GAP_S      10.0   /* after a longer silence it is looked at anew */
#define SMOOTH_SPEED_MPS  3.0    /* slower, places on a grid look smooth */
/* A place that creeps: under three tenths of the way that the speeds told claim over 40 m. */
#define CLAIM_M           40.0
#define CREEP_RATIO       0.3
#define CLAIM_GAP_S       6.0    /* what was driven in a longer silence is not claimed */

static double seconds(int64_t from_ns, int64_t to_ns) { return td_s_from_ns(to_ns - from_ns); }

static double distance_between_m(const struct td_fix *a, const struct td_fix *b)
{
    return td_geo_distance_m(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
}

/* Repeated stamps, and those of fixes that were overtaken, are refused. */
static bool is_in_order(struct td_stamps *stamps, const struct td_fix *fix)
{
    if ((fix->has & TD_FIX_UTC) == 0)
        return true;
    int64_t utc_ms = fix->utc_ms;
    if (stamps->known && utc_ms == stamps->newest_ms)
        return false;
    if (stamps->known && utc_ms < stamps->newest_ms) {
        bool runs_on = stamps->older_run > 0 && utc_ms > stamps->older_ms;
        bool repeats = stamps->older_run > 0 && utc_ms == stamps->older_ms;
        if (!repeats)
            stamps->older_run = runs_on ? stamps->older_run + 1 : 1;
        stamps->older_ms = utc_ms;
        if (repeats || stamps->older_run < OLDER_RUN)
            return false;
    }
    stamps->newest_ms = utc_ms;
    stamps->older_run = 0;
    return true;
}

/* Milliseconds by which a fix came later than fixes of this receiver usually do. */
static int64_t lateness_ms(struct td_stamps *stamps, const struct td_fix *fix, int64_t received_ns)
{
    if ((fix->has & TD_FIX_UTC) == 0)
        return 0;
    int64_t offset_ms = received_ns / TD_NS_PER_MS - fix->utc_ms;
    int64_t excess_ms = offset_ms - stamps->usual_ms;
    bool same_clock = excess_ms > -ANOTHER_CLOCK_MS && excess_ms < ANOTHER_CLOCK_MS;
    bool settled = stamps->late_since_ns != 0 &&
                   seconds(stamps->late_since_ns, received_ns) > TD_LOCATE_LATE_S;
    if (!stamps->known || !same_clock || (settled && excess_ms > LATE_MS)) {
        stamps->known = true;
        stamps->usual_ms = offset_ms;
        stamps->late_since_ns = 0;
        return 0;
    }
    if (excess_ms > LATE_MS) {
        if (stamps->late_since_ns == 0)
            stamps->late_since_ns = received_ns;
        return excess_ms;
    }
    stamps->late_since_ns = 0;
    if (excess_ms > 0)
        stamps->usual_ms++; /* clocks drift */
    else
        stamps->usual_ms += excess_ms > -SOONER_MOST_MS ? excess_ms : -SOONER_MOST_MS;
    return excess_ms > 0 ? excess_ms : 0;
}

/* A position that stays while the speed says otherwise, or that stopped as no truck can. */
static bool is_frozen(struct td_locator *locator, const struct td_fix *fix, int64_t place_ns)
{
    double since_s = seconds(locator->believed_ns, place_ns);
    bool both_told = (fix->has & locator->last.has & TD_FIX_SPEED) != 0;
    if (locator->seen.has == 0 || distance_between_m(&locator->seen, fix) >= 1e-4) {
        bool before = locator->stopped_hard;
        locator->stopped_hard =
            both_told && fix->speed_mps < WALKING_MPS &&
            locator->motion.speed_mps - fix->speed_mps > USUAL_STOP_MPS2 * fmax(1.0, since_s);
        locator->frozen = false;
        /* Its speed would hold the place where the truck is not; one that moves on is true. */
        return locator->stopped_hard && !before;
    }
    bool too_hard = locator->motion.speed_mps - BRAKING_MPS2 * since_s > WALKING_MPS;
    bool dead = (locator->last.has & TD_FIX_SPEED) != 0 &&
                locator->motion.speed_mps > STOPPED_DEAD_MPS;
    if (dead || locator->stopped_hard || (too_hard && since_s >= FROZEN_S))
        locator->frozen = true;
    bool drives = (fix->has & TD_FIX_SPEED) != 0 && fix->speed_mps > WALKING_MPS;
    return locator->frozen || too_hard || drives;
}

/* The way made by the places against the one that the speeds told claim. */
static bool place_creeps(struct td_locator *locator, const struct td_fix *fix, int64_t place_ns)
{
    struct td_pace *claims = &locator->claims;
    double dt_s = seconds(locator->seen_ns, place_ns);
    if ((fix->has & TD_FIX_SPEED) == 0 || fix->speed_mps < WALKING_MPS ||
        locator->seen.has == 0) {
        *claims = (struct td_pace){0};
        return false;
    }
    if (dt_s <= 0.0 || dt_s > CLAIM_GAP_S)
        return claims->creeps;
    claims->claimed_m += fix->speed_mps * dt_s;
    claims->moved_m += distance_between_m(&locator->seen, fix);
    if (claims->claimed_m >= CLAIM_M) {
        claims->creeps = claims->moved_m < CREEP_RATIO * claims->claimed_m;
        claims->claimed_m = claims->moved_m = 0.0;
    }
    return claims->creeps;
}

/* A receiver that has lost its satellites may run on by itself, in a straight line at one speed. */
static bool is_made_up(struct td_smooth *smooth, const struct td_fix *fix, int64_t place_ns)
{
    double dt_s = smooth->set ? seconds(smooth->at_ns, place_ns) : SMOOTH_GAP_S;
    if (dt_s < SMOOTH_EVERY_S)
        return smooth->kept >= SMOOTH_MARKS && seconds(smooth->from_ns, place_ns) > SMOOTH_S;
    bool went_on = smooth->set && dt_s < SMOOTH_GAP_S;
    double moved_m = went_on ? td_geo_distance_m(smooth->lat_deg, smooth->lon_deg, fix->lat_deg,
                                                 fix->lon_deg)
                             : 0.0;
    double course = went_on ? td_rad_from_deg(td_geo_bearing_deg(smooth->lat_deg, smooth->lon_deg,
                                                                 fix->lat_deg, fix->lon_deg))
                            : 0.0;
    double east_mps = moved_m / dt_s * sin(course), north_mps = moved_m / dt_s * cos(course);
    bool kept = went_on && moved_m / dt_s > SMOOTH_SPEED_MPS &&
                hypot(east_mps - smooth->east_mps, north_mps - smooth->north_mps) < SMOOTH_MPS;
    if (!kept) {
        smooth->kept = 0;
        smooth->from_ns = went_on ? smooth->at_ns : place_ns;
        smooth->east_mps = east_mps;
        smooth->north_mps = north_mps;
    } else {
        smooth->kept++;
    }
    smooth->set = true;
    smooth->lat_deg = fix->lat_deg;
    smooth->lon_deg = fix->lon_deg;
    smooth->at_ns = place_ns;
    return smooth->kept >= SMOOTH_MARKS && seconds(smooth->from_ns, place_ns) > SMOOTH_S;
}

static bool could_follow(const struct td_locator *locator, const struct td_fix *from,
                         const struct td_fix *to, double dt_s)
{
    double speed = fmax(0.0, locator->motion.speed_mps);
    if ((to->has & TD_FIX_SPEED) != 0)
        speed = fmax(speed, to->speed_mps);
    else if (locator->motion.speed_mps < 0.0)
        speed = 50.0; /* nothing known yet */
    double slack = fmax(JUMP_SLACK_M, 4.0 * locator->sigma_m);
    return distance_between_m(from, to) < slack + (1.3 * speed + JUMP_SPEED_MPS) * dt_s;
}

/* Whether a fix that does not follow from the last one has been borne out by its successors. */
static bool jump_is_borne_out(struct td_locator *locator, const struct td_fix *fix,
                              int64_t place_ns)
{
    if (locator->refused_run == 0 ||
        !could_follow(locator, &locator->suspect, fix, seconds(locator->suspect_ns, place_ns))) {
        locator->refused_run = 0;
        locator->suspect_from_ns = place_ns;
    }
    locator->refused_run++;
    locator->suspect = *fix;
    locator->suspect_ns = place_ns;
    return locator->refused_run >= JUMP_AGREED &&
           seconds(locator->suspect_from_ns, place_ns) >= JUMP_HELD_S;
}

enum td_trust td_locate_trust(struct td_locator *locator, const struct td_fix *fix,
                              int64_t now_ns, int64_t *place_ns)
{
    int64_t received_ns = fix->received_ns < now_ns ? fix->received_ns : now_ns;
    if (!is_in_order(&locator->stamps, fix))
        return TD_TRUST_NOT;
    int64_t late_ms = lateness_ms(&locator->stamps, fix, received_ns);
    *place_ns = received_ns - late_ms * TD_NS_PER_MS;
    if (seconds(*place_ns, now_ns) > TD_LOCATE_LATE_S)
        return TD_TRUST_NOT;
    if (locator->last.has != 0 && *place_ns <= locator->believed_ns)
        *place_ns = locator->believed_ns + 1;
    bool frozen = is_frozen(locator, fix, *place_ns);
    bool creeps = place_creeps(locator, fix, *place_ns);
    bool made_up = is_made_up(&locator->smooth, fix, *place_ns);
    locator->seen = *fix;
    locator->seen_ns = *place_ns;
    bool too_vague = (fix->has & TD_FIX_SIGMA) != 0 && fix->sigma_m > TD_LOCATE_LOST_SIGMA_M;
    if (made_up && locator->believed_ns > locator->smooth.from_ns)
        locator->believed_ns = locator->smooth.from_ns; /* nor were its first ones true */
    if (frozen || creeps || made_up || too_vague)
        return TD_TRUST_NOT;
    if (locator->last.has == 0 ||
        could_follow(locator, &locator->last, fix, seconds(locator->believed_ns, *place_ns))) {
        locator->refused_run = 0;
        return TD_TRUST_FOLLOWS;
    }
    if (!jump_is_borne_out(locator, fix, *place_ns))
        return TD_TRUST_NOT;
    locator->refused_run = 0;
    return TD_TRUST_ELSEWHERE;
}
