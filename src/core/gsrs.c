/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The published reference model in its published units; sources in the header. */
#include "talkdown/gsrs.h"

#include <math.h>

#define HP_PER_LBF_MPH   375.0 /* lbf mph in one horsepower */
#define ENGINE_HP        73.0
#define STOP_F_PER_LB_MPH2 3.11e-7
#define K1_AT_REST       1.23
#define K1_PER_MPH       0.0256

double td_gsrs_drag_lbf(enum td_gsrs_set set, double speed_mph)
{
    if (set == TD_GSRS_1982)
        return 450.0 + 17.25 * speed_mph;
    return 459.35 + 0.132 * speed_mph * speed_mph;
}

double td_gsrs_brake_hp(enum td_gsrs_set set, double weight_lb, double grade_ratio,
                        double speed_mph)
{
    double pull_lbf = weight_lb * grade_ratio - td_gsrs_drag_lbf(set, speed_mph);
    double hp = pull_lbf * speed_mph / HP_PER_LBF_MPH - ENGINE_HP;
    return hp > 0 ? hp : 0; /* below 0 the formula would cool brakes under the air around them */
}

double td_gsrs_k1_per_h(double speed_mph)
{
    return K1_AT_REST + K1_PER_MPH * speed_mph;
}

double td_gsrs_k2_f_per_hp(double speed_mph)
{
    return 1.0 / (TD_GSRS_COOLING_HP_PER_F + TD_GSRS_COOLING_HP_PER_F_PER_MPH * speed_mph);
}

double td_gsrs_final_f(enum td_gsrs_set set, double weight_lb, struct td_gsrs_segment segment,
                       double speed_mph, double from_f)
{
    double hp = td_gsrs_brake_hp(set, weight_lb, segment.grade_ratio, speed_mph);
    double steady_f = TD_GSRS_AMBIENT_F + td_gsrs_k2_f_per_hp(speed_mph) * hp;
    double share = -expm1(-td_gsrs_k1_per_h(speed_mph) * segment.length_mi / speed_mph);
    return from_f + (steady_f - from_f) * share;
}

double td_gsrs_stop_f(double weight_lb, double speed_mph)
{
    return STOP_F_PER_LB_MPH2 * weight_lb * speed_mph * speed_mph;
}

double td_gsrs_peak_f(enum td_gsrs_set set, double weight_lb,
                      const struct td_gsrs_segment *segments, size_t count, double speed_mph,
                      double *final_f)
{
    double temp_f = TD_GSRS_START_F, peak_f = TD_GSRS_START_F;
    for (size_t i = 0; i < count; i++) {
        temp_f = td_gsrs_final_f(set, weight_lb, segments[i], speed_mph, temp_f);
        peak_f = fmax(peak_f, temp_f);
    }
    if (final_f != NULL)
        *final_f = temp_f;
    return peak_f;
}

double td_gsrs_safe_mph(enum td_gsrs_set set, double weight_lb,
                        const struct td_gsrs_segment *segments, size_t count, double most_mph)
{
    double safe_mph = 0;
    int last = (int)floor(most_mph * 10.0 + 1e-9);
    for (int tenth = 10; tenth <= last; tenth++) {
        double mph = tenth / 10.0;
        double peak_f = td_gsrs_peak_f(set, weight_lb, segments, count, mph, NULL);
        if (peak_f + td_gsrs_stop_f(weight_lb, mph) > TD_GSRS_LIMIT_F)
            break;
        safe_mph = mph;
    }
    return safe_mph;
}
