/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random structs: numbers are any bit pattern that is a number, so that rounding anywhere shows. */
#include "support/random_input.h"

#include <math.h>
#include <string.h>

static int64_t any_i64(struct td_rng *rng)
{
    return (int64_t)(((uint64_t)td_rng_u32(rng) << 32) | td_rng_u32(rng));
}

static double any_real(struct td_rng *rng)
{
    if (td_rng_below(rng, 20) == 0)
        return (double)NAN;
    if (td_rng_below(rng, 20) == 0)
        return td_rng_below(rng, 2) == 0 ? (double)INFINITY : -(double)INFINITY;
    for (;;) {
        int64_t bits = any_i64(rng);
        double real;
        memcpy(&real, &bits, sizeof real);
        if (isfinite(real))
            return real;
    }
}

static void any_text(struct td_rng *rng, char *text, size_t size)
{
    size_t length = td_rng_below(rng, (uint32_t)size);
    for (size_t i = 0; i < length; i++)
        text[i] = (char)(' ' + (int)td_rng_below(rng, 95));
}

static void any_reals(struct td_rng *rng, double *reals, size_t count)
{
    for (size_t i = 0; i < count; i++)
        reals[i] = any_real(rng);
}

static bool any_bool(struct td_rng *rng)
{
    return td_rng_below(rng, 2) == 1;
}

static void random_descents(struct td_rng *rng, struct td_plan *plan)
{
    plan->descent_count = td_rng_below(rng, TD_PLAN_DESCENTS_MAX + 1);
    for (size_t i = 0; i < plan->descent_count; i++)
        plan->descents[i] = (struct td_plan_descent){
            .from_m = any_real(rng),
            .to_m = any_real(rng),
            .target_mps = any_real(rng),
            .target_mph = (int)td_rng_below(rng, 80),
            .say_mph = (int)td_rng_below(rng, 80),
            .say_kmh = (int)td_rng_below(rng, 120),
            .limited_by = (enum td_plan_limit)td_rng_below(rng, TD_LIMIT_NONE + 1),
            .gear = (int)td_rng_below(rng, TD_RIG_GEARS_MAX + 1) - 1,
            .stage = (int)td_rng_below(rng, TD_RIG_STAGES_MAX + 1) - 1,
            .rpm = any_real(rng),
            .peak_c = any_real(rng),
            .peak_at_m = any_real(rng),
            .final_c = any_real(rng),
        };
    plan->escape_count = td_rng_below(rng, TD_PLAN_ESCAPES_MAX + 1);
    for (size_t i = 0; i < plan->escape_count; i++)
        plan->escapes[i] = (struct td_plan_escape){any_real(rng), any_real(rng), any_real(rng),
                                                   any_real(rng), any_real(rng)};
}

void random_plan(struct td_rng *rng, struct td_plan *plan)
{
    memset(plan, 0, sizeof *plan);
    plan->safe = any_bool(rng);
    plan->coached = any_bool(rng);
    plan->target_mps = any_real(rng);
    plan->target_mph = (int)td_rng_below(rng, 80);
    plan->say_mph = (int)td_rng_below(rng, 80);
    plan->say_kmh = (int)td_rng_below(rng, 120);
    plan->without_engine_brake_mph = (int)td_rng_below(rng, 80);
    plan->limited_by = (enum td_plan_limit)td_rng_below(rng, TD_LIMIT_NONE + 1);
    plan->gear = (int)td_rng_below(rng, TD_RIG_GEARS_MAX + 1) - 1;
    plan->stage = (int)td_rng_below(rng, TD_RIG_STAGES_MAX + 1) - 1;
    any_reals(rng, &plan->rpm, 1);
    any_reals(rng, &plan->peak_c, 1);
    any_reals(rng, &plan->final_c, 1);
    any_reals(rng, &plan->peak_at_m, 1);
    any_reals(rng, &plan->likely_peak_c, 1);
    any_reals(rng, &plan->margin_c, 1);
    any_reals(rng, &plan->spare_kg, 1);
    any_reals(rng, &plan->spare_mps, 1);
    any_reals(rng, &plan->stop_m, 1);
    any_reals(rng, &plan->last_stop_m, 1);
    any_reals(rng, &plan->brake_share, 1);
    plan->stretch_count = td_rng_below(rng, TD_PLAN_STRETCHES_MAX + 1);
    for (size_t i = 0; i < plan->stretch_count; i++) {
        plan->stretches[i].from_m = any_real(rng);
        plan->stretches[i].to_m = any_real(rng);
        plan->stretches[i].downgrade_ratio = any_real(rng);
        plan->stretches[i].target_mps = any_real(rng);
        plan->stretches[i].limited_by = (enum td_plan_limit)td_rng_below(rng, TD_LIMIT_NONE + 1);
    }
    random_descents(rng, plan);
    plan->reason_count = td_rng_below(rng, TD_PLAN_REASONS_MAX + 1);
    for (size_t i = 0; i < plan->reason_count; i++) {
        plan->reasons[i].kind = (enum td_plan_reason_kind)td_rng_below(rng, TD_REASON_KINDS);
        plan->reasons[i].value = any_real(rng);
        plan->reasons[i].at_m = any_real(rng);
    }
}

