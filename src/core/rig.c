/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a rig must satisfy before the physics may rely on it, and its plain relations. */
#include "talkdown/rig.h"

#include <math.h>

#include "talkdown/gsrs.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

/* Conversion of the published fit, in its one place: hp/degF to W/K. */
#define W_PER_K_PER_HP_PER_F (TD_W_PER_HP * 1.8)
#define GSRS_AXLES           5
#define RATIO_NOT_CHECKED    0.2

struct td_brakes td_brakes_published(int braked_axles)
{
    double share = (double)(braked_axles < 1 ? 1 : braked_axles) / GSRS_AXLES;
    return (struct td_brakes){
        .heat_capacity_j_per_k =
            share * TD_GSRS_CAPACITY_HPH_PER_F * W_PER_K_PER_HP_PER_F * TD_S_PER_HOUR,
        .cooling_w_per_k = share * TD_GSRS_COOLING_HP_PER_F * W_PER_K_PER_HP_PER_F,
        .cooling_w_per_k_per_mps =
            share * TD_GSRS_COOLING_HP_PER_F_PER_MPH * W_PER_K_PER_HP_PER_F / TD_MPS_PER_MPH,
        .limit_c = td_c_from_f(TD_GSRS_LIMIT_F),
        .missing_ratio = RATIO_NOT_CHECKED,
        .kind = TD_BRAKE_DRUM,
    };
}

/* Says "WHAT is VALUE; MUST". `name` may be empty: `loads "full": gross weight is ...`. */
static enum td_result refuse(struct td_problem *problem, const char *where, const char *name,
                             const char *what, const char *cure)
{
    if (problem == NULL)
        return TD_INVALID;
    struct td_text text;
    problem->file[0] = '\0';
    problem->line = 0;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, where);
    if (name[0] != '\0') {
        td_text_add(&text, where[0] != '\0' ? " \"" : "\"");
        td_text_add(&text, name);
        td_text_add_char(&text, '"');
    }
    if (text.length > 0)
        td_text_add(&text, ": ");
    td_text_add(&text, what);
    td_text_add(&text, "; ");
    td_text_add(&text, cure);
    return TD_INVALID;
}

static enum td_result in_range(struct td_problem *problem, const char *where, const char *name,
                               const char *member, double value, double least, double most,
                               const char *unit)
{
    if (isfinite(value) && value >= least && value <= most)
        return TD_OK;
    char what[96], cure[96];
    struct td_text text;
    td_text_init(&text, what, sizeof what);
    td_text_add(&text, member);
    td_text_add(&text, " is ");
    td_text_add_fixed(&text, value, 3);
    td_text_add(&text, unit);
    td_text_init(&text, cure, sizeof cure);
    td_text_add(&text, "it must lie between ");
    td_text_add_fixed(&text, least, least < 1 ? 3 : 0);
    td_text_add(&text, " and ");
    td_text_add_fixed(&text, most, most < 2 ? 2 : 0);
    td_text_add(&text, unit);
    return refuse(problem, where, name, what, cure);
}

/* A NUL inside its array, and something before it. */
static bool is_word(const char *word, size_t size)
{
    for (size_t i = 0; i < size; i++)
        if (word[i] == '\0')
            return i > 0;
    return false;
}

static enum td_result check_curve(const struct td_torque_curve *curve, const char *where,
                                  const char *name, struct td_problem *problem)
{
    if (curve->count == 0)
        return TD_OK;
    if (curve->count < 2 || curve->count > TD_RIG_CURVE_MAX)
        return refuse(problem, where, name, "its torque curve has too few or too many points",
                      "give 2 to 16");
    for (size_t i = 0; i < curve->count; i++) {
        enum td_result result =
            in_range(problem, where, name, "rpm", curve->rpm[i], 100, 6000, "");
        if (result == TD_OK)
            result = in_range(problem, where, name, "torque", curve->torque_nm[i], 0, 10000,
                              " N m");
        if (result != TD_OK)
            return result;
        if (i > 0 && curve->rpm[i] <= curve->rpm[i - 1])
            return refuse(problem, where, name, "the rpm of its torque curve do not rise",
                          "list the points from low rpm to high");
    }
    return TD_OK;
}

