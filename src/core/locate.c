/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The locator's step: what of a fix may be believed, what the truck's motion is, and which state
 * follows. Hypotheses are weighed in locate_hypothesis.c and chosen from in locate_choose.c. */
#include "talkdown/locate.h"

#include <math.h>
#include <string.h>

#include "locate_hypothesis.h"
#include "talkdown/units.h"

#define WALKING_MPS        1.5
#define COURSE_SPEED_MPS   2.0   /* below it a receiver's course is noise */
#define STANDING_MPS       0.5
#define SEED_EVERY_M       5.0   /* the whole of each road is searched that often only */
#define PACE_S             1.0
#define ANCHOR_M           12.0
#define ANCHOR_AGE_S       15.0
#define JUMP_SLACK_M       25.0
#define JUMP_SPEED_MPS     10.0
#define BRAKING_MPS2       6.0   /* no truck stops harder */
#define JUMP_AGREED        4
#define JUMP_HELD_S        2.0
#define NEAR_HILL_M        3000.0
#define WEIGHING_EVIDENCE  1.0
#define DT_MOST_S          60.0
#define INTERVALS_MISSED   2.2
#define INTERVAL_MOST_S    6.0

static double seconds(int64_t from_ns, int64_t to_ns) { return td_s_from_ns(to_ns - from_ns); }

void td_locator_init(struct td_locator *locator)
{
    memset(locator, 0, sizeof *locator);
    locator->in_force = -1;
    locator->where = TD_WHERE_NO_FIX;
    locator->interval_s = 1.0;
    locator->sigma_m = TD_LOCATE_SIGMA_M;
    locator->motion.speed_mps = -1.0;
}

static void leave(struct td_locator *locator)
{
    if (locator->in_force < 0)
        return;
    const struct td_hypothesis *told = &locator->hypotheses[locator->in_force];
    locator->recent_handle = told->handle;
    locator->recent_along_m = told->along_m;
    locator->recent_ns = locator->at_ns;
    locator->in_force = -1;
}

static void drop(struct td_locator *locator, size_t at)
{
    if ((int)at == locator->in_force)
        leave(locator);
    locator->hypotheses[at].handle = 0;
}

static void drop_all(struct td_locator *locator)
{
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++)
        drop(locator, i);
}

static void forget_places(struct td_locator *locator)
{
    locator->anchors[0].set = locator->anchors[1].set = locator->pace.set = false;
}

static bool has_hypotheses(const struct td_locator *locator, double evidence)
{
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++)
        if (locator->hypotheses[i].handle != 0 && locator->hypotheses[i].direction > 0 &&
            locator->hypotheses[i].log_likelihood > evidence)
            return true;
    return false;
}

static double sigma_now_m(const struct td_locator *locator, const struct td_hypothesis *h,
                          double ahead_s)
{
    struct td_hypothesis then = *h;
    td_hypothesis_run_on(&then, ahead_s);
    return sqrt(then.variance[0] + locator->sigma_m * locator->sigma_m);
}

/* How long without a fix is usual. */
static double patience_s(const struct td_locator *locator)
{
    return fmax(1.5, INTERVALS_MISSED * locator->interval_s);
}

static bool near_any_hill(const struct td_locator *locator, const struct td_hill_slot *slots)
{
    for (size_t i = 0; i < TD_HILL_SLOTS; i++) {
        struct td_frame frame;
        struct td_point point;
        if (slots[i].handle != 0 &&
            td_frame_init(&frame, slots[i].hill->origin_lat_deg, slots[i].hill->origin_lon_deg) &&
            td_frame_point(&frame, locator->last.lat_deg, locator->last.lon_deg, &point) &&
            td_road_is_near(slots[i].hill, point, NEAR_HILL_M))
            return true;
    }
    return false;
}

/* Without a fix for too long. Off file and far from every hill that is no loss worth telling. */
static void lose(struct td_locator *locator, const struct td_hill_slot *slots)
{
    bool matters = locator->in_force >= 0 || locator->where == TD_WHERE_LOST ||
                   near_any_hill(locator, slots);
    drop_all(locator);
    forget_places(locator);
    locator->where = matters ? TD_WHERE_LOST : TD_WHERE_NO_FIX;
}

