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

static enum td_result pick(struct td_survey_pass *pass, struct td_problem *problem)
{
    const unsigned needed = TD_FIX_POSITION | TD_FIX_ALTITUDE;
    struct td_survey_pass_report *report = &pass->report;
    struct td_survey_point *points = pass->points, before = {0};
    size_t kept = 0, jumps = 0;
    for (size_t k = 0; k < pass->count; k++) {
        const struct td_fix *fix = &pass->fixes[k];
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
    pass->point_count = kept;
    return TD_OK;
}

/* Whoever recorded began and ended somewhere that is nobody's business. */
static void cut_ends(struct td_survey_pass *pass, double cut_m)
{
    size_t first = 0, end = pass->point_count;
    for (double gone_m = 0; first + 1 < end && gone_m < cut_m; first++)
        gone_m += distance_m(&pass->points[first], &pass->points[first + 1]);
    for (double gone_m = 0; end > first + 1 && gone_m < cut_m; end--)
        gone_m += distance_m(&pass->points[end - 2], &pass->points[end - 1]);
    if (cut_m <= 0)
        return;
    for (size_t i = first; i < end; i++)
        pass->points[i - first] = pass->points[i];
    pass->point_count = end - first;
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
                          struct td_survey_pass_report *report)
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
                         struct td_survey_pass_report *report)
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

static enum td_result too_few(const struct td_survey_pass *pass, struct td_problem *problem)
{
    const struct td_survey_pass_report *report = &pass->report;
    if (report->without_height * 2 > pass->count)
        return td_survey_wrong(problem, "the track has no elevation; record it with a receiver "
                                        "that gives height");
    if (report->standing * 2 > pass->count)
        return td_survey_wrong(problem, "the track stands still almost all the time; record the "
                                        "drive over the hill");
    return td_survey_wrong(problem, "fewer than 10 points of the track move; record the whole "
                                    "hill");
}

enum td_result td_survey_clean(struct td_survey_pass *pass, double cut_ends_m,
                               struct td_problem *problem)
{
    pass->report = (struct td_survey_pass_report){.height_noise_m = -1};
    pass->turned = false;
    enum td_result result = pick(pass, problem);
    if (result != TD_OK)
        return result;
    cut_ends(pass, cut_ends_m);
    struct td_survey_pass_report *report = &pass->report;
    struct td_survey_point *points = pass->points;
    pass->point_count = drop_spikes(points, pass->point_count, report);
    if (pass->point_count < USED_LEAST)
        return too_few(pass, problem);
    mend_heights(points, pass->point_count, report);
    for (size_t i = 1; i < pass->point_count; i++)
        report->longest_gap_m = fmax(report->longest_gap_m, distance_m(&points[i - 1], &points[i]));
    if (report->longest_gap_m > GAP_MOST_M)
        return td_survey_wrong(problem, "the track has a gap of over 2 km; cut it there and survey "
                                        "one part");
    report->used = pass->point_count;
    return TD_OK;
}
