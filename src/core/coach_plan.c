/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans in hand and what the brakes went through: a plan is asked for once a hill is thought about,
 * and again when what it rests on has changed. */
#include "core/coach_state.h"

#include <math.h>

#include "talkdown/units.h"

#define ANSWER_LATEST_NS (15 * TD_NS_PER_S)
#define RETRY_NS         (5 * TD_NS_PER_S)
/* Hotter by this before the crest asks for another plan. */
#define HOTTER_C         15.0
#define SLOWING_SHARE    0.8
#define HEAT_STEP_MOST_S 5.0
#define HEAT_STEPS_MOST  2000

double td_coach_mass_kg(const struct td_coach *coach)
{
    const struct td_rig *rig = &coach->setup.rig;
    if (!coach->setup.rig_is_set)
        return 0.0;
    size_t load = coach->setup.load_confirmed ? rig->load_now : td_rig_heaviest_load(rig);
    return rig->loads[load].mass_kg;
}

static bool descent_makes_sense(const struct td_rig *rig, const struct td_plan_descent *descent)
{
    return descent->gear >= -1 && descent->gear < (int)rig->gear_count && descent->stage >= -1 &&
           descent->stage < (int)rig->stage_count && descent->say_mph >= 0 &&
           descent->say_kmh >= 0 && isfinite(descent->target_mps) && descent->target_mps > 0.0 &&
           descent->from_m <= descent->to_m;
}

static bool plan_makes_sense(const struct td_coach *coach, const struct td_plan *plan)
{
    const struct td_rig *rig = &coach->setup.rig;
    if (!plan->coached || !plan->safe)
        return true;
    if (plan->gear < -1 || plan->gear >= (int)rig->gear_count || plan->stage < -1 ||
        plan->stage >= (int)rig->stage_count || plan->stretch_count < 1 ||
        plan->stretch_count > TD_PLAN_STRETCHES_MAX || plan->say_mph < 0 || plan->say_kmh < 0 ||
        !isfinite(plan->target_mps) || plan->target_mps <= 0.0 || plan->descent_count < 1 ||
        plan->descent_count > TD_PLAN_DESCENTS_MAX)
        return false;
    for (size_t i = 0; i < plan->descent_count; i++)
        if (!descent_makes_sense(rig, &plan->descents[i]))
            return false;
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        if (!isfinite(stretch->target_mps) || stretch->target_mps <= 0.0 ||
            !(stretch->from_m <= stretch->to_m))
            return false;
    }
    return true;
}

void td_coach_plan_input(struct td_coach *coach, uint32_t serial, const struct td_plan *plan,
                         struct td_output *output)
{
    struct td_solving *solving = &coach->solving;
    if (serial == 0)
        return;
    if (!plan || !solving->pending || serial != solving->last_serial) {
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_PLAN, NULL);
        return;
    }
    solving->pending = false;
    int slot = td_coach_slot(coach, solving->handle);
    /* Its hill is gone, or the load changed while it was solved. */
    if (slot < 0 || solving->epoch != coach->epoch)
        return;
    struct td_slot_plan *kept = &coach->plans[slot];
    if (!plan_makes_sense(coach, plan)) {
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_PLAN, NULL);
        kept->not_before_ns = coach->now_ns + RETRY_NS;
        return;
    }
    kept->have = true;
    kept->epoch = solving->epoch;
    kept->brakes_from_c = solving->brakes_from_c;
    kept->plan = *plan;
    struct td_prompt about = {.hill_handle = solving->handle, .place = -1};
    td_event_add(output, TD_EVENT_PLAN, TD_WHY_NONE, plan->safe ? 1 : 0, &about);
}

/* An old plan could be too fast for the new load: it goes at once. */
void td_coach_replan(struct td_coach *coach)
{
    coach->epoch++;
    for (int i = 0; i < TD_HILL_SLOTS; i++) {
        coach->plans[i].have = false;
        coach->plans[i].not_before_ns = coach->now_ns;
    }
}

