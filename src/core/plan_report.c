/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan in figures: what the chosen descent comes to, its stretches, and why. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/units.h"

#define SAME_MPS     0.01
#define SAME_GRADE   0.01 /* stretches of one speed part where the grade differs by more */
#define SHORT_M      300.0 /* and none is parted for its grade alone before it is this long */

void td_plan_add_reason(struct td_plan *plan, enum td_plan_reason_kind kind, double value,
                        double at_m)
{
    if (plan->reason_count < TD_PLAN_REASONS_MAX)
        plan->reasons[plan->reason_count++] = (struct td_plan_reason){kind, value, at_m};
}

static double ratio_of(const struct td_plan_piece *piece)
{
    return piece->sine / piece->cosine;
}

/* Cuts the pieces into stretches; false when more than fit at this tolerance of grade. */
static bool cut(const struct td_plan_case *plan_case, const struct td_plan_trial *chosen,
                enum td_plan_limit beyond, double same_grade, struct td_plan *plan)
{
    const struct td_plan_work *road = plan_case->road;
    struct td_plan_stretch *last = NULL;
    plan->stretch_count = 0;
    for (size_t i = 0; i < road->count; i++) {
        const struct td_plan_piece *piece = &road->pieces[i];
        double mps = td_plan_piece_mps(plan_case, chosen, i), ratio = ratio_of(piece);
        enum td_plan_limit by =
            piece->ceiling_mps <= chosen->cruise_mps + 1e-9 ? piece->limited_by : beyond;
        double to_m = piece->from_m + piece->length_m;
        double known_m = last != NULL ? piece->from_m - last->from_m : 0;
        if (last != NULL && fabs(mps - last->target_mps) < SAME_MPS && by == last->limited_by &&
            (known_m < SHORT_M || fabs(ratio - last->downgrade_ratio) <= same_grade)) {
            last->downgrade_ratio = (last->downgrade_ratio * known_m + ratio * piece->length_m) /
                                    (known_m + piece->length_m);
            last->to_m = to_m;
            last->target_mps = fmin(last->target_mps, mps);
            continue;
        }
        if (plan->stretch_count == TD_PLAN_STRETCHES_MAX)
            return false;
        last = &plan->stretches[plan->stretch_count++];
        *last = (struct td_plan_stretch){piece->from_m, to_m, ratio, mps, by};
    }
    return true;
}

/* Joins the neighbours that differ least in speed, at the lower of the two, until they fit. Only
 * roads with more changes of speed than stretches come here. */
static void cut_coarsely(const struct td_plan_case *plan_case, const struct td_plan_trial *chosen,
                         enum td_plan_limit beyond, struct td_plan *plan)
{
    const struct td_plan_work *road = plan_case->road;
    plan->stretch_count = 0;
    for (size_t k = 0; k < TD_PLAN_STRETCHES_MAX; k++) {
        size_t from = k * road->count / TD_PLAN_STRETCHES_MAX;
        size_t to = (k + 1) * road->count / TD_PLAN_STRETCHES_MAX;
        if (from == to)
            continue;
        size_t slowest = from;
        double fall_m = 0, length_m = 0;
        for (size_t i = from; i < to; i++) {
            fall_m += ratio_of(&road->pieces[i]) * road->pieces[i].length_m;
            length_m += road->pieces[i].length_m;
            if (road->pieces[i].ceiling_mps < road->pieces[slowest].ceiling_mps)
                slowest = i;
        }
        const struct td_plan_piece *piece = &road->pieces[slowest];
        bool ceiled = piece->ceiling_mps <= chosen->cruise_mps + 1e-9;
        plan->stretches[plan->stretch_count++] = (struct td_plan_stretch){
            road->pieces[from].from_m, road->pieces[to - 1].from_m + road->pieces[to - 1].length_m,
            fall_m / length_m, td_plan_piece_mps(plan_case, chosen, slowest),
            ceiled ? piece->limited_by : beyond};
    }
}

static void fill_stretches(const struct td_plan_case *plan_case,
                           const struct td_plan_trial *chosen, enum td_plan_limit beyond,
                           struct td_plan *plan)
{
    for (double same_grade = SAME_GRADE; same_grade < 2; same_grade *= 2)
        if (cut(plan_case, chosen, beyond, same_grade, plan))
            return;
    cut_coarsely(plan_case, chosen, beyond, plan);
}

