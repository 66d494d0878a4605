/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The survey as a fleet uses it, from the command line: passes with known errors over an invented
 * road of which the truth is known (2 km level, 3 km at 7 %, 1 km level, on the open ocean), a road
 * line with heights from tiles, a profile surveyed anew, and every track that is no pass. */
#include "support/survey_tool.h"

#include <unistd.h>

#include "io/tiles.h"

static char text[4096];

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_passes_make_a_profile),
        cmocka_unit_test(noise_is_refused_and_one_noisy_pass_left_out),
        cmocka_unit_test(ends_can_be_cut_off),
        cmocka_unit_test(an_update_keeps_what_the_office_put_there),
        cmocka_unit_test(an_update_keeps_the_places),
        cmocka_unit_test(every_bad_track_gets_one_line),
        cmocka_unit_test(a_line_takes_its_heights_from_a_tile),
    };
    return cmocka_run_group_tests(tests, begin, NULL);
}
