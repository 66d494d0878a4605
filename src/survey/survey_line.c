/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One line out of many. Each pass tells how far beside the road it ran; the road moves to the
 * robust mean of that. The line is then smoothed by local parabolas, which keep the radius of a
 * curve where a moving average would draw it inward, over a window that shrinks in tight curves. */
#include <math.h>

#include "survey/survey_parts.h"
#include "talkdown/units.h"

#define LANE_HALF_M    15.0
#define LANE_MOST_M    60.0  /* no vertex is asked of points further off */
#define LANE_GAP_M     150.0 /* between two points of a pass: it says nothing in between */
#define OFFSET_HALF_M  12.0  /* smoothing of the mean offset */
#define COARSE_HALF_M  30.0
#define CURVE_SHARE    1.0   /* window of a curve, of its radius to either side */
#define CURVE_LEAST_M  14.0
#define CURVE_MOST_M   50.0
#define SCALE_LEAST_M  1.0

enum { LANE_LEAST = 4 };

/* What the pass says at each vertex: a fit of the points about it. */
static void fill_offsets(const struct td_survey_pass *pass, struct td_survey_lane *lane,
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
        /* Also just past its ends. */
        lane->has_offset[i] = before_m + after_m <= LANE_GAP_M ||
                              fmin(before_m, after_m) <= LANE_HALF_M;
        if (lane->has_offset[i])
            lane->offset_m[i] = td_survey_fit(points, pass->point_count, TD_SURVEY_LATERAL, at_m,
                                              LANE_HALF_M, LANE_MOST_M, LANE_LEAST, &hint);
    }
}

/* The lane beside the one down is no better than the other carriageway: where two passes came down,
 * those that went up say nothing about the line. */
static size_t gather(const struct td_survey_pass *passes, size_t pass_count,
                     const struct td_survey_work *work, size_t at,
                     struct td_survey_sample samples[TD_SURVEY_PASSES_MAX])
{
    size_t count = 0, down = 0;
    for (size_t p = 0; p < pass_count; p++)
        down += work->lanes[p].has_offset[at] && !passes[p].report.climbed;
    for (size_t p = 0; p < pass_count; p++) {
        if (!work->lanes[p].has_offset[at] || (down >= 2 && passes[p].report.climbed))
            continue;
        samples[count++] = (struct td_survey_sample){work->lanes[p].offset_m[at],
                                                     passes[p].weight};
    }
    return count;
}

/* Mean offset at each vertex into work->a; the median distance of a pass from it is returned. */
static double mean_offsets(const struct td_survey_pass *passes, size_t pass_count,
                           struct td_survey_work *work, size_t count, double step_m,
                           double scale_m, struct td_survey_report *report)
{
    struct td_survey_sample samples[TD_SURVEY_PASSES_MAX];
    double squares = 0;
    size_t spread = 0, several = 0, others = 0;
    for (size_t i = 0; i < count; i++) {
        size_t got = gather(passes, pass_count, work, i, samples);
        work->a[i] = got > 0 ? td_survey_robust_mean(samples, got, scale_m) : 0;
        if (got < 2)
            continue;
        double sum = 0, weights = 0;
        for (size_t k = 0; k < got; k++) {
            double off_m = samples[k].value - work->a[i];
            sum += samples[k].weight * off_m * off_m;
            weights += samples[k].weight;
        }
        work->b[spread++] = sqrt(sum / weights);
        squares += sum / weights / ((double)got - 1); /* variance of the mean */
        several++;
        others += got - 1;
    }
    double degrees = (double)others * fmin(1, step_m / TD_SURVEY_WANDER_M);
    report->position_sigma_m = several * 2 > count ? td_survey_widened(degrees) *
                                                         sqrt(squares / (double)several)
                                                   : -1;
    return fmax(SCALE_LEAST_M, td_survey_median(work->b, spread));
}

/* Triangular weights over OFFSET_HALF_M to either side: from work->a into work->b. */
static void smooth_offsets(struct td_survey_work *work, size_t count, double step_m)
{
    size_t reach = (size_t)fmax(1, floor(OFFSET_HALF_M / step_m));
    for (size_t i = 0; i < count; i++) {
        size_t side = reach;
        side = i < side ? i : side;
        side = count - 1 - i < side ? count - 1 - i : side;
        double weights = 0, sum = 0;
        for (size_t k = i - side; k <= i + side; k++) {
            double weight = (double)(side + 1) - fabs((double)k - (double)i);
            weights += weight;
            sum += weight * work->a[k];
        }
        work->b[i] = sum / weights;
    }
}

