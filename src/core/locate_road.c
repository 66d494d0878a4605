/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Searching a road: where it comes near a point, and which way it runs there. */
#include <math.h>

#include "hill_shape.h"
#include "locate_hypothesis.h"
#include "talkdown/units.h"

#define FRAME_SHRINK   0.999 /* the frame shortens distances by up to 1.3e-4: leap a little less */
#define HALF_CHORD_M   6.0   /* the road's direction is taken over 12 m: recorded lines wriggle */
#define COURSE_WEIGHT  3.0   /* a leg run against counts as much as 2.4 sigma of distance */
#define CHORD_LEAST_M  4.0   /* ends of a shorter chord say nothing about direction */

static struct td_point station_point(const struct td_station *station)
{
    struct td_point point = {station->x_m, station->y_m};
    return point;
}

static struct td_leg leg_on(const struct td_hill *hill, size_t piece, struct td_point point)
{
    const struct td_station *from = &hill->stations[piece];
    struct td_foot_point foot =
        td_geo_project(station_point(&from[0]), station_point(&from[1]), point);
    struct td_leg leg = {from[0].along_m + foot.ratio * (from[1].along_m - from[0].along_m),
                         foot.distance_m, foot.lateral_m};
    return leg;
}

/* The next piece that can hold a place within reach: from the end of this one the road needs at
 * least the straight distance to come near. */
static size_t next_piece(const struct td_hill *hill, size_t piece, struct td_point point,
                         double reach_m)
{
    const struct td_station *end = &hill->stations[piece + 1];
    double gap_m = hypot(end->x_m - point.x_m, end->y_m - point.y_m) * FRAME_SHRINK - reach_m;
    if (gap_m <= 0.0 || piece + 2 >= hill->station_count)
        return piece + 1;
    double along_m = end->along_m + gap_m;
    if (along_m >= hill->length_m)
        return hill->station_count; /* none */
    size_t next = td_hill_station_at(hill, along_m);
    return next > piece ? next : piece + 1;
}

/* Keeps the nearest legs when there are more than fit. */
static void keep_leg(struct td_leg legs[TD_LEGS_MAX], size_t *count, struct td_leg leg)
{
    size_t slot = *count;
    if (slot == TD_LEGS_MAX) {
        slot = 0;
        for (size_t i = 1; i < TD_LEGS_MAX; i++)
            if (legs[i].distance_m > legs[slot].distance_m)
                slot = i;
        if (legs[slot].distance_m <= leg.distance_m)
            return;
    } else {
        ++*count;
    }
    legs[slot] = leg;
}

size_t td_road_legs(const struct td_hill *hill, struct td_point point, double reach_m,
                    struct td_leg legs[TD_LEGS_MAX])
{
    size_t count = 0;
    bool held = false, falling = false; /* a place not yet known to be the nearest hereabouts */
    struct td_leg best = {0};
    size_t before = 0;
    for (size_t i = 0; i + 1 < hill->station_count; i = next_piece(hill, i, point, reach_m)) {
        struct td_leg leg = leg_on(hill, i, point);
        bool near = leg.distance_m <= reach_m;
        if (held && (!near || i != before + 1 || leg.distance_m > best.distance_m)) {
            if (falling)
                keep_leg(legs, &count, best);
            falling = false;
            held = near && i == before + 1; /* climbing away still, until it falls again */
        }
        if (near) {
            if (!held || leg.distance_m < best.distance_m)
                falling = true;
            best = leg;
            held = true;
        }
        before = i;
    }
    if (held && falling)
        keep_leg(legs, &count, best);
    return count;
}

bool td_road_is_near(const struct td_hill *hill, struct td_point point, double reach_m)
{
    for (size_t i = 0; i + 1 < hill->station_count; i = next_piece(hill, i, point, reach_m))
        if (leg_on(hill, i, point).distance_m <= reach_m)
            return true;
    return false;
}

