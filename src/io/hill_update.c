/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The features of a profile, one after the other: the road's line is written anew, the rest goes
 * through as jansson read it, one feature a line. */
#include "io/hill_update.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_project.h"
#include "io/mileposts.h"
#include "io/problem.h"
#include "talkdown/quantity.h"
#include "talkdown/text.h"

struct update {
    const struct td_hill *old, *road;
    const struct td_hill_words *words;
    size_t moved;
};

static bool is_role(const json_t *feature, const char *role)
{
    const char *text = json_string_value(
        json_object_get(json_object_get(feature, "properties"), "role"));
    return text != NULL && strcmp(text, role) == 0;
}

static bool set_text(json_t *properties, const char *key, const char *text)
{
    return text == NULL || text[0] == '\0' ||
           json_object_set_new(properties, key, json_string(text)) == 0;
}

/* A quantity as text, as people write it. */
static bool set_quantity(json_t *properties, const char *key, double value, int decimals,
                         const char *unit)
{
    char words[48];
    struct td_text text;
    if (value < 0)
        return true;
    td_text_init(&text, words, sizeof words);
    td_text_add_fixed(&text, value, decimals);
    td_text_add(&text, unit);
    return json_object_set_new(properties, key, json_string(words)) == 0;
}

static json_t *coordinates_of(const struct td_hill *road)
{
    json_t *line = json_array();
    for (size_t i = 0; line != NULL && i < road->station_count; i++) {
        const struct td_station *station = &road->stations[i];
        /* As many digits as hill_write.c writes. */
        if (json_array_append_new(line, json_pack("[f, f, f]", round(station->lon_deg * 1e6) / 1e6,
                                                  round(station->lat_deg * 1e6) / 1e6,
                                                  round(station->elevation_m * 100) / 100)) != 0) {
            json_decref(line);
            return NULL;
        }
    }
    return line;
}

/* A profile that counts its revisions has one more now. */
static bool raise_revision(json_t *properties)
{
    const json_t *revision = json_object_get(properties, "revision");
    double number = json_number_value(revision);
    if (json_is_string(revision) && !td_decimal_parse(json_string_value(revision), &number))
        return true;
    return number < 1 || json_object_set_new(properties, "revision",
                                             json_integer((json_int_t)number + 1)) == 0;
}

/* Posts stand where they stood: found again on the new road by where they were on the old one, as
 * an at_m is. */
static bool renew_posts(const struct update *update, json_t *properties)
{
    const char *text = json_string_value(json_object_get(properties, "mileposts"));
    struct td_mileposts posts;
    char words[TD_MILEPOSTS_TEXT_MAX + 1];
    struct td_text made;
    if (text == NULL || td_mileposts_parse(text, &posts, NULL) != TD_OK)
        return true;
    for (size_t i = 0; i < posts.count; i++) {
        double at_m = posts.posts[i].along_m;
        double lat_deg = 0, lon_deg = 0;
        td_hill_point(update->old, at_m, &lat_deg, &lon_deg);
        posts.posts[i].along_m =
            td_hill_project(update->road, lat_deg, lon_deg, true,
                            at_m * update->road->length_m /
                                fmax(1, update->old->length_m))
                .at_m;
    }
    td_text_init(&made, words, sizeof words);
    td_mileposts_text(&posts, &made);
    return json_object_set_new(properties, "mileposts", json_string(words)) == 0;
}

static bool renew_road(struct update *update, json_t *feature)
{
    const struct td_hill_words *words = update->words;
    json_t *properties = json_object_get(feature, "properties");
    return raise_revision(properties) && renew_posts(update, properties) &&
           set_text(properties, "id", words->id) &&
           set_text(properties, "name", words->name) &&
           set_text(properties, "source", words->source) &&
           set_text(properties, "surveyed", words->surveyed) &&
           (words->passes == 0 ||
            json_object_set_new(properties, "passes", json_integer(words->passes)) == 0) &&
           set_quantity(properties, "position_sigma",
                        update->road->position_sigma_m > 0 ? update->road->position_sigma_m : -1,
                        1, " m") &&
           set_quantity(properties, "grade_sigma", words->grade_sigma_ratio * 100, 2, "%") &&
           set_quantity(properties, "longest_gap", words->longest_gap_m, 0, " m") &&
           json_object_set_new(json_object_get(feature, "geometry"), "type",
                               json_string("LineString")) == 0 &&
           json_object_set_new(json_object_get(feature, "geometry"), "coordinates",
                               coordinates_of(update->road)) == 0;
}

