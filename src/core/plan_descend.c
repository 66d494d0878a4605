/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One trial on one descent: speeds, and the brakes from its crest to its foot and through the break
 * that follows; from one temperature, or from all of them at once. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/units.h"

#define RPM_SLACK 1e-6

double td_plan_round_down_mps(double speed_mps, enum td_plan_rounding rounding)
{
    if (rounding == TD_PLAN_EXACT)
        return speed_mps;
    double unit = rounding == TD_PLAN_SPOKEN_MPH ? TD_MPS_PER_MPH : TD_MPS_PER_KMH;
    double whole = speed_mps / unit + 1e-6;
    double rounded = whole >= 5 ? floor(whole / 5) * 5 : floor(whole);
    return rounded >= 1 ? rounded * unit : speed_mps;
}

double td_plan_piece_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                         size_t piece)
{
    return td_plan_round_down_mps(
               fmin(trial->cruise_mps, plan_case->road->pieces[piece].ceiling_mps),
               trial->rounding) + plan_case->over_mps;
}

double td_plan_slowest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    return td_plan_round_down_mps(fmin(trial->cruise_mps, plan_case->slowest_mps),
                                  trial->rounding);
}

double td_plan_fastest_mps(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    return td_plan_round_down_mps(fmin(trial->cruise_mps, plan_case->fastest_mps),
                                  trial->rounding);
}

bool td_plan_rpm_fits(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    const struct td_rig *rig = plan_case->rig;
    double most = td_rig_rpm(rig, (size_t)trial->gear, td_plan_fastest_mps(plan_case, trial));
    double least = td_rig_rpm(rig, (size_t)trial->gear, td_plan_slowest_mps(plan_case, trial));
    /* A converter slips: an automatic's lowest gear has no lowest speed. */
    bool slips = rig->gearbox == TD_GEARBOX_AUTOMATIC && trial->gear == 0;
    return most <= rig->rpm_most + RPM_SLACK && (slips || least >= rig->rpm_least - RPM_SLACK);
}

/* Speed of the next piece; rounding is worked out again only where the ceiling is below cruise. */
struct pace {
    double cruise_mps, rounded_mps, ceiling_mps, below_mps;
};

static double pace_at(struct pace *pace, const struct td_plan_case *plan_case,
                      const struct td_plan_trial *trial, const struct td_plan_piece *piece)
{
    if (piece->ceiling_mps >= pace->cruise_mps)
        return pace->rounded_mps + plan_case->over_mps;
    if (piece->ceiling_mps != pace->ceiling_mps) {
        pace->ceiling_mps = piece->ceiling_mps;
        pace->below_mps = td_plan_round_down_mps(piece->ceiling_mps, trial->rounding);
    }
    return pace->below_mps + plan_case->over_mps;
}

static struct pace pace_of(const struct td_plan_trial *trial)
{
    return (struct pace){trial->cruise_mps,
                         td_plan_round_down_mps(trial->cruise_mps, trial->rounding), 0, 0};
}

/* Through the break at the road's own ceiling, engine brake off; *speed_mps is that of the descent
 * before and of the break's end after. */
static struct td_plan_line cross_break(const struct td_plan_case *plan_case, double *speed_mps)
{
    struct td_plan_line line = {1, 0};
    struct td_plan_trial roll = {-1, -1, td_mps_from_mph(TD_PLAN_MOST_MPH), TD_PLAN_EXACT};
    struct td_plan_body body;
    td_plan_body_begin(plan_case, &roll, &body);
    for (size_t i = plan_case->after.first; i < plan_case->after.last; i++) {
        double v = plan_case->road->pieces[i].ceiling_mps;
        line.offset_c += td_plan_slowing_c(&body, *speed_mps, v);
        td_plan_body_enter(&body, &plan_case->road->pieces[i], v);
        line.slope *= 1 - body.share;
        line.offset_c += (body.steady_c - line.offset_c) * body.share;
        *speed_mps = v;
    }
    return line;
}

static void look(const struct td_plan_body *body, double temp_c, double at_m,
                 struct td_plan_outcome *outcome)
{
    if (temp_c > outcome->peak_c) {
        outcome->peak_c = temp_c;
        outcome->peak_at_m = at_m;
    }
    if (temp_c + body->stop_c > outcome->worst_c) {
        outcome->worst_c = temp_c + body->stop_c;
        outcome->worst_at_m = at_m;
    }
    if (!(temp_c + body->stop_c <= body->plan_case->rig->brakes.limit_c))
        outcome->hopeless_at_m = fmin(outcome->hopeless_at_m, at_m);
    if (body->trial->stage >= 0 && temp_c + body->failure_c > outcome->failure_c) {
        outcome->failure_c = temp_c + body->failure_c;
        outcome->failure_at_m = at_m;
    }
}

