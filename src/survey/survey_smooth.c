/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Smoothing and even spacing. The line is averaged over a few fixes only, so that hairpins keep
 * their radius; height by local straight-line fits that outliers pull little (after Cleveland,
 * Robust locally weighted regression, J. Am. Stat. Assoc. 74, 1979, tricube weights, here with
 * Cauchy weights in the second round). */
#include <math.h>

#include "survey/survey_parts.h"
#include "talkdown/geo.h"

#define LINE_HALF_LEAST_M  12.0 /* a hairpin is taken slowly, so its fixes lie close */
#define LINE_HALF_MOST_M   45.0
/* Of the local spacing: the noise of each fix would lengthen the road. */
#define LINE_HALF_STEPS    3.0
#define HEIGHT_HALF_MOST_M 500.0
#define RESIDUAL_LEAST_M   0.3

enum { FIT_LEAST = 12, ROUNDS = 2 };

void td_survey_turn_round(struct td_survey_point *points, size_t count)
{
    for (size_t i = 0; i < count / 2; i++) {
        struct td_survey_point swap = points[i];
        points[i] = points[count - 1 - i];
        points[count - 1 - i] = swap;
    }
}

/* Sums along over the smoothed or the recorded line. */
static void sum_along(struct td_survey_point *points, size_t count, bool smooth)
{
    points[0].along_m = 0;
    for (size_t i = 1; i < count; i++) {
        const struct td_survey_point *a = &points[i - 1], *b = &points[i];
        double step_m = smooth ? td_geo_distance_m(a->smooth_lat_deg, a->smooth_lon_deg,
                                                   b->smooth_lat_deg, b->smooth_lon_deg)
                               : td_geo_distance_m(a->lat_deg, a->lon_deg, b->lat_deg, b->lon_deg);
        points[i].along_m = a->along_m + step_m;
    }
}

void td_survey_smooth_line(struct td_survey_point *points, size_t count)
{
    sum_along(points, count, false);
    for (size_t i = 0; i < count; i++) {
        struct td_survey_point *here = &points[i];
        size_t low = i, before = i > 0 ? i - 1 : i, after = i + 1 < count ? i + 1 : i;
        double step_m = (points[after].along_m - points[before].along_m) / (double)(after - before);
        double half_m = fmin(fmax(LINE_HALF_STEPS * step_m, LINE_HALF_LEAST_M), LINE_HALF_MOST_M);
        /* As far back as forward, or the ends of the track would be drawn inward. */
        half_m = fmin(half_m, fmin(here->along_m, points[count - 1].along_m - here->along_m) + 1);
        while (low > 0 && points[low - 1].along_m >= here->along_m - half_m)
            low--;
        double weights = 0, north = 0, east = 0;
        for (size_t k = low; k < count && points[k].along_m <= here->along_m + half_m; k++) {
            double weight = 1.001 - fabs(points[k].along_m - here->along_m) / half_m;
            weights += weight;
            north += weight * (points[k].lat_deg - here->lat_deg);
            east += weight * td_geo_turn_deg(points[k].lon_deg - here->lon_deg);
        }
        here->smooth_lat_deg = here->lat_deg + north / weights;
        here->smooth_lon_deg = here->lon_deg + east / weights;
    }
    sum_along(points, count, true);
    for (size_t i = 0; i < count; i++)
        points[i].road_m = points[i].along_m;
}

struct fit {
    double level, slope; /* at the place asked for */
};

struct window {
    const struct td_survey_point *points;
    enum td_survey_value value;
    size_t from, to; /* to is one past the end */
    double at_m, half_m;
};

static double value_of(const struct window *window, size_t i)
{
    return window->value == TD_SURVEY_HEIGHT ? window->points[i].elevation_m
                                             : window->points[i].lateral_m;
}

