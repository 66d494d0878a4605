/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The search: which pair of gear and speed, which stage. The rules and their sources are in the
 * header and docs/physics.md. */
#include "talkdown/plan.h"

#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/units.h"

/* Steps of the search: every whole spoken figure is one of them. */
#define STEP_MPH       0.25
#define STEP_KMH       0.5
#define SAME_SHARE     0.005 /* service brakes' shares this close count as equal */
#define RANKING_CREDIT 0.75  /* ranks stages where the policy credits none */
/* Stops that hot brakes are to be able to make: half of the 14 ft/s2 asked of cold ones by 49 CFR
 * 393.52, rounded down; on wet road, where distance doubles (CDL manual 2.6), half of that. */
#define STOP_DRY_MPS2 2.0
#define STOP_WET_MPS2 1.0

double td_plan_credit_ratio(enum td_credit credit)
{
    return credit == TD_CREDIT_FULL ? 1.0 : credit == TD_CREDIT_CAUTIOUS ? 0.75 : 0.0;
}

struct td_plan_doubt td_plan_doubt_none(void)
{
    return (struct td_plan_doubt){1, 0, 1, 1};
}

struct td_plan_doubt td_plan_doubt_default(void)
{
    return (struct td_plan_doubt){1.05, 0.003, 0.95, 0.8};
}

struct td_plan_query td_plan_query_default(const struct td_rig *rig)
{
    return (struct td_plan_query){
        .mass_kg = rig->loads[rig->load_now].mass_kg,
        .road = TD_ROAD_DRY,
        .credit = TD_CREDIT_CAUTIOUS,
        .stage_most = (int)rig->stage_count - 1,
        .ambient_c = td_c_from_f(90),
        .brakes_from_c = td_c_from_f(150),
        .doubt = td_plan_doubt_default(),
    };
}

static int stage_most(const struct td_plan_case *plan_case)
{
    int last = (int)plan_case->rig->stage_count - 1;
    return plan_case->query->stage_most < last ? plan_case->query->stage_most : last;
}

/* The trial at its exact and at its spoken speed: rpm. */
static bool rpm_fits(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    if (!td_plan_rpm_fits(plan_case, &trial))
        return false;
    trial.rounding = plan_case->spoken;
    return td_plan_rpm_fits(plan_case, &trial);
}

static bool is_cool(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    struct td_plan_outcome outcome;
    td_plan_descend(plan_case, &trial, true, &outcome);
    if (!outcome.cool || !outcome.failure_cool)
        return false;
    trial.rounding = plan_case->spoken;
    td_plan_descend(plan_case, &trial, true, &outcome);
    return outcome.cool && outcome.failure_cool;
}

/* The service brakes stay in ordinary use, with what the trial's gear and stage hold back. */
static bool is_ordinary(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    struct td_plan_outcome outcome;
    td_plan_descend(plan_case, &trial, false, &outcome);
    if (!outcome.known || outcome.peak_c > TD_PLAN_NORMAL_C)
        return false;
    trial.rounding = plan_case->spoken;
    td_plan_descend(plan_case, &trial, false, &outcome);
    return outcome.known && outcome.peak_c <= TD_PLAN_NORMAL_C;
}

static bool holds_but_bans(const struct td_plan_case *plan_case, struct td_plan_trial trial,
                           bool but_bans)
{
    double at_m;
    if (plan_case->credit <= 0 || trial.stage < 0 ||
        td_plan_hold_ratio(plan_case, &trial, but_bans, &at_m) < TD_PLAN_HOLDS_RATIO)
        return false;
    trial.rounding = plan_case->spoken;
    return td_plan_hold_ratio(plan_case, &trial, but_bans, &at_m) >= TD_PLAN_HOLDS_RATIO;
}

static bool holds(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    return holds_but_bans(plan_case, trial, false);
}