/* Moves every vertex left by work->b. */
static void move_left(const struct td_survey_work *work, struct td_station *road, size_t count)
{
    struct td_point before = {road[0].x_m, road[0].y_m};
    for (size_t i = 0; i < count; i++) {
        const struct td_station *next = &road[i + 1 < count ? i + 1 : i];
        struct td_point here = {road[i].x_m, road[i].y_m};
        double dx = next->x_m - before.x_m, dy = next->y_m - before.y_m;
        double length = fmax(1e-6, hypot(dx, dy));
        road[i].x_m -= work->b[i] * dy / length;
        road[i].y_m += work->b[i] * dx / length;
        before = here;
    }
}

/* Evenly spaced vertices along the same line. Uses work->a and b. */
static size_t space(struct td_survey_work *work, struct td_station *road, size_t count)
{
    double length_m = 0;
    for (size_t i = 0; i < count; i++) {
        work->a[i] = road[i].x_m;
        work->b[i] = road[i].y_m;
        if (i > 0)
            length_m += hypot(road[i].x_m - road[i - 1].x_m, road[i].y_m - road[i - 1].y_m);
        road[i].along_m = length_m;
        work->c[i] = length_m;
    }
    double pieces = ceil(length_m / TD_SURVEY_SPACING_M);
    pieces = fmin(fmax(pieces, 1), TD_HILL_STATIONS_MAX - 1);
    size_t made = (size_t)pieces + 1, piece = 0;
    for (size_t i = 0; i < made; i++) {
        double at_m = length_m * (double)i / pieces;
        while (piece + 2 < count && work->c[piece + 1] <= at_m)
            piece++;
        double span_m = fmax(1e-9, work->c[piece + 1] - work->c[piece]);
        double ratio = fmin(1, (at_m - work->c[piece]) / span_m);
        road[i].x_m = work->a[piece] + ratio * (work->a[piece + 1] - work->a[piece]);
        road[i].y_m = work->b[piece] + ratio * (work->b[piece + 1] - work->b[piece]);
        road[i].along_m = at_m;
    }
    return made;
}

size_t td_survey_average_line(struct td_survey_pass *passes, size_t pass_count,
                              struct td_survey_work *work, struct td_station *road, size_t count,
                              struct td_survey_report *report)
{
    double step_m = road[count - 1].along_m / (double)(count - 1);
    for (size_t p = 0; p < pass_count; p++)
        fill_offsets(&passes[p], &work->lanes[p], road, count);
    double scale_m = mean_offsets(passes, pass_count, work, count, step_m, 0, report);
    for (int round = 0; round < 2; round++)
        scale_m = mean_offsets(passes, pass_count, work, count, step_m, scale_m,
                               report);
    smooth_offsets(work, count, step_m);
    move_left(work, road, count);
    return space(work, road, count);
}

/* Solves the normal equations of a weighted parabola whose odd sums need not vanish; returns its
 * value at 0, and its slope and second derivative. */
static void solve(const double s[5], const double z[3], double out[3])
{
    double c00 = s[2] * s[4] - s[3] * s[3], c01 = s[2] * s[3] - s[1] * s[4];
    double c02 = s[1] * s[3] - s[2] * s[2], c11 = s[0] * s[4] - s[2] * s[2];
    double c12 = s[1] * s[2] - s[0] * s[3], c22 = s[0] * s[2] - s[1] * s[1];
    double det = s[0] * c00 + s[1] * c01 + s[2] * c02;
    out[0] = (c00 * z[0] + c01 * z[1] + c02 * z[2]) / det;
    out[1] = (c01 * z[0] + c11 * z[1] + c12 * z[2]) / det;
    out[2] = 2 * (c02 * z[0] + c12 * z[1] + c22 * z[2]) / det;
}

struct bend {
    double x_m, y_m, curvature;
};

