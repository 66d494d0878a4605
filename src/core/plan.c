/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The search: how fast on each descent, in which gear and stage. What is allowed on one descent is
 * plan_allow.c's; here it is which breaks to use and how the descents share the brakes' heat. The
 * rules and their sources are in the header and docs/physics.md. */
#include "talkdown/plan.h"

#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/retarder.h"
#include "talkdown/units.h"

#define SAME_SHARE     0.005 /* service brakes' shares this close count as equal */
#define RANKING_CREDIT 0.75  /* ranks stages where the policy credits none */
#define EVERY_WAY_MOST 3     /* breaks up to which each may be used or not by itself */
#define ANY_C          1e12  /* after the last descent brakes may be as hot as they are */
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

/* One way of using the road's breaks: cuts[i] is the first of the road's descents in its i-th. */
struct partition {
    size_t cuts[TD_PLAN_DESCENTS_MAX + 1];
    size_t count;
    struct td_plan_case of[TD_PLAN_DESCENTS_MAX];
    struct td_plan_table *table[TD_PLAN_DESCENTS_MAX];
};

struct solver {
    const struct td_hill *hill;
    const struct td_rig *rig;
    const struct td_plan_query *query;
    struct td_plan_work *work;
    bool made[TD_PLAN_SPANS_MAX]; /* tables begun */
};

static double seconds_of(const struct td_plan_work *work, struct td_plan_span span)
{
    double seconds = 0;
    for (size_t i = span.first; i < span.last; i++)
        seconds += work->pieces[i].length_m / work->pieces[i].ceiling_mps;
    return seconds;
}

/* The road's descents from `first` to `last`, both in it, as one. */
static struct td_plan_case make_case(const struct solver *solver, size_t first, size_t last)
{
    const struct td_plan_work *work = solver->work;
    const struct td_plan_span *descents = work->descents;
    struct td_plan_case plan_case = {
        .hill = solver->hill,
        .rig = solver->rig,
        .query = solver->query,
        .road = work,
        .span = {descents[first].first, descents[last].last},
        .after = {descents[last].last, descents[last].last},
        .retarder_from_c = TD_RETARDER_WARM_C,
        .credit = td_plan_credit_ratio(solver->query->credit),
        .stop_mps2 = solver->query->road == TD_ROAD_DRY ? STOP_DRY_MPS2 : STOP_WET_MPS2,
        .slowest_mps = td_mps_from_mph(TD_PLAN_MOST_MPH),
        .spoken = solver->query->speak_kmh ? TD_PLAN_SPOKEN_KMH : TD_PLAN_SPOKEN_MPH,
    };
    if (last + 1 < work->descent_count)
        plan_case.after.last = descents[last + 1].first;
    if (first > 0) {
        struct td_plan_span before = {descents[first - 1].last, descents[first].first};
        plan_case.enter_mps = work->pieces[before.last - 1].ceiling_mps;
        plan_case.retarder_from_c =
            td_plan_retarder_after_c(&plan_case, seconds_of(work, before));
    }
    for (size_t i = plan_case.span.first; i < plan_case.span.last; i++) {
        plan_case.slowest_mps = fmin(plan_case.slowest_mps, work->pieces[i].ceiling_mps);
        plan_case.fastest_mps = fmax(plan_case.fastest_mps, work->pieces[i].ceiling_mps);
    }
    plan_case.climb_mps = td_plan_climb_mps(&plan_case);
    return plan_case;
}

/* Bit i of `merged`: the i-th break is no place to let go; gear and pace are kept through it. */
static void make_partition(struct solver *solver, unsigned merged, struct partition *partition)
{
    size_t count = solver->work->descent_count;
    partition->count = 0;
    for (size_t first = 0, last = 0; first < count; first = last + 1) {
        for (last = first; last + 1 < count && (merged >> last & 1u) != 0;)
            last++;
        size_t at = partition->count++, span = last * (last + 1) / 2 + first;
        partition->of[at] = make_case(solver, first, last);
        partition->table[at] = &solver->work->tables[span];
        if (!solver->made[span])
            td_plan_table_begin(&partition->of[at], partition->table[at]);
        solver->made[span] = true;
    }
}

/* Hottest brakes at the crest from which the candidate still leaves them no hotter than next_c at
 * the crest that follows. */
static double bears_c(const struct td_plan_candidate *candidate, double next_c)
{
    double cap_c = candidate->cap_c;
    if (next_c >= ANY_C)
        return cap_c;
    for (int i = 0; i < 2; i++)
        cap_c = fmin(cap_c, (next_c - candidate->offset_c[i]) / candidate->slope[i]);
    return cap_c;
}