/* The service brakes alone, no engine at all, stay in ordinary use. */
static bool is_mild(const struct td_plan_case *plan_case, double cruise_mps)
{
    return is_ordinary(plan_case, (struct td_plan_trial){-1, -1, cruise_mps, TD_PLAN_EXACT});
}

static double step_mps(const struct td_plan_case *plan_case)
{
    return plan_case->spoken == TD_PLAN_SPOKEN_KMH ? td_mps_from_kmh(STEP_KMH)
                                                   : td_mps_from_mph(STEP_MPH);
}

static double speed_of_step(const struct td_plan_case *plan_case, int step)
{
    return fmin(step * step_mps(plan_case), plan_case->fastest_mps);
}

static int last_step(const struct td_plan_case *plan_case)
{
    return (int)ceil(plan_case->fastest_mps / step_mps(plan_case) - 1e-9);
}

/* The brakes alone, motoring in the best gear: FITS, or what fails. */
enum verdict { FITS, NO_GEAR, TOO_HOT };

static enum verdict brakes_alone(const struct td_plan_case *plan_case, double cruise_mps)
{
    enum verdict verdict = NO_GEAR;
    for (int gear = 0; gear < (int)plan_case->rig->gear_count; gear++) {
        struct td_plan_trial trial = {gear, -1, cruise_mps, TD_PLAN_EXACT};
        if (!rpm_fits(plan_case, trial))
            continue;
        if (is_cool(plan_case, trial))
            return FITS;
        verdict = TOO_HOT;
    }
    return verdict;
}

static bool is_crawl(const struct td_plan_case *plan_case, double cruise_mps)
{
    return td_plan_round_down_mps(cruise_mps, plan_case->spoken) <
           td_mps_from_mph(TD_PLAN_CRAWL_MPH) - 1e-9;
}

/* How fast the truck may be without an engine brake: upwards, no further than the first speed that
 * fails. Past it drag may cool the figures again, but slower would then be hotter, and no driver
 * can be told never to slow. */
static void find_reach(struct td_plan_case *plan_case)
{
    int last = last_step(plan_case), step = 1;
    while (step <= last && is_mild(plan_case, speed_of_step(plan_case, step)))
        plan_case->mild_mps = speed_of_step(plan_case, step++);
    for (step = 1; step <= last && is_crawl(plan_case, speed_of_step(plan_case, step));)
        step++;
    for (; step <= last; step++) {
        enum verdict verdict = brakes_alone(plan_case, speed_of_step(plan_case, step));
        if (verdict == FITS)
            plan_case->alone_mps = speed_of_step(plan_case, step);
        if (verdict == TOO_HOT)
            break;
    }
    plan_case->climb_mps = td_plan_climb_mps(plan_case);
}

static bool is_mild_speed(const struct td_plan_case *plan_case, double cruise_mps)
{
    return cruise_mps <= plan_case->mild_mps;
}

/* No faster than it would climb and not at a crawl. */
static bool is_climbing_speed(const struct td_plan_case *plan_case, double cruise_mps)
{
    return cruise_mps <= plan_case->climb_mps && !is_crawl(plan_case, cruise_mps);
}

/* The engine brake does not hold it alone, but with it as credited the service brakes stay in
 * ordinary use: slowly, or only because of places where it is banned. */
static bool is_assisted(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    bool slow = trial.cruise_mps <= td_mps_from_mph(TD_PLAN_ASSISTED_MPH) + 1e-9;
    return (slow || holds_but_bans(plan_case, trial, true)) && is_ordinary(plan_case, trial);
}

/* At such a speed the service brakes alone would do, or with what the engine takes off them. */
static bool climbs(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    struct td_plan_trial off = {trial.gear, -1, trial.cruise_mps, TD_PLAN_EXACT};
    if (!is_climbing_speed(plan_case, trial.cruise_mps))
        return false;
    return (trial.cruise_mps <= plan_case->alone_mps && is_cool(plan_case, off)) ||
           is_assisted(plan_case, trial);
}

