/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drives for other programs, as other programs see them: gpsbabel and ogr2ogr read what we write
 * and find what the log has; xmllint finds the XML well formed. The published schema of GPX is not
 * at hand without a network, so order and names of elements are checked here against its text
 * (topografix.com/GPX/1/1, from memory). */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/tool_run.h"

static char drive[96], folder[64];
static size_t said; /* prompts of the drive that were begun */

static int make_drive(void **state)
{
    (void)state;
    char arguments[512];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " TD_SOURCE_DIR "/profiles/hills/lunnet-slope.geojson --rig "
                   TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml --no-sound --json --out %s/run",
                   folder);
    struct tool_run run = tool_run(arguments);
    (void)snprintf(drive, sizeof drive, "%s/run/drive.db", folder);
    for (size_t i = 0; i < run.prompt_count; i++)
        said += strcmp(run.prompts[i].fate, "spoken") == 0 ||
                strcmp(run.prompts[i].fate, "cut") == 0;
    int code = run.exit_code;
    tool_run_free(&run);
    return code;
}

/* Path of the export; *positions is what the tool says of it. */
static const char *export_as(const char *format, const char *more, size_t *positions,
                             size_t *prompts)
{
    static char path[128];
    char arguments[512];
    (void)snprintf(path, sizeof path, "%s/drive.%s", tool_folder(), format);
    (void)snprintf(arguments, sizeof arguments, "review %s --export %s --out %s %s", drive, format,
                   path, more);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    const char *at = strstr(run.out, ": ");
    assert_non_null(at);
    assert_int_equal(sscanf(at, ": %zu positions, %zu prompts", positions, prompts), 2);
    assert_true(*positions > 200);
    tool_run_free(&run);
    return path;
}

static bool have(const char *program)
{
    char command[96];
    (void)snprintf(command, sizeof command, "command -v %s >/dev/null 2>&1", program);
    if (system(command) == 0)
        return true;
    printf("SKIPPED: %s not there\n", program);
    return false;
}

/* What the command prints, `path` put between its two parts; fails with it when it fails. */
static char *output_of(const char *before, const char *path, const char *after)
{
    char out[144], command[512];
    (void)snprintf(out, sizeof out, "%s.out", path);
    (void)snprintf(command, sizeof command, "%s %s %s >%s 2>&1", before, path, after, out);
    int status = system(command);
    char *text = tool_file(out, NULL);
    assert_non_null(text);
    if (status != 0)
        fail_msg("%s: %s", command, text);
    return text;
}

static size_t count(const char *text, const char *what)
{
    size_t n = 0;
    for (const char *at = strstr(text, what); at != NULL; at = strstr(at + 1, what))
        n++;
    return n;
}

static void gpx_is_taken(void **state)
{
    (void)state;
    size_t positions = 0, prompts = 0;
    const char *path = export_as("gpx", "", &positions, &prompts);
    assert_int_equal(prompts, said);
    char *text = tool_file(path, NULL);
    assert_int_equal(count(text, "<trkpt "), positions);
    assert_int_equal(count(text, "<wpt "), prompts);
    assert_int_equal(count(text, "<time>"), positions + prompts + 1);
    assert_non_null(strstr(text, "<gpx version=\"1.1\" creator="));
    /* metadata, then wpt, then trk (gpxType); ele, time, name, desc, type (wptType). */
    assert_true(strstr(text, "<metadata>") < strstr(text, "<wpt ") &&
                strstr(text, "<wpt ") < strstr(text, "<trk>"));
    const char *point = strstr(text, "<wpt ");
    static const char *const order[] = {"<ele>", "<time>", "<name>", "<desc>", "<type>", "</wpt>"};
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        point = strstr(point, order[i]);
        assert_non_null(point);
    }
    free(text);
    if (have("xmllint"))
        free(output_of("xmllint --noout", path, ""));
    if (have("gpsbabel")) {
        text = output_of("gpsbabel -i gpx -f", path, "-x nuketypes,waypoints -o csv -F -");
        assert_int_equal(count(text, "\n"), positions);
        free(text);
        text = output_of("gpsbabel -i gpx -f", path, "-x nuketypes,tracks -o unicsv -F -");
        assert_int_equal(count(text, "\n"), prompts + 1); /* with its head */
        assert_non_null(strstr(text, "Signs and law first"));
        free(text);
    }
    if (have("ogr2ogr")) {
        text = output_of("ogr2ogr -f CSV /vsistdout/", path, "track_points");
        assert_int_equal(count(text, "\n"), positions + 1); /* with its head */
        free(text);
    }
}

