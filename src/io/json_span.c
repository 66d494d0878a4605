/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scanner of JSON that has been read before: brackets are counted, strings are passed over. */
#include "io/json_span.h"

#include <jansson.h>
#include <string.h>

static size_t skip_blanks(const char *bytes, size_t at)
{
    return at + strspn(bytes + at, " \t\r\n");
}

/* One past a string's closing quote. */
static size_t skip_string(const char *bytes, size_t at)
{
    for (at++; bytes[at] != '"' && bytes[at] != '\0'; at++)
        if (bytes[at] == '\\' && bytes[at + 1] != '\0')
            at++;
    return bytes[at] == '"' ? at + 1 : at;
}

static size_t skip_container(const char *bytes, size_t at)
{
    size_t depth = 0;
    while (bytes[at] != '\0') {
        char c = bytes[at];
        if (c == '"') {
            at = skip_string(bytes, at);
            continue;
        }
        at++;
        depth += c == '{' || c == '[';
        if ((c == '}' || c == ']') && --depth == 0)
            break;
    }
    return at;
}

struct td_span td_json_value(const char *bytes, size_t from)
{
    struct td_span span = {skip_blanks(bytes, from), 0};
    if (bytes[span.from] == '"')
        span.to = skip_string(bytes, span.from);
    else if (bytes[span.from] == '{' || bytes[span.from] == '[')
        span.to = skip_container(bytes, span.from);
    else
        span.to = span.from + strcspn(bytes + span.from, ",]} \t\r\n");
    return span;
}

void td_json_begin(struct td_json_walk *walk, const char *bytes, size_t from)
{
    bool inside = bytes[from] == '{' || bytes[from] == '[';
    *walk = (struct td_json_walk){.bytes = bytes, .at = from + inside,
                                  .is_object = bytes[from] == '{'};
    if (!inside)
        walk->at = from + strlen(bytes + from);
}

bool td_json_step(struct td_json_walk *walk)
{
    size_t at = skip_blanks(walk->bytes, walk->at);
    if (walk->bytes[at] == ',')
        at = skip_blanks(walk->bytes, at + 1);
    if (walk->bytes[at] == '\0' || strchr("]}", walk->bytes[at]) != NULL)
        return false;
    if (walk->is_object) {
        walk->key = td_json_value(walk->bytes, at);
        at = skip_blanks(walk->bytes, walk->key.to);
        at += walk->bytes[at] == ':';
    }
    walk->value = td_json_value(walk->bytes, at);
    walk->at = walk->value.to;
    return true;
}

/* Names may be written with escapes: those are read as jansson reads them. */
static bool is_named(const struct td_json_walk *walk, const char *name)
{
    const char *key = walk->bytes + walk->key.from;
    size_t length = walk->key.to - walk->key.from;
    if (memchr(key, '\\', length) == NULL)
        return length == strlen(name) + 2 && strncmp(key + 1, name, length - 2) == 0;
    json_t *read = json_loadb(key, length, JSON_DECODE_ANY, NULL);
    bool same = json_is_string(read) && strcmp(json_string_value(read), name) == 0;
    json_decref(read);
    return same;
}

bool td_json_member(struct td_json_walk *walk, const char *bytes, struct td_span object,
                    const char *name)
{
    td_json_begin(walk, bytes, object.from);
    if (!walk->is_object)
        return false;
    while (td_json_step(walk))
        if (is_named(walk, name))
            return true;
    return false;
}

bool td_json_element(struct td_json_walk *walk, const char *bytes, struct td_span array,
                     size_t index)
{
    td_json_begin(walk, bytes, array.from);
    if (walk->is_object)
        return false;
    while (td_json_step(walk))
        if (index-- == 0)
            return true;
    return false;
}
