/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive log asked again: the first difference is told in words, gaps are told, and what another
 * load, road, talk, hill or command would have changed stands beside what was said. */
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "support/cm.h"
#include "support/tool_run.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills/"
#define RIGS  TD_SOURCE_DIR "/profiles/rigs/"

static char drive[96]; /* one rehearsal of a demo hill; tests work on copies of it */

static int make_drive(void **state)
{
    (void)state;
    char arguments[512];
    const char *folder = tool_folder();
    (void)snprintf(arguments, sizeof arguments, "rehearse " HILLS "ombral-pass.geojson --rig " RIGS
                   "five-axle.yaml --no-sound --out %s/run", folder);
    struct tool_run run = tool_run(arguments);
    (void)snprintf(drive, sizeof drive, "%s/run/drive.db", folder);
    int code = run.exit_code;
    tool_run_free(&run);
    return code;
}

/* A copy with the statement run over it, which must touch something. */
static const char *changed(const char *sql)
{
    static char path[96];
    char command[256];
    (void)snprintf(path, sizeof path, "%s/drive.db", tool_folder());
    (void)snprintf(command, sizeof command, "cp %s %s", drive, path);
    assert_int_equal(system(command), 0);
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    char *error = NULL;
    if (sqlite3_exec(db, sql, NULL, NULL, &error) != SQLITE_OK)
        fail_msg("%s: %s", sql, error);
    assert_true(sqlite3_changes(db) > 0);
    (void)sqlite3_close(db);
    return path;
}

static struct tool_run ask(const char *path, const char *options)
{
    char arguments[512];
    (void)snprintf(arguments, sizeof arguments, "replay %s %s", path, options);
    return tool_run(arguments);
}

static void expect(const char *path, const char *options, int code, const char *words)
{
    struct tool_run run = ask(path, options);
    if (run.exit_code != code || strstr(run.out, words) == NULL)
        fail_msg("%s %s: exit %d, no \"%s\" in:\n%s%s", path, options, run.exit_code, words,
                 run.out, run.err);
    tool_run_free(&run);
}

static void the_first_difference_is_told_in_words(void **state)
{
    (void)state;
    expect(drive, "--exact", 0, "same: ");
    expect(changed("UPDATE estimate SET heat_likely_c=heat_likely_c+5 WHERE seq=(SELECT seq FROM"
                   " estimate ORDER BY seq LIMIT 1 OFFSET 700)"),
           "--exact", 1, "likely heat (C) is ");
    expect(changed("UPDATE event SET json=json_set(json,'$.args[0].value',25) WHERE"
                   " prompt='slow_for_grade' AND kind='issued'"),
           "--exact", 1, "\": number 1 is 25 in the log and 15 now");
    expect(changed("UPDATE event SET kind='cut' WHERE prompt='engine_brake' AND kind='spoken'"),
           "--exact", 1, "was cut, this core has it spoken");
    /* Two differences: the earlier one is told, although estimates are looked at first. */
    expect(changed("UPDATE estimate SET along_m=along_m+9 WHERE now_ns>900000000000;"
                   "DELETE FROM event WHERE prompt='set_for'"),
           "--exact", 1, "not the same: prompt 2 at ");
}

static void a_gap_is_told(void **state)
{
    (void)state;
    struct tool_run run = ask(changed("INSERT INTO gap SELECT seq,now_ns,11,'queue full' FROM step"
                                      " WHERE seq=499; DELETE FROM step WHERE seq BETWEEN 500 AND"
                                      " 510"),
                              "--exact");
    assert_non_null(strstr(run.out, "the log itself lost 11 steps: no replay of it can be exact"));
    tool_run_free(&run);
    run = ask(changed("DELETE FROM step WHERE seq BETWEEN 500 AND 510"), "--what-if");
    assert_int_equal(run.exit_code, 0);
    assert_non_null(strstr(run.out, "the log itself lost 11 steps"));
    tool_run_free(&run);
}

static void nothing_changed_says_the_same(void **state)
{
    (void)state;
    struct tool_run run = ask(drive, "--what-if");
    unsigned same = 0, rest[4];
    assert_int_equal(run.exit_code, 0);
    const char *at = run.out + strlen(run.out) - 1;
    while (at > run.out && at[-1] != '\n')
        at--;
    assert_int_equal(sscanf(at, "%u the same, %u moved, %u in other words, %u only then, %u only",
                            &same, &rest[0], &rest[1], &rest[2], &rest[3]), 5);
    assert_true(same >= 15);
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(rest[i], 0);
    tool_run_free(&run);
}

