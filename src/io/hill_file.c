/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hill profiles from GeoJSON: one road, what stands beside it, and all that geometry tells. Two
 * passes over the features: the road first, since places are projected on it. */
#include "io/hill_file.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hash.h"
#include "io/hill_feature.h"
#include "io/hill_project.h"
#include "io/problem.h"

/* What the core has no use for, but whoever checks the file has. */
struct place_on_file {
    size_t feature; /* 1 and up */
    double lat_deg, lon_deg;
    double left_m;
    bool has_at; /* it says itself where it lies along the road */
    const char *id;
};

struct td_hill_file {
    struct td_hill hill;
    struct td_station *stations;
    struct td_place places[TD_HILL_PLACES_MAX];
    struct place_on_file on_file[TD_HILL_PLACES_MAX]; /* beside them */
    size_t road_feature;
    const char *surveyed;
    unsigned revision;
    unsigned passes;
    struct td_mileposts mileposts;
    char *strings; /* all of the hill's, one after the other */
    size_t strings_length;
    char *bytes;
    size_t length;
};

struct reading {
    const char *name;
    struct td_hill_file *file;
    const json_t *features;
    struct td_problem *problem;
};

static enum td_result wrong_file(const struct reading *reading, const char *words)
{
    return td_problem_set(reading->problem, TD_INVALID, reading->name, 0, "%s", words);
}

/* Copies a string of the JSON into the file's own; room was counted before. */
static const char *keep(struct td_hill_file *file, const char *text)
{
    size_t size = strlen(text) + 1;
    char *to = file->strings + file->strings_length;
    memcpy(to, text, size);
    file->strings_length += size;
    return to;
}

static enum td_result make_room_for_strings(const struct reading *reading)
{
    size_t size = 1, index;
    const json_t *feature;
    json_array_foreach(reading->features, index, feature) {
        const char *key;
        json_t *value;
        json_object_foreach(json_object_get(feature, "properties"), key, value)
            if (json_is_string(value))
                size += json_string_length(value) + 1;
        size += 5; /* the empty strings of what is left out */
    }
    reading->file->strings = malloc(size);
    if (reading->file->strings == NULL)
        return td_problem_set(reading->problem, TD_NO_MEMORY, reading->name, 0,
                              "no memory to read it");
    return TD_OK;
}

/* Longitude, latitude and, where `height` is given, elevation. NULL, or what is wrong. */
static const char *read_position(const json_t *position, double *lat_deg, double *lon_deg,
                                 double *height)
{
    size_t count = json_array_size(position);
    if (count < 2 || count > 4)
        return "is no position; [longitude, latitude, elevation] is the form";
    for (size_t i = 0; i < count; i++)
        if (!json_is_number(json_array_get(position, i)))
            return "holds what is no number; [longitude, latitude, elevation] is the form";
    *lon_deg = json_number_value(json_array_get(position, 0));
    *lat_deg = json_number_value(json_array_get(position, 1));
    if (fabs(*lat_deg) > 90 || fabs(*lon_deg) > 180)
        return "lies off the globe; longitude (-180 to 180) comes first, then latitude (-90 to 90)";
    if (height == NULL)
        return NULL;
    if (count < 3)
        return "has no elevation; the third number must be metres";
    *height = json_number_value(json_array_get(position, 2));
    return NULL;
}

/* Some programs keep nothing but collections: one of a single part is that part. */
static const json_t *only_part(const json_t *coordinates, const char *is, const char *type)
{
    static const char multi[] = "Multi";
    bool is_multi = strncmp(is, multi, strlen(multi)) == 0 && strcmp(is + strlen(multi), type) == 0;
    return is_multi && json_array_size(coordinates) == 1 ? json_array_get(coordinates, 0) : NULL;
}

static enum td_result check_geometry(const struct td_feature_at *at, const json_t *feature,
                                     const char *type, const json_t **coordinates)
{
    const json_t *geometry = json_object_get(feature, "geometry");
    const char *is = json_string_value(json_object_get(geometry, "type"));
    const json_t *whole = json_object_get(geometry, "coordinates");
    const json_t *made = is == NULL ? NULL : strcmp(is, type) == 0 ? whole
                                                                   : only_part(whole, is, type);
    if (is == NULL || (made == NULL && strcmp(is, type) != 0))
        return td_feature_wrong(at, "its geometry is \"%.20s\"; one %s is needed",
                                is != NULL ? is : "missing", type);
    if (!json_is_array(made))
        return td_feature_wrong(at, "its geometry has no coordinates; an array is needed");
    *coordinates = made;
    return TD_OK;
}