static enum td_result check_loads(const struct td_rig *rig, struct td_problem *problem)
{
    if (rig->load_count < 1 || rig->load_count > TD_RIG_LOADS_MAX)
        return refuse(problem, "loads", "", "none, or too many", "name 1 to 8 loads");
    if (rig->load_now >= rig->load_count)
        return refuse(problem, "load", "", "it is none of the loads", "name one of the loads");
    for (size_t i = 0; i < rig->load_count; i++) {
        const struct td_load *load = &rig->loads[i];
        if (!is_word(load->name, sizeof load->name))
            return refuse(problem, "loads", "", "a load without a name",
                          "name it in 1 to 23 letters");
        enum td_result result = in_range(problem, "loads", load->name, "weight",
                                         load->mass_kg, 1000, 200000, " kg");
        if (result != TD_OK)
            return result;
        for (size_t j = 0; j < i; j++)
            if (td_text_equal(rig->loads[j].name, load->name))
                return refuse(problem, "loads", load->name, "named twice",
                              "give each load a name of its own");
    }
    return TD_OK;
}

static enum td_result check_gears(const struct td_rig *rig, struct td_problem *problem)
{
    if (rig->gear_count < TD_RIG_GEARS_LEAST || rig->gear_count > TD_RIG_GEARS_MAX)
        return refuse(problem, "gears", "", "too few, or too many", "list 2 to 18, lowest first");
    for (size_t i = 0; i < rig->gear_count; i++) {
        const struct td_gear *gear = &rig->gears[i];
        if (!is_word(gear->name, sizeof gear->name))
            return refuse(problem, "gears", "", "a gear without a name",
                          "name it as the driver says it, in 1 to 23 letters");
        enum td_result result =
            in_range(problem, "gears", gear->name, "ratio", gear->ratio, 0.3, 40, "");
        if (result != TD_OK)
            return result;
        if (i > 0 && gear->ratio >= rig->gears[i - 1].ratio)
            return refuse(problem, "gears", gear->name,
                          "its ratio is not below that of the gear before it",
                          "list the gears from the lowest (largest ratio) up");
    }
    return TD_OK;
}

static bool is_retarder(const struct td_engine_brake_stage *stage)
{
    return stage->kind == TD_HOLDER_RETARDER;
}

/* The list of the rig file a stage stands in. */
static const char *list_of(const struct td_engine_brake_stage *stage)
{
    return is_retarder(stage) ? "retarder" : "engine_brake";
}

static enum td_result check_stage_name(const struct td_rig *rig, size_t at,
                                       struct td_problem *problem)
{
    const struct td_engine_brake_stage *stage = &rig->stages[at];
    if (!is_word(stage->name, sizeof stage->name))
        return refuse(problem, list_of(stage), "", "a stage without a name",
                      "name it as the driver says it, in 1 to 23 letters");
    for (size_t i = 0; i < at; i++)
        if (td_text_equal(rig->stages[i].name, stage->name))
            return refuse(problem, list_of(stage), stage->name, "named twice",
                          "give each stage a name of its own");
    return TD_OK;
}

static enum td_result check_stage(const struct td_rig *rig, size_t at, struct td_problem *problem)
{
    const struct td_engine_brake_stage *stage = &rig->stages[at];
    if ((int)stage->kind < TD_HOLDER_ENGINE_BRAKE || stage->kind > TD_HOLDER_RETARDER)
        return refuse(problem, "engine_brake", "", "a stage of no known kind",
                      "give engine, exhaust or retarder");
    enum td_result result = check_stage_name(rig, at, problem);
    if (result != TD_OK)
        return result;
    const struct td_torque_curve *needed =
        is_retarder(stage) ? &stage->shaft_torque_nm : &stage->torque;
    if (needed->count == 0)
        return refuse(problem, list_of(stage), stage->name, "it has no torque curve",
                      "give its torque against rpm, or leave the stage out");
    if (!is_retarder(stage) && stage->shaft_torque_nm.count != 0)
        return refuse(problem, list_of(stage), stage->name, "it has torque on the propeller shaft",
                      "only a retarder has");
    if (!is_retarder(stage) && at > 0 && is_retarder(&rig->stages[at - 1]))
        return refuse(problem, list_of(stage), stage->name, "it comes after the retarder's stages",
                      "list them last");
    result = check_curve(&stage->torque, list_of(stage), stage->name, problem);
    if (result != TD_OK)
        return result;
    return check_curve(&stage->shaft_torque_nm, list_of(stage), stage->name, problem);
}

