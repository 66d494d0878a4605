/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The trainer's table and marks through the real tool: rows, trends and counts against the drives
 * they come of, what is refused, and what an anonymous table leaves out. */
#include <jansson.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/cm.h"
#include "support/tool_run.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills/"
#define RIGS  TD_SOURCE_DIR "/profiles/rigs/"

static char folder[64]; /* three drives down one hill and one down another */

static void rehearse(const char *name, const char *hill, const char *driver, long long utc_ms)
{
    char arguments[512], path[128], sql[128];
    (void)snprintf(arguments, sizeof arguments, "rehearse " HILLS "%s.geojson --rig " RIGS
                   "five-axle.yaml --no-sound --driver %s --out %s/%s", hill, driver, folder, name);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
    (void)snprintf(path, sizeof path, "%s/%s/drive.db", folder, name);
    (void)snprintf(sql, sizeof sql, "UPDATE meta SET value='%lld' WHERE key='start_utc_ms'",
                   utc_ms);
    sqlite3 *db = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    (void)sqlite3_close(db);
}

static int make_drives(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    /* In time: two, three, one, four. */
    rehearse("one", "ombral-pass", "ten-over", 1900000300000LL);
    rehearse("two", "ombral-pass", "careful", 1900000100000LL);
    rehearse("three", "ombral-pass", "heavy-foot", 1900000200000LL);
    rehearse("four", "vessarin-drop", "careful", 1900000400000LL);
    return 0;
}

static struct tool_run review(const char *options)
{
    char arguments[512];
    (void)snprintf(arguments, sizeof arguments, "review %s", options);
    return tool_run(arguments);
}

static struct tool_run table(const char *options)
{
    char arguments[256];
    (void)snprintf(arguments, sizeof arguments, "--table %s %s", folder, options);
    return review(arguments);
}