/* Parabolas of x and y against distance along (Cleveland's tricube weights). */
static struct bend fit_bend(const struct td_station *road, size_t count, size_t at, double half_m)
{
    double s[5] = {0}, zx[3] = {0}, zy[3] = {0}, x[3], y[3];
    size_t from = at, seen = 0;
    while (from > 0 && road[at].along_m - road[from - 1].along_m < half_m)
        from--;
    for (size_t i = from; i < count && road[i].along_m - road[at].along_m < half_m; i++, seen++) {
        double t = (road[i].along_m - road[at].along_m) / half_m;
        double weight = 1 - fabs(t * t * t);
        weight = weight * weight * weight + 1e-9;
        double power = weight;
        for (size_t k = 0; k < 5; k++, power *= t) {
            s[k] += power;
            if (k < 3) {
                zx[k] += power * (road[i].x_m - road[at].x_m);
                zy[k] += power * (road[i].y_m - road[at].y_m);
            }
        }
    }
    if (seen < 4)
        return (struct bend){road[at].x_m, road[at].y_m, 0};
    solve(s, zx, x);
    solve(s, zy, y);
    double speed = fmax(1e-9, hypot(x[1], y[1]));
    /* The derivatives are by t; a curve's curvature does not care. */
    return (struct bend){road[at].x_m + x[0], road[at].y_m + y[0],
                         (x[1] * y[2] - y[1] * x[2]) / (speed * speed * speed)};
}

/* Half window of each vertex into work->c: from the tightest curve nearby. */
static void choose_windows(struct td_survey_work *work, const struct td_station *road,
                           size_t count, double step_m)
{
    for (size_t i = 0; i < count; i++)
        work->a[i] = fabs(fit_bend(road, count, i, COARSE_HALF_M).curvature);
    size_t reach = (size_t)ceil(COARSE_HALF_M / 2 / step_m);
    for (size_t i = 0; i < count; i++) {
        double most = 1e-6;
        for (size_t k = i > reach ? i - reach : 0; k <= i + reach && k < count; k++)
            most = fmax(most, work->a[k]);
        work->c[i] = fmin(fmax(CURVE_SHARE / most, CURVE_LEAST_M), CURVE_MOST_M);
    }
}

/* The place whose frame coordinates are (x, y), from one nearby: Newton's method with the metres a
 * degree has there; each round takes off all but a hundredth. */
static void to_degrees(const struct td_frame *frame, struct td_station *station)
{
    enum { NEWTON_ROUNDS = 6 };
    for (int round = 0; round < NEWTON_ROUNDS; round++) {
        struct td_point at;
        if (!td_frame_point(frame, station->lat_deg, station->lon_deg, &at))
            return;
        double degree_m = td_rad_from_deg(6371008.8);
        double cos_lat = cos(td_rad_from_deg(station->lat_deg));
        station->lat_deg += (station->y_m - at.y_m) / degree_m;
        station->lon_deg =
            td_geo_turn_deg(station->lon_deg + (station->x_m - at.x_m) / (degree_m * cos_lat));
    }
}

size_t td_survey_finish_line(const struct td_frame *frame, struct td_survey_work *work,
                             struct td_station *road, size_t count)
{
    double step_m = road[count - 1].along_m / (double)(count - 1);
    choose_windows(work, road, count, step_m);
    for (size_t i = 0; i < count; i++) {
        /* As far back as forward, or the ends would bend. */
        double half_m = fmin(work->c[i], fmin(road[i].along_m,
                                              road[count - 1].along_m - road[i].along_m) + 1);
        struct bend bend = fit_bend(road, count, i, half_m);
        work->a[i] = bend.x_m;
        work->b[i] = bend.y_m;
    }
    for (size_t i = 0; i < count; i++) {
        road[i].x_m = work->a[i];
        road[i].y_m = work->b[i];
    }
    count = space(work, road, count);
    double lat_deg = 0, lon_deg = 0;
    for (size_t i = 0; i < count; i++) {
        if (i == 0) {
            lat_deg = road[0].lat_deg;
            lon_deg = road[0].lon_deg;
        }
        road[i].lat_deg = lat_deg;
        road[i].lon_deg = lon_deg;
        to_degrees(frame, &road[i]);
        lat_deg = road[i].lat_deg;
        lon_deg = road[i].lon_deg;
    }
    return count;
}