void td_plan_descend(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                     double from_c, struct td_plan_outcome *outcome)
{
    struct td_plan_body body;
    struct pace pace = pace_of(trial);
    double temp_c = from_c, before_mps = plan_case->enter_mps;
    td_plan_body_begin(plan_case, trial, &body);
    *outcome = (struct td_plan_outcome){
        .peak_c = -273, .worst_c = -273, .failure_c = -273, .hopeless_at_m = (double)INFINITY};
    for (size_t i = plan_case->span.first; i < plan_case->span.last; i++) {
        const struct td_plan_piece *piece = &plan_case->road->pieces[i];
        double v = pace_at(&pace, plan_case, trial, piece);
        double slowing_c = td_plan_slowing_c(&body, before_mps, v);
        temp_c += slowing_c;
        outcome->brake_j += slowing_c * body.capacity_j_per_k;
        before_mps = v;
        td_plan_body_enter(&body, piece, v);
        look(&body, temp_c, piece->from_m, outcome);
        temp_c += (body.steady_c - temp_c) * body.share;
        look(&body, temp_c, piece->from_m + piece->length_m, outcome);
        outcome->brake_j += body.brake_n * piece->length_m;
        outcome->pull_j += body.pull_n > 0 ? body.pull_n * piece->length_m : 0;
    }
    /* A figure that is no number must never pass for a cool one. */
    outcome->known = isfinite(temp_c) && isfinite(body.signed_work_j);
    outcome->final_c = temp_c;
    struct td_plan_line line = cross_break(plan_case, &before_mps);
    outcome->next_c = line.slope * temp_c + line.offset_c;
}

/* One rounding of the map. The caps fall as the loop goes on; inverse is 1 / slope. */
static bool map_rounding(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                         double floor_c, struct td_plan_map *map, struct td_plan_line *line)
{
    struct td_plan_body body;
    struct pace pace = pace_of(trial);
    double limit_c = plan_case->rig->brakes.limit_c, before_mps = plan_case->enter_mps;
    double slope = 1, inverse = 1, offset_c = 0;
    td_plan_body_begin(plan_case, trial, &body);
    for (size_t i = plan_case->span.first; i < plan_case->span.last; i++) {
        const struct td_plan_piece *piece = &plan_case->road->pieces[i];
        double v = pace_at(&pace, plan_case, trial, piece);
        if (v < before_mps)
            offset_c += td_plan_slowing_c(&body, before_mps, v);
        before_mps = v;
        td_plan_body_enter(&body, piece, v);
        double stop_c = body.failure_c > body.stop_c ? body.failure_c : body.stop_c;
        double from_cap = offset_c * inverse, was_inverse = inverse;
        slope *= 1 - body.share;
        inverse *= body.unshare;
        offset_c += (body.steady_c - offset_c) * body.share;
        double to_cap = offset_c * inverse;
        map->cap_c = fmin(map->cap_c, fmin((limit_c - stop_c) * was_inverse - from_cap,
                                           (limit_c - stop_c) * inverse - to_cap));
        map->normal_cap_c = fmin(map->normal_cap_c, fmin(TD_PLAN_NORMAL_C * was_inverse - from_cap,
                                                         TD_PLAN_NORMAL_C * inverse - to_cap));
        if (map->cap_c < floor_c)
            return false;
    }
    struct td_plan_line after = cross_break(plan_case, &before_mps);
    line->slope = slope * after.slope;
    line->offset_c = offset_c * after.slope + after.offset_c;
    return isfinite(line->slope) && isfinite(line->offset_c) && isfinite(body.signed_work_j) &&
           isfinite(map->cap_c) && isfinite(map->normal_cap_c);
}

bool td_plan_map(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                 double floor_c, struct td_plan_map *map)
{
    struct td_plan_trial spoken = *trial;
    spoken.rounding = plan_case->spoken;
    map->cap_c = map->normal_cap_c = 1e9;
    return map_rounding(plan_case, trial, floor_c, map, &map->exact) &&
           map_rounding(plan_case, &spoken, floor_c, map, &map->spoken);
}

double td_plan_drive(const struct td_plan_legs *legs, enum td_plan_rounding rounding,
                     struct td_plan_outcome *each)
{
    double from_c = legs->leg[0].of.query->brakes_from_c, hottest_c = -273;
    for (size_t i = 0; i < legs->count; i++) {
        struct td_plan_trial trial = legs->leg[i].trial;
        trial.rounding = rounding;
        td_plan_descend(&legs->leg[i].of, &trial, from_c, &each[i]);
        from_c = each[i].next_c;
        hottest_c = fmax(hottest_c, fmax(each[i].worst_c, each[i].failure_c));
    }
    return hottest_c;
}