/* The JSON lines of one kind, as an array for the caller to free. */
static json_t *lines_of(const struct tool_run *run, const char *kind)
{
    json_t *lines = json_array();
    char *copy = strdup(run->out), *rest = NULL;
    for (char *line = strtok_r(copy, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        json_t *object = json_loads(line, 0, NULL);
        if (object == NULL)
            fail_msg("not JSON: %s", line);
        if (strcmp(json_string_value(json_object_get(object, "kind")), kind) == 0)
            (void)json_array_append(lines, object);
        json_decref(object);
    }
    free(copy);
    return lines;
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        fail_msg("%s is no number", key);
    return json_number_value(value);
}

static const char *word(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text != NULL ? text : "";
}

static void a_row_a_descent_in_order_of_time(void **state)
{
    (void)state;
    static const char *const logs[] = {"two/drive.db", "three/drive.db", "one/drive.db",
                                       "four/drive.db"};
    struct tool_run run = table("--json");
    assert_int_equal(run.exit_code, 0);
    json_t *rows = lines_of(&run, "descent");
    assert_int_equal(json_array_size(rows), 4);
    for (size_t i = 0; i < 4; i++)
        assert_string_equal(word(json_array_get(rows, i), "log"), logs[i]);
    const json_t *careful = json_array_get(rows, 0), *over = json_array_get(rows, 2);
    assert_string_equal(word(careful, "brake_check"), "made");
    assert_true(number(careful, "brake_check_s") >= 55); /* the driver looks for a minute */
    assert_true(number(careful, "over_most_mph") <= 1);
    assert_string_equal(word(over, "brake_check"), "passed");
    assert_true(json_is_null(json_object_get(over, "brake_check_s")));
    assert_true(number(over, "over_most_mph") >= 3 && number(over, "over_most_mph") <= 15);
    assert_true(number(over, "over_s") > 60);
    assert_true(number(over, "warnings") >= 1);
    assert_true(number(over, "heat_least_f") <= number(over, "heat_likely_f"));
    assert_true(number(over, "heat_likely_f") <= number(over, "heat_most_f"));
    assert_int_equal(strncmp(word(careful, "start_utc"), "2030-03-17T", 11), 0);
    json_decref(rows);
    tool_run_free(&run);
}

/* First, latest and median of three, by the rows of the same table. */
static void a_trend_is_that_of_its_rows(void **state)
{
    (void)state;
    struct tool_run run = table("--json");
    json_t *rows = lines_of(&run, "descent"), *trends = lines_of(&run, "trend");
    assert_int_equal(json_array_size(trends), 2); /* by hill: ombral-pass, vessarin-drop */
    const json_t *trend = json_array_get(trends, 0);
    assert_string_equal(word(trend, "hill"), "ombral-pass");
    assert_int_equal(number(trend, "descents"), 3);
    assert_int_equal(number(trend, "brake_checks_made"), 2);
    assert_int_equal(number(trend, "brake_checks_known"), 3);
    double a = number(json_array_get(rows, 0), "over_most_mph"),
           b = number(json_array_get(rows, 1), "over_most_mph"),
           c = number(json_array_get(rows, 2), "over_most_mph");
    double median = a > b ? (b > c ? b : (a > c ? c : a)) : (a > c ? a : (b > c ? c : b));
    assert_near(number(trend, "over_most_first_mph"), a, 1e-9);
    assert_near(number(trend, "over_most_latest_mph"), c, 1e-9);
    assert_near(number(trend, "over_most_median_mph"), median, 1e-9);
    assert_int_equal(number(json_array_get(trends, 1), "descents"), 1);
    json_decref(rows);
    json_decref(trends);
    tool_run_free(&run);
}

static unsigned count(const char *text, const char *what)
{
    unsigned n = 0;
    for (const char *at = strstr(text, what); at != NULL; at = strstr(at + 1, what))
        n++;
    return n;
}

static void csv_is_a_table(void **state)
{
    (void)state;
    struct tool_run run = table("--csv");
    assert_int_equal(run.exit_code, 0);
    assert_int_equal(count(run.out, "\r\n"), 5);
    assert_int_equal(count(run.out, "\n"), 5);
    assert_int_equal(strncmp(run.out, "log,start_utc,hill,hill_name,rig,", 33), 0);
    /* A name with a comma is quoted, so each line has as many columns as the head. */
    assert_non_null(strstr(run.out, ",\"Five-axle, two-stage engine brake\","));
    tool_run_free(&run);
    run = table("--csv --trends");
    assert_int_equal(strncmp(run.out, "hill,rig,descents,", 18), 0);
    assert_int_equal(count(run.out, "\r\n"), 3);
    tool_run_free(&run);
    run = table("--csv --marks");
    assert_int_equal(strncmp(run.out, "hill,id,said,marks_right,", 25), 0);
    tool_run_free(&run);
}

static void an_anonymous_table_tells_no_time_and_no_name(void **state)
{
    (void)state;
    struct tool_run run = table("--json --anonymous");
    assert_int_equal(run.exit_code, 0);
    assert_null(strstr(run.out, "drive.db"));
    assert_null(strstr(run.out, "2030"));
    assert_non_null(strstr(run.out, "\"log\":\"drive 1\",\"start_utc\":null"));
    /* What was said off the hills is not counted; with times it is. */
    assert_null(strstr(run.out, "\"id\":\"ready\""));
    tool_run_free(&run);
    run = table("--json");
    assert_non_null(strstr(run.out, "\"id\":\"ready\""));
    tool_run_free(&run);
    run = table("--anonymous");
    assert_null(strstr(run.out, "2030"));
    tool_run_free(&run);
}

/* Serial of the first prompt of that key, as --mark lists it. */
static int serial_of(const char *drive, const char *key)
{
    char options[128];
    (void)snprintf(options, sizeof options, "--mark %s", drive);
    struct tool_run run = review(options);
    int serial = -1;
    char *rest = NULL;
    for (char *line = strtok_r(run.out, "\n", &rest); line != NULL && serial < 0;
         line = strtok_r(NULL, "\n", &rest))
        if (strstr(line, key) != NULL)
            serial = (int)strtol(line, NULL, 10);
    tool_run_free(&run);
    assert_true(serial > 0);
    return serial;
}

static void mark(const char *name, const char *key, const char *as, int code)
{
    char options[256], drive[96];
    (void)snprintf(drive, sizeof drive, "%s/%s/drive.db", folder, name);
    (void)snprintf(options, sizeof options, "--mark %s %d %s", drive, serial_of(drive, key), as);
    struct tool_run run = review(options);
    assert_int_equal(run.exit_code, code);
    tool_run_free(&run);
}

static void marks_are_counted_by_hill_and_prompt(void **state)
{
    (void)state;
    mark("one", "slow_for_grade", "late --note 'said it \"late\"'", 0);
    mark("two", "slow_for_grade", "late", 0);
    mark("three", "slow_for_grade", "wrong", 0);
    mark("three", "slow_for_grade", "right", 0); /* changes his mind */
    mark("four", "hill_ahead", "early", 0);
    mark("four", "ceiling", "right", 0);
    mark("four", "ceiling", "none", 0);
    struct tool_run run = table("--json");
    json_t *prompts = lines_of(&run, "prompt"), *rows = lines_of(&run, "descent");
    unsigned seen = 0;
    for (size_t i = 0; i < json_array_size(prompts); i++) {
        const json_t *prompt = json_array_get(prompts, i);
        bool slow = strcmp(word(prompt, "id"), "slow_for_grade") == 0 &&
                    strcmp(word(prompt, "hill"), "ombral-pass") == 0;
        bool ahead = strcmp(word(prompt, "id"), "hill_ahead") == 0 &&
                     strcmp(word(prompt, "hill"), "vessarin-drop") == 0;
        assert_int_equal(number(prompt, "marks_late"), slow ? 2 : 0);
        assert_int_equal(number(prompt, "marks_right"), slow ? 1 : 0);
        assert_int_equal(number(prompt, "marks_early"), ahead ? 1 : 0);
        assert_int_equal(number(prompt, "marks_wrong"), 0);
        if (slow)
            assert_true(number(prompt, "said") >= 3);
        seen += slow + ahead;
    }
    assert_int_equal(seen, 2);
    assert_int_equal(number(json_array_get(rows, 2), "marks_late"), 1);
    json_decref(prompts);
    json_decref(rows);
    tool_run_free(&run);
    run = table("");
    assert_non_null(strstr(run.out, "marked by trainers"));
    tool_run_free(&run);
}

/* A second drive beside the marks of the first would wear them. */
static void marks_hold_their_drive(void **state)
{
    (void)state;
    char arguments[512], path[128];
    (void)snprintf(arguments, sizeof arguments, "rehearse " HILLS "ombral-pass.geojson --rig " RIGS
                   "five-axle.yaml --no-sound --force --out %s/one", folder);
    (void)snprintf(path, sizeof path, "%s/one/drive.db", folder);
    size_t before = 0, after = 0;
    char *was = tool_file(path, &before);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "one/drive.marks.yaml: marks the drive that is there"));
    char *is = tool_file(path, &after);
    assert_int_equal(before, after);
    assert_memory_equal(was, is, before);
    free(was);
    free(is);
    tool_run_free(&run);
}

