/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rehearsals of the demo hills with the real tool: obeying drivers come down safely, the others are
 * told, and the log says the same when it is asked again. */
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/drive_log.h"
#include "support/cm.h"
#include "support/tool_run.h"
#include "talkdown/units.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills/"
#define RIGS  TD_SOURCE_DIR "/profiles/rigs/"

static const char *const hills[] = {"vessarin-drop", "ombral-pass", "tavinek-switchbacks",
                                    "lunnet-slope"};
static const char *const rigs[] = {"five-axle", "five-axle-no-brake", "five-axle-empty",
                                   "box-truck"};

static struct tool_run rehearse(const char *hill, const char *rig, const char *more, char *folder)
{
    char arguments[1024];
    const char *out = tool_folder();
    if (folder != NULL)
        (void)snprintf(folder, 64, "%s", out);
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILLS "%s.geojson --rig " RIGS "%s.yaml --out %s/run --json %s",
                   hill, rig, out, more);
    return tool_run(arguments);
}

static double after(const char *text, const char *words)
{
    const char *at = strstr(text, words);
    double value = 0;
    if (at == NULL || sscanf(at + strlen(words), " %lf", &value) != 1)
        fail_msg("no \"%s\" in: %s", words, text);
    return value;
}

/* An open escape lane is called half a mile ahead; a closed one never. */
static void check_escape_lanes(const struct tool_run *run, const char *hill)
{
    bool pass = strcmp(hill, "ombral-pass") == 0, bends = strcmp(hill, "tavinek-switchbacks") == 0;
    size_t halves = 0;
    for (size_t i = 0; i < run->prompt_count; i++)
        if (strcmp(run->prompts[i].id, "escape_lane") == 0 &&
            strcmp(run->prompts[i].fate, "spoken") == 0 &&
            strstr(run->prompts[i].words, "half mile") != NULL)
            halves++;
    assert_int_equal(halves, pass ? 2 : bends ? 1 : 0);
    assert_int_equal(tool_count(run, "last_escape_lane", "spoken"), pass || bends ? 1 : 0);
    for (size_t i = 0; i < run->prompt_count; i++)
        if (strcmp(run->prompts[i].id, "escape_lane") == 0)
            assert_null(strstr(run->prompts[i].words, "left")); /* the closed one is on the left */
}

static void check_obeying(const char *hill, const char *rig, const char *more)
{
    struct tool_run run = rehearse(hill, rig, more, NULL);
    assert_int_equal(run.exit_code, 0);
    size_t warnings = tool_heard(&run, "warning") + tool_heard(&run, "danger");
    if (warnings != 0)
        fail_msg("%s, %s, %s: %zu warnings:\n%s", hill, rig, more, warnings, run.out);
    double limit_f = after(run.err, "limit"), hottest_f = after(run.err, "brakes at most");
    assert_true(limit_f > 300 && hottest_f > 80 && hottest_f < limit_f);
    bool coached = strcmp(hill, "lunnet-slope") != 0;
    assert_int_equal(tool_count(&run, "ready", "spoken"), 1);
    assert_int_equal(tool_count(&run, "hill_ahead", "spoken"), coached);
    assert_int_equal(tool_count(&run, "bottom", "spoken"), coached);
    assert_int_equal(tool_count(&run, "bottom_ahead", "spoken"), coached);
    if (coached) {
        assert_true(after(run.err, "worst against the target:") <= 1.0);
        check_escape_lanes(&run, hill);
    } else {
        assert_int_equal(run.prompt_count, 2); /* ready and set for: a gentle hill needs no word */
    }
    tool_run_free(&run);
}

static void obeying_drivers_come_down_safely(void **state)
{
    (void)state;
    for (size_t h = 0; h < sizeof hills / sizeof hills[0]; h++)
        for (size_t r = 0; r < sizeof rigs / sizeof rigs[0]; r++)
            for (int seed = 1; seed <= 3; seed++) {
                char more[64];
                /* Full and without an engine brake both long hills are refused: nobody obeys by
                 * going. */
                if (h != 0 && h != 3 && strcmp(rigs[r], "five-axle-no-brake") == 0)
                    continue;
                (void)snprintf(more, sizeof more, "--no-sound --seed %d", seed);
                check_obeying(hills[h], rigs[r], more);
            }
}

