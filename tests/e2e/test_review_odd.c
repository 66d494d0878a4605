/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The trainer's page of logs that are damaged, cut, quiet, or written by somebody who means harm:
 * a log is data from outside. And its figures against what the simulated truck really did. */
#include <math.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#include "support/browser.h"
#include "support/cm.h"
#include "support/tool_run.h"

#define PROFILES TD_SOURCE_DIR "/profiles/"

static struct browser *browser;
static char folder[200], log_path[400], page_path[400];
static double truly_over_mph;

static struct tool_run rehearse(void)
{
    char arguments[1200];
    (void)snprintf(arguments, sizeof arguments, "rehearse '" PROFILES "hills/ombral-pass.geojson' "
                   "--rig '" PROFILES "rigs/five-axle.yaml' --driver ten-over --seed 2 --no-sound "
                   "--force --out '%s'", folder);
    return tool_run(arguments);
}

static int fresh(void **state)
{
    (void)state;
    struct tool_run run = rehearse();
    const char *worst = strstr(run.out, "worst against the target: ");
    int result = run.exit_code == 0 && worst != NULL ? 0 : -1;
    if (result == 0)
        truly_over_mph = strtod(worst + strlen("worst against the target: "), NULL);
    tool_run_free(&run);
    return result;
}

static void alter(const char *sql)
{
    sqlite3 *db = NULL;
    char *why = NULL;
    assert_int_equal(sqlite3_open(log_path, &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, &why) != SQLITE_OK)
        fail_msg("%s: %s", sql, why);
    (void)sqlite3_close(db);
}

static struct tool_run review(void)
{
    char arguments[1200];
    (void)snprintf(arguments, sizeof arguments, "review '%s' --no-sound --force --out '%s'",
                   log_path, page_path);
    return tool_run(arguments);
}

static void show(void)
{
    struct tool_run run = review();
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
    browser_show(browser, page_path, 1100, 900, false);
}

static void assert_says(const char *words)
{
    char script[500];
    (void)snprintf(script, sizeof script, "document.body.textContent.includes(\"%s\")", words);
    if (!browser_is(browser, script))
        fail_msg("the page does not say: %s", words);
}

static void damage_is_one_line_and_no_page(void **state)
{
    (void)state;
    static const char *const damages[] = {
        "UPDATE estimate SET speed_mps=9e999 WHERE seq=(SELECT MAX(seq) FROM estimate)",
        "UPDATE estimate SET place='on the moon' WHERE seq=(SELECT MIN(seq) FROM estimate)",
        "UPDATE estimate SET now_ns=-5 WHERE seq=(SELECT MAX(seq) FROM estimate)",
        "UPDATE event SET json='{' WHERE json IS NOT NULL",
        "UPDATE hill SET bytes=zeroblob(100)",
        "UPDATE meta SET value='soon' WHERE key='start_ns'",
        "DROP TABLE estimate", "DROP TABLE gap",
        "PRAGMA user_version=99",
    };
    for (size_t i = 0; i < sizeof damages / sizeof damages[0]; i++) {
        (void)fresh(NULL);
        (void)remove(page_path);
        alter(damages[i]);
        struct tool_run run = review();
        const char *end = strchr(run.err, '\n');
        if (run.exit_code != 2 || end == NULL || end[1] != '\0' ||
            strstr(run.err, "drive.db") == NULL)
            fail_msg("%s: exit %d: %s", damages[i], run.exit_code, run.err);
        assert_false(tool_is_file(page_path));
        tool_run_free(&run);
    }
}

static void words_of_a_log_stay_words(void **state)
{
    (void)state;
    alter("UPDATE words SET words='<script>document.title=\"owned\"</script><img src=x "
          "onerror=alert(1)> & \"quoted\" ' || char(39) || ' ' || CAST(X'C328' AS TEXT)");
    show();
    assert_says("<script>document.title=\\\"owned\\\"</script>");
    assert_true(browser_is(browser, "document.title !== 'owned'"));
    assert_true(browser_is(browser, "document.querySelectorAll('img').length === 0 &&"
                                    " document.querySelectorAll('script').length === 1"));
    assert_null(browser_fault(browser));
}

static void losses_and_silence_are_shown(void **state)
{
    (void)state;
    alter("INSERT INTO gap SELECT seq, now_ns, 40, 'queue full' FROM estimate"
          " WHERE along_m > 6000 LIMIT 1;"
          "DELETE FROM estimate WHERE along_m BETWEEN 5000 AND 5400;"
          "UPDATE estimate SET place='lost', handle=0, along_m=0"
          " WHERE along_m BETWEEN 7000 AND 7200;"
          "INSERT INTO event SELECT seq, 90, now_ns, 'sound', '', 2, NULL, NULL, NULL, 0, 0, 0,"
          " NULL FROM estimate WHERE along_m > 8000 LIMIT 1;");
    show();
    assert_says("Not everything was seen:");
    assert_says("position unknown or uncertain");
    assert_says("nothing on file");
    assert_says("no sound in the cab");
    assert_says("lost by the log: 40 records");
    assert_true(browser_number(browser, "document.querySelectorAll('.speed .gap').length") >= 2);
    assert_true(browser_is(browser, "Array.from(document.querySelectorAll('.next')).some(e =>"
                                    " /Not seen|then a gap/.test(e.textContent))"));
    assert_null(browser_fault(browser));
}

