/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables of struct members to JSON and back. Counts and offsets come from the tables, which are
 * constants of ours; what comes from the JSON is checked against them. */
#include "io/members.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

#include "io/problem.h"

static const char *at(const void *base, size_t offset)
{
    return (const char *)base + offset;
}

static char *at_mutable(void *base, size_t offset)
{
    return (char *)base + offset;
}

static json_t *write_real(double value)
{
    if (isnan(value))
        return json_string("nan");
    if (isinf(value))
        return json_string(value > 0.0 ? "inf" : "-inf");
    return json_real(value);
}

static int64_t load_whole(const char *from, const struct td_member *member)
{
    if (member->size == 8) {
        int64_t wide;
        memcpy(&wide, from, 8);
        return wide;
    }
    if (member->kind == TD_MEMBER_UNSIGNED) {
        uint32_t narrow;
        memcpy(&narrow, from, 4);
        return (int64_t)narrow;
    }
    int32_t narrow;
    memcpy(&narrow, from, 4);
    return narrow;
}

static json_t *write_value(const char *from, const struct td_member *member)
{
    double real;
    bool flag;
    switch (member->kind) {
    case TD_MEMBER_REAL:
        memcpy(&real, from, sizeof real);
        return write_real(real);
    case TD_MEMBER_WHOLE:
    case TD_MEMBER_UNSIGNED:
        return json_integer(load_whole(from, member));
    case TD_MEMBER_BOOL:
        memcpy(&flag, from, sizeof flag);
        return json_boolean(flag);
    case TD_MEMBER_TEXT:
        return json_stringn(from, strnlen(from, member->size));
    case TD_MEMBER_STRUCT:
        return td_members_write(from, member->members);
    }
    return NULL;
}

static size_t load_count(const void *base, const struct td_member *member)
{
    size_t count = member->most;
    if (member->count_size == 4) {
        uint32_t narrow;
        memcpy(&narrow, at(base, member->count_offset), 4);
        count = narrow;
    } else if (member->count_size == 8) {
        memcpy(&count, at(base, member->count_offset), 8);
    }
    return count < member->most ? count : member->most;
}

static void store_count(void *base, const struct td_member *member, size_t count)
{
    uint32_t narrow = (uint32_t)count;
    if (member->count_size == 4)
        memcpy(at_mutable(base, member->count_offset), &narrow, 4);
    else if (member->count_size == 8)
        memcpy(at_mutable(base, member->count_offset), &count, 8);
}

static json_t *write_array(const void *base, const struct td_member *member)
{
    json_t *array = json_array();
    size_t count = load_count(base, member);
    for (size_t i = 0; array != NULL && i < count; i++) {
        json_t *value = write_value(at(base, member->offset + i * member->size), member);
        if (json_array_append_new(array, value) != 0) {
            json_decref(array);
            return NULL;
        }
    }
    return array;
}

json_t *td_members_write(const void *from, const struct td_member *table)
{
    json_t *object = json_object();
    for (const struct td_member *member = table; object != NULL && member->key != NULL; member++) {
        json_t *value = member->most > 0 ? write_array(from, member)
                                         : write_value(at(from, member->offset), member);
        if (json_object_set_new(object, member->key, value) != 0) {
            json_decref(object);
            return NULL;
        }
    }
    return object;
}

static enum td_result wrong(struct td_problem *problem, const char *key, const char *want)
{
    return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: %s is needed", key, want);
}

static bool read_real(const json_t *value, double *real)
{
    if (json_is_number(value)) {
        *real = json_number_value(value);
        return true;
    }
    const char *word = json_string_value(value);
    if (word == NULL)
        return false;
    if (strcmp(word, "nan") == 0)
        *real = (double)NAN;
    else if (strcmp(word, "inf") == 0)
        *real = (double)INFINITY;
    else if (strcmp(word, "-inf") == 0)
        *real = -(double)INFINITY;
    else
        return false;
    return true;
}

static bool store_whole(char *into, const struct td_member *member, int64_t value)
{
    bool limited = member->low != 0 || member->high != 0;
    if (limited && (value < member->low || value > member->high))
        return false;
    if (member->size == 8) {
        if (member->kind == TD_MEMBER_UNSIGNED && value < 0)
            return false;
        memcpy(into, &value, 8);
        return true;
    }
    if (member->kind == TD_MEMBER_UNSIGNED) {
        uint32_t narrow = (uint32_t)value;
        memcpy(into, &narrow, 4);
        return value >= 0 && value <= (int64_t)UINT32_MAX;
    }
    int32_t narrow = (int32_t)value;
    memcpy(into, &narrow, 4);
    return value >= INT32_MIN && value <= INT32_MAX;
}

static enum td_result read_value(const json_t *value, const struct td_member *member, char *into,
                                 struct td_problem *problem)
{
    double real;
    bool flag;
    switch (member->kind) {
    case TD_MEMBER_REAL:
        if (!read_real(value, &real))
            return wrong(problem, member->key, "a number");
        memcpy(into, &real, sizeof real);
        return TD_OK;
    case TD_MEMBER_WHOLE:
    case TD_MEMBER_UNSIGNED:
        if (!json_is_integer(value) || !store_whole(into, member, json_integer_value(value)))
            return wrong(problem, member->key, "a whole number in its range");
        return TD_OK;
    case TD_MEMBER_BOOL:
        if (!json_is_boolean(value))
            return wrong(problem, member->key, "true or false");
        flag = json_is_true(value);
        memcpy(into, &flag, sizeof flag);
        return TD_OK;
    case TD_MEMBER_TEXT:
        if (!json_is_string(value) || json_string_length(value) >= member->size)
            return wrong(problem, member->key, "a text that fits");
        memset(into, 0, member->size);
        memcpy(into, json_string_value(value), json_string_length(value));
        return TD_OK;
    case TD_MEMBER_STRUCT:
        return td_members_read(value, member->members, into, problem);
    }
    return wrong(problem, member->key, "a known kind");
}

static enum td_result read_array(const json_t *array, const struct td_member *member, void *into,
                                 struct td_problem *problem)
{
    size_t count = json_array_size(array);
    if (!json_is_array(array) || count > member->most ||
        (member->count_size == 0 && count != member->most))
        return wrong(problem, member->key, "a list that fits");
    for (size_t i = 0; i < count; i++) {
        enum td_result result = read_value(json_array_get(array, i), member,
                                           at_mutable(into, member->offset + i * member->size),
                                           problem);
        if (result != TD_OK)
            return result;
    }
    store_count(into, member, count);
    return TD_OK;
}

enum td_result td_members_read(const json_t *object, const struct td_member *table, void *into,
                               struct td_problem *problem)
{
    if (!json_is_object(object))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "an object is needed");
    size_t members = 0;
    for (const struct td_member *member = table; member->key != NULL; member++, members++) {
        const json_t *value = json_object_get(object, member->key);
        if (value == NULL)
            return td_problem_set(problem, TD_INVALID, NULL, 0, "%s is missing", member->key);
        enum td_result result =
            member->most > 0
                ? read_array(value, member, into, problem)
                : read_value(value, member, at_mutable(into, member->offset), problem);
        if (result != TD_OK)
            return result;
    }
    if (json_object_size(object) != members)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "there are %zu members; %zu are known", json_object_size(object),
                              members);
    return TD_OK;
}

char *td_members_text(json_t *object)
{
    if (object == NULL)
        return NULL;
    char *text = json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(17));
    json_decref(object);
    return text;
}
