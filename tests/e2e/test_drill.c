/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drills through the real tool: the mistake is made, the voice answers it, and what the sheet calls
 * right is what `plan` says of the same hill, truck and load. */
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/tool_run.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills/"
#define RIGS  TD_SOURCE_DIR "/profiles/rigs/"

static struct tool_run drill(const char *hill, const char *rig, const char *more, char *folder)
{
    char arguments[1024];
    (void)snprintf(folder, 64, "%s", tool_folder());
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILLS "%s.geojson --rig " RIGS "%s.yaml --no-sound --json --out %s "
                   "--drill %s", hill, rig, folder, more);
    return tool_run(arguments);
}

static char *sheet_in(const char *folder)
{
    char path[128];
    (void)snprintf(path, sizeof path, "%s/drill.txt", folder);
    char *text = tool_file(path, NULL);
    assert_non_null(text);
    return text;
}

static void need(const char *text, const char *words)
{
    if (strstr(text, words) == NULL)
        fail_msg("no \"%s\" in:\n%s", words, text);
}

/* Every drill, on a hill and truck of the demo set where it has an occasion. */
static void each_mistake_is_made_and_answered(void **state)
{
    (void)state;
    static const struct {
        const char *name, *hill, *said, *wrong, *asks;
    } rows[] = {
        {"late-brake-check", "ombral-pass", "brake_check_passed", "It goes wrong at ",
         "You went by. Where can you still stop"},
        {"missed-gear", "ombral-pass", "over_speed", "It goes wrong at ",
         "What do you do now, and what not?"},
        {"false-bottom", "ombral-pass", "false_bottom", "It goes wrong at ",
         "Is this the bottom? What stays as it is?"},
        {"over-speed-curve", "tavinek-switchbacks", "over_speed", "It goes wrong at ",
         "A bend to the "},
        {"failing-brakes", "ombral-pass", "over_speed", "The service brakes fail at ",
         "What do you do now, and what not?"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char folder[64];
        struct tool_run run = drill(rows[i].hill, "five-axle", rows[i].name, folder);
        if (run.exit_code != 0)
            fail_msg("%s: exit %d: %s", rows[i].name, run.exit_code, run.err);
        assert_true(tool_count(&run, rows[i].said, "spoken") >= 1);
        char *sheet = sheet_in(folder);
        need(sheet, rows[i].name);
        need(sheet, rows[i].wrong);
        need(sheet, rows[i].asks);
        need(sheet, "How it ended: ");
        /* Loaded, the whole of that hill is held to what its sharpest bend allows. */
        bool bend = strcmp(rows[i].name, "over-speed-curve") == 0;
        assert_true((strstr(sheet, "none is called by itself") != NULL) == bend);
        free(sheet);
        tool_run_free(&run);
    }
}

/* A careful driver on the same hill makes no such mistake: the drill is what brings it about. */
static void without_the_drill_nothing_goes_wrong(void **state)
{
    (void)state;
    char arguments[512];
    (void)snprintf(arguments, sizeof arguments, "rehearse " HILLS "ombral-pass.geojson --rig " RIGS
                   "five-axle.yaml --no-sound --json --out %s", tool_folder());
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    assert_int_equal(tool_count(&run, "over_speed", NULL), 0);
    assert_int_equal(tool_count(&run, "brake_check_passed", NULL), 0);
    tool_run_free(&run);
}

/* What the plan says: gear and spoken speed. */
static void plan_of(const char *load, char *gear, size_t size, int *say_mph, int *foot_rpm)
{
    char arguments[512];
    (void)snprintf(arguments, sizeof arguments, "plan " HILLS "ombral-pass.geojson --rig " RIGS
                   "five-axle.yaml --load %s --json", load);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    json_t *plan = json_loads(run.out, 0, NULL);
    assert_non_null(plan);
    (void)snprintf(gear, size, "%s", json_string_value(json_object_get(plan, "gear")));
    *say_mph = (int)json_integer_value(json_object_get(plan, "say_mph"));
    *foot_rpm = (int)json_number_value(json_object_get(plan, "rpm"));
    json_decref(plan);
    tool_run_free(&run);
}

static void what_is_right_is_what_the_plan_says(void **state)
{
    (void)state;
    static const char *const loads[] = {"full", "half"};
    char gears[2][32], words[128];
    int say_mph[2], rpm[2];
    for (size_t i = 0; i < 2; i++) {
        char folder[64], more[64];
        plan_of(loads[i], gears[i], sizeof gears[i], &say_mph[i], &rpm[i]);
        (void)snprintf(more, sizeof more, "late-brake-check --load %s", loads[i]);
        struct tool_run run = drill("ombral-pass", "five-axle", more, folder);
        assert_int_equal(run.exit_code, 0);
        char *sheet = sheet_in(folder);
        (void)snprintf(words, sizeof words, "To %d mph or slower by the crest", say_mph[i]);
        need(sheet, words);
        (void)snprintf(words, sizeof words, "%s gear, ", gears[i]);
        need(sheet, words);
        (void)snprintf(words, sizeof words, "%d rpm at %d mph. Nobody shifts", rpm[i], say_mph[i]);
        need(sheet, words);
        free(sheet);
        tool_run_free(&run);
    }
    assert_true(say_mph[1] > say_mph[0]); /* so that neither answer can be a fixed one */
    assert_string_not_equal(gears[0], gears[1]);
}

static void what_has_no_occasion_is_told(void **state)
{
    (void)state;
    static const struct {
        const char *hill, *rig, *more, *says;
    } rows[] = {
        {"ombral-pass", "five-axle", "over-speed-curve", "has no curve"},
        {"lunnet-slope", "five-axle", "late-brake-check", "choose another hill"},
        {"ombral-pass", "five-axle-no-brake", "missed-gear", "is refused by the plan"},
        {"ombral-pass", "five-axle", "lost-hat", "--drill list names them"},
        {"ombral-pass", "five-axle", "missed-gear --driver late", "leave --driver out"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char folder[64], path[128];
        struct tool_run run = drill(rows[i].hill, rows[i].rig, rows[i].more, folder);
        assert_int_equal(run.exit_code, 2);
        need(run.err, rows[i].says);
        (void)snprintf(path, sizeof path, "%s/drive.db", folder);
        assert_false(tool_is_file(path)); /* told before anything is written */
        tool_run_free(&run);
    }
    struct tool_run run = tool_run("rehearse --drill list");
    assert_int_equal(run.exit_code, 0);
    static const char *const names[] = {"late-brake-check", "missed-gear", "false-bottom",
                                        "over-speed-curve", "failing-brakes"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        need(run.out, names[i]);
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_mistake_is_made_and_answered),
        cmocka_unit_test(without_the_drill_nothing_goes_wrong),
        cmocka_unit_test(what_is_right_is_what_the_plan_says),
        cmocka_unit_test(what_has_no_occasion_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
