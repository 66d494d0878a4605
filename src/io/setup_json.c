/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Setup and rig as JSON, after tables of their members. */
#include "io/setup_json.h"

#include "io/members.h"
#include "io/problem.h"

static const struct td_member load_members[] = {
    TD_M_TEXT(struct td_load, name),
    TD_M_REAL(struct td_load, mass_kg),
    TD_M_END,
};

static const struct td_member gear_members[] = {
    TD_M_TEXT(struct td_gear, name),
    TD_M_REAL(struct td_gear, ratio),
    TD_M_END,
};

static const struct td_member curve_members[] = {
    TD_M_ARRAY(struct td_torque_curve, rpm, count, REAL, NULL),
    TD_M_ARRAY(struct td_torque_curve, torque_nm, count, REAL, NULL),
    TD_M_END,
};

static const struct td_member stage_members[] = {
    TD_M_TEXT(struct td_engine_brake_stage, name),
    TD_M_UNSIGNED(struct td_engine_brake_stage, kind, TD_HOLDER_RETARDER),
    TD_M_STRUCT(struct td_engine_brake_stage, torque, curve_members),
    TD_M_STRUCT(struct td_engine_brake_stage, shaft_torque_nm, curve_members),
    TD_M_END,
};

static const struct td_member retarder_members[] = {
    TD_M_REAL(struct td_retarder_heat, heat_capacity_j_per_k),
    TD_M_REAL(struct td_retarder_heat, cooling_w_per_k),
    TD_M_REAL(struct td_retarder_heat, derates_from_c),
    TD_M_REAL(struct td_retarder_heat, derates_to_c),
    TD_M_REAL(struct td_retarder_heat, least_ratio),
    TD_M_END,
};

static const struct td_member brake_members[] = {
    TD_M_UNSIGNED(struct td_brakes, kind, TD_BRAKE_DISC),
    TD_M_REAL(struct td_brakes, heat_capacity_j_per_k),
    TD_M_REAL(struct td_brakes, cooling_w_per_k),
    TD_M_REAL(struct td_brakes, cooling_w_per_k_per_mps),
    TD_M_REAL(struct td_brakes, limit_c),
    TD_M_REAL(struct td_brakes, missing_ratio),
    TD_M_END,
};

static const struct td_member rig_members[] = {
    TD_M_TEXT(struct td_rig, name),
    TD_M_UNSIGNED(struct td_rig, gearbox, TD_GEARBOX_AUTOMATIC),
    TD_M_ARRAY(struct td_rig, loads, load_count, STRUCT, load_members),
    TD_M_UNSIGNED(struct td_rig, load_now, TD_RIG_LOADS_MAX - 1),
    TD_M_WHOLE(struct td_rig, axles, 0, 0),
    TD_M_WHOLE(struct td_rig, braked_axles, 0, 0),
    TD_M_REAL(struct td_rig, tyre_radius_m),
    TD_M_REAL(struct td_rig, rolling_ratio),
    TD_M_REAL(struct td_rig, drag_area_m2),
    TD_M_REAL(struct td_rig, driveline_ratio),
    TD_M_REAL(struct td_rig, axle_ratio),
    TD_M_REAL(struct td_rig, rotating_kg_wheels),
    TD_M_REAL(struct td_rig, engine_inertia_kgm2),
    TD_M_REAL(struct td_rig, drive_power_w),
    TD_M_ARRAY(struct td_rig, gears, gear_count, STRUCT, gear_members),
    TD_M_STRUCT(struct td_rig, motoring, curve_members),
    TD_M_ARRAY(struct td_rig, stages, stage_count, STRUCT, stage_members),
    TD_M_STRUCT(struct td_rig, retarder, retarder_members),
    TD_M_REAL(struct td_rig, rpm_least),
    TD_M_REAL(struct td_rig, rpm_best),
    TD_M_REAL(struct td_rig, rpm_most),
    TD_M_STRUCT(struct td_rig, brakes, brake_members),
    TD_M_REAL(struct td_rig, comfortable_mps2),
    TD_M_REAL(struct td_rig, rollover_g),
    TD_M_END,
};

static const struct td_member setup_members[] = {
    TD_M_STRUCT(struct td_setup, rig, rig_members),
    TD_M_BOOL(struct td_setup, rig_is_set),
    TD_M_BOOL(struct td_setup, load_confirmed),
    TD_M_UNSIGNED(struct td_setup, road, TD_ROAD_ICE),
    TD_M_UNSIGNED(struct td_setup, credit, TD_CREDIT_FULL),
    TD_M_UNSIGNED(struct td_setup, talk, TD_TALK_SPARSE),
    TD_M_BOOL(struct td_setup, metric),
    TD_M_REAL(struct td_setup, ambient_c),
    TD_M_REAL(struct td_setup, brakes_from_c),
    TD_M_UNSIGNED(struct td_setup, hills_on_board, 0),
    TD_M_WHOLE_ARRAY(struct td_setup, speech_ms),
    TD_M_WHOLE(struct td_setup, sound_delay_ms, 0, 0),
    TD_M_END,
};

char *td_setup_to_json(const struct td_setup *setup)
{
    return td_members_text(td_members_write(setup, setup_members));
}

/* A log of an earlier core knows fewer prompts, since new ones are added at the end: the lengths of
 * the others are not known. */
static void fill_lengths(json_t *object)
{
    json_t *lengths = json_object_get(object, "speech_ms");
    while (json_is_array(lengths) && json_array_size(lengths) > 0 &&
           json_array_size(lengths) < TD_PROMPT_IDS)
        if (json_array_append_new(lengths, json_integer(0)) != 0)
            return;
}

enum td_result td_setup_from_json(const char *text, size_t length, struct td_setup *setup,
                                  struct td_problem *problem)
{
    json_error_t error;
    json_t *object = json_loadb(text, length, JSON_REJECT_DUPLICATES, &error);
    fill_lengths(object);
    if (object == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "setup: no JSON: %s", error.text);
    struct td_setup made = {0};
    enum td_result result = td_members_read(object, setup_members, &made, problem);
    json_decref(object);
    if (result == TD_OK)
        *setup = made;
    return result;
}
