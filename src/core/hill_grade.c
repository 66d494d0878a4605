/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the descent is: smoothed grade, the warrant that makes a downgrade worth words, crest,
 * foot, steepest 300 m, false bottoms.
 *
 * A truck gains by itself from about 2 %: GSRS with HP_B = 0 gives 1.7 to 2.4 % for 80,000 lb at 30
 * to 55 mph (FHWA/RD-81/185 and FHWA-IP-88-015, constants from memory). The blur of the smoothing
 * puts the crest of an abrupt 7 % grade some 35 m early and its foot as much late: to the safe
 * side. */
#include <math.h>

#include "hill_shape.h"
#include "talkdown/units.h"

#define GAINS_RATIO      0.02
#define STEP_M           10.0
#define MERGE_GAP_M      100.0 /* a shorter easing is noise or not worth a word */
#define SEGMENT_LEAST_M  100.0
#define JOIN_GAP_M       500.0 /* a downgrade so close before the warranted one belongs to it */
/* One that follows within about two miles is no bottom: "Grade ends." was said with four miles of 4
 * to 5 % to come, none of them warranted by itself. Nor is one above no part of it. At road speed
 * two miles cool brakes by a tenth, by the published cooling. Figures ours. */
#define NEAR_GAP_M       3200.0
#define NEAR_RATIO       0.04
#define NEAR_LEAST_M     400.0
#define EASING_LEAST_M   150.0
#define STEEPEST_M       300.0
#define WARRANT_SLACK    0.0025 /* what the smoothing takes from a short grade */

/* Downgrade and length from which a hill sign is warranted: MUTCD 11th edition, section 2C.14. The
 * last pair is ours: at 80,000 lb the reference model of 1989 limits 4 % grades below highway speed
 * from about four miles (computed, not published). */
static const struct {
    double downgrade_ratio, length_m;
} warrants[] = {
    {0.09, 500.0 * TD_M_PER_FT},  {0.08, 750.0 * TD_M_PER_FT},  {0.07, 1000.0 * TD_M_PER_FT},
    {0.06, 2000.0 * TD_M_PER_FT}, {0.05, 3000.0 * TD_M_PER_FT}, {0.04, 4.0 * TD_M_PER_MI},
};

struct segment {
    double from_m, to_m;
};

enum { SEGMENTS_MAX = 96 };

struct td_smoothed td_hill_smoothed_at(const struct td_hill *hill, double along_m)
{
    double half = fmin(TD_HILL_SMOOTH_HALF_M, hill->length_m / 2.0);
    double centre = fmin(hill->length_m - half, fmax(half, along_m));
    double low = centre - half, high = centre + half;
    double i0 = 0.0, i1 = 0.0, i2 = 0.0; /* integrals of z, tz, t2z with t from the centre */
    for (size_t i = td_hill_station_at(hill, low); i + 1 < hill->station_count; i++) {
        const struct td_station *a = &hill->stations[i], *b = a + 1;
        if (a->along_m >= high)
            break;
        double slope = (b->elevation_m - a->elevation_m) / (b->along_m - a->along_m);
        double z = a->elevation_m + slope * (centre - a->along_m);
        double p = fmax(a->along_m, low) - centre, q = fmin(b->along_m, high) - centre;
        double p2 = p * p, q2 = q * q;
        i0 += z * (q - p) + slope * (q2 - p2) / 2.0;
        i1 += z * (q2 - p2) / 2.0 + slope * (q2 * q - p2 * p) / 3.0;
        i2 += z * (q2 * q - p2 * p) / 3.0 + slope * (q2 * q2 - p2 * p2) / 4.0;
    }
    double h2 = half * half;
    double rise = 1.5 * i1 / (h2 * half);
    struct td_smoothed smoothed = {0.75 * (i0 - i2 / h2) / half + rise * (along_m - centre),
                                   -rise};
    return smoothed;
}

static double step_m(const struct td_hill *hill)
{
    return fmax(STEP_M, hill->length_m / (double)TD_HILL_STATIONS_MAX);
}

static double fall_between(const struct td_hill *hill, double from_m, double to_m)
{
    return td_hill_smoothed_at(hill, from_m).elevation_m -
           td_hill_smoothed_at(hill, to_m).elevation_m;
}

/* The stretch from the first to the last window that a warrant holds for; false when none does. */
static bool find_warranted(const struct td_hill *hill, struct segment *span)
{
    double step = step_m(hill);
    bool any = false;
    for (size_t w = 0; w < sizeof warrants / sizeof warrants[0]; w++) {
        double length = warrants[w].length_m;
        double fall_least = (warrants[w].downgrade_ratio - WARRANT_SLACK) * length;
        for (double from = 0.0; from + length <= hill->length_m; from += step) {
            if (fall_between(hill, from, from + length) < fall_least)
                continue;
            span->from_m = any ? fmin(span->from_m, from) : from;
            span->to_m = any ? fmax(span->to_m, from + length) : from + length;
            any = true;
        }
    }
    return any;
}