static bool is_allowed(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    return rpm_fits(plan_case, trial) && td_plan_grips(plan_case, &trial) &&
           (is_mild_speed(plan_case, trial.cruise_mps) || holds(plan_case, trial) ||
            climbs(plan_case, trial)) &&
           is_cool(plan_case, trial);
}

static bool is_any_allowed(const struct td_plan_case *plan_case, double cruise_mps, int stages)
{
    for (int gear = 0; gear < (int)plan_case->rig->gear_count; gear++)
        for (int stage = stages; stage >= -1; stage--) {
            struct td_plan_trial trial = {gear, stage, cruise_mps, TD_PLAN_EXACT};
            if (is_allowed(plan_case, trial))
                return true;
        }
    return false;
}

/* Highest allowed step with stages up to `stages`; 0 when none. */
static int search(const struct td_plan_case *plan_case, int stages)
{
    for (int step = last_step(plan_case); step > 0; step--)
        if (is_any_allowed(plan_case, speed_of_step(plan_case, step), stages))
            return step;
    return 0;
}

/* How good a trial is that is allowed: less service braking, then nearer the engine's best speed,
 * then (by the order of the search) the weaker stage. */
struct rank {
    double share, rpm_off;
};

static struct rank rank_of(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    struct td_plan_case ranking = *plan_case;
    struct td_plan_outcome outcome;
    if (ranking.credit <= 0)
        ranking.credit = RANKING_CREDIT;
    td_plan_descend(&ranking, &trial, false, &outcome);
    trial.rounding = plan_case->spoken;
    double spoken_mps = td_plan_round_down_mps(trial.cruise_mps, plan_case->spoken);
    double rpm = td_rig_rpm(plan_case->rig, (size_t)trial.gear, spoken_mps);
    return (struct rank){outcome.pull_j > 0 ? outcome.brake_j / outcome.pull_j : 0,
                         fabs(rpm - plan_case->rig->rpm_best)};
}

static bool is_better(struct rank a, struct rank b)
{
    if (fabs(a.share - b.share) > SAME_SHARE)
        return a.share < b.share;
    return a.rpm_off < b.rpm_off - 1e-9;
}

/* The best of all gears and stages allowed at this speed. */
static bool choose(const struct td_plan_case *plan_case, double cruise_mps,
                   struct td_plan_trial *chosen)
{
    bool found = false;
    struct rank best = {0, 0};
    for (int gear = 0; gear < (int)plan_case->rig->gear_count; gear++)
        for (int stage = -1; stage <= stage_most(plan_case); stage++) {
            struct td_plan_trial trial = {gear, stage, cruise_mps, TD_PLAN_EXACT};
            if (!is_allowed(plan_case, trial))
                continue;
            struct rank rank = rank_of(plan_case, trial);
            if (!found || is_better(rank, best)) {
                best = rank;
                *chosen = trial;
                found = true;
            }
        }
    return found;
}

/* What stops the truck from going faster than the trial where no ceiling does: heat, or the engine,
 * which turns too fast, does not hold or would not climb. */
static enum td_plan_limit limit_beyond(const struct td_plan_case *plan_case,
                                       struct td_plan_trial trial)
{
    bool held = holds(plan_case, trial);
    if (trial.cruise_mps >= plan_case->fastest_mps - 1e-9)
        return TD_LIMIT_NONE;
    bool mild = !held && is_mild_speed(plan_case, trial.cruise_mps);
    trial.cruise_mps = fmin(trial.cruise_mps + step_mps(plan_case), plan_case->fastest_mps);
    if (!held)
        return mild || is_climbing_speed(plan_case, trial.cruise_mps) ? TD_LIMIT_HEAT
                                                                      : TD_LIMIT_GEAR;
    for (trial.gear = 0; trial.gear < (int)plan_case->rig->gear_count; trial.gear++)
        for (trial.stage = 0; trial.stage <= stage_most(plan_case); trial.stage++)
            if (rpm_fits(plan_case, trial) && td_plan_grips(plan_case, &trial) &&
                holds(plan_case, trial))
                return TD_LIMIT_HEAT;
    return TD_LIMIT_GEAR;
}