void td_locate_tick(struct td_locator *locator, const struct td_hill_slot slots[TD_HILL_SLOTS],
                    int64_t now_ns)
{
    if (now_ns <= locator->at_ns)
        return;
    double dt_s = fmin(DT_MOST_S, seconds(locator->at_ns, now_ns));
    locator->at_ns = now_ns;
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        struct td_hypothesis *h = &locator->hypotheses[i];
        if (h->handle == 0)
            continue;
        const struct td_hill *hill = td_slot_hill(slots, h->handle);
        td_hypothesis_run_on(h, dt_s);
        if (hill == NULL || td_hypothesis_is_dead(h, hill, locator->sigma_m))
            drop(locator, i);
    }
    if (locator->last.has == 0 || locator->where == TD_WHERE_LOST ||
        locator->where == TD_WHERE_NO_FIX)
        return;
    double since_s = seconds(locator->believed_ns, now_ns);
    if (locator->in_force < 0) {
        if (locator->where == TD_WHERE_ON_HILL || locator->where == TD_WHERE_COASTING)
            locator->where = TD_WHERE_OFF_FILE; /* ran past its end, or its hill was taken away */
        if (since_s > TD_LOCATE_LOST_S)
            lose(locator, slots);
        return;
    }
    const struct td_hypothesis *told = &locator->hypotheses[locator->in_force];
    if (since_s <= patience_s(locator))
        return;
    locator->where = TD_WHERE_COASTING;
    if (since_s > TD_LOCATE_LOST_S || sigma_now_m(locator, told, 0.0) > TD_LOCATE_LOST_SIGMA_M)
        lose(locator, slots);
}