/* The simulated truck's forces and heat are written apart from the plan's. On a truck and a road
 * as filed the brakes that must do the most come out as hot as the plan says, less what it keeps
 * in hand: it counts a fifth of their capacity as missing, so about four fifths of its rise. */
static void two_reckonings_of_heat_agree(void **state)
{
    (void)state;
    static const char *const steep[] = {"vessarin-drop", "tavinek-switchbacks"};
    for (size_t i = 0; i < 2; i++) {
        char arguments[512];
        (void)snprintf(arguments, sizeof arguments,
                       "plan " HILLS "%s.geojson --rig " RIGS "five-axle-no-brake.yaml "
                       "--load half --json", steep[i]);
        struct tool_run plan = tool_run(arguments);
        assert_int_equal(plan.exit_code, 0);
        double planned_f = after(plan.out, "\"likely_peak_temp_f\":");
        tool_run_free(&plan);
        struct tool_run run =
            rehearse(steep[i], "five-axle-no-brake", "--no-sound --load half --as-filed",
                     NULL);
        double hottest_f = after(run.err, "brakes at most");
        double share = (hottest_f - 150) / (planned_f - 150);
        printf("%s: planned %.0f F, came to %.0f F\n", steep[i], planned_f, hottest_f);
        assert_true(share > 0.75 && share < 1.05);
        tool_run_free(&run);
    }
}

static void ten_over_is_told(void **state)
{
    (void)state;
    struct tool_run run = rehearse("vessarin-drop", "five-axle-no-brake",
                                   "--driver ten-over --no-sound", NULL);
    assert_int_equal(run.exit_code, 0);
    assert_true(tool_count(&run, "over_speed", "spoken") >= 2);
    assert_true(after(run.err, "worst against the target:") > 6);
    for (size_t i = 0; i < run.prompt_count; i++)
        if (strcmp(run.prompts[i].id, "over_speed") == 0)
            assert_string_equal(run.prompts[i].category, "warning");
    tool_run_free(&run);
}

/* The log of a truck whose service brakes fail: over-speed warnings with their fate, then the call
 * of a runaway in their place, and a speed that runs away. */
static void failing_brakes_are_on_file(void **state)
{
    (void)state;
    char folder[64], path[128];
    struct tool_run run = rehearse("vessarin-drop", "five-axle-no-brake",
                                   "--driver no-brakes --no-sound", folder);
    assert_int_equal(run.exit_code, 0);
    assert_non_null(strstr(run.err, "the service brakes failed"));
    (void)snprintf(path, sizeof path, "%s/run/drive.db", folder);
    struct td_drive_reader *reader = NULL;
    struct td_problem problem;
    struct td_spoken *said = NULL;
    size_t count = 0, warnings = 0, dangers = 0;
    double fastest_mps = 0;
    assert_int_equal(td_drive_open(path, &reader, &problem), TD_OK);
    assert_int_equal(td_drive_prompts(reader, &said, &count, &problem), TD_OK);
    for (size_t i = 0; i < count; i++) {
        if (said[i].prompt.id == TD_PROMPT_OVER_SPEED && said[i].fate == TD_EVENT_SPOKEN) {
            warnings++;
            assert_string_equal(said[i].hill_id, "vessarin-drop");
            assert_non_null(strstr(said[i].words, "Brake"));
        }
        dangers += said[i].prompt.category == TD_DANGER && said[i].fate == TD_EVENT_SPOKEN;
    }
    struct td_input input;
    while (td_drive_next(reader, &input, &problem) == TD_OK) {
        struct td_estimate estimate;
        if (td_drive_estimate(reader, &estimate))
            fastest_mps = fmax(fastest_mps, estimate.speed_mps);
    }
    assert_true(warnings >= 2 && dangers >= 2);
    assert_true(fastest_mps > td_mps_from_mph(45));
    free(said);
    td_drive_close(&reader);
    tool_run_free(&run);
}