static void random_fix(struct td_rng *rng, struct td_fix *fix)
{
    fix->received_ns = any_i64(rng);
    fix->has = td_rng_below(rng, 64);
    fix->utc_ms = any_i64(rng);
    fix->lat_deg = any_real(rng);
    fix->lon_deg = any_real(rng);
    fix->altitude_m = any_real(rng);
    fix->speed_mps = any_real(rng);
    fix->track_deg = any_real(rng);
    fix->sigma_m = any_real(rng);
}

static void random_offer(struct td_rng *rng, const struct td_hill *hill, struct td_offer *offer)
{
    offer->kind = (enum td_offer_kind)td_rng_below(rng, TD_OFFER_DAMAGED + 1);
    if (offer->kind == TD_OFFER_NOTHING)
        return;
    offer->want_serial = td_rng_u32(rng);
    if (offer->kind == TD_OFFER_HILL) {
        offer->handle = td_rng_u32(rng) | 1u;
        offer->hill = hill;
    }
}

void random_input(struct td_rng *rng, const struct td_hill *hill, struct td_plan *plan,
                  struct td_input *input)
{
    memset(input, 0, sizeof *input);
    input->now_ns = any_i64(rng);
    input->has_fix = any_bool(rng);
    if (input->has_fix)
        random_fix(rng, &input->fix);
    input->report_count = td_rng_below(rng, TD_REPORTS_MAX + 1);
    for (unsigned i = 0; i < input->report_count; i++) {
        input->reports[i].serial = td_rng_u32(rng);
        input->reports[i].kind = (enum td_report_kind)td_rng_below(rng, TD_REPORT_DROPPED + 1);
    }
    input->sound = (enum td_sound)td_rng_below(rng, TD_SOUND_DOWN + 1);
    random_offer(rng, hill, &input->offer);
    if (any_bool(rng)) {
        random_plan(rng, plan);
        input->plan_serial = td_rng_u32(rng) | 1u;
        input->plan = plan;
    }
    input->command.kind = (enum td_command_kind)td_rng_below(rng, TD_COMMAND_KINDS);
    if (input->command.kind != TD_COMMAND_NOTHING)
        input->command.value = (int32_t)td_rng_u32(rng);
}

void random_prompt(struct td_rng *rng, struct td_prompt *prompt)
{
    memset(prompt, 0, sizeof *prompt);
    prompt->serial = td_rng_u32(rng) | 1u;
    prompt->id = (enum td_prompt_id)td_rng_below(rng, TD_PROMPT_IDS);
    prompt->category = (enum td_category)td_rng_below(rng, TD_CATEGORIES);
    prompt->hill_handle = td_rng_u32(rng);
    prompt->place = (int32_t)td_rng_u32(rng);
    prompt->about_m = any_real(rng);
    prompt->decided_ns = any_i64(rng);
    prompt->expires_ns = any_i64(rng);
    prompt->arg_count = td_rng_below(rng, TD_PROMPT_ARGS_MAX + 1);
    for (unsigned i = 0; i < prompt->arg_count; i++) {
        prompt->args[i].unit = (enum td_unit)td_rng_below(rng, TD_UNITS);
        prompt->args[i].value = (int32_t)td_rng_u32(rng);
    }
}

