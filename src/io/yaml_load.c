/* SPDX-License-Identifier: GPL-3.0-or-later */
/* YAML in two passes: the walk that finds what is wrong, then libcyaml that fills the structure. */
#include "io/yaml_load.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "io/yaml_walk.h"
#include "talkdown/text.h"

struct td_yaml {
    char *name;
    const cyaml_schema_value_t *schema;
    cyaml_data_t *data;
    struct td_yaml_lines lines;
    const struct td_yaml *base; /* NULL none */
};

/* libcyaml logs to standard error unless told otherwise; the walk says it better. */
static const cyaml_config_t config = {
    .log_fn = NULL,
    .mem_fn = cyaml_mem,
    .log_level = CYAML_LOG_ERROR,
    .flags = CYAML_CFG_NO_ALIAS,
};

static enum td_result fill(struct td_yaml *yaml, const char *bytes, size_t length,
                           struct td_problem *problem)
{
    cyaml_err_t error = cyaml_load_data((const uint8_t *)bytes, length, &config, yaml->schema,
                                        &yaml->data, NULL);
    if (error == CYAML_OK)
        return TD_OK;
    /* The walk has passed every event, so what libyaml still fails at is memory. */
    if (error == CYAML_ERR_OOM || error == CYAML_ERR_LIBYAML_PARSER_INIT ||
        error == CYAML_ERR_LIBYAML_PARSER || error == CYAML_ERR_LIBYAML_EVENT_INIT)
        return td_problem_set(problem, TD_NO_MEMORY, yaml->name, 0, "no memory to read it");
    return td_problem_set(problem, TD_INVALID, yaml->name, 0,
                          "cannot be read as its kind of file: %s", cyaml_strerror(error));
}

enum td_result td_yaml_load(const char *name, const char *bytes, size_t length,
                            const cyaml_schema_value_t *schema, const char *what,
                            struct td_yaml **out, struct td_problem *problem)
{
    if (length > TD_YAML_BYTES_MAX)
        return td_problem_set(problem, TD_INVALID, name, 0,
                              "is larger than %d bytes, the most that is read",
                              (int)TD_YAML_BYTES_MAX);
    struct td_yaml *yaml = calloc(1, sizeof *yaml);
    char *copy = malloc(strlen(name) + 1);
    if (yaml == NULL || copy == NULL) {
        free(yaml);
        free(copy);
        return td_problem_set(problem, TD_NO_MEMORY, name, 0, "no memory to read it");
    }
    memcpy(copy, name, strlen(name) + 1);
    yaml->name = copy;
    yaml->schema = schema;
    enum td_result result = td_yaml_walk(name, bytes, length, schema, what, &yaml->lines, problem);
    if (result == TD_OK)
        result = fill(yaml, bytes, length, problem);
    if (result == TD_OK)
        *out = yaml;
    else
        td_yaml_free(&yaml);
    return result;
}

const void *td_yaml_data(const struct td_yaml *yaml)
{
    return yaml->data;
}

void td_yaml_rest_on(struct td_yaml *yaml, const struct td_yaml *base)
{
    yaml->base = base;
}

static int own_line(const struct td_yaml *yaml, const char *path)
{
    for (size_t i = 0; i < yaml->lines.count; i++)
        if (strcmp(yaml->lines.at[i].path, path) == 0)
            return yaml->lines.at[i].line;
    return 0;
}

bool td_yaml_has(const struct td_yaml *yaml, const char *path)
{
    return own_line(yaml, path) > 0;
}

/* The first file of the chain that has the value; of an entry, that has the list, since lists are
 * not merged. NULL: none has it. */
static const struct td_yaml *owner(const struct td_yaml *yaml, const char *path)
{
    char list[TD_YAML_PATH_MAX];
    (void)snprintf(list, sizeof list, "%.*s", (int)strcspn(path, "["), path);
    while (yaml != NULL && !td_yaml_has(yaml, list))
        yaml = yaml->base;
    return yaml;
}

int td_yaml_line(const struct td_yaml *yaml, const char *path)
{
    const struct td_yaml *of = owner(yaml, path);
    return of != NULL ? own_line(of, path) : 0;
}

void td_yaml_free(struct td_yaml **yaml)
{
    if (*yaml == NULL)
        return;
    if ((*yaml)->data != NULL)
        (void)cyaml_free(&config, (*yaml)->schema, (*yaml)->data, 0);
    free((*yaml)->lines.at);
    free((*yaml)->name);
    free(*yaml);
    *yaml = NULL;
}

enum td_result td_yaml_problem(const struct td_yaml *yaml, const char *path,
                               struct td_problem *problem, const char *format, ...)
{
    char words[TD_PROBLEM_TEXT_MAX];
    int length = snprintf(words, sizeof words, "%s: ", path);
    va_list args;
    va_start(args, format);
    (void)vsnprintf(words + length, sizeof words - (size_t)length, format, args);
    va_end(args);
    return td_yaml_complain(yaml, path, problem, TD_INVALID, words);
}

enum td_result td_yaml_complain(const struct td_yaml *yaml, const char *path,
                                struct td_problem *problem, enum td_result result,
                                const char *words)
{
    const struct td_yaml *of = owner(yaml, path);
    return td_problem_set(problem, result, of != NULL ? of->name : yaml->name,
                          of != NULL ? own_line(of, path) : 0, "%s", words);
}

enum td_result td_yaml_quantity(const struct td_yaml *yaml, const char *path, const char *text,
                                enum td_dimension dimension, double *value,
                                struct td_problem *problem)
{
    struct td_problem wrong;
    if (td_quantity_parse(text, dimension, value, &wrong) == TD_OK)
        return TD_OK;
    return td_yaml_problem(yaml, path, problem, "%s", wrong.text);
}

enum td_result td_yaml_whole(const struct td_yaml *yaml, const char *path, const char *text,
                             int least, int most, int *value, struct td_problem *problem)
{
    struct td_problem wrong;
    if (td_whole_parse(text, least, most, value, &wrong) == TD_OK)
        return TD_OK;
    return td_yaml_problem(yaml, path, problem, "%s", wrong.text);
}
