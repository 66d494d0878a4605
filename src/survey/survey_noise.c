/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far the heights of each pass are to be believed, and their mean.
 *
 * A receiver's height wanders: neighbouring fixes share their error, so a pass looks smooth however
 * wrong it is. What hurts a grade is how much the error changes along the road, and that is what
 * the passes tell of each other: the increments of each pass's difference from the mean. */
#include <math.h>
#include <string.h>

#include "survey/survey_parts.h"
#include "talkdown/text.h"

#define NOISE_OVER_M    1000.0
#define SHORT_SHARE     0.33  /* of a road too short for that */
#define GRADE_OVER_M    200.0
#define NOISE_LEAST_M   0.3   /* nobody's heights are believed more than this */
#define WEIGHT_SPREAD   10.0  /* most that one pass may weigh more than another */
#define TAPER_M         200.0 /* a pass comes in and goes out over as much */
#define DRIFT_LEAST_M   1000.0
/* Of one pass alone: median of second differences over 100 m, in standard deviations of a height
 * that wanders over a minute (first-order Gauss-Markov) at 15 m/s: sqrt(6 - 8r + 2r^2) with r =
 * exp(-100/15/60) is 0.67, and the median of a normal variable's size is 0.6745 of its deviation.
 * The fit of the heights over 60 m takes four tenths off (measured: bench_survey). Over longer
 * distances the road's own shape would count as noise. */
#define ALONE_OVER_M    100.0
#define ALONE_SHARE     (0.6745 * 0.67 * 0.6)

enum { ROUNDS = 6 };

static bool taken(const struct td_survey_pass *pass, const struct td_survey_lane *lane, size_t at)
{
    return !pass->report.height_refused && lane->has_height[at];
}

/* Fades a pass in and out, or its end would be a step in the mean. */
static double taper(const struct td_survey_lane *lane, size_t count, size_t at, double step_m)
{
    size_t reach = (size_t)ceil(TAPER_M / step_m), back = 0, forth = 0;
    while (back < reach && at >= back + 1 && lane->has_height[at - back - 1])
        back++;
    while (forth < reach && at + forth + 1 < count && lane->has_height[at + forth + 1])
        forth++;
    /* The ends of the road are no ends of the pass. */
    size_t side = reach;
    if (back < reach && at != back)
        side = back;
    if (forth < reach && at + forth + 1 != count && forth < side)
        side = forth;
    return (double)(side + 1) / (double)(reach + 1);
}

static double weight_of(const struct td_survey_pass *pass)
{
    double noise_m = fmax(NOISE_LEAST_M, pass->report.height_noise_m);
    return pass->report.height_noise_m < 0 ? pass->weight : pass->weight / (noise_m * noise_m);
}

static double scale_m(const struct td_survey_pass *passes, size_t pass_count)
{
    double sum = 0;
    size_t told = 0;
    for (size_t p = 0; p < pass_count; p++)
        if (!passes[p].report.height_refused && passes[p].report.height_noise_m >= 0) {
            sum += passes[p].report.height_noise_m;
            told++;
        }
    return told == 0 ? 0 : fmax(NOISE_LEAST_M, sum / (double)told);
}

void td_survey_mean_heights(struct td_survey_pass *passes, size_t pass_count,
                            struct td_survey_work *work, size_t count, double step_m)
{
    double most = 0, scale = scale_m(passes, pass_count);
    for (size_t p = 0; p < pass_count; p++)
        if (!passes[p].report.height_refused)
            most = fmax(most, weight_of(&passes[p]));
    for (size_t i = 0; i < count; i++) {
        struct td_survey_sample samples[TD_SURVEY_PASSES_MAX];
        size_t got = 0;
        for (size_t p = 0; p < pass_count; p++) {
            const struct td_survey_lane *lane = &work->lanes[p];
            if (!taken(&passes[p], lane, i))
                continue;
            double weight = fmax(weight_of(&passes[p]), most / WEIGHT_SPREAD);
            samples[got++] = (struct td_survey_sample){
                lane->height_m[i], weight * taper(lane, count, i, step_m)};
        }
        work->a[i] = got > 0 ? td_survey_robust_mean(samples, got, scale) : 0;
        work->b[i] = got > 0;
    }
}

