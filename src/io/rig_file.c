/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs from YAML: texts first (libcyaml), then quantities, then td_rig_check, and each complaint
 * led back to its line. */
#include "io/rig_file.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "io/yaml_load.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

enum { TEXT_MOST = 63, PATH_ROOM = 64 };

static const double comfortable_default_mps2 = 0.5; /* common practice, no source */
static const double rollover_default_g = 0.35; /* a loaded tractor-semitrailer; from memory */

/* The file as it stands, all text. */
struct load_text {
    char *name, *weight;
};
struct gear_text {
    char *name, *ratio;
};
struct stage_text {
    char *name;
    char ***torque; /* pairs */
    unsigned torque_count;
};
struct engine_text {
    char *inertia, *least, *best, *most;
    char ***motoring; /* pairs */
    unsigned motoring_count;
};
struct brakes_text {
    char *heat_capacity, *cooling, *cooling_by_speed, *limit, *missing;
};
struct rig_text {
    char *name;
    enum td_gearbox gearbox;
    struct load_text *loads;
    unsigned loads_count;
    char *load;
    char *axles, *braked_axles, *tyre_radius, *rolling_resistance, *drag_area;
    char *driveline_efficiency, *axle_ratio, *rotating_wheels;
    struct engine_text engine;
    struct stage_text *engine_brake;
    unsigned engine_brake_count;
    struct gear_text *gears;
    unsigned gears_count;
    struct brakes_text brakes;
    char *comfortable_slowing, *rollover;
};

#define NEEDED(key, type, member)                                                                  \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER, type, member, 1, TEXT_MOST)
#define OPTIONAL(key, type, member)                                                                \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, type, member, 1,         \
                           TEXT_MOST)
#define WORD(key, type, member)                                                                    \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER, type, member, 1, TD_RIG_WORD_MAX - 1)

static const cyaml_schema_field_t load_fields[] = {
    WORD("name", struct load_text, name), NEEDED("weight", struct load_text, weight),
    CYAML_FIELD_END};
static const cyaml_schema_value_t load_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct load_text, load_fields)};

static const cyaml_schema_field_t gear_fields[] = {
    WORD("name", struct gear_text, name), NEEDED("ratio", struct gear_text, ratio),
    CYAML_FIELD_END};
static const cyaml_schema_value_t gear_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct gear_text, gear_fields)};

static const cyaml_schema_value_t half_schema = {
    CYAML_VALUE_STRING(CYAML_FLAG_POINTER, char *, 1, TEXT_MOST)};
/* [1000 rpm, 150 N m]; held by pointer, since libcyaml 1.3.1 frees fixed sequences that lie inside
 * another sequence with the wrong stride (and so twice). */
static const cyaml_schema_value_t pair_schema = {
    CYAML_VALUE_SEQUENCE_FIXED(CYAML_FLAG_POINTER, char *, &half_schema, 2)};

static const cyaml_schema_field_t stage_fields[] = {
    WORD("name", struct stage_text, name),
    CYAML_FIELD_SEQUENCE("torque", CYAML_FLAG_POINTER, struct stage_text, torque, &pair_schema, 2,
                         TD_RIG_CURVE_MAX),
    CYAML_FIELD_END};
static const cyaml_schema_value_t stage_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct stage_text, stage_fields)};

static const cyaml_schema_field_t engine_fields[] = {
    NEEDED("inertia", struct engine_text, inertia),
    NEEDED("least", struct engine_text, least),
    NEEDED("best", struct engine_text, best),
    NEEDED("most", struct engine_text, most),
    CYAML_FIELD_SEQUENCE("motoring", CYAML_FLAG_POINTER, struct engine_text, motoring,
                         &pair_schema, 2, TD_RIG_CURVE_MAX),
    CYAML_FIELD_END};

static const cyaml_schema_field_t brakes_fields[] = {
    OPTIONAL("heat_capacity", struct brakes_text, heat_capacity),
    OPTIONAL("cooling", struct brakes_text, cooling),
    OPTIONAL("cooling_by_speed", struct brakes_text, cooling_by_speed),
    OPTIONAL("limit", struct brakes_text, limit),
    OPTIONAL("missing", struct brakes_text, missing),
    CYAML_FIELD_END};

