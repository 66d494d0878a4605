/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What holds the truck back beside its service brakes, and the speed at which it would climb.
 * Truck and road as filed: the quarter that a cautious policy takes off and the tenth to spare
 * cover an engine brake 15 % weaker on a road 0.3 % steeper under a truck 5 % heavier. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/forces.h"
#include "talkdown/retarder.h"
#include "talkdown/units.h"

/* Wheels of the drive axles: two axles carry about 0.4 of the weight, and wet road holds about 0.4
 * of that. Common practice, no source. */
#define WET_ENGINE_HOLD_G 0.16
/* A grade is sustained over 300 m; pieces are 50 m and longer, so that a window has at most six. */
#define SUSTAINED_M 300.0
enum { HOLD_RING = 8 };

/* The retarder takes what the engine leaves of the need, as far as its heat allows: at full torque,
 * since a strong one heats itself sooner. It holds with what it has left at the piece's end. */
static double retarder_n(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                         double length_m, double speed_mps, double need_n, double *retarder_c)
{
    const struct td_rig *rig = plan_case->rig;
    double share = td_retarder_share(&rig->retarder, *retarder_c);
    double most_n = td_force_retarder_n(rig, trial->stage, 1, share, speed_mps);
    double taken_n = need_n < most_n ? need_n : most_n;
    *retarder_c = td_retarder_step_c(&rig->retarder, *retarder_c, taken_n * speed_mps,
                                     plan_case->query->ambient_c, length_m / speed_mps);
    share = fmin(share, td_retarder_share(&rig->retarder, *retarder_c));
    return td_force_retarder_n(rig, trial->stage, plan_case->credit, share, speed_mps);
}

double td_plan_hold_n(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                      const struct td_plan_piece *piece, double speed_mps, double free_n,
                      double *retarder_c)
{
    const struct td_rig *rig = plan_case->rig;
    int on_crank = piece->engine_brake_banned ? -1 : trial->stage;
    double engine_n =
        td_force_engine_n(rig, trial->gear, on_crank, plan_case->credit, speed_mps);
    if (trial->stage < 0 || rig->stages[trial->stage].kind != TD_HOLDER_RETARDER)
        return engine_n;
    return engine_n + retarder_n(plan_case, trial, piece->length_m, speed_mps, free_n - engine_n,
                                 retarder_c);
}

/* Forces of one piece at its speed, times its length. */
struct hold {
    double engine_nm, need_nm;
};

static struct hold hold_of(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                           size_t at, double *retarder_c)
{
    const struct td_plan_piece *piece = &plan_case->road->pieces[at];
    double v = td_plan_piece_mps(plan_case, trial, at);
    double weight_n = plan_case->query->mass_kg * TD_GRAVITY_MPS2;
    double need_n = weight_n * (piece->sine - plan_case->rig->rolling_ratio * piece->cosine) -
                    td_force_air_n(plan_case->rig, v);
    double held_n = td_plan_hold_n(plan_case, trial, piece, v, need_n, retarder_c);
    return (struct hold){held_n * piece->length_m, need_n * piece->length_m};
}

static size_t window_pieces(const struct td_plan_work *road)
{
    size_t window = (size_t)ceil(SUSTAINED_M / road->pieces[0].length_m - 1e-9);
    return window < road->count ? window : road->count;
}

/* Pieces of all windows that touch the descent. A window may reach into what lies beside it: a
 * short descent must not be judged by less than 300 m, nor by other windows than a longer one of
 * which it is part. */
static struct td_plan_span windows_of(const struct td_plan_case *plan_case, size_t window)
{
    struct td_plan_span span = plan_case->span;
    span.first = span.first + 1 > window ? span.first + 1 - window : 0;
    span.last = span.last + window - 1;
    if (span.last > plan_case->road->count)
        span.last = plan_case->road->count;
    return span;
}

