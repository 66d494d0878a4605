/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Splices. Each change looks up its place in the text anew: a profile is small, and nothing can
 * point at what has moved. */
#include "io/hill_edit.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/json_span.h"
#include "talkdown/text.h"

enum { DEGREE_DECIMALS = 7, SMALL_TEXT = 48 };

void td_hill_edit_begin(struct td_hill_edit *edit, const char *bytes, size_t length)
{
    *edit = (struct td_hill_edit){.bytes = malloc(length + 1), .length = length};
    edit->failed = edit->bytes == NULL;
    if (edit->failed)
        return;
    memcpy(edit->bytes, bytes, length);
    edit->bytes[length] = '\0';
}

void td_hill_edit_free(struct td_hill_edit *edit)
{
    free(edit->bytes);
    *edit = (struct td_hill_edit){NULL, 0, false};
}

/* Puts the pieces, one after the other, in the place of a span. */
static void splice(struct td_hill_edit *edit, struct td_span span, const char *const *pieces,
                   size_t count)
{
    size_t added = 0, tail = edit->length - span.to;
    for (size_t i = 0; i < count; i++)
        added += strlen(pieces[i]);
    char *made = malloc(span.from + added + tail + 1);
    edit->failed = made == NULL;
    if (edit->failed)
        return;
    memcpy(made, edit->bytes, span.from);
    size_t at = span.from;
    for (size_t i = 0; i < count; i++) {
        size_t length = strlen(pieces[i]);
        memcpy(made + at, pieces[i], length);
        at += length;
    }
    memcpy(made + at, edit->bytes + span.to, tail + 1);
    free(edit->bytes);
    edit->bytes = made;
    edit->length = at + tail;
}

static struct td_span root_of(const struct td_hill_edit *edit)
{
    return td_json_value(edit->bytes, 0);
}

static bool features_of(const struct td_hill_edit *edit, struct td_span *features)
{
    struct td_json_walk walk;
    if (!td_json_member(&walk, edit->bytes, root_of(edit), "features"))
        return false;
    *features = walk.value;
    return true;
}

/* The object that a member is in. */
static bool find_object(const struct td_hill_edit *edit, size_t feature, enum td_hill_edit_in in,
                        struct td_span *object)
{
    static const char *const names[] = {[TD_IN_PROPERTIES] = "properties",
                                        [TD_IN_GEOMETRY] = "geometry"};
    struct td_json_walk walk;
    struct td_span features;
    if (!features_of(edit, &features) ||
        !td_json_element(&walk, edit->bytes, features, feature - 1))
        return false;
    if (in != TD_IN_FEATURE && !td_json_member(&walk, edit->bytes, walk.value, names[in]))
        return false;
    *object = walk.value;
    return true;
}

static char *copy_span(const struct td_hill_edit *edit, size_t from, size_t to)
{
    char *made = malloc(to - from + 1);
    if (made != NULL) {
        memcpy(made, edit->bytes + from, to - from);
        made[to - from] = '\0';
    }
    return made;
}

/* A new member after the last, parted from it and from its value as the members before are. */
static void add_member(struct td_hill_edit *edit, struct td_span object, const char *key,
                       const char *json)
{
    struct td_json_walk walk;
    size_t before = object.from + 1, last = object.from + 1;
    bool any = false, several = false;
    td_json_begin(&walk, edit->bytes, object.from);
    struct td_span last_key = {0, 0}, last_value = {0, 0};
    while (td_json_step(&walk)) {
        several = any;
        before = last;
        last = walk.value.to;
        last_key = walk.key;
        last_value = walk.value;
        any = true;
    }
    char *apart = any ? copy_span(edit, before, last_key.from) : copy_span(edit, 0, 0);
    char *colon = any ? copy_span(edit, last_key.to, last_value.from) : copy_span(edit, 0, 0);
    edit->failed = apart == NULL || colon == NULL;
    bool airy = edit->failed || colon[0] == '\0' || strchr(colon, ' ') != NULL;
    const char *const pieces[] = {any && !several ? "," : "",
                                  any && !several && airy && apart[0] == '\0' ? " " : "",
                                  apart, "\"", key, "\"", any ? colon : ": ", json};
    if (!edit->failed)
        splice(edit, (struct td_span){last, last}, pieces, sizeof pieces / sizeof pieces[0]);
    free(apart);
    free(colon);
}

/* Takes the element out that begins at `from`, with the comma that parts it from its neighbour. */
static void take_out(struct td_hill_edit *edit, struct td_span whole, size_t from)
{
    struct td_json_walk walk;
    size_t before = 0;
    td_json_begin(&walk, edit->bytes, whole.from);
    while (td_json_step(&walk)) {
        struct td_span all = {walk.is_object ? walk.key.from : walk.value.from, walk.value.to};
        if (all.from != from) {
            before = all.to;
            continue;
        }
        if (before > 0) /* after another: from its end on */
            all.from = before;
        else if (td_json_step(&walk)) /* first of several: up to the next */
            all.to = walk.is_object ? walk.key.from : walk.value.from;
        splice(edit, all, NULL, 0);
        return;
    }
}

