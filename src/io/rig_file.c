/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs from YAML: the schema, by which libcyaml turns the file into texts (rig_text.h). */
#include "io/rig_file.h"

#include <stdlib.h>

#include "io/file.h"
#include "io/rig_text.h"
#include "io/yaml_load.h"

enum { TEXT_MOST = 63 };

#define NEEDED(key, type, member)                                                                  \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER, type, member, 1, TEXT_MOST)
#define OPTIONAL(key, type, member)                                                                \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, type, member, 1,         \
                           TEXT_MOST)
#define WORD(key, type, member)                                                                    \
    CYAML_FIELD_STRING_PTR(key, CYAML_FLAG_POINTER, type, member, 1, TD_RIG_WORD_MAX - 1)

static const cyaml_schema_field_t load_fields[] = {
    WORD("name", struct td_rig_load_text, name), NEEDED("weight", struct td_rig_load_text, weight),
    CYAML_FIELD_END};
static const cyaml_schema_value_t load_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct td_rig_load_text, load_fields)};

static const cyaml_schema_field_t gear_fields[] = {
    WORD("name", struct td_rig_gear_text, name), NEEDED("ratio", struct td_rig_gear_text, ratio),
    CYAML_FIELD_END};
static const cyaml_schema_value_t gear_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct td_rig_gear_text, gear_fields)};

static const cyaml_schema_value_t half_schema = {
    CYAML_VALUE_STRING(CYAML_FLAG_POINTER, char *, 1, TEXT_MOST)};
/* [1000 rpm, 150 N m]; held by pointer, since libcyaml 1.3.1 frees fixed sequences that lie inside
 * another sequence with the wrong stride (and so twice). */
static const cyaml_schema_value_t pair_schema = {
    CYAML_VALUE_SEQUENCE_FIXED(CYAML_FLAG_POINTER, char *, &half_schema, 2)};

static const cyaml_strval_t holder_words[] = {{"engine", TD_HOLDER_ENGINE_BRAKE},
                                              {"exhaust", TD_HOLDER_EXHAUST_BRAKE}};

static const cyaml_schema_field_t stage_fields[] = {
    WORD("name", struct td_rig_stage_text, name),
    CYAML_FIELD_ENUM("kind", CYAML_FLAG_STRICT | CYAML_FLAG_OPTIONAL, struct td_rig_stage_text,
                     kind, holder_words, 2),
    CYAML_FIELD_SEQUENCE("torque", CYAML_FLAG_POINTER, struct td_rig_stage_text, torque,
                         &pair_schema, 2, TD_RIG_CURVE_MAX),
    CYAML_FIELD_END};
static const cyaml_schema_value_t stage_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct td_rig_stage_text, stage_fields)};

static const cyaml_schema_field_t retarder_stage_fields[] = {
    WORD("name", struct td_rig_stage_text, name),
    CYAML_FIELD_SEQUENCE("torque", CYAML_FLAG_POINTER, struct td_rig_stage_text, torque,
                         &pair_schema, 2, TD_RIG_CURVE_MAX),
    OPTIONAL("with_engine_brake", struct td_rig_stage_text, with_engine_brake),
    CYAML_FIELD_END};
static const cyaml_schema_value_t retarder_stage_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_DEFAULT, struct td_rig_stage_text, retarder_stage_fields)};

static const cyaml_schema_field_t retarder_fields[] = {
    CYAML_FIELD_SEQUENCE("stages", CYAML_FLAG_POINTER, struct td_rig_retarder_text, stages,
                         &retarder_stage_schema, 1, TD_RIG_STAGES_MAX),
    NEEDED("heat_capacity", struct td_rig_retarder_text, heat_capacity),
    NEEDED("cooling", struct td_rig_retarder_text, cooling),
    NEEDED("derates_from", struct td_rig_retarder_text, derates_from),
    NEEDED("derates_to", struct td_rig_retarder_text, derates_to),
    NEEDED("least", struct td_rig_retarder_text, least),
    CYAML_FIELD_END};

static const cyaml_schema_field_t engine_fields[] = {
    NEEDED("inertia", struct td_rig_engine_text, inertia),
    OPTIONAL("power", struct td_rig_engine_text, power),
    NEEDED("least", struct td_rig_engine_text, least),
    NEEDED("best", struct td_rig_engine_text, best),
    NEEDED("most", struct td_rig_engine_text, most),
    CYAML_FIELD_SEQUENCE("motoring", CYAML_FLAG_POINTER, struct td_rig_engine_text, motoring,
                         &pair_schema, 2, TD_RIG_CURVE_MAX),
    CYAML_FIELD_END};