double td_plan_hold_ratio(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                          bool but_bans, double enough, double *at_m)
{
    const struct td_plan_work *road = plan_case->road;
    size_t window = window_pieces(road);
    struct td_plan_span span = windows_of(plan_case, window);
    size_t banned_to = 0;
    struct hold ring[HOLD_RING], sum = {0, 0};
    double least_ratio = TD_PLAN_HOLD_MOST, retarder_c = plan_case->retarder_from_c;
    *at_m = road->pieces[plan_case->span.first].from_m;
    for (size_t i = span.first; i < span.last && least_ratio >= enough; i++) {
        struct hold *slot = &ring[i % window];
        if (i >= span.first + window) {
            sum.engine_nm -= slot->engine_nm;
            sum.need_nm -= slot->need_nm;
        }
        *slot = hold_of(plan_case, trial, i, &retarder_c);
        sum.engine_nm += slot->engine_nm;
        sum.need_nm += slot->need_nm;
        if (but_bans && road->pieces[i].engine_brake_banned)
            banned_to = i + window;
        if (i + 1 < span.first + window || i < banned_to || sum.need_nm <= 0)
            continue;
        if (sum.engine_nm < least_ratio * sum.need_nm) {
            least_ratio = sum.engine_nm / sum.need_nm;
            *at_m = road->pieces[i + 1 - window].from_m;
        }
    }
    return least_ratio;
}

double td_plan_retarder_after_c(const struct td_plan_case *plan_case, double break_s)
{
    const struct td_rig *rig = plan_case->rig;
    double most_w = 0, ambient_c = plan_case->query->ambient_c;
    for (size_t stage = 0; stage < rig->stage_count; stage++) {
        const struct td_torque_curve *curve = &rig->stages[stage].shaft_torque_nm;
        for (size_t i = 0; i < curve->count; i++)
            most_w = fmax(most_w, curve->torque_nm[i] * curve->rpm[i] * 2 * TD_PI / 60);
    }
    if (most_w <= 0)
        return TD_RETARDER_WARM_C;
    double hot_c = fmax(rig->retarder.derates_to_c,
                        ambient_c + rig->retarder.least_ratio * most_w /
                                        rig->retarder.cooling_w_per_k);
    return fmax(TD_RETARDER_WARM_C,
                td_retarder_step_c(&rig->retarder, hot_c, 0, ambient_c, break_s));
}

static double slope_of(const struct td_plan_case *plan_case, size_t at)
{
    const struct td_plan_piece *piece = &plan_case->road->pieces[at];
    return piece->length_m * (piece->sine + plan_case->rig->rolling_ratio * piece->cosine);
}

/* Driveline losses counted, air not: at such speeds on such grades it is a few parts in a
 * hundred, and leaving it out would only be wrong for a truck that climbs fast. */
double td_plan_climb_mps(const struct td_plan_case *plan_case)
{
    const struct td_plan_work *road = plan_case->road;
    size_t window = window_pieces(road);
    struct td_plan_span span = windows_of(plan_case, window);
    double steepest = 0, sum = 0, length_m = 0;
    for (size_t i = span.first; i < span.last; i++) {
        sum += slope_of(plan_case, i);
        length_m += road->pieces[i].length_m;
        if (i >= span.first + window) {
            sum -= slope_of(plan_case, i - window);
            length_m -= road->pieces[i - window].length_m;
        }
        if (i + 1 >= span.first + window && sum / length_m > steepest)
            steepest = sum / length_m;
    }
    double resistance_n = steepest * plan_case->query->mass_kg * TD_GRAVITY_MPS2;
    double at_wheels_w = td_rig_drive_power_w(plan_case->rig) * plan_case->rig->driveline_ratio;
    return resistance_n > 0 ? at_wheels_w / resistance_n : td_mps_from_mph(TD_PLAN_MOST_MPH);
}

bool td_plan_grips(const struct td_plan_case *plan_case, const struct td_plan_trial *trial)
{
    if (plan_case->query->road == TD_ROAD_DRY || trial->stage < 0)
        return true;
    double limit_n = WET_ENGINE_HOLD_G * TD_GRAVITY_MPS2 * plan_case->query->mass_kg;
    const double at[] = {td_plan_slowest_mps(plan_case, trial),
                         td_plan_fastest_mps(plan_case, trial)};
    for (int i = 0; i < 2; i++)
        if (td_force_hold_n(plan_case->rig, trial->gear, trial->stage, 1, 1, at[i]) > limit_n)
            return false;
    return true;
}
