/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The road's heights: what each pass says at each vertex, tunnels and spikes taken out, passes
 * levelled, judged and averaged, holes bridged, and smoothed once more where heights are noisy. */
#include <math.h>
#include <string.h>

#include "survey/survey_parts.h"

/* Windows of smooth_heights that take as much from a bend as all smoothing before did: straight
 * lines over 60 m to either side have a kernel of variance 60^2 / 3, its own is 35/243 of the
 * square of its window (both by integration), and variances add. */
#define SMOOTHED_FINE_M   91.0
#define SMOOTHED_COARSE_M 175.0
#define HEIGHT_MOST_M 500.0
#define GAP_MOST_M    200.0 /* between two points of a pass: it says nothing in between */

enum { FIT_LEAST = 12 };

static void fill_heights(const struct td_survey_pass *pass, struct td_survey_lane *lane,
                         const struct td_station *road, size_t count)
{
    const struct td_survey_point *points = pass->points;
    size_t next = 0, hint = 0;
    for (size_t i = 0; i < count; i++) {
        double at_m = road[i].along_m;
        while (next < pass->point_count && points[next].road_m < at_m)
            next++;
        double before_m = next > 0 ? at_m - points[next - 1].road_m : HUGE_VAL;
        double after_m = next < pass->point_count ? points[next].road_m - at_m : HUGE_VAL;
        lane->has_height[i] = before_m + after_m <= GAP_MOST_M ||
                              fmin(before_m, after_m) <= TD_SURVEY_SPACING_M;
        if (lane->has_height[i])
            lane->height_m[i] = td_survey_fit(points, pass->point_count, TD_SURVEY_HEIGHT, at_m,
                                              TD_SURVEY_HEIGHT_HALF_M, HEIGHT_MOST_M, FIT_LEAST,
                                              &hint);
    }
}

/* Straight lines across vertices that no pass has a height for; work->b tells which have, and stays
 * for the search for gaps. */
static void fill_holes(struct td_survey_work *work, size_t count)
{
    size_t last = count; /* the last vertex with a height; count: none yet */
    for (size_t i = 0; i < count; i++) {
        if (!(work->b[i] > 0))
            continue;
        for (size_t k = last == count ? 0 : last + 1; k < i; k++) {
            double ratio = last == count ? 1 : (double)(k - last) / (double)(i - last);
            double from_m = work->a[last == count ? i : last];
            work->a[k] = from_m + ratio * (work->a[i] - from_m);
        }
        last = i;
    }
    for (size_t k = last == count ? count : last + 1; k < count; k++)
        work->a[k] = work->a[last];
}

/* Local straight lines, tricube weights, over half_m: from work->a into the road. */
static void smooth_heights(const struct td_survey_work *work, struct td_station *road,
                           size_t count, double step_m, double half_m)
{
    size_t reach = (size_t)fmax(1, floor(half_m / step_m));
    for (size_t i = 0; i < count; i++) {
        double s0 = 0, s1 = 0, s2 = 0, z0 = 0, z1 = 0;
        for (size_t k = i > reach ? i - reach : 0; k <= i + reach && k < count; k++) {
            double x = ((double)k - (double)i) / (double)(reach + 1);
            double weight = 1 - fabs(x * x * x);
            weight = weight * weight * weight;
            s0 += weight;
            s1 += weight * x;
            s2 += weight * x * x;
            z0 += weight * work->a[k];
            z1 += weight * x * work->a[k];
        }
        double det = s0 * s2 - s1 * s1;
        road[i].elevation_m = det > 1e-9 ? (z0 * s2 - z1 * s1) / det : work->a[i];
    }
}

static void tell_bridges(const struct td_survey_work *work, size_t count, double step_m,
                         struct td_survey_report *report)
{
    for (size_t i = 0; i < count; i++) {
        if (!work->bridged[i])
            continue;
        size_t from = i;
        while (i < count && work->bridged[i])
            i++;
        if (report->bridge_count < TD_SURVEY_BRIDGES_MAX)
            report->bridges[report->bridge_count++] =
                (struct td_survey_bridge){step_m * (double)from, step_m * (double)i};
    }
}

