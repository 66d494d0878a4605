/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The truck's motion: as the receiver tells it, and where it tells none, from places passed. */
#include <math.h>

#include "locate_parts.h"
#include "talkdown/units.h"

#define WALKING_MPS       1.5
#define CRAWL_ENDS_MPS    2.5   /* well above, lest a speed in between switch to and fro */
#define COURSE_SPEED_MPS  2.0   /* below it a receiver's course is noise */
#define STILL_MPS         0.3
#define PACE_S            1.0
#define ANCHOR_M          12.0
#define ANCHOR_AGE_S      15.0
#define CRAWL_LEAST_M     12.0
#define CRAWL_SIGMAS      4.0
#define HEIGHT_STEP_M     12.0  /* more at once is a fault of the receiver */
#define STEEPEST          0.3
#define STRAIGHT_EVERY_S   0.9
#define STRAIGHT_GAP_S     6.0
#define STRAIGHT_SPEED_MPS 3.0
#define STRAIGHT_OFF_M     0.2  /* the grid of coordinates; a driven second differs by more */

static double seconds(int64_t from_ns, int64_t to_ns) { return td_s_from_ns(to_ns - from_ns); }

static double from_anchor_m(const struct td_anchor *anchor, const struct td_fix *fix)
{
    return td_geo_distance_m(anchor->lat_deg, anchor->lon_deg, fix->lat_deg, fix->lon_deg);
}

void td_locate_forget_places(struct td_locator *locator)
{
    locator->anchors[0].set = locator->anchors[1].set = locator->pace.set = false;
    locator->crawl.set = false;
    locator->straight.count = 0;
}

static struct td_anchor anchor_here(const struct td_locator *locator, const struct td_fix *fix,
                                    int64_t place_ns)
{
    return (struct td_anchor){true, fix->lat_deg, fix->lon_deg, locator->odometer_m, place_ns};
}

static void move_anchors(struct td_locator *locator, const struct td_fix *fix, int64_t place_ns)
{
    struct td_anchor *anchors = locator->anchors;
    if (anchors[1].set && from_anchor_m(&anchors[1], fix) < ANCHOR_M &&
        seconds(anchors[1].at_ns, place_ns) < ANCHOR_AGE_S)
        return;
    anchors[0] = anchors[1];
    anchors[1] = anchor_here(locator, fix, place_ns);
}

/* Course from places passed, for receivers that tell none. */
static void course_from_anchors(const struct td_locator *locator, const struct td_fix *fix,
                                int64_t place_ns, struct td_motion *motion)
{
    const struct td_anchor *from = &locator->anchors[locator->anchors[0].set ? 0 : 1];
    double age_s = seconds(from->at_ns, place_ns);
    if (!from->set || age_s > ANCHOR_AGE_S || age_s <= 0.0)
        return;
    double chord = from_anchor_m(from, fix);
    if (chord < ANCHOR_M / 2.0 || chord / age_s < WALKING_MPS)
        return;
    motion->has_heading = true;
    motion->heading_deg =
        td_geo_bearing_deg(from->lat_deg, from->lon_deg, fix->lat_deg, fix->lon_deg);
    motion->chord_m = fmax(chord, locator->odometer_m - from->odometer_m);
}

/* Speed from places at least a second apart: over less the receiver's noise is all there is. */
static void speed_from_places(struct td_locator *locator, const struct td_fix *fix,
                              int64_t place_ns, struct td_motion *motion)
{
    struct td_anchor *pace = &locator->pace;
    double age_s = seconds(pace->at_ns, place_ns);
    if (pace->set && age_s < PACE_S)
        return;
    if (pace->set && age_s < ANCHOR_AGE_S) {
        double moved_m = from_anchor_m(pace, fix);
        double speed = fmin(70.0, moved_m / age_s);
        double share = motion->speed_mps < 0.0 ? 1.0 : age_s / (age_s + 2.0);
        motion->speed_mps += (speed - motion->speed_mps) * share;
        motion->travelled_m = fmin(moved_m, motion->speed_mps * age_s);
    }
    *pace = anchor_here(locator, fix, place_ns);
}

/* The way made at a crawl, in steps that the receiver's error cannot fake. */
static double crawled_m(struct td_locator *locator, const struct td_fix *fix, int64_t place_ns,
                        const struct td_motion *motion)
{
    struct td_anchor *crawl = &locator->crawl;
    if (!crawl->set)
        *crawl = anchor_here(locator, fix, place_ns);
    if (motion->speed_told && motion->speed_mps < STILL_MPS)
        return 0.0;
    double moved_m = from_anchor_m(crawl, fix);
    if (moved_m < fmax(CRAWL_LEAST_M, CRAWL_SIGMAS * locator->sigma_m))
        return 0.0;
    *crawl = anchor_here(locator, fix, place_ns);
    return moved_m;
}

