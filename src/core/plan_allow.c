/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is allowed on one descent: for each speed, from how hot brakes at its crest which gear and
 * stage will do. The rules and their sources are in the header and docs/physics.md. */
#include <math.h>
#include <string.h>

#include "core/plan_parts.h"
#include "talkdown/forces.h"
#include "talkdown/units.h"

/* Steps of the search: every whole spoken figure is one of them. */
#define STEP_MPH 0.25
#define STEP_KMH 0.5
#define NEVER_C  (-1e9)

static double unit_mps(const struct td_plan_case *plan_case)
{
    return plan_case->spoken == TD_PLAN_SPOKEN_KMH ? td_mps_from_kmh(STEP_KMH)
                                                   : td_mps_from_mph(STEP_MPH);
}

double td_plan_step_mps(const struct td_plan_case *plan_case, int step)
{
    return fmin(step * unit_mps(plan_case), plan_case->fastest_mps);
}

int td_plan_last_step(const struct td_plan_case *plan_case)
{
    int last = (int)ceil(plan_case->fastest_mps / unit_mps(plan_case) - 1e-9);
    return last < TD_PLAN_STEPS_MAX ? last : TD_PLAN_STEPS_MAX - 1;
}

int td_plan_stage_most(const struct td_plan_case *plan_case)
{
    int last = (int)plan_case->rig->stage_count - 1;
    return plan_case->query->stage_most < last ? plan_case->query->stage_most : last;
}

/* The coolest that brakes can be at any crest, less all that slowing for it can add: what does not
 * do from here does from nowhere, and with no break before it either. */
static double floor_c(const struct td_plan_case *plan_case)
{
    struct td_plan_trial any = {-1, -1, 0, TD_PLAN_EXACT};
    struct td_plan_body body;
    td_plan_body_begin(plan_case, &any, &body);
    return fmin(plan_case->query->ambient_c, plan_case->query->brakes_from_c) -
           td_plan_slowing_c(&body, plan_case->enter_mps, 0);
}

/* The trial at its exact and at its spoken speed: rpm. */
static bool rpm_fits(const struct td_plan_case *plan_case, struct td_plan_trial trial)
{
    if (!td_plan_rpm_fits(plan_case, &trial))
        return false;
    trial.rounding = plan_case->spoken;
    return td_plan_rpm_fits(plan_case, &trial);
}

bool td_plan_holds(const struct td_plan_case *plan_case, struct td_plan_trial trial, bool but_bans)
{
    double at_m, enough = TD_PLAN_HOLDS_RATIO;
    if (plan_case->credit <= 0 || trial.stage < 0 ||
        td_plan_hold_ratio(plan_case, &trial, but_bans, enough, &at_m) < enough)
        return false;
    trial.rounding = plan_case->spoken;
    return td_plan_hold_ratio(plan_case, &trial, but_bans, enough, &at_m) >= enough;
}

bool td_plan_is_crawl(const struct td_plan_case *plan_case, double cruise_mps)
{
    return td_plan_round_down_mps(cruise_mps, plan_case->spoken) <
           td_mps_from_mph(TD_PLAN_CRAWL_MPH) - 1e-9;
}

/* No faster than it would climb and not at a crawl. */
static bool is_climbing_speed(const struct td_plan_case *plan_case, double cruise_mps)
{
    return cruise_mps <= plan_case->climb_mps && !td_plan_is_crawl(plan_case, cruise_mps);
}

/* Of the gears that fit, the one whose engine holds back most: no other does better on the brakes
 * alone unless the motoring torque falls with engine speed. -1 when none fits. */
static int strongest_gear(const struct td_plan_case *plan_case, double cruise_mps)
{
    int strongest = -1;
    double most_n = 0;
    for (int gear = 0; gear < (int)plan_case->rig->gear_count; gear++) {
        if (!rpm_fits(plan_case, (struct td_plan_trial){gear, -1, cruise_mps, TD_PLAN_EXACT}))
            continue;
        double holds_n = td_force_engine_n(plan_case->rig, gear, -1, 0, cruise_mps);
        if (strongest < 0 || holds_n > most_n) {
            strongest = gear;
            most_n = holds_n;
        }
    }
    return strongest;
}

/* Upwards, each cap no higher than any below it: past the first speed that fails drag may cool the
 * figures again, but slower would then be hotter, and no driver can be told never to slow. */
static void find_mild(const struct td_plan_case *plan_case, double *caps)
{
    int last = td_plan_last_step(plan_case);
    double cap_c = 1e9;
    for (int step = 1; step <= last; step++) {
        struct td_plan_trial trial = {-1, -1, td_plan_step_mps(plan_case, step), TD_PLAN_EXACT};
        struct td_plan_map map;
        if (cap_c > NEVER_C)
            cap_c = td_plan_map(plan_case, &trial, NEVER_C, &map) ? fmin(cap_c, map.normal_cap_c)
                                                                  : NEVER_C;
        if (cap_c < floor_c(plan_case))
            cap_c = NEVER_C;
        caps[step] = cap_c;
    }
}