static void write_text(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    (void)fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

/* One bad file does not spoil the table; it is named with its line, and the exit code says so. */
static void what_cannot_be_read_is_told(void **state)
{
    (void)state;
    char path[96], marks[96];
    (void)snprintf(path, sizeof path, "%s/none.db", folder);
    (void)snprintf(marks, sizeof marks, "%s/two/drive.marks.yaml", folder);
    write_text(path, "not a log");
    struct tool_run run = table("--json");
    assert_int_equal(run.exit_code, 1);
    assert_non_null(strstr(run.err, "none.db: "));
    json_t *rows = lines_of(&run, "descent");
    assert_int_equal(json_array_size(rows), 4);
    json_decref(rows);
    tool_run_free(&run);
    assert_int_equal(unlink(path), 0);
    write_text(marks, "marks:\n  - serial: 6\n    mark: tardy\n");
    run = table("");
    assert_int_equal(run.exit_code, 1);
    assert_non_null(strstr(run.err, "drive.marks.yaml:3: "));
    tool_run_free(&run);
    assert_int_equal(unlink(marks), 0);
}

static void what_makes_no_sense_is_refused(void **state)
{
    (void)state;
    char drive[96], options[256];
    (void)snprintf(drive, sizeof drive, "%s/one/drive.db", folder);
    static const struct {
        const char *options, *says;
    } rows[] = {
        {"--mark %s 1 tardy", "none of: right, late, early, wrong, none"},
        {"--mark %s 100000 late", "no prompt of serial 100000 was said"},
        {"--mark %s x late", "no whole number"},
        {"--mark %s 1", "--mark takes"},
        {"--mark %s 1 none --note x", "--note goes with a mark"},
        {"%s --note x", "--note goes with --mark"},
        {"%s --csv", "go with --table"},
        {"%s --export pdf --out x", "none of: gpx, geojson, csv"},
        {"%s --export gpx", "--out is missing"},
        {"%s --export gpx --table x", "one each"},
        {"%s --table x", "no logs beside it"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *at = strstr(rows[i].options, "%s");
        (void)snprintf(options, sizeof options, "%.*s%s%s", (int)(at - rows[i].options),
                       rows[i].options, drive, at + 2);
        struct tool_run run = review(options);
        assert_int_equal(run.exit_code, 2);
        if (strstr(run.err, rows[i].says) == NULL)
            fail_msg("%s: %s", options, run.err);
        tool_run_free(&run);
    }
    struct tool_run run = review("--table no-such-folder");
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "no-such-folder"));
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_row_a_descent_in_order_of_time),
        cmocka_unit_test(a_trend_is_that_of_its_rows),
        cmocka_unit_test(csv_is_a_table),
        cmocka_unit_test(an_anonymous_table_tells_no_time_and_no_name),
        cmocka_unit_test(marks_are_counted_by_hill_and_prompt),
        cmocka_unit_test(marks_hold_their_drive),
        cmocka_unit_test(what_cannot_be_read_is_told),
        cmocka_unit_test(what_makes_no_sense_is_refused),
    };
    return cmocka_run_group_tests(tests, make_drives, NULL);
}