void td_hill_edit_set(struct td_hill_edit *edit, size_t feature, enum td_hill_edit_in in,
                      const char *key, const char *json)
{
    struct td_span object;
    struct td_json_walk walk;
    if (edit->failed || !find_object(edit, feature, in, &object))
        return;
    if (!td_json_member(&walk, edit->bytes, object, key)) {
        if (json != NULL)
            add_member(edit, object, key, json);
    } else if (json == NULL) {
        take_out(edit, object, walk.key.from);
    } else {
        splice(edit, walk.value, &json, 1);
    }
}

/* A box round all of it, which what was put in may have left. */
static void drop_box(struct td_hill_edit *edit)
{
    struct td_json_walk walk;
    if (!edit->failed && td_json_member(&walk, edit->bytes, root_of(edit), "bbox"))
        take_out(edit, root_of(edit), walk.key.from);
}

/* Noughts at the end say nothing. */
static void add_degrees(struct td_text *text, double deg)
{
    char digits[SMALL_TEXT];
    (void)snprintf(digits, sizeof digits, "%.*f", DEGREE_DECIMALS, deg);
    size_t length = strlen(digits);
    while (length > 1 && digits[length - 1] == '0' && digits[length - 2] != '.')
        length--;
    td_text_add_span(text, digits, length);
}

const char *td_hill_edit_position(double lat_deg, double lon_deg, char made[TD_EDIT_POSITION_SIZE])
{
    struct td_text text;
    td_text_init(&text, made, TD_EDIT_POSITION_SIZE);
    td_text_add_char(&text, '[');
    add_degrees(&text, lon_deg);
    td_text_add(&text, ", ");
    add_degrees(&text, lat_deg);
    td_text_add_char(&text, ']');
    return made;
}

/* A point that a program keeps as a collection of one stays that. */
static bool is_collection(const struct td_hill_edit *edit, size_t feature)
{
    struct td_span geometry;
    struct td_json_walk walk, point;
    return find_object(edit, feature, TD_IN_GEOMETRY, &geometry) &&
           td_json_member(&walk, edit->bytes, geometry, "coordinates") &&
           td_json_element(&point, edit->bytes, walk.value, 0) &&
           edit->bytes[point.value.from] == '[';
}

void td_hill_edit_move(struct td_hill_edit *edit, size_t feature, double lat_deg, double lon_deg,
                       double at_m)
{
    char position[TD_EDIT_POSITION_SIZE], one[TD_EDIT_POSITION_SIZE + 2], at[SMALL_TEXT];
    if (edit->failed)
        return;
    (void)td_hill_edit_position(lat_deg, lon_deg, position);
    bool collection = is_collection(edit, feature);
    (void)snprintf(one, sizeof one, "%s%s%s", collection ? "[" : "", position,
                   collection ? "]" : "");
    (void)snprintf(at, sizeof at, "%.0f", isfinite(at_m) ? at_m : 0);
    td_hill_edit_set(edit, feature, TD_IN_GEOMETRY, "coordinates", one);
    td_hill_edit_set(edit, feature, TD_IN_PROPERTIES, "at_m", isfinite(at_m) ? at : NULL);
    td_hill_edit_set(edit, feature, TD_IN_GEOMETRY, "bbox", NULL);
    td_hill_edit_set(edit, feature, TD_IN_FEATURE, "bbox", NULL);
    drop_box(edit);
}

void td_hill_edit_append(struct td_hill_edit *edit, const char *json)
{
    struct td_span features;
    struct td_json_walk walk;
    if (edit->failed || !features_of(edit, &features))
        return;
    size_t before = features.from + 1, last = features.from + 1, from = last;
    td_json_begin(&walk, edit->bytes, features.from);
    while (td_json_step(&walk)) {
        before = last;
        from = walk.value.from;
        last = walk.value.to;
    }
    bool several = before > features.from + 1;
    char *apart = several ? copy_span(edit, before, from) : copy_span(edit, 0, 0);
    edit->failed = apart == NULL;
    const char *const pieces[] = {several ? apart : ",\n", json};
    if (!edit->failed)
        splice(edit, (struct td_span){last, last}, pieces, 2);
    free(apart);
    drop_box(edit);
}

void td_hill_edit_remove(struct td_hill_edit *edit, size_t feature)
{
    struct td_span features;
    struct td_json_walk walk;
    if (!edit->failed && features_of(edit, &features) &&
        td_json_element(&walk, edit->bytes, features, feature - 1))
        take_out(edit, features, walk.value.from);
}
