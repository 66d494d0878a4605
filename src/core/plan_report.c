/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan in figures: what the chosen descents come to, and why. Stretches and margins are in
 * plan_stretch.c and plan_margin.c. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/units.h"

void td_plan_add_reason(struct td_plan *plan, enum td_plan_reason_kind kind, double value,
                        double at_m)
{
    if (plan->reason_count < TD_PLAN_REASONS_MAX)
        plan->reasons[plan->reason_count++] = (struct td_plan_reason){kind, value, at_m};
}

static int whole(double figure)
{
    return (int)floor(figure + 1e-6);
}

/* The slowest piece of a descent, first of equals, when its ceiling holds the truck down. */
static const struct td_plan_piece *lowest_ceiling(const struct td_plan_leg *leg,
                                                  enum td_plan_limit by)
{
    const struct td_plan_piece *lowest = NULL;
    for (size_t i = leg->of.span.first; i < leg->of.span.last; i++) {
        const struct td_plan_piece *piece = &leg->of.road->pieces[i];
        if ((by == TD_LIMIT_NONE || piece->limited_by == by) &&
            piece->ceiling_mps <= leg->trial.cruise_mps + 1e-9 &&
            (lowest == NULL || piece->ceiling_mps < lowest->ceiling_mps))
            lowest = piece;
    }
    return lowest;
}

static void fill_speeds(const struct td_plan_leg *leg, struct td_plan_descent *descent)
{
    const struct td_plan_piece *lowest = lowest_ceiling(leg, TD_LIMIT_NONE);
    double mps = fmin(leg->trial.cruise_mps, leg->of.slowest_mps);
    descent->target_mps = mps;
    descent->limited_by = lowest != NULL ? lowest->limited_by : leg->beyond;
    descent->target_mph = whole(td_mph_from_mps(mps));
    descent->say_mph = whole(td_mph_from_mps(td_plan_round_down_mps(mps, TD_PLAN_SPOKEN_MPH)));
    descent->say_kmh = whole(td_kmh_from_mps(td_plan_round_down_mps(mps, TD_PLAN_SPOKEN_KMH)));
    descent->gear = leg->trial.gear;
    descent->stage = leg->trial.stage;
    descent->rpm = td_rig_rpm(leg->of.rig, (size_t)leg->trial.gear,
                              td_plan_round_down_mps(mps, leg->of.spoken));
}

static void fill_descent(const struct td_plan_leg *leg, const struct td_plan_outcome *hotter,
                         struct td_plan_descent *descent)
{
    const struct td_plan_piece *pieces = leg->of.road->pieces;
    const struct td_plan_piece *last = &pieces[leg->of.span.last - 1];
    descent->from_m = pieces[leg->of.span.first].from_m;
    descent->to_m = last->from_m + last->length_m;
    fill_speeds(leg, descent);
    descent->peak_c = hotter->peak_c;
    descent->peak_at_m = hotter->peak_at_m;
    descent->final_c = hotter->final_c;
}

/* The slowest descent speaks for the plan. */
static void fill_summary(const struct td_plan_descent *descent, struct td_plan *plan)
{
    plan->target_mps = descent->target_mps;
    plan->target_mph = descent->target_mph;
    plan->say_mph = descent->say_mph;
    plan->say_kmh = descent->say_kmh;
    plan->limited_by = descent->limited_by;
    plan->gear = descent->gear;
    plan->stage = descent->stage;
    plan->rpm = descent->rpm;
    plan->peak_c = descent->peak_c;
    plan->peak_at_m = descent->peak_at_m;
    plan->final_c = descent->final_c;
}

static void add_ceiling_reason(const struct td_plan_leg *leg, enum td_plan_limit by,
                               enum td_plan_reason_kind kind, struct td_plan *plan)
{
    const struct td_plan_piece *lowest = lowest_ceiling(leg, by);
    if (lowest != NULL)
        td_plan_add_reason(plan, kind, lowest->ceiling_mps, lowest->reason_at_m);
}

static void add_hold_reason(const struct td_plan_case *plan_case,
                            const struct td_plan_trial *trial, struct td_plan *plan)
{
    double at_m, ratio = td_plan_hold_ratio(plan_case, trial, false, 0, &at_m);
    if (ratio >= TD_PLAN_HOLDS_RATIO)
        td_plan_add_reason(plan, TD_REASON_ENGINE_BRAKE_HOLDS, ratio - 1, at_m);
    else
        td_plan_add_reason(plan, TD_REASON_ENGINE_BRAKE_WEAK, ratio, at_m);
}