static struct td_plan_case make_case(const struct td_hill *hill, const struct td_rig *rig,
                                     const struct td_plan_query *query,
                                     const struct td_plan_work *work)
{
    struct td_plan_case plan_case = {
        .hill = hill,
        .rig = rig,
        .query = query,
        .road = work,
        .credit = td_plan_credit_ratio(query->credit),
        .stop_mps2 = query->road == TD_ROAD_DRY ? STOP_DRY_MPS2 : STOP_WET_MPS2,
        .slowest_mps = work->pieces[0].ceiling_mps,
        .fastest_mps = work->pieces[0].ceiling_mps,
        .spoken = query->speak_kmh ? TD_PLAN_SPOKEN_KMH : TD_PLAN_SPOKEN_MPH,
    };
    for (size_t i = 1; i < work->count; i++) {
        plan_case.slowest_mps = fmin(plan_case.slowest_mps, work->pieces[i].ceiling_mps);
        plan_case.fastest_mps = fmax(plan_case.fastest_mps, work->pieces[i].ceiling_mps);
    }
    return plan_case;
}

/* Highest crawl that the brakes alone would allow; 0 when none. */
static double find_crawl_mps(const struct td_plan_case *plan_case)
{
    int step = last_step(plan_case);
    while (step > 0 && (!is_crawl(plan_case, speed_of_step(plan_case, step)) ||
                        brakes_alone(plan_case, speed_of_step(plan_case, step)) != FITS))
        step--;
    return step > 0 ? speed_of_step(plan_case, step) : 0;
}

static int whole_mph(double mps)
{
    return (int)floor(td_mph_from_mps(mps) + 1e-6);
}

void td_plan_solve(const struct td_hill *hill, const struct td_rig *rig,
                   const struct td_plan_query *query, struct td_plan_work *work,
                   struct td_plan *plan)
{
    *plan = (struct td_plan){.safe = true, .gear = -1, .stage = -1, .limited_by = TD_LIMIT_NONE};
    if (!hill->coached)
        return;
    plan->coached = true;
    td_plan_road(hill, rig, query, work);
    if (work->count == 0) { /* no descent between crest and foot: nothing to vouch for */
        plan->safe = false;
        td_plan_add_reason(plan, TD_REASON_NOTHING_ALLOWED, 0, 0);
        return;
    }
    struct td_plan_case plan_case = make_case(hill, rig, query, work);
    find_reach(&plan_case);
    int without = search(&plan_case, -1);
    if (without > 0)
        plan->without_engine_brake_mph =
            whole_mph(fmin(speed_of_step(&plan_case, without), plan_case.slowest_mps));
    int step = search(&plan_case, stage_most(&plan_case));
    struct td_plan_trial chosen;
    bool found = step > 0 && choose(&plan_case, speed_of_step(&plan_case, step), &chosen);
    if (found && query->road != TD_ROAD_ICE) {
        td_plan_report(&plan_case, &chosen, limit_beyond(&plan_case, chosen), plan);
        return;
    }
    plan->safe = false;
    plan->without_engine_brake_mph = 0;
    td_plan_report_refusal(&plan_case, find_crawl_mps(&plan_case), plan);
}

double td_plan_target_at(const struct td_plan *plan, double along_m)
{
    if (plan->stretch_count == 0)
        return 0;
    size_t at = 0;
    while (at + 1 < plan->stretch_count && along_m >= plan->stretches[at].to_m)
        at++;
    return plan->stretches[at].target_mps;
}

const struct td_plan_descent *td_plan_descent_at(const struct td_plan *plan, double along_m)
{
    if (plan->descent_count == 0)
        return NULL;
    size_t at = 0;
    while (at + 1 < plan->descent_count && along_m >= plan->descents[at].to_m)
        at++;
    return &plan->descents[at];
}