static void fill_speeds(const struct td_plan_case *plan_case, const struct td_plan_trial *chosen,
                        struct td_plan *plan)
{
    plan->target_mps = plan->stretches[0].target_mps;
    plan->limited_by = plan->stretches[0].limited_by;
    for (size_t i = 1; i < plan->stretch_count; i++)
        if (plan->stretches[i].target_mps < plan->target_mps) {
            plan->target_mps = plan->stretches[i].target_mps;
            plan->limited_by = plan->stretches[i].limited_by;
        }
    double mph = td_mph_from_mps(plan->target_mps);
    plan->target_mph = (int)floor(mph + 1e-6);
    plan->say_mph = (int)floor(
        td_mph_from_mps(td_plan_round_down_mps(plan->target_mps, TD_PLAN_SPOKEN_MPH)) + 1e-6);
    plan->say_kmh = (int)floor(
        td_kmh_from_mps(td_plan_round_down_mps(plan->target_mps, TD_PLAN_SPOKEN_KMH)) + 1e-6);
    plan->gear = chosen->gear;
    plan->stage = chosen->stage;
    plan->rpm = td_rig_rpm(plan_case->rig, (size_t)chosen->gear,
                           td_plan_round_down_mps(plan->target_mps, plan_case->spoken));
}

/* The whole road as one descent. */
static void fill_descents(const struct td_plan_case *plan_case, struct td_plan *plan)
{
    plan->descents[0] = (struct td_plan_descent){
        .from_m = plan->stretches[0].from_m,
        .to_m = plan->stretches[plan->stretch_count - 1].to_m,
        .target_mps = plan->target_mps,
        .target_mph = plan->target_mph,
        .say_mph = plan->say_mph,
        .say_kmh = plan->say_kmh,
        .limited_by = plan->limited_by,
        .gear = plan->gear,
        .stage = plan->stage,
        .rpm = plan->rpm,
        .peak_c = plan->peak_c,
        .peak_at_m = plan->peak_at_m,
        .final_c = plan->final_c,
    };
    plan->descent_count = 1;
    plan->last_stop_m = plan_case->hill->foot_m;
}

/* The lowest ceiling of a kind, when it holds the plan down. */
static void add_ceiling_reason(const struct td_plan_case *plan_case, double cruise_mps,
                               enum td_plan_limit by, enum td_plan_reason_kind kind,
                               struct td_plan *plan)
{
    const struct td_plan_piece *lowest = NULL;
    for (size_t i = 0; i < plan_case->road->count; i++) {
        const struct td_plan_piece *piece = &plan_case->road->pieces[i];
        if (piece->limited_by == by && piece->ceiling_mps <= cruise_mps + 1e-9 &&
            (lowest == NULL || piece->ceiling_mps < lowest->ceiling_mps))
            lowest = piece;
    }
    if (lowest != NULL)
        td_plan_add_reason(plan, kind, lowest->ceiling_mps, lowest->reason_at_m);
}

static void add_hold_reason(const struct td_plan_case *plan_case,
                            const struct td_plan_trial *trial, struct td_plan *plan)
{
    double at_m, ratio = td_plan_hold_ratio(plan_case, trial, false, &at_m);
    if (ratio >= TD_PLAN_HOLDS_RATIO)
        td_plan_add_reason(plan, TD_REASON_ENGINE_BRAKE_HOLDS, ratio - 1, at_m);
    else
        td_plan_add_reason(plan, TD_REASON_ENGINE_BRAKE_WEAK, ratio, at_m);
}

/* What lets the truck go down where the engine brake does not hold it. */
static void add_basis_reason(const struct td_plan_case *plan_case,
                             const struct td_plan_trial *chosen, struct td_plan *plan)
{
    struct td_plan_trial mild = {-1, -1, chosen->cruise_mps, TD_PLAN_EXACT};
    struct td_plan_outcome outcome;
    double at_m;
    if (chosen->stage >= 0 && plan_case->credit > 0 &&
        td_plan_hold_ratio(plan_case, chosen, false, &at_m) >= TD_PLAN_HOLDS_RATIO)
        return;
    if (chosen->cruise_mps > plan_case->mild_mps) {
        td_plan_add_reason(plan, TD_REASON_CLIMBING, plan_case->climb_mps, 0);
        return;
    }
    td_plan_descend(plan_case, &mild, false, &outcome);
    td_plan_add_reason(plan, TD_REASON_MILD, outcome.peak_c, outcome.peak_at_m);
}

static void add_heat_reasons(const struct td_plan_outcome *outcome, bool engine_brake,
                             struct td_plan *plan)
{
    td_plan_add_reason(plan, TD_REASON_HEAT, outcome->peak_c, outcome->peak_at_m);
    if (engine_brake)
        td_plan_add_reason(plan, TD_REASON_FAILURE_STOP, outcome->failure_c,
                           outcome->failure_at_m);
}

static void fill_heat(const struct td_plan_case *plan_case, const struct td_plan_outcome *outcome,
                      struct td_plan *plan)
{
    plan->peak_c = outcome->peak_c;
    plan->peak_at_m = outcome->peak_at_m;
    plan->final_c = outcome->final_c;
    plan->margin_c = plan_case->rig->brakes.limit_c - outcome->worst_c;
}