/* The end pieces go on straight, so that a truck past the end is seen to be past it. */
static struct td_leg stretched_leg(const struct td_hill *hill, size_t piece, struct td_point point)
{
    struct td_leg leg = leg_on(hill, piece, point);
    const struct td_station *a = &hill->stations[piece], *b = a + 1;
    bool first = piece == 0 && leg.along_m <= a->along_m;
    bool last = piece + 2 == hill->station_count && leg.along_m >= b->along_m;
    if (!first && !last)
        return leg;
    double beyond = sqrt(fmax(0.0, leg.distance_m * leg.distance_m -
                                       leg.lateral_m * leg.lateral_m));
    leg.along_m += last ? beyond : -beyond;
    leg.distance_m = fabs(leg.lateral_m);
    return leg;
}

/* Cost of a piece that runs otherwise than the truck: 0 along it, twice the weight against it. */
static double course_cost(const struct td_hill *hill, size_t piece,
                          const struct td_expected *expected, double east, double north)
{
    const struct td_station *a = &hill->stations[piece], *b = a + 1;
    double dx = b->x_m - a->x_m, dy = b->y_m - a->y_m;
    double cosine = expected->direction * (dx * east + dy * north) / hypot(dx, dy);
    /* A course over places passed lags behind in a bend. */
    double weight = expected->motion->chord_m > 0.0 ? COURSE_WEIGHT / 2.0 : COURSE_WEIGHT;
    return weight * (1.0 - cosine);
}

struct td_leg td_road_nearest(const struct td_hill *hill, struct td_point point,
                              const struct td_expected *expected)
{
    bool has_course = expected->motion != NULL && expected->motion->has_heading;
    double heading = has_course ? td_rad_from_deg(expected->motion->heading_deg) : 0.0;
    double east = sin(heading), north = cos(heading);
    struct td_leg best = {0};
    double least = HUGE_VAL;
    for (size_t i = td_hill_station_at(hill, expected->along_m - expected->window_m);
         i + 1 < hill->station_count; i++) {
        if (hill->stations[i].along_m > expected->along_m + expected->window_m &&
            least < HUGE_VAL)
            break;
        struct td_leg leg = stretched_leg(hill, i, point);
        double across = leg.distance_m / expected->across_sigma_m;
        double along = (leg.along_m - expected->along_m) / expected->along_sigma_m;
        double cost = across * across + along * along;
        if (has_course && cost < least)
            cost += course_cost(hill, i, expected, east, north);
        if (cost < least) {
            least = cost;
            best = leg;
        }
    }
    return best;
}

/* Course of the chord between two places of the road; false when they are too close. */
static bool chord_course_deg(const struct td_hill *hill, double from_m, double to_m, double *deg)
{
    struct td_point from = td_hill_point_at(hill, from_m), to = td_hill_point_at(hill, to_m);
    double dx = to.x_m - from.x_m, dy = to.y_m - from.y_m;
    if (dx * dx + dy * dy < CHORD_LEAST_M * CHORD_LEAST_M)
        return false;
    *deg = td_deg_from_rad(atan2(dx, dy));
    return true;
}

double td_road_course_off_deg(const struct td_hill *hill, double along_m, int direction,
                              double slack_m, const struct td_motion *motion)
{
    static const double steps[] = {0.0, -0.5, 0.5, -1.0, 1.0};
    double back_m = motion->chord_m > 0.0 ? motion->chord_m : HALF_CHORD_M;
    double ahead_m = motion->chord_m > 0.0 ? 0.0 : HALF_CHORD_M;
    double least = 180.0;
    bool known = false;
    along_m = fmin(hill->length_m, fmax(0.0, along_m));
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        double at = along_m + steps[i] * slack_m, course;
        if (!chord_course_deg(hill, at - direction * back_m, at + direction * ahead_m, &course))
            continue;
        known = true;
        least = fmin(least, fabs(td_geo_turn_deg(course - motion->heading_deg)));
    }
    return known ? least : 0.0;
}