/* Weighted straight line; `before` is the fit of the round before, scale 0 in the first. */
static struct fit fit_line(const struct window *window, struct fit before, double scale_m)
{
    double s0 = 0, s1 = 0, s2 = 0, z0 = 0, z1 = 0;
    for (size_t i = window->from; i < window->to; i++) {
        double x = window->points[i].road_m - window->at_m, z = value_of(window, i);
        double u = fmin(1, fabs(x) / window->half_m);
        double weight = 1 - u * u * u;
        weight = weight * weight * weight + 1e-6;
        if (scale_m > 0) {
            double r = (z - before.level - before.slope * x) / scale_m;
            weight /= 1 + r * r;
        }
        s0 += weight;
        s1 += weight * x;
        s2 += weight * x * x;
        z0 += weight * z;
        z1 += weight * x * z;
    }
    double det = s0 * s2 - s1 * s1;
    if (det <= 1e-9 * s0 * s0)
        return (struct fit){z0 / s0, 0};
    return (struct fit){(z0 * s2 - z1 * s1) / det, (z1 * s0 - z0 * s1) / det};
}

static double residual_m(const struct window *window, struct fit fit)
{
    double sum = 0;
    for (size_t i = window->from; i < window->to; i++) {
        double x = window->points[i].road_m - window->at_m;
        sum += fabs(value_of(window, i) - fit.level - fit.slope * x);
    }
    return fmax(RESIDUAL_LEAST_M, 1.5 * sum / (double)(window->to - window->from));
}

double td_survey_fit(const struct td_survey_point *points, size_t count,
                     enum td_survey_value value, double at_m, double half_m, double most_m,
                     size_t least, size_t *hint)
{
    struct window window = {points, value, *hint, 0, at_m, half_m};
    for (;; window.half_m *= 1.5) {
        window.from = *hint;
        while (window.from > 0 && points[window.from - 1].road_m >= at_m - window.half_m)
            window.from--;
        while (window.from + 1 < count && points[window.from].road_m < at_m - window.half_m)
            window.from++;
        window.to = window.from;
        while (window.to < count && points[window.to].road_m <= at_m + window.half_m)
            window.to++;
        if (window.to - window.from >= least || window.half_m > most_m)
            break;
    }
    if (window.to == window.from) /* in the middle of a long gap: its two ends */
        window.to = window.from + 1;
    if (window.from > 0 && window.to - window.from < 2)
        window.from--;
    *hint = window.from;
    struct fit fit = {0, 0};
    double scale_m = 0;
    for (int round = 0; round < ROUNDS; round++) {
        fit = fit_line(&window, fit, scale_m);
        scale_m = residual_m(&window, fit);
    }
    return fit.level;
}

size_t td_survey_space(const struct td_survey_point *points, size_t count,
                       struct td_station *stations)
{
    double length_m = points[count - 1].along_m;
    double pieces = ceil(length_m / TD_SURVEY_SPACING_M);
    pieces = fmin(fmax(pieces, 1), TD_HILL_STATIONS_MAX - 1);
    size_t made = (size_t)pieces + 1, piece = 0, hint = 0;
    for (size_t i = 0; i < made; i++) {
        double at_m = length_m * (double)i / pieces;
        while (piece + 2 < count && points[piece + 1].along_m <= at_m)
            piece++;
        const struct td_survey_point *a = &points[piece], *b = a + 1;
        double span_m = b->along_m - a->along_m;
        double ratio = span_m > 0 ? fmin(1, (at_m - a->along_m) / span_m) : 0;
        double east = td_geo_turn_deg(b->smooth_lon_deg - a->smooth_lon_deg) * ratio;
        stations[i] = (struct td_station){
            .lat_deg = a->smooth_lat_deg + (b->smooth_lat_deg - a->smooth_lat_deg) * ratio,
            .lon_deg = td_geo_turn_deg(a->smooth_lon_deg + east),
            .elevation_m = td_survey_fit(points, count, TD_SURVEY_HEIGHT, at_m,
                                         TD_SURVEY_HEIGHT_HALF_M, HEIGHT_HALF_MOST_M, FIT_LEAST,
                                         &hint),
            .along_m = at_m,
        };
    }
    return made;
}
