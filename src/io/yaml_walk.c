/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A walk over libyaml's events along a libcyaml schema. Recursion is bounded by the schema's own
 * depth (and TD_YAML_DEPTH_MAX): what the schema does not know is refused before it is entered. */
#include "io/yaml_walk.h"

#include <assert.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <yaml.h>

#include "io/problem.h"
#include "talkdown/text.h"

struct walk {
    yaml_parser_t parser;
    const char *name;
    const char *what;
    struct td_problem *problem;
    struct td_yaml_lines *lines;
    char path_text[TD_YAML_PATH_MAX];
    struct td_text path;
};

static enum td_result walk_value(struct walk *walk, const yaml_event_t *event,
                                 const cyaml_schema_value_t *schema, int depth);

static int line_of(const yaml_event_t *event)
{
    return (int)event->start_mark.line + 1;
}

/* What parts the place in the file from what is wrong there; the top has no place to name. */
static const char *colon(const struct walk *walk)
{
    return walk->path.length == 0 ? "" : ": ";
}

static enum td_result refuse(struct walk *walk, int line, const char *wrong, const char *right)
{
    return td_problem_set(walk->problem, TD_INVALID, walk->name, line, "%s%s%s; %s",
                          walk->path_text, colon(walk), wrong, right);
}

static enum td_result next_event(struct walk *walk, yaml_event_t *event)
{
    if (yaml_parser_parse(&walk->parser, event))
        return TD_OK;
    const yaml_parser_t *parser = &walk->parser;
    if (parser->error == YAML_MEMORY_ERROR)
        return td_problem_set(walk->problem, TD_NO_MEMORY, walk->name, 0, "no memory to read it");
    return td_problem_set(walk->problem, TD_INVALID, walk->name,
                          (int)parser->problem_mark.line + 1, "is not well-formed YAML: %s",
                          parser->problem != NULL ? parser->problem : "unreadable");
}

static void shorten_path(struct walk *walk, size_t length)
{
    walk->path.length = length;
    walk->path.cut = false;
    walk->path_text[length] = '\0';
}

static enum td_result note_line(struct walk *walk, int line)
{
    struct td_yaml_lines *lines = walk->lines;
    if (lines->count == TD_YAML_VALUES_MAX)
        return refuse(walk, line, "holds too many values", "8192 are the most");
    if (lines->count == lines->room) {
        size_t room = lines->room == 0 ? 64 : lines->room * 2;
        struct td_yaml_at *more = realloc(lines->at, room * sizeof *more);
        if (more == NULL)
            return td_problem_set(walk->problem, TD_NO_MEMORY, walk->name, line, "no memory");
        lines->at = more;
        lines->room = room;
    }
    struct td_yaml_at *at = &lines->at[lines->count++];
    (void)td_text_copy(at->path, sizeof at->path, walk->path_text);
    at->line = line;
    return TD_OK;
}

static bool is_null(const yaml_event_t *event)
{
    const char *text = (const char *)event->data.scalar.value;
    return event->data.scalar.style == YAML_PLAIN_SCALAR_STYLE &&
           (text[0] == '\0' || strcmp(text, "~") == 0 || strcmp(text, "null") == 0);
}

static bool has_control(const yaml_event_t *event)
{
    const unsigned char *text = event->data.scalar.value;
    for (size_t i = 0; i < event->data.scalar.length; i++)
        if (text[i] < 0x20 || text[i] == 0x7f)
            return true;
    return false;
}

/* "one of manual, automated" */
static void list_values(const cyaml_schema_value_t *schema, struct td_text *text)
{
    td_text_add(text, "one of ");
    for (uint32_t i = 0; i < schema->enumeration.count; i++) {
        td_text_add(text, i > 0 ? ", " : "");
        td_text_add(text, schema->enumeration.strings[i].str);
    }
    td_text_add(text, " is needed");
}

static enum td_result check_enum(struct walk *walk, const yaml_event_t *event,
                                 const cyaml_schema_value_t *schema)
{
    const char *value = (const char *)event->data.scalar.value;
    for (uint32_t i = 0; i < schema->enumeration.count; i++)
        if (strcmp(schema->enumeration.strings[i].str, value) == 0)
            return TD_OK;
    char right[256];
    struct td_text text;
    td_text_init(&text, right, sizeof right);
    list_values(schema, &text);
    return td_problem_set(walk->problem, TD_INVALID, walk->name, line_of(event),
                          "%s%s\"%.40s\" is no value of it; %s", walk->path_text, colon(walk),
                          value, right);
}