static double distance_between_m(const struct td_fix *a, const struct td_fix *b)
{
    return td_geo_distance_m(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
}

static bool repeats_position(const struct td_fix *a, const struct td_fix *b)
{
    return a->has != 0 && distance_between_m(a, b) < 1e-4;
}

/* A position that stays while the speed says otherwise, or that stopped as no truck can. */
static bool is_frozen(const struct td_locator *locator, const struct td_fix *fix, int64_t now_ns)
{
    if (!repeats_position(&locator->seen, fix))
        return false;
    double before = locator->motion.speed_mps;
    double since_s = seconds(locator->believed_ns, now_ns);
    if ((fix->has & TD_FIX_SPEED) != 0 && fix->speed_mps > WALKING_MPS)
        return true;
    return before - BRAKING_MPS2 * since_s > WALKING_MPS;
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
static bool jump_is_borne_out(struct td_locator *locator, const struct td_fix *fix, int64_t now_ns)
{
    if (locator->refused_run == 0 ||
        !could_follow(locator, &locator->suspect, fix, seconds(locator->suspect_ns, now_ns))) {
        locator->refused_run = 0;
        locator->suspect_from_ns = now_ns;
    }
    locator->refused_run++;
    locator->suspect = *fix;
    locator->suspect_ns = now_ns;
    return locator->refused_run >= JUMP_AGREED &&
           seconds(locator->suspect_from_ns, now_ns) >= JUMP_HELD_S;
}

static bool is_believed(struct td_locator *locator, const struct td_fix *fix, int64_t now_ns)
{
    bool repeated_time = (fix->has & locator->seen.has & TD_FIX_UTC) != 0 &&
                         fix->utc_ms == locator->seen.utc_ms;
    if (repeated_time)
        return false;
    bool frozen = is_frozen(locator, fix, now_ns);
    locator->frozen_s = frozen ? seconds(locator->believed_ns, now_ns) : 0.0;
    locator->seen = *fix;
    bool too_vague = (fix->has & TD_FIX_SIGMA) != 0 && fix->sigma_m > TD_LOCATE_LOST_SIGMA_M;
    if (frozen || too_vague)
        return false;
    if (locator->last.has == 0 ||
        could_follow(locator, &locator->last, fix, seconds(locator->believed_ns, now_ns))) {
        locator->refused_run = 0;
        return true;
    }
    if (!jump_is_borne_out(locator, fix, now_ns))
        return false;
    locator->refused_run = 0;
    drop_all(locator); /* wherever the truck is, it is not where it was thought to be */
    forget_places(locator);
    locator->last.has = 0;
    return true;
}

static void move_anchors(struct td_locator *locator, const struct td_fix *fix, int64_t now_ns)
{
    struct td_anchor here = {true, fix->lat_deg, fix->lon_deg, locator->odometer_m, now_ns};
    struct td_anchor *anchors = locator->anchors;
    if (anchors[1].set && td_geo_distance_m(anchors[1].lat_deg, anchors[1].lon_deg, fix->lat_deg,
                                            fix->lon_deg) < ANCHOR_M &&
        seconds(anchors[1].at_ns, now_ns) < ANCHOR_AGE_S)
        return;
    anchors[0] = anchors[1];
    anchors[1] = here;
}

/* Course from places passed, for receivers that tell none. */
static void course_from_anchors(const struct td_locator *locator, const struct td_fix *fix,
                                int64_t now_ns, struct td_motion *motion)
{
    const struct td_anchor *from = &locator->anchors[locator->anchors[0].set ? 0 : 1];
    double age_s = seconds(from->at_ns, now_ns);
    if (!from->set || age_s > ANCHOR_AGE_S || age_s <= 0.0)
        return;
    double chord =
        td_geo_distance_m(from->lat_deg, from->lon_deg, fix->lat_deg, fix->lon_deg);
    if (chord < ANCHOR_M / 2.0 || chord / age_s < WALKING_MPS)
        return;
    motion->has_heading = true;
    motion->heading_deg =
        td_geo_bearing_deg(from->lat_deg, from->lon_deg, fix->lat_deg, fix->lon_deg);
    motion->chord_m = fmax(chord, locator->odometer_m - from->odometer_m);
}

/* Speed from places at least a second apart: over less the receiver's noise is all there is. */
static void speed_from_places(struct td_locator *locator, const struct td_fix *fix,
                              int64_t now_ns, struct td_motion *motion)
{
    struct td_anchor *pace = &locator->pace;
    double age_s = seconds(pace->at_ns, now_ns);
    if (pace->set && age_s < PACE_S)
        return;
    if (pace->set && age_s < ANCHOR_AGE_S) {
        double moved_m =
            td_geo_distance_m(pace->lat_deg, pace->lon_deg, fix->lat_deg, fix->lon_deg);
        double speed = fmin(70.0, moved_m / age_s);
        double share = motion->speed_mps < 0.0 ? 1.0 : age_s / (age_s + 2.0);
        motion->speed_mps += (speed - motion->speed_mps) * share;
        motion->travelled_m = fmin(moved_m, motion->speed_mps * age_s);
    }
    struct td_anchor here = {true, fix->lat_deg, fix->lon_deg, locator->odometer_m, now_ns};
    *pace = here;
}

static struct td_motion motion_at(struct td_locator *locator, const struct td_fix *fix,
                                  int64_t now_ns)
{
    struct td_motion motion = {.speed_mps = locator->motion.speed_mps};
    double dt_s = locator->last.has != 0 ? seconds(locator->believed_ns, now_ns) : 0.0;
    motion.speed_told = (fix->has & TD_FIX_SPEED) != 0;
    if (motion.speed_told) {
        motion.speed_mps = fix->speed_mps;
        if (dt_s > 0.0)
            motion.travelled_m =
                fmin(distance_between_m(&locator->last, fix), fix->speed_mps * dt_s);
        locator->pace.set = false;
    } else {
        speed_from_places(locator, fix, now_ns, &motion);
    }
    if (motion.speed_mps < WALKING_MPS)
        motion.travelled_m = 0.0;
    locator->odometer_m += motion.travelled_m;
    if ((fix->has & TD_FIX_TRACK) != 0 && motion.speed_mps >= COURSE_SPEED_MPS) {
        motion.has_heading = true;
        motion.heading_deg = fix->track_deg;
    } else {
        course_from_anchors(locator, fix, now_ns, &motion);
    }
    move_anchors(locator, fix, now_ns);
    return motion;
}

static void look_at_hill(struct td_locator *locator, const struct td_hill_slot *slot,
                         const struct td_fix *fix, struct td_look *look)
{
    struct td_frame frame;
    bool in_reach =
        td_frame_init(&frame, slot->hill->origin_lat_deg, slot->hill->origin_lon_deg) &&
        td_frame_point(&frame, fix->lat_deg, fix->lon_deg, &look->point);
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        struct td_hypothesis *h = &locator->hypotheses[i];
        if (h->handle != slot->handle)
            continue;
        if (in_reach)
            td_hypothesis_weigh(h, slot->hill, look);
        if (!in_reach || td_hypothesis_is_dead(h, slot->hill, look->sigma_m))
            drop(locator, i);
    }
    if (in_reach && look->motion->has_heading && locator->seeding)
        td_hypotheses_seed(locator, slot->handle, slot->hill, look);
}

static void decide(struct td_locator *locator, const struct td_hill_slot *slots)
{
    if (locator->in_force >= 0 && locator->hypotheses[locator->in_force].log_likelihood < 0.0)
        leave(locator);
    int chosen = td_hypotheses_choose(locator, slots);
    if (chosen != locator->in_force) {
        leave(locator);
        locator->in_force = chosen;
    }
    if (chosen >= 0)
        locator->where = TD_WHERE_ON_HILL;
    else
        locator->where = has_hypotheses(locator, WEIGHING_EVIDENCE) ? TD_WHERE_WEIGHING
                                                                    : TD_WHERE_OFF_FILE;
}

void td_locate_fix(struct td_locator *locator, const struct td_hill_slot slots[TD_HILL_SLOTS],
                   const struct td_fix *fix, int64_t now_ns)
{
    if (now_ns < locator->at_ns)
        now_ns = locator->at_ns;
    td_locate_tick(locator, slots, now_ns);
    if (!is_believed(locator, fix, now_ns))
        return;
    double gap_s = seconds(locator->believed_ns, now_ns);
    if (locator->last.has != 0 && gap_s > 0.0 && gap_s < INTERVAL_MOST_S + 2.0)
        locator->interval_s += (fmin(INTERVAL_MOST_S, gap_s) - locator->interval_s) * 0.2;
    locator->sigma_m = (fix->has & TD_FIX_SIGMA) != 0
                           ? fmax(TD_LOCATE_SIGMA_LEAST_M, fix->sigma_m)
                           : TD_LOCATE_SIGMA_M;
    locator->motion = motion_at(locator, fix, now_ns);
    struct td_look look = {.sigma_m = locator->sigma_m,
                           .dt_s = locator->last.has != 0 ? gap_s : 1.0,
                           .standing = locator->motion.speed_mps >= 0.0 &&
                                       locator->motion.speed_mps < STANDING_MPS,
                           .motion = &locator->motion};
    locator->seeding = locator->odometer_m - locator->seeded_m >= SEED_EVERY_M;
    if (locator->seeding)
        locator->seeded_m = locator->odometer_m;
    for (size_t i = 0; i < TD_HILL_SLOTS; i++)
        if (slots[i].handle != 0)
            look_at_hill(locator, &slots[i], fix, &look);
    locator->last = *fix;
    locator->believed_ns = now_ns;
    decide(locator, slots);
}

void td_locate_forget(struct td_locator *locator, uint32_t handle)
{
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++)
        if (handle != 0 && locator->hypotheses[i].handle == handle)
            drop(locator, i);
    if (locator->in_force < 0 &&
        (locator->where == TD_WHERE_ON_HILL || locator->where == TD_WHERE_COASTING))
        locator->where = TD_WHERE_OFF_FILE;
    if (locator->recent_handle == handle)
        locator->recent_handle = 0; /* the handle may come to name another hill */
}

