/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorded drives through the real tool: flat roads hear nothing about hills, whoever made them,
 * and a drive that lacks what a replay needs is refused in words. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/drive_log.h"
#include "support/cm.h"
#include "support/tool_run.h"
#include "talkdown/units.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills"
#define RIG   TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml"

static struct tool_run replay(const char *track, const char *hills, char *folder)
{
    char arguments[1024];
    const char *out = tool_folder();
    if (folder != NULL)
        (void)snprintf(folder, 64, "%s", out);
    (void)snprintf(arguments, sizeof arguments,
                   "replay %s --hills %s --rig " RIG " --out %s/run --json --no-sound", track,
                   hills, out);
    return tool_run(arguments);
}

/* What may be said on a flat road: who it is, and what it is set for. After `down_from_s` the
 * recording goes down a road that is not on file, and that may be said. */
static void check_no_word_of_hills(const struct tool_run *run, double down_from_s)
{
    assert_int_equal(run->exit_code, 0);
    assert_int_equal(tool_count(run, "ready", "spoken"), 1);
    for (size_t i = 0; i < run->prompt_count; i++) {
        const struct tool_prompt *prompt = &run->prompts[i];
        bool allowed = strcmp(prompt->id, "ready") == 0 || strcmp(prompt->id, "set_for") == 0 ||
                       (strcmp(prompt->id, "grade_not_on_file") == 0 &&
                        prompt->t_s > down_from_s);
        if (!allowed || prompt->hill[0] != '\0')
            fail_msg("at %.1f s: %s \"%s\" (%s)", prompt->t_s, prompt->id, prompt->words,
                     prompt->hill);
    }
}

/* True when the log of the run in `folder` holds an offer of a hill: it came near one. */
static bool came_near_a_hill(const char *folder)
{
    char path[128];
    (void)snprintf(path, sizeof path, "%s/run/drive.db", folder);
    struct td_drive_reader *reader = NULL;
    struct td_problem problem;
    struct td_input input;
    bool near = false;
    assert_int_equal(td_drive_open(path, &reader, &problem), TD_OK);
    while (!near && td_drive_next(reader, &input, &problem) == TD_OK)
        near = input.offer.kind == TD_OFFER_HILL;
    td_drive_close(&reader);
    return near;
}

static void check_exact(const char *folder)
{
    char arguments[256];
    (void)snprintf(arguments, sizeof arguments, "replay --exact %s/run/drive.db", folder);
    struct tool_run run = tool_run(arguments);
    if (run.exit_code != 0)
        fail_msg("%s%s", run.out, run.err);
    assert_non_null(strstr(run.out, "same: "));
    tool_run_free(&run);
}

static void need(const char *path)
{
    if (!tool_is_file(path)) {
        printf("SKIPPED: %s not there\n", path);
        exit(77);
    }
}

/* The hills on board of these tests: the demo set and a road with 25 hairpins, surveyed from the
 * recorded way up; the way down is never used for it. */
static const char *hills_on_board(void)
{
    static char folder[64];
    static const char climb[] = TD_SHARED_DIR "/data/hairpins/climb.gpx";
    char command[1024];
    if (folder[0] != '\0')
        return folder;
    need(climb);
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(command, sizeof command, "survey %s --reverse --id hairpins --out "
                                            "%s/hairpins.geojson", climb, folder);
    struct tool_run run = tool_run(command);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
    (void)snprintf(command, sizeof command, "cp " HILLS "/*.geojson %s/", folder);
    assert_int_equal(system(command), 0);
    return folder;
}

/* Down the recorded road, on the profile made from the way up: the hill is named at its top, its
 * bottom is called, and the whole log says the same again. */
static void the_way_down_is_talked_down(void **state)
{
    (void)state;
    char folder[64];
    const char *hills = hills_on_board();
    struct tool_run run = replay(TD_SHARED_DIR "/data/hairpins/descent.gpx", hills, folder);
    assert_int_equal(run.exit_code, 0);
    assert_int_equal(tool_count(&run, "hill_ahead", "spoken"), 1);
    assert_int_equal(tool_count(&run, "bottom", "spoken"), 1);
    assert_true(tool_count(&run, "slow_for_grade", "spoken") >= 1);
    double last_m = 0;
    for (size_t i = 0; i < run.prompt_count; i++) {
        const struct tool_prompt *prompt = &run.prompts[i];
        if (prompt->hill[0] == '\0')
            continue;
        assert_string_equal(prompt->hill, "hairpins");
        assert_true(prompt->along_m >= last_m - 15); /* one way only, along every bend */
        last_m = prompt->along_m;
    }
    assert_true(last_m > 10000);
    check_exact(folder);
    tool_run_free(&run);
}