static enum td_result check_scalar(struct walk *walk, const yaml_event_t *event,
                                   const cyaml_schema_value_t *schema)
{
    int line = line_of(event);
    if (schema->type == CYAML_MAPPING)
        return refuse(walk, line, "is a single value", "keys with values are needed here");
    if (schema->type == CYAML_SEQUENCE || schema->type == CYAML_SEQUENCE_FIXED)
        return refuse(walk, line, "is a single value", "a list is needed here");
    if (is_null(event))
        return refuse(walk, line, "has no value", "write one or leave the key out");
    if (has_control(event))
        return refuse(walk, line, "holds a control character", "one line of text is needed");
    if (schema->type == CYAML_ENUM)
        return check_enum(walk, event, schema);
    assert(schema->type == CYAML_STRING);
    if (event->data.scalar.length < schema->string.min)
        return refuse(walk, line, "is too short", "write some text");
    if (event->data.scalar.length > schema->string.max)
        return td_problem_set(walk->problem, TD_INVALID, walk->name, line,
                              "%s%sis longer than %u bytes; shorten it", walk->path_text,
                              colon(walk), schema->string.max);
    return TD_OK;
}

static const cyaml_schema_field_t *find_field(const cyaml_schema_field_t *fields, const char *key,
                                              size_t *index)
{
    for (*index = 0; fields[*index].key != NULL; ++*index)
        if (strcmp(fields[*index].key, key) == 0)
            return &fields[*index];
    return NULL;
}

static enum td_result unknown_key(struct walk *walk, const yaml_event_t *event,
                                  const cyaml_schema_field_t *fields)
{
    char known[288];
    struct td_text text;
    td_text_init(&text, known, sizeof known);
    for (size_t i = 0; fields[i].key != NULL; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, fields[i].key);
    }
    return td_problem_set(walk->problem, TD_INVALID, walk->name, line_of(event),
                          "unknown key \"%.40s\"%s%s; known here: %s",
                          (const char *)event->data.scalar.value,
                          walk->path.length > 0 ? " in " : "", walk->path_text, known);
}

/* The value of one key, whose event is `key`. */
static enum td_result walk_member(struct walk *walk, const yaml_event_t *key,
                                  const cyaml_schema_field_t *fields, bool *seen, int depth)
{
    if (key->type != YAML_SCALAR_EVENT)
        return refuse(walk, line_of(key), "has a key that is no plain word", "a name is needed");
    const char *word = (const char *)key->data.scalar.value;
    size_t index = 0;
    const cyaml_schema_field_t *field = find_field(fields, word, &index);
    if (field == NULL)
        return unknown_key(walk, key, fields);
    size_t length = walk->path.length;
    if (length > 0)
        td_text_add_char(&walk->path, '.');
    td_text_add(&walk->path, word);
    if (seen[index])
        return refuse(walk, line_of(key), "is there twice", "keep one of them");
    seen[index] = true;
    yaml_event_t event;
    enum td_result result = next_event(walk, &event);
    if (result != TD_OK)
        return result;
    /* The mark of an empty value or of a block lies behind its key: name the key's line. */
    event.start_mark = key->start_mark;
    result = walk_value(walk, &event, &field->value, depth + 1);
    yaml_event_delete(&event);
    shorten_path(walk, length);
    return result;
}

static enum td_result check_missing(struct walk *walk, int line,
                                    const cyaml_schema_field_t *fields, const bool *seen)
{
    for (size_t i = 0; fields[i].key != NULL; i++)
        if (!seen[i] && (fields[i].value.flags & CYAML_FLAG_OPTIONAL) == 0)
            return td_problem_set(walk->problem, TD_INVALID, walk->name, line,
                                  "%s%slacks the key \"%s\"; it is needed", walk->path_text,
                                  colon(walk), fields[i].key);
    return TD_OK;
}

static enum td_result walk_mapping(struct walk *walk, int line,
                                   const cyaml_schema_field_t *fields, int depth)
{
    bool seen[TD_YAML_FIELDS_MAX] = {false};
    for (;;) {
        yaml_event_t event;
        enum td_result result = next_event(walk, &event);
        if (result != TD_OK)
            return result;
        bool last = event.type == YAML_MAPPING_END_EVENT;
        if (!last)
            result = walk_member(walk, &event, fields, seen, depth);
        yaml_event_delete(&event);
        if (result != TD_OK)
            return result;
        if (last)
            return check_missing(walk, line, fields, seen);
    }
}

static enum td_result check_count(struct walk *walk, int line, uint32_t count,
                                  const cyaml_schema_value_t *schema)
{
    if (count >= schema->sequence.min && count <= schema->sequence.max)
        return TD_OK;
    char right[48];
    if (schema->sequence.min == schema->sequence.max)
        (void)snprintf(right, sizeof right, "exactly %u", schema->sequence.max);
    else
        (void)snprintf(right, sizeof right, "from %u to %u", schema->sequence.min,
                       schema->sequence.max);
    return td_problem_set(walk->problem, TD_INVALID, walk->name, line,
                          "%s%shas %s%u entries; %s are needed", walk->path_text, colon(walk),
                          count > schema->sequence.max ? "more than " : "",
                          count > schema->sequence.max ? schema->sequence.max : count, right);
}