/* Takes offset and slope of the pass's difference from the mean out of it. */
static void level(struct td_survey_pass *pass, struct td_survey_lane *lane,
                  struct td_survey_work *work, size_t count, double step_m, bool drift)
{
    size_t got = 0;
    for (size_t i = 0; i < count; i++)
        if (taken(pass, lane, i) && work->b[i] > 0)
            work->c[got++] = lane->height_m[i] - work->a[i];
    double off_m = td_survey_median(work->c, got), s1 = 0, s2 = 0, z0 = 0, z1 = 0;
    for (size_t i = 0; i < count; i++) {
        if (!taken(pass, lane, i))
            continue;
        lane->height_m[i] -= off_m;
        s1 += (double)i;
        s2 += (double)i * (double)i;
        z0 += lane->height_m[i] - work->a[i];
        z1 += (lane->height_m[i] - work->a[i]) * (double)i;
    }
    pass->report.height_off_m += off_m;
    double n = (double)got, det = n * s2 - s1 * s1;
    if (!drift || n * step_m < DRIFT_LEAST_M || det <= 0)
        return;
    double slope = (n * z1 - s1 * z0) / det, middle = s1 / n;
    for (size_t i = 0; i < count; i++)
        lane->height_m[i] -= slope * ((double)i - middle);
}

/* Mean square of how the pass's difference from the mean changes over `over` vertices, of the road
 * whose mean falls or climbs by `least_m` or more over them; -1 when too little of it tells. */
static double change_m2(const struct td_survey_pass *pass, const struct td_survey_lane *lane,
                        const struct td_survey_work *work, size_t count, size_t over,
                        double least_m, size_t *windows)
{
    double sum = 0;
    size_t got = 0;
    for (size_t i = 0; i + over < count; i++) {
        if (!taken(pass, lane, i) || !taken(pass, lane, i + over) ||
            !(fabs(work->a[i + over] - work->a[i]) >= least_m))
            continue;
        double change = lane->height_m[i + over] - work->a[i + over] - lane->height_m[i] +
                        work->a[i];
        sum += change * change;
        got++;
    }
    *windows = got;
    return got < 10 ? -1 : sum / (double)got;
}

/* One sigma of a pass by itself. */
static double alone_m(const struct td_survey_lane *lane, struct td_survey_work *work, size_t count,
                      double step_m)
{
    size_t over = (size_t)fmax(1, round(ALONE_OVER_M / step_m)), got = 0;
    for (size_t i = 0; i + 2 * over < count; i++)
        if (lane->has_height[i] && lane->has_height[i + over] && lane->has_height[i + 2 * over])
            work->c[got++] = fabs(lane->height_m[i + 2 * over] - 2 * lane->height_m[i + over] +
                                  lane->height_m[i]);
    return got < 10 ? -1 : td_survey_median(work->c, got) / ALONE_SHARE;
}

static size_t lag(size_t count, double step_m, double over_m)
{
    double road_m = step_m * (double)(count - 1);
    return (size_t)fmax(1, floor(fmin(over_m, SHORT_SHARE * road_m) / step_m));
}

/* Variances of the passes' changes over a lag from those of their differences from the mean (each
 * holds a share of all the others': the three-cornered hat). n usable passes, `sum` of the latter.
 * Below three the halves cannot be told apart. */
static double own_m2(double seen_m2, double sum_m2, double n)
{
    double all_m2 = sum_m2 / (1 - 1 / n);
    return n < 3 ? all_m2 / n : fmax(0, (seen_m2 - all_m2 / (n * n)) / (1 - 2 / n));
}

struct hat {
    double seen_m2[TD_SURVEY_PASSES_MAX], sum_m2;
    size_t count;
};

