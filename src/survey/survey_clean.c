/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which recorded points a road is made of. Thresholds are common practice, no source; each stands
 * for what a recording showed. */
#include <math.h>

#include "survey/survey_parts.h"
#include "talkdown/geo.h"
#include "talkdown/text.h"

#define STANDING_MPS     0.7  /* recorded speed of a standing receiver rarely shows more */
#define CREEPING_MPS     0.5  /* from one fix to the next: drift while standing */
#define NEAR_M           3.0  /* closer points add noise to the length and nothing to the line */
#define JUMP_MPS         60.0 /* nothing on a mountain road */
#define JUMPS_MOST       10   /* in a row */
#define SPIKE_LEG_M      15.0
#define SPIKE_DETOUR     2.5
#define HEIGHT_SPIKE_M   10.0 /* off the median of five neighbours */
#define GAP_MOST_M       2000.0

enum { HEIGHT_WINDOW = 5, USED_LEAST = 10 };

static double distance_m(const struct td_survey_point *a, const struct td_survey_point *b)
{
    return td_geo_distance_m(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
}

/* Metres a second between two points; below 0 when their times do not tell. */
static double pace_mps(const struct td_survey_point *a, const struct td_survey_point *b)
{
    if (!a->has_utc || !b->has_utc || a->utc_ms == b->utc_ms)
        return -1;
    return distance_m(a, b) / (fabs((double)(b->utc_ms - a->utc_ms)) * 1e-3);
}

static bool stands(const struct td_fix *fix, const struct td_survey_point *last,
                   const struct td_survey_point *before, const struct td_survey_point *here)
{
    if ((fix->has & TD_FIX_SPEED) != 0 && fix->speed_mps < STANDING_MPS)
        return true;
    double pace = pace_mps(before, here);
    return distance_m(last, here) < NEAR_M || (pace >= 0 && pace < CREEPING_MPS);
}

static struct td_survey_point point_of(const struct td_fix *fix)
{
    return (struct td_survey_point){
        .lat_deg = fix->lat_deg,
        .lon_deg = fix->lon_deg,
        .elevation_m = fix->altitude_m,
        .utc_ms = fix->utc_ms,
        .has_utc = (fix->has & TD_FIX_UTC) != 0,
    };
}

static enum td_result pick(const struct td_fix *fixes, size_t count, bool reverse,
                           struct td_survey_point *points, size_t *used,
                           struct td_survey_report *report, struct td_problem *problem)
{
    const unsigned needed = TD_FIX_POSITION | TD_FIX_ALTITUDE;
    struct td_survey_point before = {0};
    size_t kept = 0, jumps = 0;
    for (size_t k = 0; k < count; k++) {
        const struct td_fix *fix = &fixes[reverse ? count - 1 - k : k];
        if ((fix->has & needed) != needed) {
            report->without_height++;
            continue;
        }
        struct td_survey_point here = point_of(fix);
        if (kept > 0 && pace_mps(&points[kept - 1], &here) > JUMP_MPS) {
            report->outliers++;
            /* The first points may be the false ones. */
            if (++jumps > JUMPS_MOST && kept > JUMPS_MOST / 2)
                return td_survey_wrong(problem, "the track jumps and does not come back; cut it "
                                                "there and survey one part");
            if (jumps <= JUMPS_MOST)
                continue;
            kept = 0;
        }
        jumps = 0;
        bool standing = kept > 0 && stands(fix, &points[kept - 1], &before, &here);
        before = here;
        if (standing)
            report->standing++;
        else
            points[kept++] = here;
    }
    *used = kept;
    return TD_OK;
}

/* A point far to the side of both its neighbours, which lie close together. */
static bool is_spike(const struct td_survey_point *a, const struct td_survey_point *b,
                     const struct td_survey_point *c)
{
    double in_m = distance_m(a, b), out_m = distance_m(b, c);
    return in_m > SPIKE_LEG_M && out_m > SPIKE_LEG_M &&
           in_m + out_m > SPIKE_DETOUR * distance_m(a, c) + SPIKE_LEG_M;
}

static size_t drop_spikes(struct td_survey_point *points, size_t count,
                          struct td_survey_report *report)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        if (kept > 0 && i + 1 < count && is_spike(&points[kept - 1], &points[i], &points[i + 1])) {
            report->outliers++;
            continue;
        }
        points[kept++] = points[i];
    }
    return kept;
}

static double median_of_five(const double values[HEIGHT_WINDOW])
{
    double sorted[HEIGHT_WINDOW];
    for (size_t i = 0; i < HEIGHT_WINDOW; i++) {
        size_t at = i;
        for (; at > 0 && sorted[at - 1] > values[i]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = values[i];
    }
    return sorted[HEIGHT_WINDOW / 2];
}

static void mend_heights(struct td_survey_point *points, size_t count,
                         struct td_survey_report *report)
{
    double window[HEIGHT_WINDOW];
    for (size_t i = 0; i < HEIGHT_WINDOW; i++)
        window[i] = points[i].elevation_m;
    for (size_t i = HEIGHT_WINDOW / 2; i + HEIGHT_WINDOW / 2 < count; i++) {
        double median = median_of_five(window);
        if (fabs(points[i].elevation_m - median) > HEIGHT_SPIKE_M) {
            points[i].elevation_m = median;
            report->height_spikes++;
        }
        size_t next = i + HEIGHT_WINDOW / 2 + 1;
        for (size_t k = 0; k + 1 < HEIGHT_WINDOW; k++)
            window[k] = window[k + 1];
        if (next < count)
            window[HEIGHT_WINDOW - 1] = points[next].elevation_m;
    }
}

enum td_result td_survey_clean(const struct td_fix *fixes, size_t count, bool reverse,
                               struct td_survey_point *points, size_t *used,
                               struct td_survey_report *report, struct td_problem *problem)
{
    enum td_result result = pick(fixes, count, reverse, points, used, report, problem);
    if (result != TD_OK)
        return result;
    *used = drop_spikes(points, *used, report);
    if (*used < USED_LEAST) {
        return td_survey_wrong(problem, report->without_height * 2 > count
                                            ? "the track has no elevation; record it with a "
                                              "receiver that gives height"
                                            : "fewer than 10 points of the track move; record the "
                                              "whole hill");
    }
    mend_heights(points, *used, report);
    for (size_t i = 1; i < *used; i++)
        report->longest_gap_m = fmax(report->longest_gap_m, distance_m(&points[i - 1], &points[i]));
    if (report->longest_gap_m > GAP_MOST_M)
        return td_survey_wrong(problem, "the track has a gap of over 2 km; cut it there and survey "
                                        "one part");
    report->used = *used;
    return TD_OK;
}