/* The same for the limit, the engine motoring in the best gear. Crawls do not count. */
static void find_alone(const struct td_plan_case *plan_case, double *caps)
{
    int last = td_plan_last_step(plan_case);
    double cap_c = 1e9;
    for (int step = 1; step <= last; step++) {
        double mps = td_plan_step_mps(plan_case, step);
        struct td_plan_trial trial = {-1, -1, mps, TD_PLAN_EXACT};
        struct td_plan_map map;
        caps[step] = NEVER_C;
        if (td_plan_is_crawl(plan_case, mps) || mps > plan_case->climb_mps || cap_c <= NEVER_C)
            continue;
        trial.gear = strongest_gear(plan_case, mps);
        if (trial.gear < 0)
            continue;
        cap_c = td_plan_map(plan_case, &trial, floor_c(plan_case), &map) ? fmin(cap_c, map.cap_c)
                                                                         : NEVER_C;
        caps[step] = cap_c;
    }
}

void td_plan_table_begin(const struct td_plan_case *plan_case, struct td_plan_table *table)
{
    int last = td_plan_last_step(plan_case);
    find_mild(plan_case, table->mild_cap_c);
    find_alone(plan_case, table->alone_cap_c);
    memset(table->count, 0, sizeof table->count);
    table->off_from = table->stages_from = last + 1;
    table->off_best = table->best = 0;
}

/* Cap by the service brakes alone in the trial's own gear; with is the trial's map. */
static double alone_c(const struct td_plan_case *plan_case, const struct td_plan_table *table,
                      int step, struct td_plan_trial trial, const struct td_plan_map *with)
{
    struct td_plan_map map = *with;
    bool has_stage = trial.stage >= 0;
    trial.stage = -1;
    if (table->alone_cap_c[step] <= NEVER_C)
        return NEVER_C;
    if (has_stage && !td_plan_map(plan_case, &trial, floor_c(plan_case), &map))
        return NEVER_C;
    return fmin(table->alone_cap_c[step], map.cap_c);
}

/* The engine brake does not hold it alone, but with it as credited the service brakes stay in
 * ordinary use: slowly, or only because of places where it is banned. */
static double assisted_c(const struct td_plan_case *plan_case, struct td_plan_trial trial,
                         const struct td_plan_map *map)
{
    bool slow = trial.cruise_mps <= td_mps_from_mph(TD_PLAN_ASSISTED_MPH) + 1e-9;
    return slow || td_plan_holds(plan_case, trial, true) ? map->normal_cap_c : NEVER_C;
}

double td_plan_allowed_c(const struct td_plan_case *plan_case, const struct td_plan_table *table,
                         int step, struct td_plan_trial trial, struct td_plan_map *map)
{
    bool climbs = is_climbing_speed(plan_case, trial.cruise_mps);
    double basis_c = table->mild_cap_c[step];
    if (td_plan_round_down_mps(trial.cruise_mps, plan_case->spoken) <
            td_mps_from_mph(TD_PLAN_LEAST_MPH) - 1e-9 ||
        !rpm_fits(plan_case, trial) || !td_plan_grips(plan_case, &trial))
        return NEVER_C;
    bool held = td_plan_holds(plan_case, trial, false);
    if (!held && !climbs && basis_c <= NEVER_C)
        return NEVER_C;
    if (!td_plan_map(plan_case, &trial, floor_c(plan_case), map))
        return NEVER_C;
    if (held)
        return map->cap_c;
    if (climbs)
        basis_c = fmax(basis_c, fmax(alone_c(plan_case, table, step, trial, map),
                                     assisted_c(plan_case, trial, map)));
    return fmin(basis_c, map->cap_c);
}

/* Keeps the candidate unless another of the row bears hotter brakes and ends no hotter. */
static void keep(struct td_plan_table *table, int step, const struct td_plan_candidate *candidate)
{
    struct td_plan_candidate *row = table->candidates[step];
    for (size_t i = 0; i < table->count[step]; i++)
        if (row[i].cap_c >= candidate->cap_c &&
            row[i].engine_brake <= candidate->engine_brake &&
            row[i].offset_c[0] <= candidate->offset_c[0] &&
            row[i].offset_c[1] <= candidate->offset_c[1])
            return;
    if (table->count[step] < TD_PLAN_CANDIDATES_MAX)
        row[table->count[step]++] = *candidate;
    else if (candidate->offset_c[0] < row[TD_PLAN_CANDIDATES_MAX - 1].offset_c[0])
        row[TD_PLAN_CANDIDATES_MAX - 1] = *candidate;
}