static struct hat measure(const struct td_survey_pass *passes, size_t pass_count,
                          const struct td_survey_work *work, size_t count, size_t over)
{
    struct hat hat = {{0}, 0, 0};
    size_t windows;
    for (size_t p = 0; p < pass_count; p++) {
        const struct td_survey_pass *pass = &passes[p];
        hat.seen_m2[p] = pass->report.height_refused
                             ? -1
                             : change_m2(pass, &work->lanes[p], work, count, over, 0, &windows);
        if (hat.seen_m2[p] < 0)
            continue;
        hat.sum_m2 += hat.seen_m2[p];
        hat.count++;
    }
    return hat;
}

/* One sigma of the mean's change over a lag. On a grade trucks are slow, so that more of a height's
 * wander falls into the same distance: level road would make the answer too good.
 *
 * Heights with variance v / w, w passes being behind each, differ from their weighted mean by a
 * variance of v / w - v / W, W being the sum of the w. So the sum of w times these, over n - 1, is
 * v, and the mean has v / W. Lags nearer to each other than errors wander tell the same. */
static double several_sigma_m(const struct td_survey_pass *passes, size_t pass_count,
                              const struct td_survey_work *work, size_t count, size_t over,
                              double step_m, double least_m)
{
    double sum = 0, weights = 0, n = 0, apart_m = step_m * (double)over + TD_SURVEY_WANDER_M;
    size_t windows = 0, most = 0;
    for (size_t p = 0; p < pass_count; p++) {
        double seen_m2 = passes[p].report.height_refused
                             ? -1
                             : change_m2(&passes[p], &work->lanes[p], work, count, over, least_m,
                                         &windows);
        if (seen_m2 < 0)
            continue;
        most = windows > most ? windows : most;
        sum += passes[p].weight * seen_m2;
        weights += passes[p].weight;
        n++;
    }
    if (n < 2)
        return -1;
    double apart = fmax(1, step_m * (double)most / apart_m);
    return td_survey_widened((n - 1) * apart) * sqrt(sum / ((n - 1) * weights));
}

/* Of one pass, from how rough it is: as a height would wander over a minute in a slow truck. */
static double single_sigma_m(const struct td_survey_pass *passes, size_t pass_count, double over_m)
{
    for (size_t p = 0; p < pass_count; p++)
        if (!passes[p].report.height_refused && passes[p].report.height_noise_m >= 0)
            return fmax(NOISE_LEAST_M, passes[p].report.height_noise_m) *
                   sqrt(2 * (1 - exp(-over_m / TD_SURVEY_WANDER_M)));
    return -1;
}

/* One sigma of the mean's grade over a lag, as far as the passes tell; -1 when nothing does. */
static double grade_sigma(const struct td_survey_pass *passes, size_t pass_count,
                          const struct td_survey_work *work, size_t count, double step_m,
                          double over_m)
{
    size_t over = lag(count, step_m, over_m);
    double lag_m = step_m * (double)over, least_m = TD_SURVEY_GRADE_RATIO * lag_m;
    double sigma_m =
        several_sigma_m(passes, pass_count, work, count, over, step_m, least_m);
    if (sigma_m < 0)
        sigma_m = several_sigma_m(passes, pass_count, work, count, over, step_m, 0);
    if (sigma_m < 0)
        sigma_m = single_sigma_m(passes, pass_count, lag_m);
    return sigma_m < 0 ? -1 : sigma_m / lag_m;
}

/* Mean with all passes alike, offsets out: what noise is judged against. */
static void level_all(struct td_survey_pass *passes, size_t pass_count,
                      struct td_survey_work *work, size_t count, double step_m, bool drift)
{
    for (int round = 0; round < ROUNDS; round++) {
        td_survey_mean_heights(passes, pass_count, work, count, step_m);
        for (size_t p = 0; p < pass_count; p++)
            level(&passes[p], &work->lanes[p], work, count, step_m, drift && round > 1);
    }
    td_survey_mean_heights(passes, pass_count, work, count, step_m);
}

static size_t usable(const struct td_survey_pass *passes, size_t pass_count)
{
    size_t count = 0;
    for (size_t p = 0; p < pass_count; p++)
        count += !passes[p].report.height_refused;
    return count;
}