/* Hottest brakes at the crest from which some gear and stage does at `step`. */
static double row_bears_c(const struct td_plan_table *table, int step, double next_c,
                          bool with_stages)
{
    double most_c = -ANY_C;
    for (size_t i = 0; i < table->count[step]; i++)
        if (with_stages || !table->candidates[step][i].engine_brake)
            most_c = fmax(most_c, bears_c(&table->candidates[step][i], next_c));
    return most_c;
}

static int best_of(const struct td_plan_table *table, bool with_stages)
{
    return with_stages ? table->best : table->off_best;
}

/* From the foot upwards: how hot the brakes may be at each crest if no descent is to be slower than
 * `least`; bears_c has one more member, of what follows the last. */
static void find_caps(const struct partition *partition, int least, bool with_stages,
                      double *caps_c)
{
    caps_c[partition->count] = ANY_C;
    for (size_t k = partition->count; k-- > 0;) {
        caps_c[k] = -ANY_C;
        td_plan_table_to(&partition->of[k], partition->table[k], least, with_stages);
        int last = best_of(partition->table[k], with_stages);
        for (int step = least; step <= last; step++)
            caps_c[k] = fmax(caps_c[k], row_bears_c(partition->table[k], step, caps_c[k + 1],
                                                    with_stages));
    }
}

/* Highest step that no descent need go below, above `floor_step`; that when there is none. */
static int search(const struct solver *solver, const struct partition *partition, int floor_step,
                  bool with_stages)
{
    double caps_c[TD_PLAN_DESCENTS_MAX + 1];
    int top = TD_PLAN_STEPS_MAX - 1;
    for (size_t k = 0; k < partition->count; k++) {
        int last = td_plan_last_step(&partition->of[k]);
        top = last < top ? last : top;
    }
    for (int step = top; step > floor_step; step--) {
        bool found = true;
        for (size_t k = 0; k < partition->count && found; k++) {
            td_plan_table_to(&partition->of[k], partition->table[k], step, with_stages);
            found = best_of(partition->table[k], with_stages) >= step;
        }
        if (!found)
            continue;
        find_caps(partition, step, with_stages, caps_c);
        if (solver->query->brakes_from_c <= caps_c[0])
            return step;
    }
    return floor_step;
}

/* Whether no descent is held below the next step by anything but its brakes' heat; else no other
 * use of the breaks can help. */
static bool is_heat_bound(const struct partition *partition, int step, bool with_stages)
{
    for (size_t k = 0; k < partition->count; k++)
        if (best_of(partition->table[k], with_stages) <= step)
            return false;
    return true;
}

/* The best use of the breaks: all of them unless keeping gear and pace through some lets the
 * slowest descent go faster. With many breaks it is all or none, for the time it takes. */
static int search_all(struct solver *solver, bool with_stages, struct partition *best)
{
    unsigned ways = 1u << (solver->work->descent_count - 1);
    int step = 0;
    make_partition(solver, 0, best);
    step = search(solver, best, 0, with_stages);
    struct partition all = *best;
    bool every_way = solver->work->descent_count <= EVERY_WAY_MOST + 1;
    for (unsigned merged = every_way ? 1 : ways - 1; merged < ways; merged++) {
        struct partition other;
        if (!is_heat_bound(&all, step, with_stages))
            break;
        make_partition(solver, merged, &other);
        int higher = search(solver, &other, step, with_stages);
        if (higher <= step)
            continue;
        step = higher;
        *best = other;
    }
    return step;
}

/* How good a trial is that is allowed: less service braking, then nearer the engine's best speed,
 * then (by the order of the search) the weaker stage. */
struct rank {
    double share, rpm_off;
};