static enum td_result check_engine(const struct td_rig *rig, struct td_problem *problem)
{
    enum td_result result = check_curve(&rig->motoring, "engine: motoring", "", problem);
    if (result != TD_OK)
        return result;
    if (rig->stage_count > TD_RIG_STAGES_MAX)
        return refuse(problem, "engine_brake", "", "too many stages",
                      "list at most 8, the retarder's counted");
    for (size_t i = 0; i < rig->stage_count; i++) {
        result = check_stage(rig, i, problem);
        if (result != TD_OK)
            return result;
    }
    if (!isfinite(rig->rpm_least) || !isfinite(rig->rpm_best) || !isfinite(rig->rpm_most) ||
        rig->rpm_least < 300 || rig->rpm_most > 6000 || rig->rpm_least >= rig->rpm_best ||
        rig->rpm_best > rig->rpm_most)
        return refuse(problem, "engine", "", "the band of engine speeds is not in order",
                      "give least, best and most, rising, between 300 and 6000");
    return TD_OK;
}

static bool is_weaker_in_band(const struct td_rig *rig, const struct td_torque_curve *curve,
                              const struct td_torque_curve *before)
{
    for (int step = 0; step <= 8; step++) {
        double rpm = rig->rpm_least + (rig->rpm_most - rig->rpm_least) * step / 8;
        if (td_torque_at_nm(curve, rpm) < td_torque_at_nm(before, rpm))
            return true;
    }
    return false;
}

/* Both are straight between their points, so that the points tell all. */
static bool is_weaker_on_shaft(const struct td_torque_curve *curve,
                               const struct td_torque_curve *before)
{
    const struct td_torque_curve *const both[] = {curve, before};
    for (int side = 0; side < 2; side++)
        for (size_t i = 0; i < both[side]->count; i++) {
            double rpm = both[side]->rpm[i];
            if (td_shaft_torque_at_nm(curve, rpm) < td_shaft_torque_at_nm(before, rpm))
                return true;
        }
    return false;
}

/* A stronger stage that brakes less somewhere in the band would break the plan's choice. */
static enum td_result check_stage_order(const struct td_rig *rig, struct td_problem *problem)
{
    for (size_t i = 1; i < rig->stage_count; i++) {
        const struct td_engine_brake_stage *stage = &rig->stages[i];
        const struct td_engine_brake_stage *before = &rig->stages[i - 1];
        if (is_retarder(stage) != is_retarder(before))
            continue;
        if (is_weaker_in_band(rig, &stage->torque, &before->torque) ||
            is_weaker_on_shaft(&stage->shaft_torque_nm, &before->shaft_torque_nm))
            return refuse(problem, list_of(stage), stage->name,
                          "it brakes less than the stage before it",
                          "list the stages from the weakest up");
    }
    return TD_OK;
}

static enum td_result check_retarder(const struct td_rig *rig, struct td_problem *problem)
{
    const struct td_retarder_heat *heat = &rig->retarder;
    const struct {
        const char *word;
        double value, least, most;
        const char *unit;
    } ranges[] = {
        {"heat_capacity", heat->heat_capacity_j_per_k, 5e3, 5e6, " J/K"},
        {"cooling", heat->cooling_w_per_k, 10, 20000, " W/K"},
        {"derates_from", heat->derates_from_c, 50, 500, " degC"},
        {"derates_to", heat->derates_to_c, 50, 500, " degC"},
        {"least", heat->least_ratio, 0, 1, ""},
    };
    if (!td_rig_has_retarder(rig))
        return TD_OK;
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        enum td_result result =
            in_range(problem, "retarder", "", ranges[i].word, ranges[i].value, ranges[i].least,
                     ranges[i].most, ranges[i].unit);
        if (result != TD_OK)
            return result;
    }
    if (heat->derates_to_c <= heat->derates_from_c)
        return refuse(problem, "retarder", "", "derates_to is not above derates_from",
                      "give the temperature at which it has lost what it loses");
    return TD_OK;
}