static void another_truck_road_or_talk_is_told(void **state)
{
    (void)state;
    expect(drive, "--what-if --load half", 0,
           "One five or slower.  ->  Twenty or slower.");
    expect(drive, "--what-if --road ice", 0, "only now       warning");
    expect(drive, "--what-if --talk sparse", 0,
           "only then      caution  Brake check area, one mile, right.");
    expect(drive, "--what-if --rig " RIGS "five-axle-no-brake.yaml", 0,
           "only then      caution  Engine brake high.");
    /* A shelf without this hill. */
    expect(drive, "--what-if --hills " HILLS "lunnet-slope.geojson", 0,
           "only then      advice   Eight percent grade");
}

static void commands_of_the_driver_count(void **state)
{
    (void)state;
    /* kind 6 is the engine brake with value -1 off, 5 the road with 2 ice, 4 a load by its index
     * (td_command_kind). */
    const char *off = changed("UPDATE step SET input=json_set(input,'$.command',"
                              "json('{\"kind\":6,\"value\":-1}')) WHERE seq=60");
    expect(off, "--what-if", 0, "only now       warning  Too heavy for this grade.");
    const char *ice = changed("UPDATE step SET input=json_set(input,'$.command',"
                              "json('{\"kind\":5,\"value\":2}')) WHERE seq=60");
    expect(ice, "--what-if", 0, "only now       warning");
    expect(ice, "--what-if --road dry", 0, "commands left out");
    const char *load = changed("UPDATE step SET input=json_set(input,'$.command',"
                               "json('{\"kind\":4,\"value\":1}')) WHERE seq=60");
    expect(load, "--what-if", 0, "other words");
    expect(load, "--what-if --load full", 0, ", 0 in other words");
}

static void machines_read_it_too(void **state)
{
    (void)state;
    struct tool_run run = ask(drive, "--what-if --load half --json");
    size_t lines = 0, other = 0;
    char *rest = NULL;
    assert_int_equal(run.exit_code, 0);
    for (char *line = strtok_r(run.out, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        json_t *object = json_loads(line, 0, NULL);
        if (object == NULL)
            fail_msg("not JSON: %s", line);
        const char *kind = json_string_value(json_object_get(object, "kind"));
        const json_t *then = json_object_get(object, "then"), *now = json_object_get(object, "now");
        assert_non_null(kind);
        assert_true(json_is_object(then) || json_is_null(then));
        assert_true(json_is_object(now) || json_is_null(now));
        if (strcmp(kind, "other_words") == 0) {
            other++;
            assert_string_not_equal(json_string_value(json_object_get(then, "words")),
                                    json_string_value(json_object_get(now, "words")));
        }
        json_decref(object);
        lines++;
    }
    assert_true(lines >= 15);
    assert_true(other >= 3);
    tool_run_free(&run);
}

static void what_makes_no_sense_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *options, *says;
    } rows[] = {
        {"--exact --what-if", "each take one drive log"},
        {"--what-if --load feathers", "bobtail, empty, half, full"},
        {"--what-if --rig none.yaml", "none.yaml"},
        {"--what-if --hills none", "none"},
        {"--what-if --realtime", "each take one drive log"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct tool_run run = ask(drive, rows[i].options);
        assert_int_equal(run.exit_code, 2);
        if (strstr(run.err, rows[i].says) == NULL)
            fail_msg("%s: %s", rows[i].options, run.err);
        assert_string_equal(run.out, "");
        tool_run_free(&run);
    }
}

/* The log has the whole rig: file and base may be gone. */
static void a_rig_with_a_base_is_logged_whole(void **state)
{
    (void)state;
    char folder[96], command[512];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(command, sizeof command,
                   "cp " RIGS "five-axle.yaml " RIGS "five-axle-empty.yaml %s", folder);
    assert_int_equal(system(command), 0);
    (void)snprintf(command, sizeof command, "rehearse " HILLS "lunnet-slope.geojson --rig "
                   "%s/five-axle-empty.yaml --no-sound --out %s/run", folder, folder);
    struct tool_run run = tool_run(command);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
    (void)snprintf(command, sizeof command, "rm %s/five-axle*.yaml", folder);
    assert_int_equal(system(command), 0);
    (void)snprintf(command, sizeof command, "%s/run/drive.db", folder);
    expect(command, "--exact", 0, "same: ");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_difference_is_told_in_words),
        cmocka_unit_test(a_gap_is_told),
        cmocka_unit_test(nothing_changed_says_the_same),
        cmocka_unit_test(another_truck_road_or_talk_is_told),
        cmocka_unit_test(commands_of_the_driver_count),
        cmocka_unit_test(machines_read_it_too),
        cmocka_unit_test(what_makes_no_sense_is_refused),
        cmocka_unit_test(a_rig_with_a_base_is_logged_whole),
    };
    return cmocka_run_group_tests(tests, make_drive, NULL);
}
