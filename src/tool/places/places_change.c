/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A profile open for changes: what its places have, what they would have, and the text with it.
 * What is to be written is judged by the profile's own reader, first alone and then in its file. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hill_feature.h"
#include "io/hill_named.h"
#include "io/library_file.h"
#include "io/problem.h"
#include "tool/places/places.h"

const char *const td_place_keys[TD_PLACE_KEYS] = {
    "id",    "name",     "side",      "speed",  "over",    "length", "grade",
    "material", "mandatory", "status", "checked", "say",    "source"};

static const double same_deg = 0.6e-7; /* what rounds to the same 7 decimals */
static const double same_m = 0.5;

bool td_place_texts_given(const struct td_place_texts *texts)
{
    for (size_t i = 0; i < TD_PLACE_KEYS; i++)
        if (texts->texts[i] != NULL)
            return true;
    return false;
}

const char *td_place_text(const json_t *properties, const char *key,
                          char room[TD_PLACE_NUMBER_SIZE])
{
    const json_t *value = json_object_get(properties, key);
    if (td_feature_left_out(value))
        return "";
    bool is_flag = strcmp(key, "mandatory") == 0;
    const char *text = json_string_value(value);
    if (is_flag && (json_is_boolean(value) || json_is_number(value)))
        return json_is_true(value) || json_number_value(value) > 0 ? "true" : "false";
    if (is_flag && text != NULL)
        return strcmp(text, "1") == 0 ? "true" : strcmp(text, "0") == 0 ? "false" : text;
    char day[TD_DATE_SIZE];
    if (text != NULL && strcmp(key, "checked") == 0 && td_feature_day(text, day)) {
        memcpy(room, day, sizeof day);
        return room;
    }
    if (text != NULL)
        return text;
    (void)snprintf(room, TD_PLACE_NUMBER_SIZE, "%.10g", json_number_value(value));
    return room;
}

/* The value of a property as the profile has it: what is true or false is no text there. */
static json_t *value_of(const char *key, const char *text)
{
    if (strcmp(key, "mandatory") == 0 && strcmp(text, "true") == 0)
        return json_true();
    if (strcmp(key, "mandatory") == 0 && strcmp(text, "false") == 0)
        return json_false();
    return json_string(text);
}

static char *json_of(const char *key, const char *text)
{
    json_t *value = value_of(key, text);
    char *made = json_dumps(value, JSON_ENCODE_ANY);
    json_decref(value);
    return made;
}

enum td_result td_places_take(const char *path, struct td_hill_file *file,
                              struct td_places_open *open, struct td_problem *problem)
{
    size_t length = 0;
    const char *bytes = td_hill_file_bytes(file, &length);
    *open = (struct td_places_open){.path = path, .file = file};
    open->root = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL);
    td_hill_edit_begin(&open->edit, bytes, length);
    if (open->root == NULL || open->edit.failed)
        return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to change it");
    return TD_OK;
}

enum td_result td_places_open(const char *path, bool to_edit, struct td_places_open *open,
                              struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    char in[4096];
    *open = (struct td_places_open){.path = path};
    if (to_edit && td_hill_named_path(path, in, sizeof in) && td_library_file_is(in))
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "is in a library, which is not changed; change the profile and pack "
                              "it anew");
    enum td_result result = td_hill_named_read(path, &file, problem);
    return result == TD_OK ? td_places_take(path, file, open, problem) : result;
}

void td_places_close(struct td_places_open *open)
{
    td_hill_edit_free(&open->edit);
    json_decref(open->root);
    td_hill_file_free(&open->file);
    open->root = NULL;
}

static const json_t *properties_of(const struct td_places_open *open, size_t feature)
{
    return json_object_get(json_array_get(json_object_get(open->root, "features"), feature - 1),
                           "properties");
}

const json_t *td_places_properties(const struct td_places_open *open, size_t index)
{
    return properties_of(open, td_hill_file_feature(open->file, index));
}

/* Old properties with the new ones over them, in a new object; NULL without memory. */
static json_t *merge(const json_t *old, const char *role, const struct td_place_texts *texts)
{
    json_t *merged = old != NULL ? json_copy((json_t *)(uintptr_t)old) : json_object();
    bool done = merged != NULL &&
                (old != NULL || json_object_set_new(merged, "role", json_string(role)) == 0);
    for (size_t i = 0; done && i < TD_PLACE_KEYS; i++) {
        const char *text = texts->texts[i];
        if (text != NULL && text[0] == '\0')
            (void)json_object_del(merged, td_place_keys[i]);
        else if (text != NULL)
            done = json_object_set_new(merged, td_place_keys[i],
                                       value_of(td_place_keys[i], text)) == 0;
    }
    if (!done) {
        json_decref(merged);
        return NULL;
    }
    return merged;
}

/* jansson takes nothing but whole UTF-8, and its silence would look like a want of memory. */
static enum td_result check_letters(const struct td_place_texts *texts, const char *name, int line,
                                    struct td_problem *problem)
{
    for (size_t i = 0; i < TD_PLACE_KEYS; i++) {
        json_t *value = texts->texts[i] != NULL ? json_string(texts->texts[i]) : json_null();
        if (value == NULL)
            return td_problem_set(problem, TD_INVALID, name, line,
                                  "%s holds bytes that are no UTF-8; save it as UTF-8",
                                  td_place_keys[i]);
        json_decref(value);
    }
    return TD_OK;
}