static enum td_result check_scalars(const struct td_rig *rig, struct td_problem *problem)
{
    const struct {
        const char *word;
        double value, least, most;
        const char *unit;
    } ranges[] = {
        {"axles", rig->axles, 2, 20, ""},
        {"braked_axles", rig->braked_axles, 1, rig->axles, ""},
        {"tyre_radius", rig->tyre_radius_m, 0.2, 1.0, " m"},
        {"rolling_resistance", rig->rolling_ratio, 0.001, 0.05, ""},
        {"drag_area", rig->drag_area_m2, 0.5, 20, " m2"},
        {"driveline_efficiency", rig->driveline_ratio, 0.5, 1, ""},
        {"axle_ratio", rig->axle_ratio, 0.5, 20, ""},
        {"rotating_wheels", rig->rotating_kg_wheels, 0, 10000, " kg"},
        {"engine: inertia", rig->engine_inertia_kgm2, 0, 20, " kg m2"},
        {"engine: power", rig->drive_power_w, 0, 2e6, " W"},
        {"brakes: heat_capacity", rig->brakes.heat_capacity_j_per_k, 5e3, 5e6, " J/K"},
        {"brakes: cooling", rig->brakes.cooling_w_per_k, 1, 5000, " W/K"},
        {"brakes: cooling_by_speed", rig->brakes.cooling_w_per_k_per_mps, 0, 500,
         " W/K per m/s"},
        {"brakes: limit", rig->brakes.limit_c, 100, 600, " degC"},
        {"brakes: missing", rig->brakes.missing_ratio, 0, 0.5, ""},
        {"comfortable_slowing", rig->comfortable_mps2, 0.1, 3, " m/s2"},
        {"rollover", rig->rollover_g, 0.15, 1, " g"},
    };
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        enum td_result result = in_range(problem, "", "", ranges[i].word, ranges[i].value,
                                         ranges[i].least, ranges[i].most, ranges[i].unit);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

enum td_result td_rig_check(const struct td_rig *rig, struct td_problem *problem)
{
    if (!is_word(rig->name, sizeof rig->name))
        return refuse(problem, "name", "", "it is empty or too long", "give 1 to 63 letters");
    if ((int)rig->gearbox < TD_GEARBOX_MANUAL || rig->gearbox > TD_GEARBOX_AUTOMATIC)
        return refuse(problem, "gearbox", "", "of no known kind",
                      "give manual, automated or automatic");
    if ((int)rig->brakes.kind < TD_BRAKE_DRUM || rig->brakes.kind > TD_BRAKE_DISC)
        return refuse(problem, "brakes", "", "of no known kind", "give drum or disc");
    enum td_result (*const checks[])(const struct td_rig *, struct td_problem *) = {
        check_loads,       check_gears,    check_engine,
        check_stage_order, check_retarder, check_scalars,
    };
    for (size_t i = 0; i < sizeof checks / sizeof checks[0]; i++) {
        enum td_result result = checks[i](rig, problem);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

size_t td_rig_heaviest_load(const struct td_rig *rig)
{
    size_t heaviest = 0;
    for (size_t i = 1; i < rig->load_count; i++)
        if (rig->loads[i].mass_kg > rig->loads[heaviest].mass_kg)
            heaviest = i;
    return heaviest;
}

double td_rig_drive_power_w(const struct td_rig *rig)
{
    if (rig->drive_power_w > 0)
        return rig->drive_power_w;
    return rig->loads[td_rig_heaviest_load(rig)].mass_kg / TD_RIG_KG_PER_KW * 1000;
}

double td_torque_at_nm(const struct td_torque_curve *curve, double rpm)
{
    if (curve->count == 0)
        return 0;
    if (rpm <= curve->rpm[0])
        return curve->torque_nm[0];
    for (size_t i = 1; i < curve->count; i++)
        if (rpm <= curve->rpm[i]) {
            double share = (rpm - curve->rpm[i - 1]) / (curve->rpm[i] - curve->rpm[i - 1]);
            return curve->torque_nm[i - 1] +
                   share * (curve->torque_nm[i] - curve->torque_nm[i - 1]);
        }
    return curve->torque_nm[curve->count - 1];
}

/* Engine radians a metre of road. */
static double turns_rad_per_m(const struct td_rig *rig, size_t gear)
{
    return rig->gears[gear].ratio * rig->axle_ratio / rig->tyre_radius_m;
}

double td_rig_rpm(const struct td_rig *rig, size_t gear, double speed_mps)
{
    return speed_mps * turns_rad_per_m(rig, gear) * (60.0 / (2.0 * TD_PI));
}

double td_rig_speed_mps(const struct td_rig *rig, size_t gear, double rpm)
{
    return rpm * (2.0 * TD_PI / 60.0) / turns_rad_per_m(rig, gear);
}

double td_shaft_torque_at_nm(const struct td_torque_curve *curve, double shaft_rpm)
{
    if (curve->count == 0)
        return 0;
    if (shaft_rpm < curve->rpm[0])
        return curve->torque_nm[0] * fmax(0, shaft_rpm) / curve->rpm[0];
    return td_torque_at_nm(curve, shaft_rpm);
}

bool td_rig_has_retarder(const struct td_rig *rig)
{
    for (size_t i = 0; i < rig->stage_count; i++)
        if (rig->stages[i].kind == TD_HOLDER_RETARDER)
            return true;
    return false;
}

double td_rig_shaft_rpm(const struct td_rig *rig, double speed_mps)
{
    return speed_mps * rig->axle_ratio / rig->tyre_radius_m * (60.0 / (2.0 * TD_PI));
}
