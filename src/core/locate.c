/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The locator's step, and which state follows. Fixes are believed or not in locate_trust.c, motion
 * is taken from them in locate_motion.c, hypotheses are weighed in locate_hypothesis.c and chosen
 * from in locate_choose.c. */
#include "talkdown/locate.h"

#include <math.h>
#include <string.h>

#include "locate_hypothesis.h"
#include "locate_parts.h"
#include "talkdown/units.h"

#define STANDING_MPS       0.5
#define WALKING_MPS        1.5
#define SEED_EVERY_M       5.0   /* the whole of each road is searched that often only */
#define NEAR_HILL_M        3000.0
#define WEIGHING_EVIDENCE  1.0
#define NEAR_END_M         100.0
#define REACH_SLACK_M      300.0
#define REACH_RATIO        1.3
#define COASTED_S          5.0
#define STRAIGHT_WATCH_S   8.0
#define TURNED_DEG         10.0
#define HARD_MPS2          1.0   /* few truck drivers brake harder, unless they must */
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
    if (locator->in_force >= 0)
        locator->lost_ns = locator->at_ns;
    bool matters = locator->in_force >= 0 || locator->where == TD_WHERE_LOST ||
                   near_any_hill(locator, slots);
    drop_all(locator);
    td_locate_forget_places(locator);
    locator->mistrust.set = false; /* what comes after the gap stands for itself */
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
        if (hill == NULL || td_hypothesis_is_dead(h, hill))
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

static void mistrust(struct td_locator *locator, bool straight, int64_t since_ns)
{
    struct td_mistrust *mistrust = &locator->mistrust;
    if (!mistrust->set)
        *mistrust = (struct td_mistrust){.lat_deg = locator->last.lat_deg,
                                         .lon_deg = locator->last.lon_deg,
                                         .odometer_m = locator->odometer_m};
    mistrust->set = true;
    mistrust->straight = straight;
    mistrust->course_deg = locator->motion.heading_deg;
    mistrust->since_ns = since_ns;
}

/* The hill in force is given up against evidence. A truck that turns off steers; a receiver that
 * has lost its satellites goes on as before, and so does not know where the truck is. Nor was it
 * known while the place ran on by itself, when that did not end where it should. */
static void give_up(struct td_locator *locator)
{
    bool coasted = locator->where == TD_WHERE_COASTING &&
                   seconds(locator->believed_ns, locator->at_ns) > COASTED_S;
    if (coasted)
        mistrust(locator, false, locator->at_ns);
    locator->given_up_ns = locator->at_ns;
    leave(locator);
}

static bool ran_off_its_end(const struct td_hypothesis *h, const struct td_hill *hill)
{
    return h->along_m > hill->length_m - NEAR_END_M;
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
        bool told = (int)i == locator->in_force;
        bool drives = look->motion->speed_mps > WALKING_MPS && look->motion->travelled_m > 0.0;
        bool ruled_out = drives && td_hypothesis_is_ruled_out(h, look->sigma_m);
        if (in_reach && !ruled_out && !td_hypothesis_is_dead(h, slot->hill))
            continue;
        if (told && h->opposed_m <= 0.0 && !ran_off_its_end(h, slot->hill))
            give_up(locator);
        drop(locator, i);
    }
    if (in_reach && look->motion->has_heading && locator->seeding)
        td_hypotheses_seed(locator, slot->handle, slot->hill, look);
}

/* Whether fixes that were shown to be wrong have not made sense for long enough since. */
static bool is_mistrusted(struct td_locator *locator)
{
    struct td_mistrust *before = &locator->mistrust;
    if (!before->set && locator->given_up_ns != 0 &&
        seconds(locator->given_up_ns, locator->at_ns) < STRAIGHT_WATCH_S &&
        td_locate_runs_straight(&locator->straight))
        mistrust(locator, true, locator->at_ns);
    if (!before->set)
        return false;
    const struct td_motion *motion = &locator->motion;
    bool turned = motion->has_heading && fabs(td_geo_turn_deg(motion->heading_deg -
                                                              before->course_deg)) > TURNED_DEG;
    before->straight = before->straight && !turned;
    double away_m = td_geo_distance_m(before->lat_deg, before->lon_deg, locator->last.lat_deg,
                                      locator->last.lon_deg);
    double driven_m = locator->odometer_m - before->odometer_m;
    if (before->straight || away_m > REACH_SLACK_M + REACH_RATIO * driven_m)
        before->since_ns = locator->believed_ns;
    before->set = seconds(before->since_ns, locator->believed_ns) < TD_LOCATE_MISTRUST_S;
    return before->set;
}