static const cyaml_strval_t brake_words[] = {{"drum", TD_BRAKE_DRUM}, {"disc", TD_BRAKE_DISC}};

static const cyaml_schema_field_t brakes_fields[] = {
    CYAML_FIELD_ENUM("kind", CYAML_FLAG_STRICT | CYAML_FLAG_OPTIONAL, struct td_rig_brakes_text,
                     kind, brake_words, 2),
    OPTIONAL("heat_capacity", struct td_rig_brakes_text, heat_capacity),
    OPTIONAL("cooling", struct td_rig_brakes_text, cooling),
    OPTIONAL("cooling_by_speed", struct td_rig_brakes_text, cooling_by_speed),
    OPTIONAL("limit", struct td_rig_brakes_text, limit),
    OPTIONAL("missing", struct td_rig_brakes_text, missing),
    CYAML_FIELD_END};

static const cyaml_strval_t gearbox_words[] = {{"manual", TD_GEARBOX_MANUAL},
                                               {"automated", TD_GEARBOX_AUTOMATED},
                                               {"automatic", TD_GEARBOX_AUTOMATIC}};

static const cyaml_schema_field_t rig_fields[] = {
    CYAML_FIELD_STRING_PTR("name", CYAML_FLAG_POINTER, struct td_rig_text, name, 1,
                           TD_RIG_NAME_MAX - 1),
    CYAML_FIELD_ENUM("gearbox", CYAML_FLAG_STRICT, struct td_rig_text, gearbox, gearbox_words, 3),
    CYAML_FIELD_SEQUENCE("loads", CYAML_FLAG_POINTER, struct td_rig_text, loads, &load_schema, 1,
                         TD_RIG_LOADS_MAX),
    OPTIONAL("load", struct td_rig_text, load),
    NEEDED("axles", struct td_rig_text, axles),
    NEEDED("braked_axles", struct td_rig_text, braked_axles),
    NEEDED("tyre_radius", struct td_rig_text, tyre_radius),
    NEEDED("rolling_resistance", struct td_rig_text, rolling_resistance),
    NEEDED("drag_area", struct td_rig_text, drag_area),
    NEEDED("driveline_efficiency", struct td_rig_text, driveline_efficiency),
    NEEDED("axle_ratio", struct td_rig_text, axle_ratio),
    NEEDED("rotating_wheels", struct td_rig_text, rotating_wheels),
    CYAML_FIELD_MAPPING("engine", CYAML_FLAG_DEFAULT, struct td_rig_text, engine, engine_fields),
    CYAML_FIELD_SEQUENCE("engine_brake", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                         struct td_rig_text, engine_brake, &stage_schema, 1, TD_RIG_STAGES_MAX),
    CYAML_FIELD_MAPPING("retarder", CYAML_FLAG_OPTIONAL, struct td_rig_text, retarder,
                        retarder_fields),
    CYAML_FIELD_SEQUENCE("gears", CYAML_FLAG_POINTER, struct td_rig_text, gears, &gear_schema,
                         TD_RIG_GEARS_LEAST, TD_RIG_GEARS_MAX),
    CYAML_FIELD_MAPPING("brakes", CYAML_FLAG_OPTIONAL, struct td_rig_text, brakes, brakes_fields),
    OPTIONAL("comfortable_slowing", struct td_rig_text, comfortable_slowing),
    OPTIONAL("rollover", struct td_rig_text, rollover),
    CYAML_FIELD_END};

static const cyaml_schema_value_t rig_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, struct td_rig_text, rig_fields)};

enum td_result td_rig_file_parse(const char *name, const char *bytes, size_t length,
                                 struct td_rig *rig, struct td_problem *problem)
{
    struct td_yaml *yaml = NULL;
    enum td_result result = td_yaml_load(name, bytes, length, &rig_schema,
                                         "a rig begins with name: and gearbox:", &yaml, problem);
    if (result != TD_OK)
        return result;
    struct td_rig made = {0};
    result = td_rig_make(yaml, name, td_yaml_data(yaml), &made, problem);
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
