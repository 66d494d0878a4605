/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rigs that rest on others. Each file is checked for its form by itself; values are merged as
 * texts, along libcyaml's schema, and looked at only then.
 *
 * A base lies in the folder of the file that names it or below: a rig file that came by stick or
 * mail must not make a daemon read, and tell about, files from anywhere. */
#include "io/rig_base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/text.h"

static enum td_result bad_base(const struct td_yaml *yaml, struct td_problem *problem,
                               const char *base, const char *wrong)
{
    return td_yaml_problem(yaml, "base", problem,
                           "\"%.120s\" %.120s; name a rig file in this one's folder or below", base,
                           wrong);
}

/* Adds "b/c.yaml" of "./b//c.yaml"; false where it would lead up. */
static bool add_below(struct td_text *path, const char *base)
{
    for (bool first = true; *base != '\0';) {
        size_t length = strcspn(base, "/");
        if (length == 2 && strncmp(base, "..", 2) == 0)
            return false;
        if (length > 0 && !(length == 1 && base[0] == '.')) {
            td_text_add(path, first ? "" : "/");
            td_text_add_span(path, base, length);
            first = false;
        }
        base += length + (base[length] == '/');
    }
    return true;
}

/* The path of the base that the last file of the chain names; the caller frees it. */
static enum td_result base_path(const struct td_rig_chain *chain, const char *base, char **path,
                                struct td_problem *problem)
{
    const struct td_yaml *yaml = chain->files[chain->count - 1];
    const char *from = chain->paths[chain->count - 1], *slash = strrchr(from, '/');
    size_t folder = slash == NULL ? 0 : (size_t)(slash - from) + 1;
    size_t size = folder + strlen(base) + 2;
    if (base[0] == '/')
        return bad_base(yaml, problem, base, "is an absolute path");
    char *made = malloc(size);
    if (made == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, from, 0, "no memory to read its base");
    struct td_text text;
    td_text_init(&text, made, size);
    td_text_add_span(&text, from, folder);
    if (!add_below(&text, base) || text.length == folder) {
        free(made);
        return bad_base(yaml, problem, base, "leads out of the folder or to none of its files");
    }
    *path = made;
    return TD_OK;
}

/* Takes `path` over when all is well. */
static enum td_result add_file(struct td_rig_chain *chain, char *path, const char *bytes,
                               size_t length, struct td_problem *problem)
{
    enum td_result result =
        td_yaml_load(path, bytes, length, &td_rig_schema, "a rig begins with name: and gearbox:",
                     &chain->files[chain->count], problem);
    if (result != TD_OK)
        return result;
    if (chain->count > 0)
        td_yaml_rest_on(chain->files[chain->count - 1], chain->files[chain->count]);
    chain->paths[chain->count++] = path;
    return TD_OK;
}

/* Of a loop and of a chain too long: at the line that asks for one more. */
static enum td_result may_follow(const struct td_rig_chain *chain, const char *base,
                                 const char *path, struct td_problem *problem)
{
    const struct td_yaml *yaml = chain->files[chain->count - 1];
    for (size_t i = 0; i < chain->count; i++)
        if (strcmp(chain->paths[i], path) == 0)
            return bad_base(yaml, problem, base,
                            i + 1 == chain->count ? "is this very file"
                                                  : "leads back to a rig that rests on this one");
    if (chain->count == 1 + TD_RIG_BASES_MAX)
        return td_yaml_problem(yaml, "base", problem,
                               "\"%.120s\" is one base too many; a rig may rest on %d in a row",
                               base, (int)TD_RIG_BASES_MAX);
    return TD_OK;
}

/* A base that cannot be read is told where it is named. */
static enum td_result read_base(const struct td_rig_chain *chain, const char *base,
                                const char *path, const struct td_rig_source *source, char **bytes,
                                size_t *length, struct td_problem *problem)
{
    struct td_problem wrong = {0};
    enum td_result result = source->read(source->context, path, bytes, length, &wrong);
    if (result == TD_OK)
        return TD_OK;
    if (result == TD_NO_MEMORY)
        return td_problem_set(problem, result, path, 0, "%s", wrong.text);
    return bad_base(chain->files[chain->count - 1], problem, base, wrong.text);
}

static enum td_result follow(struct td_rig_chain *chain, const char *base,
                             const struct td_rig_source *source, struct td_problem *problem)
{
    char *path = NULL, *bytes = NULL;
    size_t length = 0, before = chain->count;
    enum td_result result = base_path(chain, base, &path, problem);
    if (result == TD_OK)
        result = may_follow(chain, base, path, problem);
    if (result == TD_OK)
        result = read_base(chain, base, path, source, &bytes, &length, problem);
    if (result == TD_OK)
        result = add_file(chain, path, bytes, length, problem);
    free(bytes);
    if (chain->count == before)
        free(path);
    return result;
}

static void *at(void *structure, size_t offset)
{
    return (char *)structure + offset;
}

static const void *const_at(const void *structure, size_t offset)
{
    return (const char *)structure + offset;
}

/* What the file does not have comes from what it rests on; mappings are gone into, lists not. */
static void take_rest(void *to, const void *from, const cyaml_schema_field_t *fields,
                      const char *prefix, const struct td_yaml *yaml)
{
    for (const cyaml_schema_field_t *field = fields; field->key != NULL; field++) {
        char path[TD_YAML_PATH_MAX];
        size_t offset = field->data_offset;
        (void)snprintf(path, sizeof path, "%s%s%s", prefix, prefix[0] != '\0' ? "." : "",
                       field->key);
        if (field->value.type == CYAML_MAPPING) {
            take_rest(at(to, offset), const_at(from, offset), field->value.mapping.fields, path,
                      yaml);
            continue;
        }
        if (td_yaml_has(yaml, path))
            continue;
        memcpy(at(to, offset), const_at(from, offset), sizeof(void *));
        if (field->value.type == CYAML_SEQUENCE)
            memcpy(at(to, field->count_offset), const_at(from, field->count_offset),
                   field->count_size);
    }
}

static void merge(struct td_rig_chain *chain)
{
    for (size_t i = chain->count; i-- > 0;) {
        struct td_rig_text text = *(const struct td_rig_text *)td_yaml_data(chain->files[i]);
        if (i + 1 < chain->count)
            take_rest(&text, &chain->merged, td_rig_schema.mapping.fields, "", chain->files[i]);
        chain->merged = text;
    }
}

enum td_result td_rig_chain_read(const char *name, const char *bytes, size_t length,
                                 const struct td_rig_source *source, struct td_rig_chain *chain,
                                 struct td_problem *problem)
{
    char *copy = malloc(strlen(name) + 1);
    if (copy == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, name, 0, "no memory to read it");
    memcpy(copy, name, strlen(name) + 1);
    enum td_result result = add_file(chain, copy, bytes, length, problem);
    if (result != TD_OK)
        free(copy);
    while (result == TD_OK) {
        const struct td_rig_text *last = td_yaml_data(chain->files[chain->count - 1]);
        if (last->base == NULL)
            break;
        result = follow(chain, last->base, source, problem);
    }
    if (result == TD_OK)
        merge(chain);
    return result;
}

void td_rig_chain_free(struct td_rig_chain *chain)
{
    for (size_t i = 0; i < chain->count; i++) {
        td_yaml_free(&chain->files[i]);
        free(chain->paths[i]);
    }
    *chain = (struct td_rig_chain){.count = 0};
}