static void random_curve(struct td_rng *rng, struct td_torque_curve *curve)
{
    curve->count = td_rng_below(rng, TD_RIG_CURVE_MAX + 1);
    any_reals(rng, curve->rpm, curve->count);
    any_reals(rng, curve->torque_nm, curve->count);
}

static void random_rig(struct td_rng *rng, struct td_rig *rig)
{
    any_text(rng, rig->name, sizeof rig->name);
    rig->gearbox = (enum td_gearbox)td_rng_below(rng, TD_GEARBOX_AUTOMATIC + 1);
    rig->load_count = td_rng_below(rng, TD_RIG_LOADS_MAX + 1);
    for (size_t i = 0; i < rig->load_count; i++) {
        any_text(rng, rig->loads[i].name, sizeof rig->loads[i].name);
        rig->loads[i].mass_kg = any_real(rng);
    }
    rig->load_now = td_rng_below(rng, TD_RIG_LOADS_MAX);
    rig->axles = (int)td_rng_below(rng, 12);
    rig->braked_axles = (int)td_rng_below(rng, 12);
    double *const reals[] = {&rig->tyre_radius_m,      &rig->rolling_ratio,
                             &rig->drag_area_m2,       &rig->driveline_ratio,
                             &rig->axle_ratio,         &rig->rotating_kg_wheels,
                             &rig->engine_inertia_kgm2, &rig->drive_power_w,
                             &rig->rpm_least,          &rig->rpm_best,
                             &rig->rpm_most,           &rig->comfortable_mps2,
                             &rig->rollover_g};
    for (size_t i = 0; i < sizeof reals / sizeof reals[0]; i++)
        *reals[i] = any_real(rng);
    any_reals(rng, &rig->brakes.heat_capacity_j_per_k, 1);
    any_reals(rng, &rig->brakes.cooling_w_per_k, 1);
    any_reals(rng, &rig->brakes.cooling_w_per_k_per_mps, 1);
    any_reals(rng, &rig->brakes.limit_c, 1);
    any_reals(rng, &rig->brakes.missing_ratio, 1);
    rig->brakes.kind = (enum td_brake_kind)td_rng_below(rng, TD_BRAKE_DISC + 1);
    random_curve(rng, &rig->motoring);
    rig->gear_count = td_rng_below(rng, TD_RIG_GEARS_MAX + 1);
    for (size_t i = 0; i < rig->gear_count; i++) {
        any_text(rng, rig->gears[i].name, sizeof rig->gears[i].name);
        rig->gears[i].ratio = any_real(rng);
    }
    rig->stage_count = td_rng_below(rng, TD_RIG_STAGES_MAX + 1);
    for (size_t i = 0; i < rig->stage_count; i++) {
        any_text(rng, rig->stages[i].name, sizeof rig->stages[i].name);
        rig->stages[i].kind = (enum td_holder)td_rng_below(rng, TD_HOLDER_RETARDER + 1);
        random_curve(rng, &rig->stages[i].torque);
        random_curve(rng, &rig->stages[i].shaft_torque_nm);
    }
    double *const heat[] = {&rig->retarder.heat_capacity_j_per_k, &rig->retarder.cooling_w_per_k,
                            &rig->retarder.derates_from_c, &rig->retarder.derates_to_c,
                            &rig->retarder.least_ratio};
    for (size_t i = 0; i < sizeof heat / sizeof heat[0]; i++)
        *heat[i] = any_real(rng);
}

void random_setup(struct td_rng *rng, struct td_setup *setup)
{
    memset(setup, 0, sizeof *setup);
    random_rig(rng, &setup->rig);
    setup->rig_is_set = any_bool(rng);
    setup->load_confirmed = any_bool(rng);
    setup->road = (enum td_road)td_rng_below(rng, TD_ROAD_ICE + 1);
    setup->credit = (enum td_credit)td_rng_below(rng, TD_CREDIT_FULL + 1);
    setup->talk = (enum td_talk)td_rng_below(rng, TD_TALK_SPARSE + 1);
    setup->metric = any_bool(rng);
    setup->ambient_c = any_real(rng);
    setup->brakes_from_c = any_real(rng);
    setup->hills_on_board = td_rng_u32(rng);
    for (size_t i = 0; i < TD_PROMPT_IDS; i++)
        setup->speech_ms[i] = (int32_t)td_rng_u32(rng);
    setup->sound_delay_ms = (int32_t)td_rng_u32(rng);
}
