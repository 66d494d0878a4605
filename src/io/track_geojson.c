/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A line of GeoJSON as a track: the first LineString of the file, with or without heights and
 * without times. A road line out of a GIS, or a hill profile. */
#include <jansson.h>
#include <stdbool.h>
#include <string.h>

#include "io/problem.h"
#include "io/track_parts.h"

enum { LOOK_BYTES = 4096 };

/* "type": and a name that GeoJSON has, near the top; gpsd's objects have "class". */
bool td_track_is_geojson(const char *bytes, size_t length)
{
    static const char *const types[] = {"FeatureCollection", "Feature", "LineString"};
    char head[LOOK_BYTES + 1];
    size_t looked = length < LOOK_BYTES ? length : LOOK_BYTES;
    memcpy(head, bytes, looked);
    head[looked] = '\0';
    for (const char *at = strstr(head, "\"type\""); at != NULL; at = strstr(at + 1, "\"type\"")) {
        const char *value = at + strlen("\"type\"");
        value += strspn(value, " \t\r\n:");
        for (size_t i = 0; i < sizeof types / sizeof types[0]; i++)
            if (*value == '"' && strncmp(value + 1, types[i], strlen(types[i])) == 0)
                return true;
    }
    return false;
}

static const json_t *line_of(const json_t *object)
{
    const char *type = json_string_value(json_object_get(object, "type"));
    if (type == NULL)
        return NULL;
    if (strcmp(type, "LineString") == 0)
        return json_object_get(object, "coordinates");
    if (strcmp(type, "Feature") == 0)
        return line_of(json_object_get(object, "geometry"));
    size_t index;
    const json_t *feature, *line = NULL;
    json_array_foreach(json_object_get(object, "features"), index, feature) {
        const char *inner = json_string_value(json_object_get(feature, "type"));
        line = inner != NULL && strcmp(inner, "Feature") == 0 ? line_of(feature) : NULL;
        if (line != NULL)
            break;
    }
    return line;
}

static enum td_result take_vertex(struct td_track_made *made, const json_t *vertex, size_t index,
                                  struct td_problem *problem)
{
    const json_t *lon = json_array_get(vertex, 0), *lat = json_array_get(vertex, 1);
    const json_t *height = json_array_get(vertex, 2);
    if (!json_is_number(lon) || !json_is_number(lat) ||
        (height != NULL && !json_is_number(height)))
        return td_problem_set(problem, TD_INVALID, made->name, 0,
                              "vertex %zu of the line is no position; [longitude, latitude, "
                              "elevation] is the form",
                              index + 1);
    struct td_fix fix = {.has = TD_FIX_POSITION, .lat_deg = json_number_value(lat),
                         .lon_deg = json_number_value(lon)};
    if (height != NULL) {
        fix.has |= TD_FIX_ALTITUDE;
        fix.altitude_m = json_number_value(height);
    }
    return td_track_add(made, &fix, problem);
}

enum td_result td_track_geojson(struct td_track_made *made, const char *bytes, size_t length,
                                struct td_problem *problem)
{
    json_error_t error;
    json_t *root = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &error);
    if (root == NULL && (error.text[0] == '\0' ||
                         json_error_code(&error) == json_error_out_of_memory))
        return td_problem_set(problem, TD_NO_MEMORY, made->name, 0, "no memory to read it");
    if (root == NULL)
        return td_problem_set(problem, TD_INVALID, made->name, error.line > 0 ? error.line : 0,
                              "is not whole GeoJSON at column %d: %s; save it anew", error.column,
                              error.text);
    const json_t *line = line_of(root);
    enum td_result result = TD_OK;
    if (!json_is_array(line))
        result = td_problem_set(problem, TD_INVALID, made->name, 0,
                                "has no LineString; one road line is needed");
    for (size_t i = 0; result == TD_OK && i < json_array_size(line); i++)
        result = take_vertex(made, json_array_get(line, i), i, problem);
    json_decref(root);
    return result;
}