/* Mean height noise of the passes that were used. */
static double mean_noise_m(const struct td_survey_pass *passes, size_t pass_count)
{
    double sum = 0;
    size_t told = 0;
    for (size_t p = 0; p < pass_count; p++)
        if (!passes[p].report.height_refused && passes[p].report.height_noise_m >= 0) {
            sum += passes[p].report.height_noise_m;
            told++;
        }
    return told == 0 ? 0 : sum / (double)told;
}

/* What the smoothing took from each bend of the road, which every pass has alike and none tells:
 * about what it takes when it is done once more (Tukey's twicing). One sigma of a grade over a lag,
 * on grades. Uses work->a and c. */
static double smoothing_sigma(struct td_survey_work *work, struct td_station *road, size_t count,
                              double step_m, double half_m, double over_m)
{
    size_t over = (size_t)fmax(1, floor(fmin(over_m / step_m, (double)count / 3))), got = 0;
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        work->a[i] = work->c[i] = road[i].elevation_m;
    smooth_heights(work, road, count, step_m, half_m);
    for (size_t i = 0; i < count; i++) {
        work->a[i] = work->c[i] - road[i].elevation_m;
        road[i].elevation_m = work->c[i];
    }
    for (size_t i = 0; i + over < count; i++) {
        double change_m = road[i + over].elevation_m - road[i].elevation_m;
        if (fabs(change_m) < TD_SURVEY_GRADE_RATIO * step_m * (double)over)
            continue;
        sum += (work->a[i + over] - work->a[i]) * (work->a[i + over] - work->a[i]);
        got++;
    }
    return got == 0 ? 0 : sqrt(sum / (double)got) / (step_m * (double)over);
}

static void add_smoothing(struct td_survey_work *work, struct td_station *road, size_t count,
                          double step_m, bool fine, struct td_survey_report *report)
{
    double half_m = fine ? SMOOTHED_FINE_M : SMOOTHED_COARSE_M;
    if (report->grade_sigma_200 >= 0)
        report->grade_sigma_200 =
            hypot(report->grade_sigma_200,
                  smoothing_sigma(work, road, count, step_m, half_m, 200));
    if (report->grade_sigma_1000 >= 0)
        report->grade_sigma_1000 =
            hypot(report->grade_sigma_1000,
                  smoothing_sigma(work, road, count, step_m, half_m, 1000));
}

enum td_result td_survey_heights(struct td_survey_pass *passes, size_t pass_count,
                                 struct td_survey_work *work, struct td_station *road,
                                 size_t count, struct td_survey_report *report,
                                 struct td_problem *problem)
{
    double step_m = road[count - 1].along_m / (double)(count - 1);
    memset(work->bridged, 0, count * sizeof *work->bridged);
    for (size_t p = 0; p < pass_count; p++) {
        fill_heights(&passes[p], &work->lanes[p], road, count);
        td_survey_find_bridges(&work->lanes[p], count, step_m, work->bridged);
    }
    enum td_result result =
        td_survey_judge(passes, pass_count, work, count, step_m, report, problem);
    if (result != TD_OK)
        return result;
    fill_holes(work, count);
    tell_bridges(work, count, step_m, report);
    bool fine = mean_noise_m(passes, pass_count) <= TD_SURVEY_FINE_NOISE_M;
    report->height_half_m = fine ? TD_SURVEY_HEIGHT_HALF_M : TD_SURVEY_HEIGHT_COARSE_M;
    if (!fine) {
        smooth_heights(work, road, count, step_m, TD_SURVEY_HEIGHT_COARSE_M);
    } else {
        for (size_t i = 0; i < count; i++)
            road[i].elevation_m = work->a[i];
    }
    add_smoothing(work, road, count, step_m, fine, report);
    return TD_OK;
}