static double brake_share(const struct td_plan_case *plan_case, const struct td_plan_trial *trial,
                          const struct td_plan_outcome *outcome)
{
    struct td_plan_outcome credited = *outcome;
    if (plan_case->credit <= 0 && trial->stage >= 0) {
        struct td_plan_case other = *plan_case;
        other.credit = td_plan_credit_ratio(TD_CREDIT_CAUTIOUS);
        td_plan_descend(&other, trial, false, &credited);
    }
    return credited.pull_j > 0 ? credited.brake_j / credited.pull_j : 0;
}

static double likely_peak_c(const struct td_plan_case *plan_case,
                            const struct td_plan_trial *trial)
{
    struct td_plan_case filed = *plan_case;
    struct td_plan_outcome outcome;
    filed.filed = true;
    td_plan_descend(&filed, trial, false, &outcome);
    return outcome.peak_c;
}

void td_plan_report(const struct td_plan_case *plan_case, const struct td_plan_trial *chosen,
                    enum td_plan_limit beyond, struct td_plan *plan)
{
    struct td_plan_trial spoken = *chosen;
    struct td_plan_outcome outcome, at_spoken;
    spoken.rounding = plan_case->spoken;
    td_plan_descend(plan_case, chosen, false, &outcome);
    td_plan_descend(plan_case, &spoken, false, &at_spoken);
    bool slower_is_hotter = at_spoken.peak_c > outcome.peak_c;
    const struct td_plan_outcome *hotter = slower_is_hotter ? &at_spoken : &outcome;
    fill_stretches(plan_case, chosen, beyond, plan);
    fill_speeds(plan_case, chosen, plan);
    fill_heat(plan_case, hotter, plan);
    plan->likely_peak_c = likely_peak_c(plan_case, slower_is_hotter ? &spoken : chosen);
    fill_descents(plan_case, plan);
    plan->margin_c =
        plan_case->rig->brakes.limit_c - fmax(outcome.worst_c, at_spoken.worst_c);
    plan->brake_share = brake_share(plan_case, slower_is_hotter ? &spoken : chosen, hotter);
    add_ceiling_reason(plan_case, chosen->cruise_mps, TD_LIMIT_POSTED, TD_REASON_POSTED, plan);
    add_ceiling_reason(plan_case, chosen->cruise_mps, TD_LIMIT_CURVE, TD_REASON_CURVE, plan);
    if (chosen->stage >= 0)
        add_hold_reason(plan_case, chosen, plan);
    add_basis_reason(plan_case, chosen, plan);
    add_heat_reasons(hotter, chosen->stage >= 0, plan);
    td_plan_add_reason(plan, TD_REASON_RPM_MOST,
                       td_rig_speed_mps(plan_case->rig, (size_t)chosen->gear,
                                        plan_case->rig->rpm_most), 0);
}

/* What fails at the slowest the truck can go: the lowest gear at its least engine speed. */
void td_plan_report_refusal(const struct td_plan_case *plan_case, double crawl_mps,
                            struct td_plan *plan)
{
    const struct td_rig *rig = plan_case->rig;
    double slow_mps = td_rig_speed_mps(rig, 0, rig->rpm_least);
    int stage = plan_case->query->stage_most < (int)rig->stage_count
                    ? plan_case->query->stage_most : (int)rig->stage_count - 1;
    struct td_plan_trial crawl = {0, stage, slow_mps, TD_PLAN_EXACT};
    struct td_plan_outcome outcome;
    td_plan_descend(plan_case, &crawl, false, &outcome);
    fill_heat(plan_case, &outcome, plan);
    plan->limited_by = TD_LIMIT_NONE;
    if (plan_case->query->road == TD_ROAD_ICE) { /* what would hold on dry road is no comfort */
        td_plan_add_reason(plan, TD_REASON_ICE_NO_CHAINS, 0, 0);
        return;
    }
    td_plan_add_reason(plan, TD_REASON_NOTHING_ALLOWED, 0, 0);
    plan->limited_by = TD_LIMIT_HEAT;
    if (plan_case->slowest_mps < slow_mps) {
        plan->limited_by = TD_LIMIT_GEAR;
        td_plan_add_reason(plan, TD_REASON_RPM_LEAST, slow_mps, 0);
        add_ceiling_reason(plan_case, slow_mps, TD_LIMIT_POSTED, TD_REASON_POSTED, plan);
        add_ceiling_reason(plan_case, slow_mps, TD_LIMIT_CURVE, TD_REASON_CURVE, plan);
    }
    if (stage >= 0)
        add_hold_reason(plan_case, &crawl, plan);
    if (crawl_mps > 0)
        td_plan_add_reason(plan, TD_REASON_CRAWL, crawl_mps, 0);
    add_heat_reasons(&outcome, stage >= 0, plan);
}