static void decide(struct td_locator *locator, const struct td_hill_slot *slots)
{
    if (locator->in_force >= 0 &&
        (locator->hypotheses[locator->in_force].log_likelihood < 0.0 ||
         td_hypothesis_left_a_lot(locator, slots)))
        give_up(locator);
    int chosen = td_hypotheses_choose(locator, slots);
    if (chosen != locator->in_force) {
        leave(locator);
        locator->in_force = chosen;
    }
    if (chosen >= 0) {
        locator->where = TD_WHERE_ON_HILL;
        locator->mistrust.set = false;
    } else if (is_mistrusted(locator)) {
        locator->where = TD_WHERE_LOST;
    } else {
        locator->where = has_hypotheses(locator, WEIGHING_EVIDENCE) ? TD_WHERE_WEIGHING
                                                                    : TD_WHERE_OFF_FILE;
    }
}

/* Wherever the truck is, it is not where it was thought to be. A truck cannot have gone there, so
 * either place may be the wrong one; and if the first of them has just ended a hill, that may have
 * been wrong too. */
static void start_afresh(struct td_locator *locator, int64_t place_ns)
{
    bool just_ended = locator->given_up_ns != 0 &&
                      seconds(locator->given_up_ns, place_ns) < TD_LOCATE_MISTRUST_S;
    if (locator->in_force >= 0 || locator->where == TD_WHERE_LOST || just_ended)
        mistrust(locator, false, place_ns);
    drop_all(locator);
    td_locate_forget_places(locator);
    locator->last.has = 0;
}

void td_locate_fix(struct td_locator *locator, const struct td_hill_slot slots[TD_HILL_SLOTS],
                   const struct td_fix *fix, int64_t now_ns)
{
    if (now_ns < locator->at_ns)
        now_ns = locator->at_ns;
    td_locate_tick(locator, slots, now_ns);
    /* Lost and found in one step: who asks only after it would never know. */
    if (locator->where == TD_WHERE_LOST && locator->lost_ns == now_ns)
        mistrust(locator, false, now_ns);
    int64_t place_ns = now_ns;
    enum td_trust trust = td_locate_trust(locator, fix, now_ns, &place_ns);
    if (trust == TD_TRUST_NOT)
        return;
    if (trust == TD_TRUST_ELSEWHERE)
        start_afresh(locator, place_ns);
    double gap_s = seconds(locator->believed_ns, place_ns);
    if (locator->last.has != 0 && gap_s > 0.0 && gap_s < INTERVAL_MOST_S + 2.0)
        locator->interval_s += (fmin(INTERVAL_MOST_S, gap_s) - locator->interval_s) * 0.2;
    locator->sigma_m = (fix->has & TD_FIX_SIGMA) != 0
                           ? fmax(TD_LOCATE_SIGMA_LEAST_M, fix->sigma_m)
                           : TD_LOCATE_SIGMA_M;
    double told_m = locator->sigma_m;
    locator->motion = td_locate_motion(locator, fix, place_ns);
    locator->sigma_m *=
        td_locate_claim_ratio(&locator->claim, fix, &locator->motion, told_m, place_ns);
    struct td_look look = {.sigma_m = locator->sigma_m,
                           .dt_s = locator->last.has != 0 ? gap_s : 1.0,
                           .late_s = seconds(place_ns, now_ns),
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
    locator->believed_ns = place_ns;
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
    double since_s = seconds(locator->believed_ns, locator->at_ns);
    located.astray_m = 0.5 * HARD_MPS2 * since_s * since_s;
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