static enum td_result read_stations(const struct reading *reading, const struct td_feature_at *at,
                                    const json_t *coordinates)
{
    size_t count = json_array_size(coordinates);
    if (count < 2 || count > TD_HILL_STATIONS_MAX)
        return td_feature_wrong(at, "the road has %zu vertices; 2 to %d are right", count,
                                (int)TD_HILL_STATIONS_MAX);
    struct td_hill_file *file = reading->file;
    file->stations = calloc(count, sizeof *file->stations);
    if (file->stations == NULL)
        return td_problem_set(reading->problem, TD_NO_MEMORY, reading->name, 0,
                              "no memory for its road");
    for (size_t i = 0; i < count; i++) {
        struct td_station *station = &file->stations[i];
        const char *wrong =
            read_position(json_array_get(coordinates, i), &station->lat_deg, &station->lon_deg,
                          &station->elevation_m);
        if (wrong != NULL)
            return td_feature_wrong(at, "vertex %zu %s", i + 1, wrong);
    }
    file->hill.stations = file->stations;
    file->hill.station_count = count;
    return TD_OK;
}

/* td_hill_derive counts vertices from 1 as here; only file and line are added to its words. */
static enum td_result derive(const struct reading *reading, const struct td_feature_at *at)
{
    struct td_problem wrong = {0};
    enum td_result result = td_hill_derive(&reading->file->hill, reading->file->stations, &wrong);
    if (result != TD_OK)
        return td_problem_set(reading->problem, result, at->name, td_feature_line(at), "%s",
                              wrong.text);
    const struct td_mileposts *posts = &reading->file->mileposts;
    double length_m = reading->file->hill.length_m;
    if (posts->count > 0 && posts->posts[posts->count - 1].along_m > length_m + 1)
        return td_feature_wrong(at,
                                "mileposts: %s %.10g stands at %.0f m, but the road is %.0f m "
                                "long; leave it out or set it right",
                                td_post_unit_word(posts->unit),
                                posts->posts[posts->count - 1].post,
                                posts->posts[posts->count - 1].along_m, length_m);
    return TD_OK;
}

static enum td_result take_road(const struct reading *reading, const struct td_feature_at *at,
                                const json_t *feature, const struct td_feature *read)
{
    const json_t *coordinates = NULL;
    enum td_result result = check_geometry(at, feature, "LineString", &coordinates);
    if (result == TD_OK)
        result = read_stations(reading, at, coordinates);
    if (result != TD_OK)
        return result;
    struct td_hill *hill = &reading->file->hill;
    hill->id = keep(reading->file, read->id);
    hill->name = keep(reading->file, read->name);
    reading->file->surveyed = keep(reading->file, read->surveyed);
    reading->file->revision = read->revision;
    reading->file->passes = read->passes;
    reading->file->mileposts = read->mileposts;
    reading->file->road_feature = at->number;
    hill->flashers = read->flashers;
    hill->position_sigma_m = read->position_sigma_m;
    return derive(reading, at);
}

static enum td_result project(const struct reading *reading, const struct td_feature_at *at,
                              const struct td_feature *read, double lat_deg, double lon_deg,
                              double *at_m, double *left_m)
{
    const struct td_hill *hill = &reading->file->hill;
    struct td_projection to =
        td_hill_project(hill, lat_deg, lon_deg, read->has_at, read->at_m);
    if (read->has_at && read->at_m > hill->length_m)
        return td_feature_wrong(at, "at_m is %.0f, but the road is %.0f m long; set it right",
                                read->at_m, hill->length_m);
    if (!(to.off_m <= TD_PLACE_OFF_ROAD_M))
        return td_feature_wrong(at, "lies over %.0f m from the road%s; move it to the road",
                                TD_PLACE_OFF_ROAD_M, read->has_at ? " near its at_m" : "");
    if (to.has_other)
        return td_feature_wrong(at,
                                "lies near two legs of the road (%.0f m off at %.0f m along, %.0f "
                                "m off at %.0f m); say which with at_m",
                                to.off_m, to.at_m, to.other_off_m, to.other_at_m);
    *at_m = to.at_m;
    *left_m = to.left_m;
    return TD_OK;
}

/* Sorted as they come in; places at the same spot stay in file order. */
static void insert_place(struct td_hill_file *file, const struct td_place *place,
                         struct place_on_file on_file)
{
    size_t i = file->hill.place_count++;
    for (; i > 0 && file->places[i - 1].at_m > place->at_m; i--) {
        file->places[i] = file->places[i - 1];
        file->on_file[i] = file->on_file[i - 1];
    }
    file->places[i] = *place;
    file->on_file[i] = on_file;
}