/* Ice on a real grade without chains: told so, an obeying driver never passes the crest. */
static void told_not_to_go_the_driver_stays_up(void **state)
{
    (void)state;
    struct tool_run run = rehearse("ombral-pass", "five-axle", "--no-sound --road ice", NULL);
    assert_int_equal(run.exit_code, 0);
    assert_true(tool_count(&run, "no_go_ice", "spoken") >= 1);
    assert_int_equal(tool_count(&run, "slow_for_grade", NULL), 0);
    assert_int_equal(tool_count(&run, "briefing", NULL), 0);
    assert_true(after(run.err, "the driver stopped") > 0);
    tool_run_free(&run);
}

static void same_seed_same_prompts(void **state)
{
    (void)state;
    char a[64], b[64], c[64], path[128];
    struct tool_run first = rehearse("vessarin-drop", "five-axle", "--no-sound --seed 7", a);
    struct tool_run again = rehearse("vessarin-drop", "five-axle", "--no-sound --seed 7", b);
    struct tool_run other = rehearse("vessarin-drop", "five-axle", "--no-sound --seed 8", c);
    assert_string_equal(first.out, again.out);
    assert_string_not_equal(first.out, other.out);
    (void)snprintf(path, sizeof path, "%s/run/prompts.txt", a);
    char *text_a = tool_file(path, NULL);
    (void)snprintf(path, sizeof path, "%s/run/prompts.txt", b);
    char *text_b = tool_file(path, NULL);
    assert_non_null(text_a);
    assert_string_equal(text_a, text_b);
    assert_non_null(strstr(text_a, first.prompts[2].words));
    free(text_a);
    free(text_b);
    tool_run_free(&first);
    tool_run_free(&again);
    tool_run_free(&other);
}

static void change(const char *path, const char *sql)
{
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    assert_true(sqlite3_changes(db) > 0);
    (void)sqlite3_close(db);
}

static int exact(const char *path, char **said)
{
    char arguments[256];
    (void)snprintf(arguments, sizeof arguments, "replay --exact %s", path);
    struct tool_run run = tool_run(arguments);
    int code = run.exit_code;
    *said = strdup(run.out);
    tool_run_free(&run);
    return code;
}

static void log_says_the_same_until_it_is_changed(void **state)
{
    (void)state;
    char folder[64], path[128], *said = NULL;
    struct tool_run run = rehearse("ombral-pass", "five-axle", "--no-sound --driver late", folder);
    assert_int_equal(run.exit_code, 0);
    (void)snprintf(path, sizeof path, "%s/run/drive.db", folder);
    assert_int_equal(exact(path, &said), 0);
    unsigned steps = 0, prompts = 0;
    assert_int_equal(sscanf(said, "same: %u steps, %u prompts", &steps, &prompts), 2);
    assert_true(steps > 1000);
    assert_int_equal(prompts, run.prompt_count);
    free(said);
    change(path, "UPDATE estimate SET along_m=along_m+3 WHERE seq=(SELECT seq FROM estimate"
                 " ORDER BY seq LIMIT 1 OFFSET 300)");
    assert_int_equal(exact(path, &said), 1);
    assert_non_null(strstr(said, "not the same: estimate at"));
    free(said);
    change(path, "UPDATE estimate SET along_m=along_m-3 WHERE seq=(SELECT seq FROM estimate"
                 " ORDER BY seq LIMIT 1 OFFSET 300)");
    assert_int_equal(exact(path, &said), 0);
    free(said);
    change(path, "DELETE FROM event WHERE serial=(SELECT max(serial) FROM event)");
    assert_int_equal(exact(path, &said), 1);
    assert_non_null(strstr(said, "said by this core, but not in the log"));
    free(said);
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(obeying_drivers_come_down_safely),
        cmocka_unit_test(two_reckonings_of_heat_agree),
        cmocka_unit_test(ten_over_is_told),
        cmocka_unit_test(failing_brakes_are_on_file),
        cmocka_unit_test(told_not_to_go_the_driver_stays_up),
        cmocka_unit_test(same_seed_same_prompts),
        cmocka_unit_test(log_says_the_same_until_it_is_changed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