static void try(const struct td_plan_case *plan_case, struct td_plan_table *table, int step,
                int gear, int stage)
{
    struct td_plan_trial trial = {gear, stage, td_plan_step_mps(plan_case, step), TD_PLAN_EXACT};
    struct td_plan_map map;
    double cap_c = td_plan_allowed_c(plan_case, table, step, trial, &map);
    if (cap_c < floor_c(plan_case))
        return;
    struct td_plan_candidate candidate = {
        .cap_c = cap_c,
        .slope = {map.exact.slope, map.spoken.slope},
        .offset_c = {map.exact.offset_c, map.spoken.offset_c},
        .engine_brake = stage >= 0,
    };
    keep(table, step, &candidate);
    table->best = table->best > step ? table->best : step;
    if (stage < 0 && table->off_best < step)
        table->off_best = step;
}

static bool is_retarder(const struct td_plan_case *plan_case, int stage)
{
    return plan_case->rig->stages[stage].kind == TD_HOLDER_RETARDER;
}

/* Stronger stages of one kind do no worse, so that on dry road the strongest of each is enough; on
 * wet road it may be more than the drive wheels pass on. */
static bool is_worth_trying(const struct td_plan_case *plan_case, int stage)
{
    return plan_case->query->road != TD_ROAD_DRY || stage == td_plan_stage_most(plan_case) ||
           is_retarder(plan_case, stage) != is_retarder(plan_case, stage + 1);
}

static bool rises(const struct td_torque_curve *curve)
{
    for (size_t i = 1; i < curve->count; i++)
        if (curve->torque_nm[i] < curve->torque_nm[i - 1])
            return false;
    return true;
}

static bool all_rise(const struct td_rig *rig)
{
    for (size_t i = 0; i < rig->stage_count; i++)
        if (!rises(&rig->stages[i].torque))
            return false;
    return rises(&rig->motoring);
}

/* Where torque rises with engine speed the lowest gear that fits holds back most at every speed, on
 * dry road no higher one is allowed where it is not. */
static void fill_row(const struct td_plan_case *plan_case, struct td_plan_table *table, int step,
                     bool with_stages)
{
    double mps = td_plan_step_mps(plan_case, step);
    bool lowest_only = plan_case->query->road == TD_ROAD_DRY && all_rise(plan_case->rig);
    for (int gear = 0; gear < (int)plan_case->rig->gear_count; gear++) {
        struct td_plan_trial trial = {gear, -1, mps, TD_PLAN_EXACT};
        if (!rpm_fits(plan_case, trial))
            continue;
        if (!with_stages)
            try(plan_case, table, step, gear, -1);
        for (int stage = td_plan_stage_most(plan_case); with_stages && stage >= 0; stage--)
            if (is_worth_trying(plan_case, stage))
                try(plan_case, table, step, gear, stage);
        if (lowest_only)
            break;
    }
}

void td_plan_table_to(const struct td_plan_case *plan_case, struct td_plan_table *table, int step,
                      bool with_stages)
{
    while (table->off_from > step && table->off_from > 1)
        fill_row(plan_case, table, --table->off_from, false);
    while (with_stages && table->stages_from > step && table->stages_from > 1)
        fill_row(plan_case, table, --table->stages_from, true);
}

bool td_plan_is_mild(const struct td_plan_table *table, int step, double from_c)
{
    return from_c <= table->mild_cap_c[step];
}

/* What stops the truck from going faster than the trial where no ceiling does: heat, or the engine,
 * which turns too fast, does not hold or would not climb. */
enum td_plan_limit td_plan_limit_beyond(const struct td_plan_case *plan_case,
                                        const struct td_plan_table *table, int step,
                                        struct td_plan_trial trial, double from_c)
{
    if (trial.cruise_mps >= plan_case->fastest_mps - 1e-9)
        return TD_LIMIT_NONE;
    bool held = td_plan_holds(plan_case, trial, false);
    bool mild = !held && td_plan_is_mild(table, step, from_c);
    trial.cruise_mps = td_plan_step_mps(plan_case, step + 1);
    if (!held)
        return mild || is_climbing_speed(plan_case, trial.cruise_mps) ? TD_LIMIT_HEAT
                                                                      : TD_LIMIT_GEAR;
    for (trial.gear = 0; trial.gear < (int)plan_case->rig->gear_count; trial.gear++)
        for (trial.stage = 0; trial.stage <= td_plan_stage_most(plan_case); trial.stage++)
            if (rpm_fits(plan_case, trial) && td_plan_grips(plan_case, &trial) &&
                td_plan_holds(plan_case, trial, false))
                return TD_LIMIT_HEAT;
    return TD_LIMIT_GEAR;
}