static enum td_result check_id(const struct td_hill_file *file, const struct td_feature_at *at,
                               const char *id)
{
    for (size_t i = 0; id[0] != '\0' && i < file->hill.place_count; i++)
        if (strcmp(file->on_file[i].id, id) == 0)
            return td_feature_wrong(at, "its id \"%s\" is that of feature %zu; give each place "
                                        "one of its own",
                                    id, file->on_file[i].feature);
    return TD_OK;
}

static enum td_result take_place(const struct reading *reading, const struct td_feature_at *at,
                                 const json_t *feature, const struct td_feature *read)
{
    struct td_hill_file *file = reading->file;
    if (file->hill.place_count == TD_HILL_PLACES_MAX)
        return td_feature_wrong(at, "is one place too many; 128 are the most");
    const json_t *coordinates = NULL;
    enum td_result result = check_geometry(at, feature, "Point", &coordinates);
    if (result != TD_OK)
        return result;
    double lat_deg = 0, lon_deg = 0, left_m = 0;
    const char *wrong = read_position(coordinates, &lat_deg, &lon_deg, NULL);
    if (wrong != NULL)
        return td_feature_wrong(at, "the place %s", wrong);
    struct td_place place = read->place;
    result = project(reading, at, read, lat_deg, lon_deg, &place.at_m, &left_m);
    if (result == TD_OK)
        result = check_id(file, at, read->id);
    if (result != TD_OK)
        return result;
    place.name = keep(file, place.name);
    place.say = keep(file, place.say);
    place.material = keep(file, place.material);
    insert_place(file, &place,
                 (struct place_on_file){at->number, lat_deg, lon_deg, left_m, read->has_at,
                                        keep(file, read->id)});
    return TD_OK;
}

/* Reads every feature; takes the road in the first pass, the places in the second. */
static enum td_result read_features(const struct reading *reading, bool places)
{
    size_t index;
    const json_t *feature;
    json_array_foreach(reading->features, index, feature) {
        struct td_feature_at at = {.name = reading->name, .bytes = reading->file->bytes,
                                   .number = index + 1, .problem = reading->problem};
        const char *type = json_string_value(json_object_get(feature, "type"));
        if (type == NULL || strcmp(type, "Feature") != 0)
            return td_feature_wrong(&at, "is no Feature; a FeatureCollection holds only those");
        struct td_feature read;
        enum td_result result = td_feature_read(json_object_get(feature, "properties"), &at, &read);
        if (result == TD_OK && read.is_road && !places)
            result = reading->file->stations == NULL
                         ? take_road(reading, &at, feature, &read)
                         : td_feature_wrong(&at, "is a second road; one file holds one road");
        else if (result == TD_OK && !read.is_road && places)
            result = take_place(reading, &at, feature, &read);
        if (result != TD_OK)
            return result;
    }
    if (reading->file->stations == NULL)
        return wrong_file(reading, "has no road; one LineString with \"role\": \"road\" is needed");
    return TD_OK;
}

/* RFC 7946 knows WGS 84 only; older files may still name what they use. */
static enum td_result check_crs(const struct reading *reading, const json_t *root)
{
    const json_t *crs = json_object_get(root, "crs");
    if (crs == NULL || json_is_null(crs))
        return TD_OK;
    const char *name =
        json_string_value(json_object_get(json_object_get(crs, "properties"), "name"));
    static const char *const wgs84[] = {"urn:ogc:def:crs:OGC:1.3:CRS84",
                                        "urn:ogc:def:crs:OGC::CRS84",
                                        "urn:ogc:def:crs:EPSG::4326", "EPSG:4326"};
    for (size_t i = 0; name != NULL && i < sizeof wgs84 / sizeof wgs84[0]; i++)
        if (strcmp(wgs84[i], name) == 0)
            return TD_OK;
    return td_problem_set(reading->problem, TD_INVALID, reading->name, 0,
                          "is in the coordinate system \"%.60s\"; save it as WGS 84 (EPSG:4326)",
                          name != NULL ? name : "(unnamed)");
}

static enum td_result read_root(struct reading *reading, const json_t *root)
{
    const char *type = json_string_value(json_object_get(root, "type"));
    if (type == NULL || strcmp(type, "FeatureCollection") != 0)
        return wrong_file(reading, "is no FeatureCollection; a hill profile is GeoJSON with one");
    reading->features = json_object_get(root, "features");
    if (!json_is_array(reading->features))
        return wrong_file(reading, "has no features; the road and its places are features");
    if (json_array_size(reading->features) > TD_HILL_PLACES_MAX + 1)
        return wrong_file(reading, "has over 129 features; one road and 128 places are the most");
    enum td_result result = check_crs(reading, root);
    if (result == TD_OK)
        result = make_room_for_strings(reading);
    if (result == TD_OK)
        result = read_features(reading, false);
    if (result == TD_OK)
        result = read_features(reading, true);
    reading->file->hill.places = reading->file->places;
    return result;
}