static enum td_result walk_sequence(struct walk *walk, int line,
                                    const cyaml_schema_value_t *schema, int depth)
{
    size_t length = walk->path.length;
    for (uint32_t count = 0;; count++) {
        yaml_event_t event;
        enum td_result result = next_event(walk, &event);
        if (result != TD_OK)
            return result;
        bool last = event.type == YAML_SEQUENCE_END_EVENT;
        if (last || count == schema->sequence.max) {
            result = check_count(walk, line, last ? count : count + 1, schema);
        } else {
            td_text_add_char(&walk->path, '[');
            td_text_add_int(&walk->path, count);
            td_text_add_char(&walk->path, ']');
            result = walk_value(walk, &event, schema->sequence.entry, depth + 1);
            if (result == TD_OK)
                shorten_path(walk, length);
        }
        yaml_event_delete(&event);
        if (result != TD_OK || last)
            return result;
    }
}

static bool has_anchor_or_tag(const yaml_event_t *event)
{
    switch (event->type) {
    case YAML_SCALAR_EVENT:
        return event->data.scalar.anchor != NULL || event->data.scalar.tag != NULL;
    case YAML_SEQUENCE_START_EVENT:
        return event->data.sequence_start.anchor != NULL ||
               event->data.sequence_start.tag != NULL;
    case YAML_MAPPING_START_EVENT:
        return event->data.mapping_start.anchor != NULL || event->data.mapping_start.tag != NULL;
    default:
        return false;
    }
}

static enum td_result walk_value(struct walk *walk, const yaml_event_t *event,
                                 const cyaml_schema_value_t *schema, int depth)
{
    int line = line_of(event);
    if (event->type == YAML_ALIAS_EVENT || has_anchor_or_tag(event))
        return refuse(walk, line, "uses an anchor, alias or tag", "write the value itself");
    if (depth > TD_YAML_DEPTH_MAX)
        return refuse(walk, line, "is nested too deep", "8 levels are the most");
    enum td_result result = note_line(walk, line);
    if (result != TD_OK)
        return result;
    if (event->type == YAML_SCALAR_EVENT)
        return check_scalar(walk, event, schema);
    if (event->type == YAML_MAPPING_START_EVENT) {
        if (schema->type != CYAML_MAPPING)
            return refuse(walk, line, "holds keys",
                          schema->type == CYAML_STRING || schema->type == CYAML_ENUM
                              ? "a single value is needed here"
                              : "a list is needed here");
        return walk_mapping(walk, line, schema->mapping.fields, depth);
    }
    if (schema->type != CYAML_SEQUENCE && schema->type != CYAML_SEQUENCE_FIXED)
        return refuse(walk, line, "is a list",
                      schema->type == CYAML_MAPPING ? "keys with values are needed here"
                                                    : "a single value is needed here");
    return walk_sequence(walk, line, schema, depth);
}

/* Stream start, document start, one value, document end, stream end. */
static enum td_result walk_document(struct walk *walk, const cyaml_schema_value_t *schema)
{
    for (bool have_value = false;;) {
        yaml_event_t event;
        enum td_result result = next_event(walk, &event);
        if (result != TD_OK)
            return result;
        yaml_event_type_t type = event.type;
        bool frame = type == YAML_STREAM_START_EVENT || type == YAML_DOCUMENT_START_EVENT ||
                     type == YAML_DOCUMENT_END_EVENT || type == YAML_STREAM_END_EVENT;
        if (type == YAML_DOCUMENT_START_EVENT && have_value)
            result = refuse(walk, line_of(&event), "holds a second document", "keep one of them");
        if (type == YAML_STREAM_END_EVENT && !have_value)
            result = refuse(walk, 0, "is empty", walk->what);
        if (!frame && type == YAML_SCALAR_EVENT && is_null(&event))
            result = refuse(walk, 0, "is empty", walk->what);
        else if (!frame)
            result = walk_value(walk, &event, schema, 0);
        have_value = have_value || !frame;
        yaml_event_delete(&event);
        if (result != TD_OK || type == YAML_STREAM_END_EVENT)
            return result;
    }
}

enum td_result td_yaml_walk(const char *name, const char *bytes, size_t length,
                            const cyaml_schema_value_t *schema, const char *what,
                            struct td_yaml_lines *lines, struct td_problem *problem)
{
    struct walk walk = {.name = name, .what = what, .problem = problem, .lines = lines};
    td_text_init(&walk.path, walk.path_text, sizeof walk.path_text);
    if (!yaml_parser_initialize(&walk.parser))
        return td_problem_set(problem, TD_NO_MEMORY, name, 0, "no memory to read it");
    yaml_parser_set_input_string(&walk.parser, (const unsigned char *)bytes, length);
    enum td_result result = walk_document(&walk, schema);
    yaml_parser_delete(&walk.parser);
    return result;
}