static bool renew_place(struct update *update, json_t *feature)
{
    json_t *properties = json_object_get(feature, "properties");
    const json_t *at = json_object_get(properties, "at_m");
    double at_m = json_number_value(at);
    if (!json_is_number(at) &&
        (!json_is_string(at) || !td_decimal_parse(json_string_value(at), &at_m)))
        return true;
    const json_t *place =
        json_object_get(json_object_get(feature, "geometry"), "coordinates");
    if (json_is_array(json_array_get(place, 0))) /* a collection of one */
        place = json_array_get(place, 0);
    double hint_m =
        at_m * update->road->length_m / fmax(1, update->old->length_m);
    struct td_projection found =
        td_hill_project(update->road, json_number_value(json_array_get(place, 1)),
                        json_number_value(json_array_get(place, 0)), true, hint_m);
    update->moved++;
    return json_object_set_new(properties, "at_m", json_integer((json_int_t)round(found.at_m))) ==
           0;
}

static bool renew(struct update *update, json_t *root)
{
    size_t index;
    json_t *feature;
    json_array_foreach(json_object_get(root, "features"), index, feature) {
        if (is_role(feature, "road") ? !renew_road(update, feature)
                                     : !renew_place(update, feature))
            return false;
    }
    return true;
}

/* Grows by what is asked for; sizes are known to be small (a profile is 8 MiB at most). */
struct writer {
    char *bytes;
    size_t length, room;
    bool failed;
};

static void put(struct writer *writer, const char *text, size_t length)
{
    if (writer->failed || writer->length + length + 1 > writer->room) {
        size_t room = 2 * (writer->length + length + 1);
        char *more = writer->failed ? NULL : realloc(writer->bytes, room);
        writer->failed = more == NULL;
        if (writer->failed)
            return;
        writer->bytes = more;
        writer->room = room;
    }
    memcpy(writer->bytes + writer->length, text, length);
    writer->length += length;
    writer->bytes[writer->length] = '\0';
}

static void put_text(struct writer *writer, const char *text)
{
    put(writer, text, strlen(text));
}

static void put_json(struct writer *writer, const json_t *value)
{
    char *text = json_dumps(value, JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(12));
    if (text == NULL)
        writer->failed = true;
    else
        put_text(writer, text);
    free(text);
}

/* Members of `object` but for `skip`, each followed by a comma. */
static void put_members(struct writer *writer, json_t *object, const char *skip)
{
    const char *key;
    json_t *value;
    json_object_foreach(object, key, value) {
        if (strcmp(key, skip) == 0)
            continue;
        json_t *name = json_string(key);
        put_json(writer, name);
        json_decref(name);
        put_text(writer, ":");
        put_json(writer, value);
        put_text(writer, ",");
    }
}

/* One vertex a line, as hill_write.c has it. */
static void put_road(struct writer *writer, json_t *feature)
{
    put_text(writer, "{");
    put_members(writer, feature, "geometry");
    put_text(writer, "\n\"geometry\":{");
    json_t *geometry = json_object_get(feature, "geometry");
    put_members(writer, geometry, "coordinates");
    put_text(writer, "\"coordinates\":[\n");
    size_t index;
    json_t *vertex;
    json_array_foreach(json_object_get(geometry, "coordinates"), index, vertex) {
        put_text(writer, index > 0 ? ",\n" : "");
        put_json(writer, vertex);
    }
    put_text(writer, "\n]}}");
}

static void put_root(struct writer *writer, json_t *root)
{
    put_text(writer, "{");
    put_members(writer, root, "features");
    put_text(writer, "\"features\":[\n");
    size_t index;
    json_t *feature;
    json_array_foreach(json_object_get(root, "features"), index, feature) {
        put_text(writer, index > 0 ? ",\n" : "");
        if (is_role(feature, "road"))
            put_road(writer, feature);
        else
            put_json(writer, feature);
    }
    put_text(writer, "\n]}\n");
}

enum td_result td_hill_update(const char *name, const char *bytes, size_t length,
                              const struct td_hill *old, const struct td_hill *road,
                              const struct td_hill_words *words, char **made, size_t *made_length,
                              size_t *moved, struct td_problem *problem)
{
    struct update update = {old, road, words, 0};
    struct writer writer = {0};
    json_t *root = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL);
    bool done = root != NULL && renew(&update, root);
    if (done)
        put_root(&writer, root);
    json_decref(root);
    if (!done || writer.failed) {
        free(writer.bytes);
        return td_problem_set(problem, TD_NO_MEMORY, name, 0, "no memory to write it anew");
    }
    *made = writer.bytes;
    *made_length = writer.length;
    *moved = update.moved;
    return TD_OK;
}