/* What lets the truck go down where the engine brake does not hold it. */
static void add_basis_reason(const struct td_plan_leg *leg, struct td_plan *plan)
{
    struct td_plan_trial mild = {-1, -1, leg->trial.cruise_mps, TD_PLAN_EXACT};
    struct td_plan_outcome outcome;
    if (leg->held)
        return;
    if (!leg->mild) {
        td_plan_add_reason(plan, TD_REASON_CLIMBING, leg->of.climb_mps, 0);
        return;
    }
    td_plan_descend(&leg->of, &mild, leg->from_c, &outcome);
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

static void add_breaks(struct td_plan *plan)
{
    for (size_t i = 0; i + 1 < plan->descent_count; i++)
        td_plan_add_reason(plan, TD_REASON_BREAK,
                           plan->descents[i + 1].from_m - plan->descents[i].to_m,
                           plan->descents[i].to_m);
}

/* Most important first: what a driver reads of them is the first three. */
static void add_reasons(const struct td_plan_leg *leg, const struct td_plan_outcome *hotter,
                        struct td_plan *plan)
{
    add_ceiling_reason(leg, TD_LIMIT_POSTED, TD_REASON_POSTED, plan);
    add_ceiling_reason(leg, TD_LIMIT_CURVE, TD_REASON_CURVE, plan);
    if (leg->trial.stage >= 0)
        add_hold_reason(&leg->of, &leg->trial, plan);
    add_basis_reason(leg, plan);
    add_heat_reasons(hotter, leg->trial.stage >= 0, plan);
    td_plan_add_reason(plan, TD_REASON_RPM_MOST,
                       td_rig_speed_mps(leg->of.rig, (size_t)leg->trial.gear,
                                        leg->of.rig->rpm_most), 0);
    add_breaks(plan);
}

/* Share of the pull's work on the service brakes; without any credit, as cautiously credited. */
static double brake_share(const struct td_plan_leg *leg, enum td_plan_rounding rounding)
{
    struct td_plan_case credited = leg->of;
    struct td_plan_trial trial = leg->trial;
    struct td_plan_outcome outcome;
    trial.rounding = rounding;
    if (credited.credit <= 0)
        credited.credit = td_plan_credit_ratio(TD_CREDIT_CAUTIOUS);
    td_plan_descend(&credited, &trial, leg->from_c, &outcome);
    return outcome.pull_j > 0 ? outcome.brake_j / outcome.pull_j : 0;
}

void td_plan_report(const struct td_plan_legs *legs, struct td_plan *plan)
{
    struct td_plan_outcome exact[TD_PLAN_DESCENTS_MAX], spoken[TD_PLAN_DESCENTS_MAX];
    const struct td_plan_outcome *hotter[TD_PLAN_DESCENTS_MAX];
    enum td_plan_rounding rounding = legs->leg[0].of.spoken;
    size_t slowest = 0;
    double worst_c = -273;
    (void)td_plan_drive(legs, TD_PLAN_EXACT, exact);
    (void)td_plan_drive(legs, rounding, spoken);
    for (size_t i = 0; i < legs->count; i++) {
        hotter[i] = spoken[i].peak_c > exact[i].peak_c ? &spoken[i] : &exact[i];
        worst_c = fmax(worst_c, fmax(exact[i].worst_c, spoken[i].worst_c));
        fill_descent(&legs->leg[i], hotter[i], &plan->descents[i]);
        if (plan->descents[i].target_mps < plan->descents[slowest].target_mps)
            slowest = i;
    }
    plan->descent_count = legs->count;
    fill_summary(&plan->descents[slowest], plan);
    td_plan_stretches(legs, plan);
    plan->margin_c = legs->leg[0].of.rig->brakes.limit_c - worst_c;
    plan->brake_share = brake_share(&legs->leg[slowest], hotter[slowest] == &spoken[slowest]
                                                             ? rounding : TD_PLAN_EXACT);
    add_reasons(&legs->leg[slowest], hotter[slowest], plan);
    td_plan_margins(legs, slowest, plan);
    td_plan_escapes(legs, plan);
}

/* What fails at the slowest the truck can go: the lowest gear at its least engine speed. */
void td_plan_report_refusal(const struct td_plan_case *whole_road, double crawl_mps,
                            struct td_plan *plan)
{
    const struct td_rig *rig = whole_road->rig;
    double slow_mps = td_rig_speed_mps(rig, 0, rig->rpm_least);
    int stage = td_plan_stage_most(whole_road);
    struct td_plan_leg crawl = {.of = *whole_road,
                                .trial = {0, stage, slow_mps, TD_PLAN_EXACT}};
    struct td_plan_outcome outcome;
    td_plan_descend(whole_road, &crawl.trial, whole_road->query->brakes_from_c, &outcome);
    plan->peak_c = outcome.peak_c;
    plan->peak_at_m = outcome.peak_at_m;
    plan->final_c = outcome.final_c;
    plan->margin_c = rig->brakes.limit_c - outcome.worst_c;
    plan->limited_by = TD_LIMIT_NONE;
    if (whole_road->query->road == TD_ROAD_ICE) { /* what dry road would allow is no comfort */
        td_plan_add_reason(plan, TD_REASON_ICE_NO_CHAINS, 0, 0);
        return;
    }
    td_plan_add_reason(plan, TD_REASON_NOTHING_ALLOWED, 0, 0);
    plan->limited_by = TD_LIMIT_HEAT;
    if (whole_road->slowest_mps < slow_mps) {
        plan->limited_by = TD_LIMIT_GEAR;
        td_plan_add_reason(plan, TD_REASON_RPM_LEAST, slow_mps, 0);
        add_ceiling_reason(&crawl, TD_LIMIT_POSTED, TD_REASON_POSTED, plan);
        add_ceiling_reason(&crawl, TD_LIMIT_CURVE, TD_REASON_CURVE, plan);
    }
    if (stage >= 0)
        add_hold_reason(whole_road, &crawl.trial, plan);
    if (crawl_mps > 0)
        td_plan_add_reason(plan, TD_REASON_CRAWL, crawl_mps, 0);
    add_heat_reasons(&outcome, stage >= 0, plan);
}