static struct rank rank_of(const struct td_plan_case *plan_case, struct td_plan_trial trial,
                           double from_c)
{
    struct td_plan_case ranking = *plan_case;
    struct td_plan_outcome outcome;
    if (ranking.credit <= 0)
        ranking.credit = RANKING_CREDIT;
    td_plan_descend(&ranking, &trial, from_c, &outcome);
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

/* The best of all gears and stages allowed at this speed from these brakes, for what follows. */
static bool choose(const struct td_plan_table *table, double next_cap_c, struct td_plan_leg *leg)
{
    bool found = false;
    struct rank best = {0, 0};
    double mps = td_plan_step_mps(&leg->of, leg->step);
    for (int gear = 0; gear < (int)leg->of.rig->gear_count; gear++)
        for (int stage = -1; stage <= td_plan_stage_most(&leg->of); stage++) {
            struct td_plan_trial trial = {gear, stage, mps, TD_PLAN_EXACT};
            struct td_plan_map map;
            struct td_plan_candidate candidate;
            candidate.cap_c = td_plan_allowed_c(&leg->of, table, leg->step, trial, &map);
            if (candidate.cap_c < leg->from_c)
                continue;
            candidate.slope[0] = map.exact.slope;
            candidate.slope[1] = map.spoken.slope;
            candidate.offset_c[0] = map.exact.offset_c;
            candidate.offset_c[1] = map.spoken.offset_c;
            if (leg->from_c > bears_c(&candidate, next_cap_c))
                continue;
            struct rank rank = rank_of(&leg->of, trial, leg->from_c);
            if (found && !is_better(rank, best))
                continue;
            best = rank;
            leg->trial = trial;
            found = true;
        }
    return found;
}

static double next_c(const struct td_plan_leg *leg)
{
    struct td_plan_map map;
    if (!td_plan_map(&leg->of, &leg->trial, -ANY_C, &map))
        return (double)NAN;
    return fmax(map.exact.slope * leg->from_c + map.exact.offset_c,
                map.spoken.slope * leg->from_c + map.spoken.offset_c);
}

/* Each descent in the order of the road, as fast as those after it allow at `least` and up. */
static bool raise(const struct solver *solver, const struct partition *partition, int least,
                  struct td_plan_legs *legs)
{
    double caps_c[TD_PLAN_DESCENTS_MAX + 1], from_c = solver->query->brakes_from_c;
    find_caps(partition, least, true, caps_c);
    legs->count = partition->count;
    for (size_t k = 0; k < partition->count; k++) {
        struct td_plan_leg *leg = &legs->leg[k];
        const struct td_plan_table *table = partition->table[k];
        leg->of = partition->of[k];
        leg->from_c = from_c;
        leg->step = td_plan_last_step(&leg->of);
        while (leg->step > least && from_c > row_bears_c(table, leg->step, caps_c[k + 1], true))
            leg->step--;
        if (!choose(table, caps_c[k + 1], leg))
            return false;
        leg->held = td_plan_holds(&leg->of, leg->trial, false);
        leg->mild = td_plan_is_mild(table, leg->step, from_c);
        leg->beyond = td_plan_limit_beyond(&leg->of, table, leg->step, leg->trial, from_c);
        from_c = next_c(leg);
    }
    return true;
}

/* Highest crawl that the brakes alone would allow on the whole road; 0 when none. */
static double find_crawl_mps(const struct td_plan_case *whole)
{
    for (int step = td_plan_last_step(whole); step > 0; step--) {
        double mps = td_plan_step_mps(whole, step);
        for (int gear = 0; gear < (int)whole->rig->gear_count; gear++) {
            struct td_plan_trial trial = {gear, -1, mps, TD_PLAN_EXACT};
            struct td_plan_map map;
            if (td_plan_is_crawl(whole, mps) && td_plan_rpm_fits(whole, &trial) &&
                td_plan_map(whole, &trial, whole->query->brakes_from_c, &map))
                return mps;
        }
    }
    return 0;
}

static int whole_mph(double mps)
{
    return (int)floor(td_mph_from_mps(mps) + 1e-6);
}

/* Whole mph without an engine brake on the slowest descent; 0 when not without it. */
static int without_mph(struct solver *solver)
{
    struct partition partition;
    int step = search_all(solver, false, &partition);
    double slowest_mps = td_mps_from_mph(TD_PLAN_MOST_MPH);
    if (step == 0)
        return 0;
    for (size_t k = 0; k < partition.count; k++)
        slowest_mps = fmin(slowest_mps, fmin(td_plan_step_mps(&partition.of[k], step),
                                             partition.of[k].slowest_mps));
    return whole_mph(slowest_mps);
}

void td_plan_solve(const struct td_hill *hill, const struct td_rig *rig,
                   const struct td_plan_query *query, struct td_plan_work *work,
                   struct td_plan *plan)
{
    struct solver solver = {.hill = hill, .rig = rig, .query = query, .work = work};
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
    struct partition partition;
    struct td_plan_legs legs;
    int step = query->road == TD_ROAD_ICE ? 0 : search_all(&solver, true, &partition);
    if (step > 0 && raise(&solver, &partition, step, &legs)) {
        plan->without_engine_brake_mph = without_mph(&solver);
        td_plan_report(&legs, plan);
        return;
    }
    plan->safe = false;
    struct td_plan_case whole = make_case(&solver, 0, work->descent_count - 1);
    td_plan_report_refusal(&whole, find_crawl_mps(&whole), plan);
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