static void a_drive_without_prompts_is_a_page(void **state)
{
    (void)state;
    alter("DELETE FROM event WHERE json IS NOT NULL; DELETE FROM words");
    show();
    assert_says("Nothing was said on this hill.");
    assert_says("No warnings");
    assert_null(browser_fault(browser));
}

/* A trainer marks by the number that the page gives, and reads it there again. */
static void marks_stand_beside_their_prompt(void **state)
{
    (void)state;
    char arguments[1200];
    show();
    double serial = browser_number(browser, "parseInt(/no\\. ([0-9]+)/.exec(document"
                                            ".querySelector('.list tbody').rows[7].textContent)[1],"
                                            " 10)");
    (void)snprintf(arguments, sizeof arguments, "review --mark '%s' %.0f late --note '<i>at the "
                   "sign</i>'", log_path, serial);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
    show();
    assert_true(browser_is(browser, "document.querySelector('.list tbody').rows[7].querySelector("
                                    "'.marked').textContent === 'marked late: <i>at the sign</i>'"
                                    " && document.querySelectorAll('.marked').length === 1"));
    (void)snprintf(arguments, sizeof arguments, "review --mark '%s' %.0f none", log_path, serial);
    run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
}

/* Two hundred prompts at one place: no two marks touch, the page does not burst. */
static void many_prompts_at_one_place_stay_apart(void **state)
{
    (void)state;
    alter("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i<200)"
          " INSERT INTO event SELECT (SELECT MAX(seq) FROM event WHERE along_m < 6000), 100+i,"
          " e.now_ns+i*50000000, e.kind, e.why, e.value, 5000+i, e.prompt, e.category, e.handle,"
          " e.along_m, e.speed_mps, replace(e.json, '\"serial\":' || e.serial,"
          " '\"serial\":' || (5000+i)) FROM n, (SELECT * FROM event WHERE kind='issued' AND"
          " prompt='escape_lane' LIMIT 1) AS e");
    show();
    assert_true(browser_number(browser, "document.querySelectorAll('.prompt').length") > 200);
    char *checks = tool_file(TD_SOURCE_DIR "/tests/e2e/data/review_checks.js", NULL);
    assert_non_null(checks);
    static const int widths[] = {1100, 360};
    for (size_t i = 0; i < 2; i++) {
        browser_show(browser, page_path, widths[i], 900, false);
        json_decref(browser_eval(browser, checks));
        json_t *wrong = browser_eval(browser, "checks.layout()");
        char *text = json_dumps(wrong, 0);
        if (json_array_size(wrong) > 0)
            fail_msg("at %d: %s", widths[i], text);
        free(text);
        json_decref(wrong);
    }
    free(checks);
    assert_null(browser_fault(browser));
}

/* The truck's own speed over the target, which no coach sees, against the page's figure. */
static void the_figures_are_those_of_the_truck(void **state)
{
    (void)state;
    show();
    double over = browser_number(browser,
        "parseFloat(document.querySelectorAll('.glance b')[1].textContent.replace(/[^0-9.]/g,"
        " ''))");
    assert_near(over, truly_over_mph, 2.0);
    assert_says("Not made");
    assert_true(browser_number(browser, "parseInt(document.querySelectorAll('.glance b')[3]"
                                        ".textContent, 10)") > 10);
}

static int open_all(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(log_path, sizeof log_path, "%s/drive.db", folder);
    (void)snprintf(page_path, sizeof page_path, "%s/page.html", folder);
    browser = browser_open();
    return 0;
}

static int close_all(void **state)
{
    (void)state;
    browser_close(browser);
    return 0;
}

int main(void)
{
    if (!browser_is_there())
        return 77;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(damage_is_one_line_and_no_page, fresh),
        cmocka_unit_test_setup(words_of_a_log_stay_words, fresh),
        cmocka_unit_test_setup(losses_and_silence_are_shown, fresh),
        cmocka_unit_test_setup(a_drive_without_prompts_is_a_page, fresh),
        cmocka_unit_test_setup(marks_stand_beside_their_prompt, fresh),
        cmocka_unit_test_setup(many_prompts_at_one_place_stay_apart, fresh),
        cmocka_unit_test_setup(the_figures_are_those_of_the_truck, fresh),
    };
    return cmocka_run_group_tests(tests, open_all, close_all);
}
