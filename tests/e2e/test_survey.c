/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The survey as a fleet uses it, from the command line: passes with known errors over an invented
 * road of which the truth is known (2 km level, 3 km at 7 %, 1 km level, on the open ocean), a road
 * line with heights from tiles, a profile surveyed anew, and every track that is no pass. */
#include "support/cm.h"

#include <jansson.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/hill_file.h"
#include "io/tiles.h"
#include "support/tool_run.h"
#include "talkdown/rng.h"

#define LAT_DEG   -47.1
#define LON_DEG   -128.95
#define DEG_LAT_M 111175.0 /* metres a degree at 47.1 south (WGS 84, computed) */
#define DEG_LON_M 75931.0

static const char *folder;
static char text[4096];

static double height_m(double along_m)
{
    return 900 - 0.07 * fmin(fmax(along_m - 2000, 0), 3000);
}

struct recording {
    const char *name;
    double height_sigma_m;
    double side_m; /* of the road, to the south */
    bool climbs, no_height;
    double hill_over_tunnel_m; /* over 300 m in the middle of the grade */
    uint64_t seed;
};

/* Terrain where the road is in a tunnel. */
static double over_m(const struct recording *is, double along_m)
{
    return fabs(along_m - 3500) < 150 ? is->hill_over_tunnel_m : 0;
}