enum td_result td_place_try(const json_t *old, const char *role,
                            const struct td_place_texts *texts, const char *name, int line,
                            struct td_problem *problem)
{
    struct td_feature_at at = {.name = name, .line = line, .problem = problem};
    struct td_feature read;
    enum td_place_kind kind;
    const char *is = old != NULL ? json_string_value(json_object_get(old, "role")) : role;
    enum td_result result = check_letters(texts, name, line, problem);
    if (result != TD_OK)
        return result;
    if (is == NULL || strcmp(is, "road") == 0)
        return td_problem_set(problem, TD_INVALID, name, line,
                              "role \"%.20s\" is no kind of place; escape-lane is one", is);
    json_t *merged = merge(old, role, texts);
    if (merged == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, name, line, "no memory to change it");
    result = td_feature_read(merged, &at, &read);
    json_decref(merged);
    if (result == TD_OK && !td_feature_kind(is, &kind))
        result = td_problem_set(problem, TD_INVALID, name, line, "role \"%.20s\" is unknown", is);
    return result;
}

static bool apply_texts(struct td_places_open *open, size_t feature,
                        const struct td_place_texts *texts)
{
    bool changed = false;
    const json_t *old = properties_of(open, feature);
    for (size_t i = 0; i < TD_PLACE_KEYS; i++) {
        char room[TD_PLACE_NUMBER_SIZE];
        const char *text = texts->texts[i];
        if (text == NULL || strcmp(td_place_text(old, td_place_keys[i], room), text) == 0)
            continue;
        char *json = text[0] == '\0' ? NULL : json_of(td_place_keys[i], text);
        open->edit.failed = open->edit.failed || (text[0] != '\0' && json == NULL);
        td_hill_edit_set(&open->edit, feature, TD_IN_PROPERTIES, td_place_keys[i], json);
        free(json);
        changed = true;
    }
    return changed;
}

/* Where it is already, as far as what is written tells. */
static bool is_there(const struct td_places_open *open, size_t index, const struct td_where *where)
{
    const struct td_hill_place_file has = td_hill_file_place(open->file, index);
    double at_m = td_hill_file_hill(open->file)->places[index].at_m;
    bool same_point = fabs(has.lat_deg - where->lat_deg) < same_deg &&
                      fabs(has.lon_deg - where->lon_deg) < same_deg;
    bool beside = where->off_m < same_m; /* a distance only: its point is the road's own */
    return fabs(at_m - where->at_m) < same_m && (same_point || beside);
}

unsigned td_place_apply(struct td_places_open *open, size_t index,
                        const struct td_place_texts *texts, const struct td_where *where)
{
    size_t feature = td_hill_file_feature(open->file, index);
    unsigned became = apply_texts(open, feature, texts) ? TD_PLACE_CHANGED : TD_PLACE_SAME;
    if (where == NULL || is_there(open, index, where))
        return became;
    td_hill_edit_move(&open->edit, feature, where->lat_deg, where->lon_deg,
                      where->wants_at ? round(where->at_m) : (double)NAN);
    return became | TD_PLACE_MOVED;
}

void td_place_add(struct td_places_open *open, const char *role,
                  const struct td_place_texts *texts, const struct td_where *where)
{
    char position[TD_EDIT_POSITION_SIZE];
    json_t *properties = merge(NULL, role, texts);
    if (where->wants_at && properties != NULL)
        (void)json_object_set_new(properties, "at_m",
                                  json_integer((json_int_t)round(where->at_m)));
    char *text = properties != NULL ? json_dumps(properties, 0) : NULL;
    json_decref(properties);
    open->edit.failed = open->edit.failed || text == NULL;
    if (open->edit.failed)
        return;
    static const char form[] = "{\"type\": \"Feature\", \"properties\": %s, \"geometry\": "
                               "{\"type\": \"Point\", \"coordinates\": %s}}";
    size_t size = sizeof form + strlen(text) + sizeof position;
    char *feature = malloc(size);
    open->edit.failed = feature == NULL;
    if (feature != NULL) {
        (void)snprintf(feature, size, form, text,
                       td_hill_edit_position(where->lat_deg, where->lon_deg, position));
        td_hill_edit_append(&open->edit, feature);
    }
    free(feature);
    free(text);
}

/* A profile that counts its revisions has one more now. Before anything is removed: the road's own
 * number among the features may change then. */
static void raise_revision(struct td_places_open *open)
{
    unsigned revision = td_hill_file_revision(open->file);
    size_t road = td_hill_file_feature(open->file, td_hill_file_hill(open->file)->place_count);
    char next[16];
    (void)snprintf(next, sizeof next, "%u", revision + 1);
    if (revision > 0 && !open->raised)
        td_hill_edit_set(&open->edit, road, TD_IN_PROPERTIES, "revision", next);
    open->raised = true;
}

void td_place_remove(struct td_places_open *open, size_t index)
{
    raise_revision(open);
    td_hill_edit_remove(&open->edit, td_hill_file_feature(open->file, index));
}

enum td_result td_places_save(struct td_places_open *open, const char *out, bool force,
                              struct td_hill_file **saved, struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    const char *path = out != NULL ? out : open->path;
    raise_revision(open);
    if (open->edit.failed)
        return td_problem_set(problem, TD_NO_MEMORY, open->path, 0, "no memory to change it");
    enum td_result result =
        td_hill_file_parse(path, open->edit.bytes, open->edit.length, &file, problem);
    if (result == TD_OK && !open->dry_run)
        result = td_file_write(path, open->edit.bytes, open->edit.length,
                               out == NULL || force, problem);
    if (result == TD_OK)
        *saved = file;
    else
        td_hill_file_free(&file);
    return result;
}