struct td_located td_located_now(const struct td_locator *locator)
{
    struct td_located located = {.where = locator->where,
                                 .speed_mps = fmax(0.0, locator->motion.speed_mps),
                                 .sigma_m = locator->sigma_m};
    if (locator->in_force < 0)
        return located;
    const struct td_hypothesis *told = &locator->hypotheses[locator->in_force];
    located.handle = told->handle;
    located.along_m = told->along_m;
    located.speed_mps = told->speed_mps;
    located.sigma_m = sigma_now_m(locator, told, 0.0);
    return located;
}

int64_t td_locate_next_ns(const struct td_locator *locator)
{
    if (locator->last.has == 0 || locator->where == TD_WHERE_LOST ||
        locator->where == TD_WHERE_NO_FIX)
        return INT64_MAX;
    double due_s = TD_LOCATE_LOST_S + 0.001;
    if (locator->where == TD_WHERE_ON_HILL)
        due_s = patience_s(locator) + 0.001;
    else if (locator->where == TD_WHERE_COASTING)
        for (double ahead = 0.25; ahead < TD_LOCATE_LOST_S; ahead += 0.25)
            if (sigma_now_m(locator, &locator->hypotheses[locator->in_force], ahead) >
                TD_LOCATE_LOST_SIGMA_M) {
                due_s = fmin(due_s, seconds(locator->believed_ns, locator->at_ns) + ahead);
                break;
            }
    return locator->believed_ns + (int64_t)(due_s * 1e9);
}

const char *td_where_name(enum td_where where)
{
    static const char *const names[] = {"no fix", "off file", "weighing",
                                        "on hill", "coasting", "lost"};
    return (unsigned)where < sizeof names / sizeof names[0] ? names[where] : "unknown";
}