static const cyaml_strval_t gearbox_words[] = {{"manual", TD_GEARBOX_MANUAL},
                                               {"automated", TD_GEARBOX_AUTOMATED},
                                               {"automatic", TD_GEARBOX_AUTOMATIC}};

static const cyaml_schema_field_t rig_fields[] = {
    CYAML_FIELD_STRING_PTR("name", CYAML_FLAG_POINTER, struct rig_text, name, 1,
                           TD_RIG_NAME_MAX - 1),
    CYAML_FIELD_ENUM("gearbox", CYAML_FLAG_STRICT, struct rig_text, gearbox, gearbox_words, 3),
    CYAML_FIELD_SEQUENCE("loads", CYAML_FLAG_POINTER, struct rig_text, loads, &load_schema, 1,
                         TD_RIG_LOADS_MAX),
    OPTIONAL("load", struct rig_text, load),
    NEEDED("axles", struct rig_text, axles),
    NEEDED("braked_axles", struct rig_text, braked_axles),
    NEEDED("tyre_radius", struct rig_text, tyre_radius),
    NEEDED("rolling_resistance", struct rig_text, rolling_resistance),
    NEEDED("drag_area", struct rig_text, drag_area),
    NEEDED("driveline_efficiency", struct rig_text, driveline_efficiency),
    NEEDED("axle_ratio", struct rig_text, axle_ratio),
    NEEDED("rotating_wheels", struct rig_text, rotating_wheels),
    CYAML_FIELD_MAPPING("engine", CYAML_FLAG_DEFAULT, struct rig_text, engine, engine_fields),
    CYAML_FIELD_SEQUENCE("engine_brake", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                         struct rig_text, engine_brake, &stage_schema, 1, TD_RIG_STAGES_MAX),
    CYAML_FIELD_SEQUENCE("gears", CYAML_FLAG_POINTER, struct rig_text, gears, &gear_schema, 1,
                         TD_RIG_GEARS_MAX),
    CYAML_FIELD_MAPPING("brakes", CYAML_FLAG_OPTIONAL, struct rig_text, brakes, brakes_fields),
    OPTIONAL("comfortable_slowing", struct rig_text, comfortable_slowing),
    OPTIONAL("rollover", struct rig_text, rollover),
    CYAML_FIELD_END};

static const cyaml_schema_value_t rig_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, struct rig_text, rig_fields)};