/* A car that brakes for each hairpin, from many times the speed that a box truck may have there:
 * one call of a runaway, made twice, may be. It was told to use open ground for eight minutes. */
static void braking_for_bends_is_no_runaway(void **state)
{
    (void)state;
    char arguments[1024];
    (void)snprintf(arguments, sizeof arguments,
                   "replay " TD_SHARED_DIR "/data/hairpins/descent.gpx --hills %s --rig "
                   TD_SOURCE_DIR "/profiles/rigs/box-truck.yaml --out %s/run --json --no-sound",
                   hills_on_board(), tool_folder());
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    assert_true(tool_heard(&run, "warning") > 20);
    assert_true(tool_heard(&run, "danger") <= 2);
    tool_run_free(&run);
}

/* The same road the other way: not one word about the descent. */
static void the_way_up_hears_nothing(void **state)
{
    (void)state;
    const char *hills = hills_on_board();
    struct tool_run run = replay(TD_SHARED_DIR "/data/hairpins/climb.gpx", hills, NULL);
    check_no_word_of_hills(&run, 3200.0); /* over the top */
    tool_run_free(&run);
}

/* Three long drives on flat motorways, two receivers on the first (recorded, see the README of the
 * shared data). */
static void motorways_hear_nothing_of_hills(void **state)
{
    (void)state;
    const char *hills = hills_on_board();
    static const char *const trips[] = {"trip-1-phone", "trip-1-usb", "trip-2-phone"};
    for (size_t i = 0; i < sizeof trips / sizeof trips[0]; i++) {
        char track[512], folder[64];
        (void)snprintf(track, sizeof track, TD_SHARED_DIR "/data/motorway/%s.tpv.json", trips[i]);
        need(track);
        struct tool_run run = replay(track, hills, folder);
        check_no_word_of_hills(&run, HUGE_VAL);
        check_exact(folder);
        tool_run_free(&run);
    }
}

/* A heavy truck's recorded speed; the positions are made up: a flat, straight road that runs north
 * right across a demo hill's road, at a right angle. */
static void write_flat_drive(const char *csv_path, const char *path, double lat_deg, double lon_deg)
{
    FILE *csv = fopen(csv_path, "r"), *track = fopen(path, "w");
    assert_non_null(csv);
    assert_non_null(track);
    char line[256];
    assert_non_null(fgets(line, sizeof line, csv)); /* its head */
    double m_per_deg = TD_PI / 180.0 * 6371008.8;
    int rows = 0;
    while (fgets(line, sizeof line, csv) != NULL) {
        int t_s;
        double speed_kmh, grade_pct;
        assert_int_equal(sscanf(line, "%d,%lf,%lf", &t_s, &speed_kmh, &grade_pct), 3);
        double speed_mps = td_mps_from_kmh(speed_kmh);
        (void)fprintf(track,
                      "{\"class\":\"TPV\",\"mode\":3,\"time\":\"2031-05-17T%02d:%02d:%02d.000Z\","
                      "\"lat\":%.7f,\"lon\":%.7f,\"altMSL\":500.0,\"speed\":%.3f",
                      6 + t_s / 3600, t_s / 60 % 60, t_s % 60, lat_deg, lon_deg, speed_mps);
        (void)fprintf(track, speed_mps > 0.5 ? ",\"track\":0.0}\n" : "}\n");
        lat_deg += speed_mps / m_per_deg;
        rows++;
    }
    assert_true(rows > 10000);
    (void)fclose(csv);
    assert_int_equal(fclose(track), 0);
}