static void take_height(const struct td_locator *locator, const struct td_fix *fix,
                        struct td_motion *motion)
{
    const struct td_fix *last = &locator->last;
    motion->has_height = (fix->has & TD_FIX_ALTITUDE) != 0 &&
                         (last->has & TD_FIX_ALTITUDE) != 0 &&
                         fabs(fix->altitude_m - last->altitude_m) <
                             HEIGHT_STEP_M + STEEPEST * motion->travelled_m;
    motion->height_m = motion->has_height ? fix->altitude_m : 0.0;
}

static void watch_straight(struct td_straight *straight, const struct td_fix *fix,
                           int64_t place_ns)
{
    unsigned last = straight->count - 1;
    if (straight->count > 0 && seconds(straight->at_ns[last], place_ns) < STRAIGHT_EVERY_S)
        return;
    if (straight->count > 0 && seconds(straight->at_ns[last], place_ns) > STRAIGHT_GAP_S)
        straight->count = 0;
    if (straight->count == TD_STRAIGHT_MARKS) {
        for (unsigned i = 1; i < TD_STRAIGHT_MARKS; i++) {
            straight->lat_deg[i - 1] = straight->lat_deg[i];
            straight->lon_deg[i - 1] = straight->lon_deg[i];
            straight->at_ns[i - 1] = straight->at_ns[i];
        }
        straight->count--;
    }
    straight->lat_deg[straight->count] = fix->lat_deg;
    straight->lon_deg[straight->count] = fix->lon_deg;
    straight->at_ns[straight->count++] = place_ns;
}

bool td_locate_runs_straight(const struct td_straight *straight)
{
    unsigned last = TD_STRAIGHT_MARKS - 1;
    if (straight->count < TD_STRAIGHT_MARKS)
        return false;
    double over_s = seconds(straight->at_ns[0], straight->at_ns[last]);
    double length_m = td_geo_distance_m(straight->lat_deg[0], straight->lon_deg[0],
                                        straight->lat_deg[last], straight->lon_deg[last]);
    if (length_m < STRAIGHT_SPEED_MPS * over_s)
        return false;
    for (unsigned i = 1; i < last; i++) {
        double ratio = seconds(straight->at_ns[0], straight->at_ns[i]) / over_s;
        double east_deg = td_geo_turn_deg(straight->lon_deg[last] - straight->lon_deg[0]);
        double north_deg = straight->lat_deg[last] - straight->lat_deg[0];
        double lat = straight->lat_deg[0] + ratio * north_deg;
        double lon = straight->lon_deg[0] + ratio * east_deg;
        if (td_geo_distance_m(lat, lon, straight->lat_deg[i], straight->lon_deg[i]) >
            STRAIGHT_OFF_M)
            return false;
    }
    return true;
}

static void take_speed(struct td_locator *locator, const struct td_fix *fix, int64_t place_ns,
                       struct td_motion *motion)
{
    motion->speed_told = (fix->has & TD_FIX_SPEED) != 0;
    if (!motion->speed_told) {
        speed_from_places(locator, fix, place_ns, motion);
        return;
    }
    motion->speed_mps = fix->speed_mps;
    locator->pace.set = false;
    if (locator->last.has == 0)
        return;
    double moved_m = td_geo_distance_m(locator->last.lat_deg, locator->last.lon_deg, fix->lat_deg,
                                       fix->lon_deg);
    double dt_s = fmax(0.0, seconds(locator->believed_ns, place_ns));
    motion->travelled_m = fmin(moved_m, fix->speed_mps * dt_s);
}

struct td_motion td_locate_motion(struct td_locator *locator, const struct td_fix *fix,
                                  int64_t place_ns)
{
    struct td_motion motion = {.speed_mps = locator->motion.speed_mps};
    take_speed(locator, fix, place_ns, &motion);
    if (motion.speed_mps > CRAWL_ENDS_MPS)
        locator->crawl.set = false;
    if (motion.speed_mps < WALKING_MPS || locator->crawl.set)
        motion.travelled_m = crawled_m(locator, fix, place_ns, &motion);
    locator->odometer_m += motion.travelled_m;
    if ((fix->has & TD_FIX_TRACK) != 0 && motion.speed_mps >= COURSE_SPEED_MPS) {
        motion.has_heading = true;
        motion.heading_deg = fix->track_deg;
    } else {
        course_from_anchors(locator, fix, place_ns, &motion);
    }
    move_anchors(locator, fix, place_ns);
    take_height(locator, fix, &motion);
    watch_straight(&locator->straight, fix, place_ns);
    return motion;
}