/* What slowing from the present speed for the crest will add to the brakes: found out only
 * afterwards, the lower target or the "no" came at the crest. A fifth goes into air, tyres and
 * engine (ours); so reckoned, brakes as cold as the air come at highway speed to just what the
 * reference model starts with: its start has the slowing in it, and brakes no hotter than that are
 * planned for as the card plans. */
static double slowing_rise_c(const struct td_coach *coach)
{
    const struct td_brakes *brakes = &coach->setup.rig.brakes;
    double mps = fmax(0.0, coach->located.speed_mps);
    return SLOWING_SHARE * 0.5 * td_coach_mass_kg(coach) * mps * mps /
           (brakes->heat_capacity_j_per_k * (1.0 - brakes->missing_ratio));
}

/* Never cooler than the reference model starts with. */
static struct td_plan_query query_now(const struct td_coach *coach)
{
    struct td_plan_query query = td_plan_query_default(&coach->setup.rig);
    query.mass_kg = td_coach_mass_kg(coach);
    query.road = coach->setup.road;
    query.credit = coach->setup.credit;
    query.stage_most = coach->stage_most;
    if (isfinite(coach->setup.ambient_c))
        query.ambient_c = coach->setup.ambient_c;
    if (coach->heat.likely_c > query.brakes_from_c + HOTTER_C)
        query.brakes_from_c = coach->heat.likely_c + slowing_rise_c(coach);
    else
        query.brakes_from_c = fmax(query.brakes_from_c, coach->heat.likely_c);
    query.speak_kmh = coach->setup.metric;
    return query;
}

/* A plan counts from the crest: on the grade it is never made anew for the heat it planned for, and
 * one asked for there keeps the temperature of the crest. Nor while the position is lost on the way
 * down: half way it was then another plan, with another gear, or a refusal. */
static bool past_crest(const struct td_coach *coach, int slot)
{
    uint32_t handle = coach->slots[slot].handle;
    double crest_m = coach->slots[slot].hill->crest_m;
    if (coach->located.handle == handle)
        return coach->located.along_m > crest_m;
    return coach->located.handle == 0 && coach->visit.handle == handle &&
           coach->visit.along_m > crest_m;
}

static bool needs_plan(const struct td_coach *coach, int slot, double brakes_from_c)
{
    const struct td_slot_plan *kept = &coach->plans[slot];
    if (coach->slots[slot].handle == 0 || !coach->slots[slot].hill->coached ||
        coach->now_ns < kept->not_before_ns)
        return false;
    if (!kept->have || kept->epoch != coach->epoch)
        return true;
    return brakes_from_c > kept->brakes_from_c + HOTTER_C && !past_crest(coach, slot);
}

static bool thought_about(const struct td_coach *coach, uint32_t handle)
{
    for (int i = 0; i < TD_HYPOTHESES_MAX; i++)
        if (coach->locator.hypotheses[i].handle == handle &&
            coach->locator.hypotheses[i].direction > 0)
            return true;
    return false;
}

static int slot_to_solve(const struct td_coach *coach, double brakes_from_c)
{
    int slot = td_coach_slot(coach, coach->located.handle);
    if (slot >= 0 && needs_plan(coach, slot, brakes_from_c))
        return slot;
    for (slot = 0; slot < TD_HILL_SLOTS; slot++)
        if (needs_plan(coach, slot, brakes_from_c) &&
            thought_about(coach, coach->slots[slot].handle))
            return slot;
    return -1;
}

void td_coach_solve(struct td_coach *coach, struct td_output *output)
{
    struct td_solving *solving = &coach->solving;
    if (!coach->setup.rig_is_set)
        return;
    if (solving->pending && coach->now_ns - solving->asked_ns >= ANSWER_LATEST_NS)
        solving->pending = false;
    if (solving->pending)
        return;
    struct td_plan_query query = query_now(coach);
    int slot = slot_to_solve(coach, query.brakes_from_c);
    if (slot < 0)
        return;
    if (past_crest(coach, slot) && coach->plans[slot].brakes_from_c > 0.0)
        query.brakes_from_c = coach->plans[slot].brakes_from_c;
    solving->pending = true;
    solving->handle = coach->slots[slot].handle;
    solving->epoch = coach->epoch;
    solving->brakes_from_c = query.brakes_from_c;
    solving->asked_ns = coach->now_ns;
    solving->last_serial++;
    output->solve = (struct td_solve){solving->last_serial, solving->handle, query};
}