/* Middle of the road of a demo hill, read from the file's own first and last vertices. */
static void middle_of(const char *hill, double *lat_deg, double *lon_deg)
{
    char path[512];
    (void)snprintf(path, sizeof path, HILLS "/%s.geojson", hill);
    char *text = tool_file(path, NULL);
    assert_non_null(text);
    double lat_sum = 0, lon_sum = 0;
    int count = 0;
    const char *at = strstr(text, "\"coordinates\"");
    assert_non_null(at);
    const char *end = strstr(at, "\"properties\"");
    for (at = strchr(at, '[') + 1; at != NULL && at < end; at = strchr(at + 1, '[')) {
        double lon, lat;
        if (sscanf(at, "[%lf, %lf", &lon, &lat) == 2 || sscanf(at, " [%lf, %lf", &lon, &lat) == 2) {
            lat_sum += lat;
            lon_sum += lon;
            count++;
        }
    }
    assert_true(count > 20);
    *lat_deg = lat_sum / count;
    *lon_deg = lon_sum / count;
    free(text);
}

static void flat_truck_drive_hears_nothing_of_hills(void **state)
{
    (void)state;
    static const char csv[] = TD_SHARED_DIR "/data/truck-speed/long-haul.csv";
    need(csv);
    char track[128], folder[64];
    double lat_deg, lon_deg;
    middle_of("ombral-pass", &lat_deg, &lon_deg);
    (void)snprintf(track, sizeof track, "%s/flat.tpv.json", tool_folder());
    write_flat_drive(csv, track, lat_deg - 0.4, lon_deg);
    struct tool_run run = replay(track, HILLS, folder);
    check_no_word_of_hills(&run, HUGE_VAL);
    assert_true(came_near_a_hill(folder));
    check_exact(folder);
    tool_run_free(&run);
}

static void write_text(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

static void check_refused(const char *arguments, const char *words, const char *folder)
{
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 2);
    if (strstr(run.err, words) == NULL)
        fail_msg("\"%s\" is not in: %s", words, run.err);
    assert_int_equal(strncmp(run.err, "talkdown: ", 10), 0);
    assert_ptr_equal(strchr(run.err, '\n'), run.err + strlen(run.err) - 1); /* one line */
    assert_string_equal(run.out, "");
    char path[128];
    (void)snprintf(path, sizeof path, "%s/run", folder);
    assert_false(tool_is_file(path));
    tool_run_free(&run);
}

static void what_cannot_be_replayed_is_refused(void **state)
{
    (void)state;
    char folder[64], arguments[1024], track[128];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(track, sizeof track, "%s/untimed.gpx", folder);
    write_text(track, "<gpx version=\"1.1\"><trk><trkseg><trkpt lat=\"-47\" lon=\"-125\"/>"
                      "<trkpt lat=\"-47.001\" lon=\"-125\"/></trkseg></trk></gpx>");
    (void)snprintf(arguments, sizeof arguments,
                   "replay %s --hills " HILLS " --rig " RIG " --out %s/run", track, folder);
    check_refused(arguments, "no times", folder);
    (void)snprintf(arguments, sizeof arguments,
                   "replay %s/none.gpx --hills " HILLS " --rig " RIG " --out %s/run", folder,
                   folder);
    check_refused(arguments, "none.gpx", folder);
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILLS "/ombral-pass.geojson --rig " RIG
                   " --driver nobody --out %s/run", folder);
    check_refused(arguments, "\"nobody\" is none of: careful", folder);
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILLS "/ombral-pass.geojson --rig " RIG
                   " --load feathers --out %s/run", folder);
    check_refused(arguments, "bobtail, empty, half, full", folder);
    (void)snprintf(arguments, sizeof arguments, "replay --exact %s --out %s/run", track, folder);
    check_refused(arguments, "drive log", folder);
}

static void outputs_of_an_earlier_run_stay(void **state)
{
    (void)state;
    char folder[64], arguments[1024], path[128];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(path, sizeof path, "%s/prompts.txt", folder);
    write_text(path, "mine\n");
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILLS "/lunnet-slope.geojson --rig " RIG " --no-sound --out %s",
                   folder);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "--force"));
    char *text = tool_file(path, NULL);
    assert_string_equal(text, "mine\n");
    free(text);
    tool_run_free(&run);
    (void)snprintf(arguments + strlen(arguments), 16, " --force");
    run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_cannot_be_replayed_is_refused),
        cmocka_unit_test(outputs_of_an_earlier_run_stay),
        cmocka_unit_test(the_way_down_is_talked_down),
        cmocka_unit_test(braking_for_bends_is_no_runaway),
        cmocka_unit_test(the_way_up_hears_nothing),
        cmocka_unit_test(motorways_hear_nothing_of_hills),
        cmocka_unit_test(flat_truck_drive_hears_nothing_of_hills),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