static enum td_result read_json(struct reading *reading)
{
    struct td_hill_file *file = reading->file;
    if (file->length == 0)
        return wrong_file(reading, "is empty; a hill profile is a GeoJSON FeatureCollection");
    json_error_t error;
    json_t *root = json_loadb(file->bytes, file->length, JSON_REJECT_DUPLICATES, &error);
    /* Where memory fails jansson mostly says nothing at all. */
    if (root == NULL &&
        (error.text[0] == '\0' || json_error_code(&error) == json_error_out_of_memory))
        return td_problem_set(reading->problem, TD_NO_MEMORY, reading->name, 0,
                              "no memory to read it");
    if (root == NULL)
        return td_problem_set(reading->problem, TD_INVALID, reading->name,
                              error.line > 0 ? error.line : 0,
                              "is not whole JSON at column %d: %s; save it anew or mend it there",
                              error.column, error.text);
    enum td_result result = read_root(reading, root);
    json_decref(root);
    return result;
}

static enum td_result keep_bytes(struct td_hill_file *file, const char *bytes, size_t length)
{
    file->bytes = malloc(length + 1);
    if (file->bytes == NULL || !td_hash_of(bytes, length, file->hill.hash))
        return TD_NO_MEMORY;
    memcpy(file->bytes, bytes, length);
    file->bytes[length] = '\0';
    file->length = length;
    return TD_OK;
}

enum td_result td_hill_file_parse(const char *name, const char *bytes, size_t length,
                                  struct td_hill_file **out, struct td_problem *problem)
{
    if (length > TD_HILL_FILE_BYTES_MAX)
        return td_problem_set(problem, TD_INVALID, name, 0,
                              "is larger than %d bytes, the most that is read",
                              (int)TD_HILL_FILE_BYTES_MAX);
    struct td_hill_file *file = calloc(1, sizeof *file);
    struct reading reading = {name, file, NULL, problem};
    enum td_result result =
        file == NULL ? TD_NO_MEMORY : keep_bytes(file, bytes, length);
    if (result != TD_OK)
        (void)td_problem_set(problem, result, name, 0, "no memory to read it");
    else
        result = read_json(&reading);
    if (result == TD_OK)
        *out = file;
    else
        td_hill_file_free(&file);
    return result;
}

enum td_result td_hill_file_read(const char *path, struct td_hill_file **out,
                                 struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, TD_HILL_FILE_BYTES_MAX, &bytes, &length, problem);
    if (result != TD_OK)
        return result;
    result = td_hill_file_parse(path, bytes, length, out, problem);
    free(bytes);
    return result;
}

const struct td_hill *td_hill_file_hill(const struct td_hill_file *file)
{
    return &file->hill;
}

const char *td_hill_file_surveyed(const struct td_hill_file *file)
{
    return file->surveyed;
}

int td_hill_file_line(const struct td_hill_file *file, size_t index)
{
    bool is_place = index < file->hill.place_count;
    const struct td_feature_at at = {
        .bytes = file->bytes,
        .number = is_place ? file->on_file[index].feature : file->road_feature};
    return td_feature_line(&at);
}

size_t td_hill_file_feature(const struct td_hill_file *file, size_t index)
{
    return index < file->hill.place_count ? file->on_file[index].feature : file->road_feature;
}

struct td_hill_place_file td_hill_file_place(const struct td_hill_file *file, size_t index)
{
    const struct place_on_file *place = &file->on_file[index];
    return (struct td_hill_place_file){place->id, place->lat_deg, place->lon_deg, place->left_m,
                                       place->has_at};
}

const struct td_mileposts *td_hill_file_mileposts(const struct td_hill_file *file)
{
    return &file->mileposts;
}

double td_hill_file_left_m(const struct td_hill_file *file, size_t index)
{
    return index < file->hill.place_count ? file->on_file[index].left_m : 0;
}

unsigned td_hill_file_revision(const struct td_hill_file *file)
{
    return file->revision;
}

unsigned td_hill_file_passes(const struct td_hill_file *file)
{
    return file->passes;
}

const char *td_hill_file_bytes(const struct td_hill_file *file, size_t *length)
{
    *length = file->length;
    return file->bytes;
}

void td_hill_file_free(struct td_hill_file **file)
{
    if (file == NULL || *file == NULL)
        return;
    free((*file)->stations);
    free((*file)->strings);
    free((*file)->bytes);
    free(*file);
    *file = NULL;
}