/* GPX at 1 Hz and 15 m/s, satellite position of 3 m that wanders over a minute. */
static const char *record(const struct recording *is)
{
    static char path[256];
    (void)snprintf(path, sizeof path, "%s/%s.gpx", folder, is->name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    struct td_rng rng;
    td_rng_seed(&rng, is->seed, 5);
    double keep = exp(-1.0 / 60), fresh = sqrt(1 - keep * keep);
    double east = 3 * td_rng_normal(&rng), north = 3 * td_rng_normal(&rng);
    double up = is->height_sigma_m * td_rng_normal(&rng);
    (void)fprintf(file, "<gpx><trk><trkseg>\n");
    for (int i = 0; i < 400; i++) {
        double along_m = 15.0 * (is->climbs ? 399 - i : i);
        east = east * keep + 3 * fresh * td_rng_normal(&rng);
        north = north * keep + 3 * fresh * td_rng_normal(&rng);
        up = up * keep + is->height_sigma_m * fresh * td_rng_normal(&rng);
        (void)fprintf(file, "<trkpt lat=\"%.7f\" lon=\"%.7f\">",
                      LAT_DEG + (north - is->side_m) / DEG_LAT_M,
                      LON_DEG + (along_m + east) / DEG_LON_M);
        if (!is->no_height)
            (void)fprintf(file, "<ele>%.2f</ele>", height_m(along_m) + over_m(is, along_m) + up);
        (void)fprintf(file, "<time>2031-05-17T08:%02d:%02dZ</time></trkpt>\n", i / 60, i % 60);
    }
    (void)fprintf(file, "</trkseg></trk></gpx>\n");
    assert_int_equal(fclose(file), 0);
    return path;
}

/* Runs `survey` with %s for the folder; the answer's exit code must be `code`. */
static struct tool_run survey(const char *arguments, int code)
{
    char command[2048], filled[2048] = "";
    (void)snprintf(command, sizeof command, "survey %s", arguments);
    for (char *from = command, *at;; from = at + 1) {
        at = strchr(from, '@');
        size_t used = strlen(filled);
        (void)snprintf(filled + used, sizeof filled - used, "%.*s%s",
                       (int)(at == NULL ? (int)strlen(from) : (int)(at - from)), from,
                       at == NULL ? "" : folder);
        if (at == NULL)
            break;
    }
    struct tool_run run = tool_run(filled);
    if (run.exit_code != code)
        fail_msg("%s: exit %d: %s", filled, run.exit_code, run.err);
    return run;
}

static void survey_refused(const char *arguments, const char *words)
{
    struct tool_run run = survey(arguments, 2);
    if (strstr(run.err, words) == NULL)
        fail_msg("%s: \"%s\" not in: %s", arguments, words, run.err);
    assert_ptr_equal(strchr(run.err, '\n'), run.err + strlen(run.err) - 1); /* one line */
    tool_run_free(&run);
}

static struct td_hill_file *profile(const char *name)
{
    char path[256];
    (void)snprintf(path, sizeof path, "%s/%s.geojson", folder, name);
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    if (td_hill_file_read(path, &file, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    return file;
}

/* Along the invented road, from where it begins. */
static double truth_m(const struct td_hill *hill, double along_m)
{
    const struct td_station *a = &hill->stations[td_hill_station_at(hill, along_m)];
    return (a->lon_deg - LON_DEG) * DEG_LON_M + along_m - a->along_m;
}

static void record_three(double height_sigma_m)
{
    (void)record(&(struct recording){.name = "a", .height_sigma_m = height_sigma_m, .seed = 1});
    (void)record(&(struct recording){.name = "b", .height_sigma_m = height_sigma_m, .seed = 2,
                                     .climbs = true});
    (void)record(&(struct recording){.name = "c", .height_sigma_m = height_sigma_m, .seed = 3});
}

static void three_passes_make_a_profile(void **state)
{
    (void)state;
    record_three(1);
    struct tool_run run =
        survey("@/a.gpx @/b.gpx @/c.gpx --out @/three.geojson --surveyed 2031-05-17", 0);
    assert_non_null(strstr(run.out, "  b.gpx: up, "));
    assert_non_null(strstr(run.out, "  3 passes: grade within "));
    tool_run_free(&run);
    struct td_hill_file *file = profile("three");
    const struct td_hill *hill = td_hill_file_hill(file);
    assert_near(truth_m(hill, hill->crest_m), 2000, 60);
    assert_near(truth_m(hill, hill->foot_m), 5000, 60);
    assert_near(hill->steepest_downgrade_ratio, 0.07, 0.004);
    assert_int_equal(hill->curve_count, 0);
    assert_int_equal(td_hill_file_passes(file), 3);
    assert_true(hill->position_sigma_m >= 2 && hill->position_sigma_m < 5);
    for (size_t i = 0; i < hill->station_count; i++)
        assert_near((hill->stations[i].lat_deg - LAT_DEG) * DEG_LAT_M, 0, 9);
    size_t length = 0;
    const char *bytes = td_hill_file_bytes(file, &length);
    assert_null(strstr(bytes, "08:0")); /* no time of day, and no name of a recording */
    assert_null(strstr(bytes, ".gpx"));
    td_hill_file_free(&file);
}

static void noise_is_refused_and_one_noisy_pass_left_out(void **state)
{
    (void)state;
    record_three(10);
    survey_refused("@/a.gpx @/b.gpx @/c.gpx --out @/x.geojson", "heights are too noisy: about ");
    survey_refused("@/a.gpx --out @/x.geojson", "heights are too noisy: about ");
    (void)record(&(struct recording){.name = "b", .height_sigma_m = 1, .seed = 8});
    (void)record(&(struct recording){.name = "c", .height_sigma_m = 1, .seed = 9});
    struct tool_run run = survey("@/a.gpx @/b.gpx @/c.gpx --out @/noisy.geojson", 0);
    assert_non_null(strstr(run.out, "TOO NOISY: its heights were not used"));
    tool_run_free(&run);
    struct td_hill_file *file = profile("noisy");
    assert_near(td_hill_file_hill(file)->steepest_downgrade_ratio, 0.07, 0.006);
    td_hill_file_free(&file);
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        fail_msg("%s is no number", key);
    return json_number_value(value);
}

static json_t *survey_json(const char *arguments)
{
    struct tool_run run = survey(arguments, 0);
    json_t *object = json_loads(run.out, JSON_REJECT_DUPLICATES, NULL);
    if (object == NULL)
        fail_msg("no JSON: %s", run.out);
    tool_run_free(&run);
    return object;
}

/* The same figures as on the screen, read back from its words. */
static void json_tells_what_the_screen_tells(void **state)
{
    (void)state;
    record_three(1);
    struct tool_run run = survey("@/a.gpx @/b.gpx @/c.gpx --out @/said.geojson", 0);
    json_t *object = survey_json("@/a.gpx @/b.gpx @/c.gpx --out @/said.geojson --force --json");
    double grade_200, grade_1000, line_m, mean, steepest, before_m, after_m;
    assert_int_equal(sscanf(strstr(run.out, "3 passes: "),
                            "3 passes: grade within %lf %% over 200 m and %lf %% over 1 km (one "
                            "sigma, as they differ); line within %lf m",
                            &grade_200, &grade_1000, &line_m),
                     3);
    assert_int_equal(sscanf(strstr(run.out, " % mean") - 5, "%lf %% mean, steepest 300 m %lf %%",
                            &mean, &steepest),
                     2);
    assert_int_equal(sscanf(strstr(run.out, "trimmed: before"), "trimmed: before %lf km (%*f mi), "
                            "after %lf km", &before_m, &after_m), 2);
    assert_near(number(object, "grade_sigma_200_m_pct"), grade_200, 0.0051);
    assert_near(number(object, "grade_sigma_1000_m_pct"), grade_1000, 0.0051);
    assert_near(number(object, "position_sigma_m"), line_m, 0.051);
    assert_near(number(object, "mean_downgrade_pct"), mean, 0.051);
    assert_near(number(object, "steepest_300_m_pct"), steepest, 0.051);
    assert_near(number(object, "trimmed_after_m"), after_m * 1000, 5.1);
    assert_near(number(object, "passes_in_all"), 3, 0);
    assert_near(number(object, "crest_m"), 2000 - number(object, "trimmed_before_m"), 60);
    const json_t *passes = json_object_get(object, "passes");
    assert_int_equal(json_array_size(passes), 3);
    const json_t *up = json_array_get(passes, 1);
    assert_string_equal(json_string_value(json_object_get(up, "way")), "up");
    assert_string_equal(json_string_value(json_object_get(up, "file")), "b.gpx");
    assert_near(number(up, "points"), 400, 0);
    assert_int_equal(json_array_size(json_object_get(object, "warnings")), 0);
    json_decref(object);
    tool_run_free(&run);
    object = survey_json("@/a.gpx --out @/one.geojson --json");
    assert_true(json_is_null(json_object_get(object, "position_sigma_m")));
    assert_true(number(object, "grade_sigma_200_m_pct") > 0);
    json_decref(object);
}

/* The terrain above a tunnel is drawn straight, and pointed at. */
static void a_tunnel_is_bridged_with_a_warning(void **state)
{
    (void)state;
    for (int i = 0; i < 3; i++)
        (void)record(&(struct recording){.name = (const char *[]){"a", "b", "c"}[i],
                                         .height_sigma_m = 1, .climbs = i == 1,
                                         .hill_over_tunnel_m = 60, .seed = 40 + (uint64_t)i});
    struct tool_run run = survey("@/a.gpx @/b.gpx @/c.gpx --out @/tunnel.geojson", 0);
    assert_non_null(strstr(run.out, "drawn straight instead (a tunnel, a viaduct, a spike)"));
    tool_run_free(&run);
    struct td_hill_file *file = profile("tunnel");
    const struct td_hill *hill = td_hill_file_hill(file);
    assert_near(hill->steepest_downgrade_ratio, 0.07, 0.006);
    for (double at_m = 0; at_m + 200 <= hill->length_m; at_m += 50)
        assert_true(fabs(td_hill_elevation_at(hill, at_m) -
                         td_hill_elevation_at(hill, at_m + 200)) < 20);
    json_t *object =
        survey_json("@/a.gpx @/b.gpx @/c.gpx --out @/tunnel.geojson --force --json");
    const json_t *warning = json_array_get(json_object_get(object, "warnings"), 0);
    assert_string_equal(json_string_value(json_object_get(warning, "kind")), "drawn_straight");
    double from_m = truth_m(hill, number(warning, "from_m")),
           to_m = truth_m(hill, number(warning, "to_m"));
    assert_true(from_m < 3380 && from_m > 2800 && to_m > 3620 && to_m < 4200);
    json_decref(object);
    td_hill_file_free(&file);
}

static void ends_can_be_cut_off(void **state)
{
    (void)state;
    record_three(1);
    struct tool_run run = survey("@/a.gpx @/c.gpx --cut-ends '400 m' --out @/cut.geojson", 0);
    tool_run_free(&run);
    struct td_hill_file *file = profile("cut");
    const struct td_hill *hill = td_hill_file_hill(file);
    assert_true(truth_m(hill, 0) > 380);
    assert_true(truth_m(hill, hill->length_m) < 15 * 399 - 380);
    td_hill_file_free(&file);
    survey_refused("@/a.gpx --cut-ends 400 --out @/x.geojson", "--cut-ends: ");
}

/* A place by its coordinates, and the road resurveyed 8 m to the south. */
/* Runs `places` with `arguments`; @ is the folder. */
static void places(const char *arguments)
{
    char filled[1024] = "places ";
    for (const char *c = arguments; *c != '\0'; c++) {
        size_t used = strlen(filled);
        (void)snprintf(filled + used, sizeof filled - used, *c == '@' ? "%s" : "%.1s",
                       *c == '@' ? folder : c);
    }
    struct tool_run run = tool_run(filled);
    if (run.exit_code != 0)
        fail_msg("%s: exit %d: %s%s", filled, run.exit_code, run.out, run.err);
    tool_run_free(&run);
}

/* Put there by the office, they stay where they are on the road; so do its mileposts. */
static void an_update_keeps_what_the_office_put_there(void **state)
{
    (void)state;
    record_three(1);
    struct tool_run run = survey("@/a.gpx @/c.gpx --out @/office.geojson --id keep-us", 0);
    tool_run_free(&run);
    places("posts @/office.geojson \"mile 20 at 0.1 mi; mile 22 at 2.1 mi\"");
    places("add @/office.geojson brake-check --along \"0.4 mi before crest\" --id top");
    places("add @/office.geojson turn-out --at \"mile 21.5\" --id lot --length \"300 ft\"");
    places("move @/office.geojson lot --at \"mile 21.25\"");
    struct td_hill_file *was = profile("office");
    for (int i = 0; i < 3; i++)
        (void)record(&(struct recording){.name = (const char *[]){"e", "f", "g"}[i],
                                         .height_sigma_m = 1, .side_m = 8,
                                         .seed = 20 + (uint64_t)i});
    run = survey("--update @/office.geojson @/e.gpx @/f.gpx @/g.gpx --out @/anew.geojson", 0);
    tool_run_free(&run);
    struct td_hill_file *made = profile("anew");
    const struct td_hill *before = td_hill_file_hill(was), *after = td_hill_file_hill(made);
    assert_int_equal(after->place_count, 2);
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(after->places[i].kind, before->places[i].kind);
        assert_string_equal(td_hill_file_place(made, i).id, i == 0 ? "top" : "lot");
        assert_near(truth_m(after, after->places[i].at_m), truth_m(before, before->places[i].at_m),
                    3);
    }
    assert_near(after->places[1].length_m, 91.44, 1e-9);
    /* Mile 21.25 is there still: by the posts as they stand along the new line. */
    double along_m[TD_MILEPOSTS_MAX];
    assert_int_equal(td_mileposts_along(td_hill_file_mileposts(made), after->length_m, 21.25,
                                        along_m), 1);
    assert_near(along_m[0], after->places[1].at_m, 4);
    td_hill_file_free(&was);
    td_hill_file_free(&made);
}

static void an_update_keeps_the_places(void **state)
{
    (void)state;
    record_three(1);
    struct tool_run run = survey("@/a.gpx @/c.gpx --out @/old.geojson --id keep-me", 0);
    tool_run_free(&run);
    char path[256];
    (void)snprintf(path, sizeof path, "%s/old.geojson", folder);
    size_t length = 0;
    char *bytes = tool_file(path, &length), *end = strstr(bytes, "\n]}}\n]}");
    assert_non_null(end);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fprintf(file,
                  "%.*s\n]}},\n{\"type\":\"Feature\",\"properties\":{\"role\":\"escape-lane\","
                  "\"side\":\"right\",\"say\":\"Runaway ramp\"},\"geometry\":{\"type\":\"Point\","
                  "\"coordinates\":[%.6f,%.6f]}}\n]}\n",
                  (int)(end - bytes), bytes, LON_DEG + 3500 / DEG_LON_M, LAT_DEG);
    assert_int_equal(fclose(file), 0);
    free(bytes);
    for (int i = 0; i < 4; i++)
        (void)record(&(struct recording){.name = (const char *[]){"e", "f", "g", "h"}[i],
                                         .height_sigma_m = 1, .side_m = 8,
                                         .seed = 20 + (uint64_t)i});
    run = survey("--update @/old.geojson @/e.gpx @/f.gpx @/g.gpx @/h.gpx --out @/new.geojson", 0);
    assert_non_null(strstr(run.out, "old.geojson: as it was"));
    tool_run_free(&run);
    struct td_hill_file *made = profile("new");
    const struct td_hill *hill = td_hill_file_hill(made);
    assert_string_equal(hill->id, "keep-me");
    assert_int_equal(td_hill_file_passes(made), 6);
    assert_int_equal(hill->place_count, 1);
    assert_string_equal(hill->places[0].say, "Runaway ramp");
    assert_near(truth_m(hill, hill->places[0].at_m), 3500, 3);
    double middle_m = 0; /* how far south the line lies in the mean: two parts old, four new */
    for (size_t i = 0; i < hill->station_count; i++)
        middle_m += (LAT_DEG - hill->stations[i].lat_deg) * DEG_LAT_M;
    assert_true(middle_m / (double)hill->station_count > 2.5);
    td_hill_file_free(&made);
    survey_refused("--update @/old.geojson @/a.gpx --reverse --out @/x.geojson", "--reverse does");
}

static void write_file(const char *name, const char *words)
{
    char path[256];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fputs(words, file);
    assert_int_equal(fclose(file), 0);
}

static void every_bad_track_gets_one_line(void **state)
{
    (void)state;
    record_three(1);
    (void)record(&(struct recording){.name = "far", .height_sigma_m = 1, .side_m = 3000,
                                     .seed = 4});
    (void)record(&(struct recording){.name = "flat", .no_height = true, .seed = 4});
    write_file("empty.gpx", "");
    write_file("prose.txt", "Dear diary, today I drove.\n");
    write_file("nan.json", "{\"class\":\"TPV\",\"lat\":NaN,\"lon\":1}\n");
    char *at = text;
    at += snprintf(at, 64, "<gpx><trk><trkseg>");
    for (int i = 0; i < 40; i++)
        at += snprintf(at, 96, "<trkpt lat=\"%.6f\" lon=\"-128.9\"><ele>900</ele></trkpt>\n",
                       -47.1 + 1e-6 * (i % 3));
    (void)snprintf(at, 64, "</trkseg></trk></gpx>");
    write_file("stands.gpx", text);
    survey_refused("@/a.gpx @/far.gpx --out @/x.geojson", "another road");
    survey_refused("@/a.gpx @/a.gpx --out @/x.geojson", "is the same recording as");
    survey_refused("@/flat.gpx --out @/x.geojson", "has no elevation; record it with");
    survey_refused("@/empty.gpx --out @/x.geojson", "is empty; a track is");
    survey_refused("@/prose.txt --out @/x.geojson", "is no track; a track is");
    survey_refused("@/nan.json --out @/x.geojson", "is no JSON object at column");
    survey_refused("@/stands.gpx --out @/x.geojson", "stands still almost all the time");
    survey_refused("@/none.gpx --out @/x.geojson", "No such file");
    survey_refused("--out @/x.geojson", "no track; name one or more");
}

/* A tile of the same hill (the road runs east, so heights by longitude), with a tunnel's mountain
 * over part of it; and a line of three vertices. */
static void a_line_takes_its_heights_from_a_tile(void **state)
{
    (void)state;
    (void)snprintf(text, sizeof text,
                   "{\"type\":\"LineString\",\"coordinates\":[[%.6f,%.6f],[%.6f,%.6f],[%.6f,%.6f],"
                   "[%.6f,%.6f],[%.6f,%.6f]]}\n",
                   LON_DEG, LAT_DEG, LON_DEG + 1500 / DEG_LON_M, LAT_DEG,
                   LON_DEG + 3000 / DEG_LON_M, LAT_DEG, LON_DEG + 4500 / DEG_LON_M, LAT_DEG,
                   LON_DEG + 6000 / DEG_LON_M, LAT_DEG);
    write_file("line.geojson", text);
    char path[256];
    (void)snprintf(path, sizeof path, "%s/S48W129.hgt", folder);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    for (int row = 0; row < 1201; row++)
        for (int column = 0; column < 1201; column++) {
            double along_m = (-129 + column / 1200.0 - LON_DEG) * DEG_LON_M;
            double mountain_m = along_m > 3100 && along_m < 3600 ? 120 : 0;
            unsigned value = (unsigned)lround(height_m(along_m) + mountain_m);
            (void)fputc((int)(value >> 8 & 0xff), file);
            (void)fputc((int)(value & 0xff), file);
        }
    assert_int_equal(fclose(file), 0);
    if (!td_tiles_there()) {
        survey_refused("@/line.geojson --tiles @/S48W129.hgt --out @/x.geojson", "without it");
        return;
    }
    survey_refused("@/line.geojson --out @/x.geojson", "or name elevation tiles with --tiles");
    struct tool_run run = survey("@/line.geojson --tiles @ --out @/tiled.geojson", 0);
    assert_non_null(strstr(run.out, "were drawn straight instead (a tunnel"));
    tool_run_free(&run);
    struct td_hill_file *made = profile("tiled");
    const struct td_hill *hill = td_hill_file_hill(made);
    assert_near(truth_m(hill, hill->crest_m), 2000, 120);
    assert_near(truth_m(hill, hill->foot_m), 5000, 120);
    assert_near(hill->steepest_downgrade_ratio, 0.07, 0.004);
    td_hill_file_free(&made);
    write_file("other.geojson", "{\"type\":\"LineString\",\"coordinates\":[[10,10],[10.01,10]]}\n");
    survey_refused("@/other.geojson --tiles @ --out @/x.geojson", "the tiles have no height for");
}

static int begin(void **state)
{
    (void)state;
    folder = tool_folder();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_passes_make_a_profile),
        cmocka_unit_test(noise_is_refused_and_one_noisy_pass_left_out),
        cmocka_unit_test(json_tells_what_the_screen_tells),
        cmocka_unit_test(a_tunnel_is_bridged_with_a_warning),
        cmocka_unit_test(ends_can_be_cut_off),
        cmocka_unit_test(an_update_keeps_what_the_office_put_there),
        cmocka_unit_test(an_update_keeps_the_places),
        cmocka_unit_test(every_bad_track_gets_one_line),
        cmocka_unit_test(a_line_takes_its_heights_from_a_tile),
    };
    return cmocka_run_group_tests(tests, begin, NULL);
}