static void geojson_is_taken(void **state)
{
    (void)state;
    size_t positions = 0, prompts = 0;
    const char *path = export_as("geojson", "", &positions, &prompts);
    json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(root);
    const json_t *features = json_object_get(root, "features");
    assert_int_equal(json_array_size(features), prompts + 1);
    const json_t *geometry = json_object_get(json_array_get(features, 0), "geometry");
    assert_string_equal(json_string_value(json_object_get(geometry, "type")), "MultiLineString");
    const json_t *parts = json_object_get(geometry, "coordinates");
    size_t at = 0;
    for (size_t i = 0; i < json_array_size(parts); i++) {
        assert_true(json_array_size(json_array_get(parts, i)) >= 2);
        at += json_array_size(json_array_get(parts, i));
    }
    assert_int_equal(at, positions);
    assert_null(json_object_get(root, "crs")); /* RFC 7946, 4: WGS 84 and nothing else */
    json_decref(root);
    if (have("ogr2ogr")) {
        char *text = output_of("ogr2ogr -f CSV /vsistdout/", path, "");
        assert_int_equal(count(text, "\nprompt,"), prompts);
        assert_int_equal(count(text, "\ndrive,"), 1);
        free(text);
    }
    if (have("gpsbabel")) {
        char *text = output_of("gpsbabel -i geojson -f", path, "-o csv -F -");
        assert_int_equal(count(text, "\n"), positions + prompts);
        free(text);
    }
}

static void csv_is_taken(void **state)
{
    (void)state;
    size_t positions = 0, prompts = 0;
    const char *path = export_as("csv", "", &positions, &prompts);
    char *text = tool_file(path, NULL);
    assert_int_equal(strncmp(text, "t_s,utc,lat_deg,lon_deg,altitude_m,speed_mps,", 45), 0);
    assert_int_equal(count(text, "\n"), count(text, "\r\n"));
    assert_true(count(text, "\r\n") >= positions + 1);
    assert_int_equal(count(text, ",spoken\r\n") + count(text, ",cut\r\n"), prompts);
    free(text);
    if (have("ogr2ogr")) {
        text = output_of("ogr2ogr -f GeoJSON /vsistdout/", path,
                         "-oo X_POSSIBLE_NAMES=lon_deg -oo Y_POSSIBLE_NAMES=lat_deg");
        assert_true(count(text, "\"type\": \"Point\"") >= positions);
        free(text);
    }
}

/* No time of day, and no place that is not on the hill. */
static void anonymous_exports_keep_to_the_hill(void **state)
{
    (void)state;
    static const char *const formats[] = {"gpx", "geojson", "csv"};
    for (size_t i = 0; i < 3; i++) {
        size_t all = 0, positions = 0, prompts = 0;
        (void)export_as(formats[i], "", &all, &prompts);
        const char *path = export_as(formats[i], "--anonymous", &positions, &prompts);
        assert_true(positions < all);
        assert_true(prompts < said);
        char *text = tool_file(path, NULL);
        assert_null(strstr(text, "2030-01"));
        assert_null(strstr(text, "<time>"));
        assert_null(strstr(text, "Signs and law first")); /* said off the hill */
        free(text);
    }
    size_t positions = 0, prompts = 0;
    char *text = tool_file(export_as("csv", "--anonymous", &positions, &prompts), NULL);
    assert_int_equal(count(text, ",lunnet-slope,"), count(text, "\r\n") - 1);
    assert_non_null(strstr(text, "\r\n0.000,,")); /* time counts from the hill's first position */
    free(text);
}

static void what_cannot_be_exported_is_refused(void **state)
{
    (void)state;
    char arguments[512], path[128];
    (void)snprintf(path, sizeof path, "%s/there.gpx", folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_int_equal(fclose(file), 0);
    (void)snprintf(arguments, sizeof arguments, "review %s --export gpx --out %s", drive, path);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "is there already"));
    tool_run_free(&run);
    (void)snprintf(arguments, sizeof arguments, "review %s --export gpx --out %s/new.gpx", path,
                   folder);
    run = tool_run(arguments);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "there.gpx"));
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gpx_is_taken),
        cmocka_unit_test(geojson_is_taken),
        cmocka_unit_test(csv_is_taken),
        cmocka_unit_test(anonymous_exports_keep_to_the_hill),
        cmocka_unit_test(what_cannot_be_exported_is_refused),
    };
    return cmocka_run_group_tests(tests, make_drive, NULL);
}