int64_t td_coach_solve_next_ns(const struct td_coach *coach)
{
    if (coach->solving.pending)
        return coach->solving.asked_ns + ANSWER_LATEST_NS;
    int64_t next_ns = INT64_MAX;
    for (int i = 0; coach->setup.rig_is_set && i < TD_HILL_SLOTS; i++)
        if (coach->slots[i].handle != 0 && !coach->plans[i].have &&
            coach->plans[i].not_before_ns > coach->now_ns &&
            coach->plans[i].not_before_ns < next_ns)
            next_ns = coach->plans[i].not_before_ns;
    return next_ns;
}

/* While the position is lost on the way down, the grade is the one where it was lost. Taken as
 * level, whatever held the truck meanwhile looked like nothing, and the engine brake of the next
 * minute like service brakes: 345 degF were read on brakes of 74. */
static double downgrade_now(const struct td_coach *coach, const struct td_moment *moment)
{
    if (!moment->hill)
        return 0.0;
    if (coach->located.handle != 0)
        return td_hill_downgrade_at(moment->hill, moment->along_m);
    bool lost = coach->located.where == TD_WHERE_LOST && coach->visit.handle == moment->handle;
    return lost ? td_hill_downgrade_at(moment->hill, coach->visit.along_m) : 0.0;
}

/* From the crest on the planned gear is in, unless there is evidence against it. */
static int planned_gear(const struct td_moment *moment)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    return descent && moment->hill && moment->along_m >= moment->hill->crest_m ? descent->gear : -1;
}

/* On a descent for the first time. */
static void watch_descent(struct td_coach *coach, const struct td_moment *moment)
{
    if (!td_cue_on_descent(moment) || (coach->heat_handle == coach->visit.handle &&
                                       coach->heat_descent == coach->visit.descent))
        return;
    coach->heat_handle = coach->visit.handle;
    coach->heat_descent = coach->visit.descent;
    td_heat_live_descent(&coach->heat);
}

void td_coach_heat(struct td_coach *coach)
{
    double dt_s = td_s_from_ns(coach->now_ns - coach->heat_ns);
    coach->heat_ns = coach->now_ns;
    if (!coach->setup.rig_is_set || dt_s <= 0.0)
        return;
    struct td_moment moment;
    td_coach_moment(coach, &moment);
    double mean_mps = 0.5 * (coach->heat_speed_mps + moment.speed_mps);
    double ambient_c = isfinite(coach->setup.ambient_c)
                           ? coach->setup.ambient_c
                           : td_plan_query_default(&coach->setup.rig).ambient_c;
    coach->heat_speed_mps = moment.speed_mps;
    watch_descent(coach, &moment);
    struct td_heat_truck truck = {.rig = &coach->setup.rig,
                                  .mass_kg = td_coach_mass_kg(coach),
                                  .stage_most = coach->stage_most,
                                  .planned_gear = planned_gear(&moment),
                                  .ambient_c = ambient_c};
    double downgrade = downgrade_now(coach, &moment);
    double accel = moment.speed_fresh ? moment.accel_mps2 : 0.0;
    coach->heat.plan_not_taken |= coach->visit.gain.not_taken;
    for (int i = 0; i < HEAT_STEPS_MOST && dt_s > 0.0; i++) {
        double step_s = fmin(dt_s, HEAT_STEP_MOST_S);
        td_heat_live_step(&coach->heat, &truck, downgrade, mean_mps, accel, step_s);
        dt_s -= step_s;
    }
}