/* Sets height_noise_m of each pass. */
static void tell_noise(struct td_survey_pass *passes, size_t pass_count,
                       struct td_survey_work *work, size_t count, double step_m)
{
    struct hat hat = measure(passes, pass_count, work, count, lag(count, step_m, NOISE_OVER_M));
    for (size_t p = 0; p < pass_count; p++) {
        struct td_survey_pass_report *report = &passes[p].report;
        if (report->height_refused)
            continue;
        if (hat.count >= 2 && hat.seen_m2[p] >= 0)
            report->height_noise_m =
                sqrt(own_m2(hat.seen_m2[p], hat.sum_m2, (double)hat.count) / 2);
        else
            report->height_noise_m = alone_m(&work->lanes[p], work, count, step_m);
    }
}

/* Of the passes in use: the median, and the noisiest (pass_count: none). */
static double median_noise_m(const struct td_survey_pass *passes, size_t pass_count,
                             struct td_survey_work *work, size_t *worst)
{
    size_t got = 0;
    *worst = pass_count;
    for (size_t p = 0; p < pass_count; p++) {
        double noise_m = passes[p].report.height_noise_m;
        if (passes[p].report.height_refused || noise_m < 0)
            continue;
        work->c[got++] = noise_m;
        if (*worst == pass_count || noise_m > passes[*worst].report.height_noise_m)
            *worst = p;
    }
    return td_survey_median(work->c, got);
}

static enum td_result refuse(double noise_m, bool alone, struct td_problem *problem)
{
    if (problem == NULL)
        return TD_INVALID;
    memset(problem, 0, sizeof *problem);
    struct td_text text;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, "heights are too noisy: about ");
    td_text_add_fixed(&text, noise_m, 1);
    td_text_add(&text, " m (one sigma), which makes grades wrong by 1 % and more; up to ");
    td_text_add_fixed(&text, alone ? TD_SURVEY_ALONE_MOST_M : TD_SURVEY_NOISE_MOST_M, 1);
    td_text_add(&text, " m will do; record with a barometer or a better receiver");
    return TD_INVALID;
}

/* Noise of each pass against the mean of those in use; noisy ones are left out one by one. */
static enum td_result leave_noisy_out(struct td_survey_pass *passes, size_t pass_count,
                                      struct td_survey_work *work, size_t count, double step_m,
                                      struct td_survey_report *report, struct td_problem *problem)
{
    for (;;) {
        for (size_t p = 0; p < pass_count; p++)
            if (!passes[p].report.height_refused)
                passes[p].report.height_noise_m = -1;
        level_all(passes, pass_count, work, count, step_m, false);
        tell_noise(passes, pass_count, work, count, step_m);
        size_t worst = 0;
        double median_m = median_noise_m(passes, pass_count, work, &worst);
        bool alone = usable(passes, pass_count) == 1;
        if (median_m > (alone ? TD_SURVEY_ALONE_MOST_M : TD_SURVEY_NOISE_MOST_M)) {
            report->culprit = alone ? worst : pass_count;
            return refuse(median_m, alone, problem);
        }
        if (alone || worst == pass_count ||
            passes[worst].report.height_noise_m <= TD_SURVEY_NOISE_MOST_M)
            return TD_OK;
        passes[worst].report.height_refused = true;
    }
}

enum td_result td_survey_judge(struct td_survey_pass *passes, size_t pass_count,
                               struct td_survey_work *work, size_t count, double step_m,
                               struct td_survey_report *report, struct td_problem *problem)
{
    enum td_result result =
        leave_noisy_out(passes, pass_count, work, count, step_m, report, problem);
    if (result != TD_OK)
        return result;
    report->grade_sigma_200 = grade_sigma(passes, pass_count, work, count, step_m, GRADE_OVER_M);
    report->grade_sigma_1000 = grade_sigma(passes, pass_count, work, count, step_m, NOISE_OVER_M);
    level_all(passes, pass_count, work, count, step_m, true);
    return TD_OK;
}