struct making {
    const struct td_yaml *yaml;
    const struct rig_text *text;
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
    const struct rig_text *text = making->text;
    struct td_rig *rig = making->rig;
    const struct value values[] = {
        {"tyre_radius", text->tyre_radius, TD_DIM_LENGTH, &rig->tyre_radius_m},
        {"rolling_resistance", text->rolling_resistance, TD_DIM_NUMBER, &rig->rolling_ratio},
        {"drag_area", text->drag_area, TD_DIM_AREA, &rig->drag_area_m2},
        {"driveline_efficiency", text->driveline_efficiency, TD_DIM_RATIO, &rig->driveline_ratio},
        {"axle_ratio", text->axle_ratio, TD_DIM_NUMBER, &rig->axle_ratio},
        {"rotating_wheels", text->rotating_wheels, TD_DIM_MASS, &rig->rotating_kg_wheels},
        {"engine.inertia", text->engine.inertia, TD_DIM_INERTIA, &rig->engine_inertia_kgm2},
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
    const struct brakes_text *text = &making->text->brakes;
    struct td_brakes *brakes = &making->rig->brakes;
    *brakes = td_brakes_published(making->rig->braked_axles);
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
    const struct rig_text *text = making->text;
    struct td_rig *rig = making->rig;
    enum td_result result = read_curve(making, "engine.motoring", text->engine.motoring,
                                       text->engine.motoring_count, &rig->motoring);
    for (size_t i = 0; result == TD_OK && i < text->engine_brake_count; i++) {
        char path[PATH_ROOM];
        (void)snprintf(path, sizeof path, "engine_brake[%u].torque", (unsigned)i);
        const struct stage_text *stage = &text->engine_brake[i];
        (void)td_text_copy(rig->stages[i].name, sizeof rig->stages[i].name, stage->name);
        result = read_curve(making, path, stage->torque, stage->torque_count,
                            &rig->stages[i].torque);
    }
    rig->stage_count = text->engine_brake_count;
    return result;
}

static enum td_result read_lists(const struct making *making)
{
    const struct rig_text *text = making->text;
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

/* Index of the name that stands in quotes in a complaint of td_rig_check; -1 for none. */
static int quoted_index(const struct rig_text *text, const char *list, const char *words)
{
    const char *open = strchr(words, '"');
    const char *close = open == NULL ? NULL : strchr(open + 1, '"');
    if (close == NULL)
        return -1;
    size_t length = (size_t)(close - open - 1);
    bool loads = td_text_equal(list, "loads"), gears = td_text_equal(list, "gears");
    unsigned count = loads   ? text->loads_count
                     : gears ? text->gears_count
                             : text->engine_brake_count;
    for (unsigned i = 0; i < count; i++) {
        const char *name = loads   ? text->loads[i].name
                           : gears ? text->gears[i].name
                                   : text->engine_brake[i].name;
        if (strlen(name) == length && memcmp(name, open + 1, length) == 0)
            return (int)i;
    }
    return -1;
}

/* td_rig_check names members in words of the file ("brakes: limit is", "gears \"third\": ratio");
 * this finds their line. */
static int line_of_complaint(const struct making *making, const char *words)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz_";
    char path[TD_YAML_PATH_MAX];
    size_t first = strspn(words, letters);
    (void)snprintf(path, sizeof path, "%.*s", (int)first, words);
    if (strncmp(words + first, " \"", 2) == 0) {
        int index = quoted_index(making->text, path, words);
        char entry[TD_YAML_PATH_MAX];
        (void)snprintf(entry, sizeof entry, "%.40s[%d]", path, index);
        int line = td_yaml_line(making->yaml, entry);
        if (line > 0)
            return line;
    } else if (strncmp(words + first, ": ", 2) == 0) {
        const char *member = words + first + 2;
        (void)snprintf(path, sizeof path, "%.*s.%.*s", (int)first, words,
                       (int)strspn(member, letters), member);
        int line = td_yaml_line(making->yaml, path);
        if (line > 0)
            return line;
        path[first] = '\0';
    }
    return td_yaml_line(making->yaml, path);
}

static enum td_result make_rig(const struct making *making, const char *name)
{
    struct td_rig *rig = making->rig;
    rig->gearbox = making->text->gearbox;
    rig->comfortable_mps2 = comfortable_default_mps2;
    (void)td_text_copy(rig->name, sizeof rig->name, making->text->name);
    enum td_result (*const steps[])(const struct making *) = {
        read_counts, read_plain,  read_rollover, read_brakes,
        read_engine, read_lists, choose_load,
    };
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        enum td_result result = steps[i](making);
        if (result != TD_OK)
            return result;
    }
    struct td_problem wrong = {0};
    enum td_result result = td_rig_check(rig, &wrong);
    if (result == TD_OK)
        return TD_OK;
    return td_problem_set(making->problem, result, name, line_of_complaint(making, wrong.text),
                          "%s", wrong.text);
}

enum td_result td_rig_file_parse(const char *name, const char *bytes, size_t length,
                                 struct td_rig *rig, struct td_problem *problem)
{
    struct td_yaml *yaml = NULL;
    enum td_result result = td_yaml_load(name, bytes, length, &rig_schema,
                                         "a rig begins with name: and gearbox:", &yaml, problem);
    if (result != TD_OK)
        return result;
    struct td_rig made = {0};
    const struct making making = {yaml, td_yaml_data(yaml), &made, problem};
    result = make_rig(&making, name);
    if (result == TD_OK)
        *rig = made;
    td_yaml_free(&yaml);
    return result;
}

enum td_result td_rig_file_read(const char *path, struct td_rig *rig, struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, TD_YAML_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    result = td_rig_file_parse(path, bytes, length, rig, problem);
    free(bytes);
    return result;
}