/* Adds a downgrade, joined to the one before it across a short gap. */
static void add_segment(struct segment *segments, size_t *count, double from_m, double to_m)
{
    if (*count > 0 &&
        (from_m - segments[*count - 1].to_m < MERGE_GAP_M || *count == SEGMENTS_MAX)) {
        segments[*count - 1].to_m = to_m;
        return;
    }
    if (*count > 0 && segments[*count - 1].to_m - segments[*count - 1].from_m < SEGMENT_LEAST_M)
        --*count; /* too short, and now known to stand alone */
    segments[*count].from_m = from_m;
    segments[*count].to_m = to_m;
    ++*count;
}

/* Every stretch steeper than `ratio` between two places. */
static size_t find_segments(const struct td_hill *hill, double from_m, double to_m, double ratio,
                            struct segment *segments)
{
    double step = step_m(hill);
    size_t count = 0;
    double began = -1.0, at = from_m, before = 0.0;
    for (; at < to_m + step; at += step) {
        double here = fmin(at, to_m);
        double over = td_hill_smoothed_at(hill, here).downgrade_ratio - ratio;
        double cross = at > from_m && fabs(over - before) > 0.0
                           ? here - step * over / (over - before) /* where it met the ratio */
                           : here;
        if (over >= 0.0 && began < 0.0)
            began = fmax(from_m, cross);
        if (over < 0.0 && began >= 0.0) {
            add_segment(segments, &count, began, fmin(to_m, cross));
            began = -1.0;
        }
        before = over;
    }
    if (began >= 0.0)
        add_segment(segments, &count, began, to_m);
    if (count > 0 && segments[count - 1].to_m - segments[count - 1].from_m < SEGMENT_LEAST_M)
        count--;
    return count;
}

/* A downgrade that far from the descent, above or below, belongs to it. Above: brakes that were hot
 * from 3.8 % for miles met a warranted grade that was planned for cool ones. */
static bool belongs(const struct td_hill *hill, double gap_m, const struct segment *other)
{
    double length_m = other->to_m - other->from_m;
    if (gap_m < JOIN_GAP_M)
        return true;
    return gap_m < NEAR_GAP_M && length_m >= NEAR_LEAST_M &&
           fall_between(hill, other->from_m, other->to_m) >=
               (NEAR_RATIO - WARRANT_SLACK) * length_m;
}

/* Crest and foot: the downgrades that meet the warranted span, and those close to them. */
static bool find_ends(struct td_hill *hill, const struct segment *span)
{
    struct segment segments[SEGMENTS_MAX];
    size_t count = find_segments(hill, 0.0, hill->length_m, GAINS_RATIO, segments);
    size_t first = count, last = count;
    for (size_t i = 0; i < count; i++) {
        if (segments[i].to_m <= span->from_m || segments[i].from_m >= span->to_m)
            continue;
        first = first == count ? i : first;
        last = i;
    }
    if (first == count)
        return false;
    while (first > 0 && belongs(hill, segments[first].from_m - segments[first - 1].to_m,
                                &segments[first - 1]))
        first--;
    while (last + 1 < count && belongs(hill, segments[last + 1].from_m - segments[last].to_m,
                                       &segments[last + 1]))
        last++;
    hill->crest_m = segments[first].from_m;
    hill->foot_m = segments[last].to_m;
    return true;
}

static void find_steepest(struct td_hill *hill)
{
    double window = fmin(STEEPEST_M, hill->length_m);
    double step = step_m(hill), most = -HUGE_VAL;
    for (double from = 0.0; from + window <= hill->length_m + step; from += step) {
        double at = fmin(from, hill->length_m - window);
        double fall = fall_between(hill, at, at + window);
        if (fall > most) {
            most = fall;
            hill->steepest_at_m = at;
        }
    }
    hill->steepest_downgrade_ratio = most / window;
}

/* False bottoms: what lies between crest and foot and is no steeper than a truck gains on, or than
 * two fifths of the descent's mean: after 8 %, 3 % looks like the end of it (our judgement). */
static void find_easings(struct td_hill *hill)
{
    struct segment segments[SEGMENTS_MAX];
    double ratio = fmax(GAINS_RATIO, 0.4 * hill->mean_downgrade_ratio);
    size_t count = find_segments(hill, hill->crest_m, hill->foot_m, ratio, segments);
    hill->easing_count = 0;
    for (size_t i = 1; i < count && hill->easing_count < TD_HILL_RUNS_MAX; i++) {
        if (segments[i].from_m - segments[i - 1].to_m < EASING_LEAST_M)
            continue;
        struct td_easing easing = {segments[i - 1].to_m, segments[i].from_m};
        hill->easings[hill->easing_count++] = easing;
    }
}

void td_hill_find_descent(struct td_hill *hill)
{
    struct segment span;
    hill->crest_m = hill->foot_m = 0.0;
    hill->mean_downgrade_ratio = 0.0;
    hill->easing_count = 0;
    find_steepest(hill);
    hill->coached = find_warranted(hill, &span) && find_ends(hill, &span);
    if (!hill->coached)
        return;
    hill->mean_downgrade_ratio =
        fall_between(hill, hill->crest_m, hill->foot_m) / (hill->foot_m - hill->crest_m);
    find_easings(hill);
}
