/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A rig from the texts of its file: quantities, then td_rig_check, and each complaint led back to
 * its line. */
#include "io/rig_text.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

enum { PATH_ROOM = 64 };

static const double comfortable_default_mps2 = 0.5; /* common practice, no source */
static const double rollover_default_g = 0.35; /* a loaded tractor-semitrailer; from memory */

struct making {
    const struct td_yaml *yaml;
    const struct td_rig_text *text;
    struct td_rig *rig;
    struct td_problem *problem;
};

struct value {
    const char *path;
    const char *text; /* NULL: left out, the default stays */
    enum td_dimension dimension;
    double *to;
};

static enum td_result read_values(const struct making *making, const struct value *values,
                                  size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (values[i].text == NULL)
            continue;
        enum td_result result =
            td_yaml_quantity(making->yaml, values[i].path, values[i].text, values[i].dimension,
                             values[i].to, making->problem);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

static enum td_result read_plain(const struct making *making)
{
    const struct td_rig_text *text = making->text;
    struct td_rig *rig = making->rig;
    const struct value values[] = {
        {"tyre_radius", text->tyre_radius, TD_DIM_LENGTH, &rig->tyre_radius_m},
        {"rolling_resistance", text->rolling_resistance, TD_DIM_NUMBER, &rig->rolling_ratio},
        {"drag_area", text->drag_area, TD_DIM_AREA, &rig->drag_area_m2},
        {"driveline_efficiency", text->driveline_efficiency, TD_DIM_RATIO, &rig->driveline_ratio},
        {"axle_ratio", text->axle_ratio, TD_DIM_NUMBER, &rig->axle_ratio},
        {"rotating_wheels", text->rotating_wheels, TD_DIM_MASS, &rig->rotating_kg_wheels},
        {"engine.inertia", text->engine.inertia, TD_DIM_INERTIA, &rig->engine_inertia_kgm2},
        {"engine.power", text->engine.power, TD_DIM_POWER, &rig->drive_power_w},
        {"engine.least", text->engine.least, TD_DIM_TURNS, &rig->rpm_least},
        {"engine.best", text->engine.best, TD_DIM_TURNS, &rig->rpm_best},
        {"engine.most", text->engine.most, TD_DIM_TURNS, &rig->rpm_most},
        {"comfortable_slowing", text->comfortable_slowing, TD_DIM_ACCELERATION,
         &rig->comfortable_mps2},
    };
    return read_values(making, values, sizeof values / sizeof values[0]);
}

/* 0.35 g is read as an acceleration, so that "3.4 m/s2" would be right as well. */
static enum td_result read_rollover(const struct making *making)
{
    double rollover_mps2 = rollover_default_g * TD_GRAVITY_MPS2;
    const struct value value = {"rollover", making->text->rollover, TD_DIM_ACCELERATION,
                                &rollover_mps2};
    enum td_result result = read_values(making, &value, 1);
    making->rig->rollover_g = rollover_mps2 / TD_GRAVITY_MPS2;
    return result;
}

static enum td_result read_brakes(const struct making *making)
{
    const struct td_rig_brakes_text *text = &making->text->brakes;
    struct td_brakes *brakes = &making->rig->brakes;
    *brakes = td_brakes_published(making->rig->braked_axles);
    brakes->kind = text->kind != NULL ? *text->kind : TD_BRAKE_DRUM;
    const struct value values[] = {
        {"brakes.heat_capacity", text->heat_capacity, TD_DIM_HEAT_CAPACITY,
         &brakes->heat_capacity_j_per_k},
        {"brakes.cooling", text->cooling, TD_DIM_COOLING, &brakes->cooling_w_per_k},
        {"brakes.cooling_by_speed", text->cooling_by_speed, TD_DIM_COOLING_SPEED,
         &brakes->cooling_w_per_k_per_mps},
        {"brakes.limit", text->limit, TD_DIM_TEMPERATURE, &brakes->limit_c},
        {"brakes.missing", text->missing, TD_DIM_RATIO, &brakes->missing_ratio},
    };
    return read_values(making, values, sizeof values / sizeof values[0]);
}

static enum td_result read_curve(const struct making *making, const char *path,
                                 char **const *pairs, size_t count,
                                 struct td_torque_curve *curve)
{
    for (size_t i = 0; i < count; i++) {
        char rpm_path[PATH_ROOM], torque_path[PATH_ROOM];
        (void)snprintf(rpm_path, sizeof rpm_path, "%s[%u][0]", path, (unsigned)i);
        (void)snprintf(torque_path, sizeof torque_path, "%s[%u][1]", path, (unsigned)i);
        const struct value values[] = {
            {rpm_path, pairs[i][0], TD_DIM_TURNS, &curve->rpm[i]},
            {torque_path, pairs[i][1], TD_DIM_TORQUE, &curve->torque_nm[i]},
        };
        enum td_result result = read_values(making, values, 2);
        if (result != TD_OK)
            return result;
    }
    curve->count = count;
    return TD_OK;
}

static enum td_result read_engine(const struct making *making)
{
    const struct td_rig_text *text = making->text;
    struct td_rig *rig = making->rig;
    enum td_result result = read_curve(making, "engine.motoring", text->engine.motoring,
                                       text->engine.motoring_count, &rig->motoring);
    for (size_t i = 0; result == TD_OK && i < text->engine_brake_count; i++) {
        char path[PATH_ROOM];
        (void)snprintf(path, sizeof path, "engine_brake[%u].torque", (unsigned)i);
        const struct td_rig_stage_text *stage = &text->engine_brake[i];
        (void)td_text_copy(rig->stages[i].name, sizeof rig->stages[i].name, stage->name);
        rig->stages[i].kind = stage->kind;
        result = read_curve(making, path, stage->torque, stage->torque_count,
                            &rig->stages[i].torque);
    }
    rig->stage_count = text->engine_brake_count;
    return result;
}

/* The crankshaft's part of a retarder stage is the named engine-brake stage's. */
static enum td_result join_engine_brake(const struct making *making, const char *entry,
                                        const char *wanted, struct td_engine_brake_stage *stage)
{
    const struct td_rig *rig = making->rig;
    if (wanted == NULL)
        return TD_OK;
    for (size_t i = 0; i < making->text->engine_brake_count; i++)
        if (td_text_equal(rig->stages[i].name, wanted)) {
            stage->torque = rig->stages[i].torque;
            return TD_OK;
        }
    char path[PATH_ROOM];
    (void)snprintf(path, sizeof path, "%.40s.with_engine_brake", entry);
    return td_yaml_problem(making->yaml, path, making->problem,
                           "\"%s\" is no stage of engine_brake; name one of them", wanted);
}

static enum td_result read_retarder_stage(const struct making *making, unsigned at)
{
    const struct td_rig_stage_text *text = &making->text->retarder.stages[at];
    struct td_rig *rig = making->rig;
    char entry[PATH_ROOM], path[PATH_ROOM];
    (void)snprintf(entry, sizeof entry, "retarder.stages[%u]", at);
    if (rig->stage_count == TD_RIG_STAGES_MAX)
        return td_yaml_problem(making->yaml, entry, making->problem,
                               "one stage too many; engine_brake and retarder together may have %d",
                               (int)TD_RIG_STAGES_MAX);
    struct td_engine_brake_stage *stage = &rig->stages[rig->stage_count++];
    stage->kind = TD_HOLDER_RETARDER;
    (void)td_text_copy(stage->name, sizeof stage->name, text->name);
    (void)snprintf(path, sizeof path, "%.40s.torque", entry);
    enum td_result result = read_curve(making, path, text->torque, text->torque_count,
                                       &stage->shaft_torque_nm);
    return result == TD_OK ? join_engine_brake(making, entry, text->with_engine_brake, stage)
                           : result;
}

static enum td_result read_retarder(const struct making *making)
{
    const struct td_rig_retarder_text *text = &making->text->retarder;
    if (text->stages_count == 0)
        return TD_OK;
    struct td_retarder_heat *heat = &making->rig->retarder;
    const struct value values[] = {
        {"retarder.heat_capacity", text->heat_capacity, TD_DIM_HEAT_CAPACITY,
         &heat->heat_capacity_j_per_k},
        {"retarder.cooling", text->cooling, TD_DIM_COOLING, &heat->cooling_w_per_k},
        {"retarder.derates_from", text->derates_from, TD_DIM_TEMPERATURE, &heat->derates_from_c},
        {"retarder.derates_to", text->derates_to, TD_DIM_TEMPERATURE, &heat->derates_to_c},
        {"retarder.least", text->least, TD_DIM_RATIO, &heat->least_ratio},
    };
    enum td_result result = read_values(making, values, sizeof values / sizeof values[0]);
    for (unsigned i = 0; result == TD_OK && i < text->stages_count; i++)
        result = read_retarder_stage(making, i);
    return result;
}

static enum td_result read_lists(const struct making *making)
{
    const struct td_rig_text *text = making->text;
    struct td_rig *rig = making->rig;
    char path[PATH_ROOM];
    for (size_t i = 0; i < text->loads_count; i++) {
        (void)snprintf(path, sizeof path, "loads[%u].weight", (unsigned)i);
        (void)td_text_copy(rig->loads[i].name, sizeof rig->loads[i].name, text->loads[i].name);
        const struct value weight = {path, text->loads[i].weight, TD_DIM_MASS,
                                     &rig->loads[i].mass_kg};
        enum td_result result = read_values(making, &weight, 1);
        if (result != TD_OK)
            return result;
    }
    for (size_t i = 0; i < text->gears_count; i++) {
        (void)snprintf(path, sizeof path, "gears[%u].ratio", (unsigned)i);
        (void)td_text_copy(rig->gears[i].name, sizeof rig->gears[i].name, text->gears[i].name);
        const struct value ratio = {path, text->gears[i].ratio, TD_DIM_NUMBER,
                                    &rig->gears[i].ratio};
        enum td_result result = read_values(making, &ratio, 1);
        if (result != TD_OK)
            return result;
    }
    rig->load_count = text->loads_count;
    rig->gear_count = text->gears_count;
    return TD_OK;
}

static enum td_result choose_load(const struct making *making)
{
    struct td_rig *rig = making->rig;
    rig->load_now = rig->load_count - 1;
    const char *wanted = making->text->load;
    if (wanted == NULL)
        return TD_OK;
    for (rig->load_now = 0; rig->load_now < rig->load_count; rig->load_now++)
        if (td_text_equal(rig->loads[rig->load_now].name, wanted))
            return TD_OK;
    return td_yaml_problem(making->yaml, "load", making->problem,
                           "\"%s\" is none of the loads; name one of them", wanted);
}

static enum td_result read_counts(const struct making *making)
{
    enum td_result result = td_yaml_whole(making->yaml, "axles", making->text->axles, 2, 20,
                                          &making->rig->axles, making->problem);
    if (result != TD_OK)
        return result;
    return td_yaml_whole(making->yaml, "braked_axles", making->text->braked_axles, 1,
                         making->rig->axles, &making->rig->braked_axles, making->problem);
}

/* Name of an entry of a list, NULL past its end. */
static const char *entry_name(const struct td_rig_text *text, const char *list, unsigned at)
{
    if (td_text_equal(list, "loads"))
        return at < text->loads_count ? text->loads[at].name : NULL;
    if (td_text_equal(list, "gears"))
        return at < text->gears_count ? text->gears[at].name : NULL;
    if (td_text_equal(list, "retarder"))
        return at < text->retarder.stages_count ? text->retarder.stages[at].name : NULL;
    return at < text->engine_brake_count ? text->engine_brake[at].name : NULL;
}

/* Index of the name that stands in quotes in a complaint of td_rig_check; the last of two equal
 * ones, -1 for none. */
static int quoted_index(const struct td_rig_text *text, const char *list, const char *words)
{
    const char *open = strchr(words, '"');
    const char *close = open == NULL ? NULL : strchr(open + 1, '"');
    if (close == NULL)
        return -1;
    size_t length = (size_t)(close - open - 1);
    int index = -1;
    const char *name;
    for (unsigned i = 0; (name = entry_name(text, list, i)) != NULL; i++)
        if (strlen(name) == length && memcmp(name, open + 1, length) == 0)
            index = (int)i;
    return index;
}

/* td_rig_check names members in words of the file ("brakes: limit is", "gears \"third\": ratio");
 * this finds their path, as near as it is on file. */
static void path_of_complaint(const struct making *making, const char *words,
                              char path[TD_YAML_PATH_MAX])
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz_";
    size_t first = strspn(words, letters);
    (void)snprintf(path, TD_YAML_PATH_MAX, "%.*s", (int)first, words);
    if (strncmp(words + first, " \"", 2) == 0) {
        int index = quoted_index(making->text, path, words);
        char entry[TD_YAML_PATH_MAX];
        const char *list = td_text_equal(path, "retarder") ? "retarder.stages" : path;
        (void)snprintf(entry, sizeof entry, "%.40s[%d]", list, index);
        if (td_yaml_line(making->yaml, entry) > 0)
            (void)td_text_copy(path, TD_YAML_PATH_MAX, entry);
    } else if (strncmp(words + first, ": ", 2) == 0) {
        const char *member = words + first + 2;
        (void)snprintf(path, TD_YAML_PATH_MAX, "%.*s.%.*s", (int)first, words,
                       (int)strspn(member, letters), member);
        if (td_yaml_line(making->yaml, path) == 0)
            path[first] = '\0';
    }
}

enum td_result td_rig_make(const struct td_yaml *yaml, const struct td_rig_text *text,
                           struct td_rig *rig, struct td_problem *problem)
{
    const struct making making = {yaml, text, rig, problem};
    rig->gearbox = *text->gearbox;
    rig->comfortable_mps2 = comfortable_default_mps2;
    (void)td_text_copy(rig->name, sizeof rig->name, text->name);
    enum td_result (*const steps[])(const struct making *) = {
        read_counts, read_plain,    read_rollover, read_brakes,
        read_engine, read_retarder, read_lists,    choose_load,
    };
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        enum td_result result = steps[i](&making);
        if (result != TD_OK)
            return result;
    }
    struct td_problem wrong = {0};
    enum td_result result = td_rig_check(rig, &wrong);
    if (result == TD_OK)
        return TD_OK;
    char path[TD_YAML_PATH_MAX];
    path_of_complaint(&making, wrong.text, path);
    return td_yaml_complain(yaml, path, problem, result, wrong.text);
}
