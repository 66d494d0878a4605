/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs from YAML: the schema, by which libcyaml turns a file into texts (rig_text.h). Outside of
 * lists it lets everything be left out, since a base may have it; what is needed in the end is told
 * by rig_needs.c, after the merge. */
#include "io/rig_file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/rig_base.h"

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
    CYAML_FIELD_SEQUENCE("stages", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                         struct td_rig_retarder_text, stages, &retarder_stage_schema, 0,
                         TD_RIG_STAGES_MAX),
    OPTIONAL("heat_capacity", struct td_rig_retarder_text, heat_capacity),
    OPTIONAL("cooling", struct td_rig_retarder_text, cooling),
    OPTIONAL("derates_from", struct td_rig_retarder_text, derates_from),
    OPTIONAL("derates_to", struct td_rig_retarder_text, derates_to),
    OPTIONAL("least", struct td_rig_retarder_text, least),
    CYAML_FIELD_END};

static const cyaml_schema_field_t engine_fields[] = {
    OPTIONAL("inertia", struct td_rig_engine_text, inertia),
    OPTIONAL("power", struct td_rig_engine_text, power),
    OPTIONAL("least", struct td_rig_engine_text, least),
    OPTIONAL("best", struct td_rig_engine_text, best),
    OPTIONAL("most", struct td_rig_engine_text, most),
    CYAML_FIELD_SEQUENCE("motoring", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                         struct td_rig_engine_text, motoring, &pair_schema, 2, TD_RIG_CURVE_MAX),
    CYAML_FIELD_END};

static const cyaml_strval_t brake_words[] = {{"drum", TD_BRAKE_DRUM}, {"disc", TD_BRAKE_DISC}};

static const cyaml_schema_field_t brakes_fields[] = {
    CYAML_FIELD_ENUM_PTR("kind", CYAML_FLAG_STRICT | CYAML_FLAG_OPTIONAL,
                         struct td_rig_brakes_text, kind, brake_words, 2),
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
    CYAML_FIELD_STRING_PTR("name", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct td_rig_text,
                           name, 1, TD_RIG_NAME_MAX - 1),
    CYAML_FIELD_STRING_PTR("base", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct td_rig_text,
                           base, 1, TD_RIG_BASE_PATH_MAX),
    CYAML_FIELD_ENUM_PTR("gearbox", CYAML_FLAG_STRICT | CYAML_FLAG_OPTIONAL, struct td_rig_text,
                         gearbox, gearbox_words, 3),
    CYAML_FIELD_SEQUENCE("loads", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct td_rig_text,
                         loads, &load_schema, 1, TD_RIG_LOADS_MAX),
    OPTIONAL("load", struct td_rig_text, load),
    OPTIONAL("axles", struct td_rig_text, axles),
    OPTIONAL("braked_axles", struct td_rig_text, braked_axles),
    OPTIONAL("tyre_radius", struct td_rig_text, tyre_radius),
    OPTIONAL("rolling_resistance", struct td_rig_text, rolling_resistance),
    OPTIONAL("drag_area", struct td_rig_text, drag_area),
    OPTIONAL("driveline_efficiency", struct td_rig_text, driveline_efficiency),
    OPTIONAL("axle_ratio", struct td_rig_text, axle_ratio),
    OPTIONAL("rotating_wheels", struct td_rig_text, rotating_wheels),
    CYAML_FIELD_MAPPING("engine", CYAML_FLAG_OPTIONAL, struct td_rig_text, engine, engine_fields),
    CYAML_FIELD_SEQUENCE("engine_brake", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL,
                         struct td_rig_text, engine_brake, &stage_schema, 0, TD_RIG_STAGES_MAX),
    CYAML_FIELD_MAPPING("retarder", CYAML_FLAG_OPTIONAL, struct td_rig_text, retarder,
                        retarder_fields),
    CYAML_FIELD_SEQUENCE("gears", CYAML_FLAG_POINTER | CYAML_FLAG_OPTIONAL, struct td_rig_text,
                         gears, &gear_schema, TD_RIG_GEARS_LEAST, TD_RIG_GEARS_MAX),
    CYAML_FIELD_MAPPING("brakes", CYAML_FLAG_OPTIONAL, struct td_rig_text, brakes, brakes_fields),
    OPTIONAL("comfortable_slowing", struct td_rig_text, comfortable_slowing),
    OPTIONAL("rollover", struct td_rig_text, rollover),
    CYAML_FIELD_END};

const cyaml_schema_value_t td_rig_schema = {
    CYAML_VALUE_MAPPING(CYAML_FLAG_POINTER, struct td_rig_text, rig_fields)};

/* A complaint about a base says whose base it is: its file alone may serve a hundred rigs. */
static enum td_result lead_back(enum td_result result, const char *name,
                                struct td_problem *problem)
{
    if (problem == NULL || problem->file[0] == '\0' ||
        strncmp(problem->file, name, sizeof problem->file - 1) == 0)
        return result;
    size_t used = strlen(problem->text);
    (void)snprintf(problem->text + used, sizeof problem->text - used, " (a base of %s)", name);
    return result;
}

enum td_result td_rig_file_parse_with(const char *name, const char *bytes, size_t length,
                                      const struct td_rig_source *source, struct td_rig *rig,
                                      struct td_problem *problem)
{
    struct td_rig_chain chain = {.count = 0};
    struct td_rig made = {0};
    enum td_result result = td_rig_chain_read(name, bytes, length, source, &chain, problem);
    if (result == TD_OK)
        result = td_rig_needs(chain.files[0], &chain.merged, problem);
    if (result == TD_OK)
        result = td_rig_make(chain.files[0], &chain.merged, &made, problem);
    td_rig_chain_free(&chain);
    if (result != TD_OK)
        return lead_back(result, name, problem);
    *rig = made;
    return TD_OK;
}

/* No pipe, no device: a name in a file must not make its reader wait. */
static enum td_result read_base(void *context, const char *path, char **bytes, size_t *length,
                                struct td_problem *problem)
{
    (void)context;
    enum td_result result = td_file_regular(path, problem);
    return result == TD_OK ? td_file_read(path, TD_YAML_BYTES_MAX, bytes, length, problem)
                           : result;
}

enum td_result td_rig_file_parse(const char *name, const char *bytes, size_t length,
                                 struct td_rig *rig, struct td_problem *problem)
{
    static const struct td_rig_source disk = {.read = read_base};
    return td_rig_file_parse_with(name, bytes, length, &disk, rig, problem);
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
