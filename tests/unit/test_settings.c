/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/file.h"
#include "io/settings.h"

static enum td_result parse(const char *text, struct td_settings *settings,
                            struct td_problem *problem)
{
    return td_settings_parse("s.yaml", text, strlen(text), settings, problem);
}

static void assert_same(const struct td_settings *a, const struct td_settings *b)
{
    const char *const words[][2] = {
        {a->hills, b->hills},       {a->rig, b->rig},
        {a->trusted_key, b->trusted_key},
        {a->phrases, b->phrases},   {a->language, b->language},
        {a->logs, b->logs},         {a->control, b->control},
        {a->state, b->state},       {a->gpsd_host, b->gpsd_host},
        {a->device, b->device},     {a->gpsd_port, b->gpsd_port},
        {a->log_level, b->log_level},
    };
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        assert_string_equal(words[i][0], words[i][1]);
    assert_int_equal(a->metric, b->metric);
    assert_int_equal(a->keep_days, b->keep_days);
    assert_int_equal(a->keep_mb, b->keep_mb);
    assert_int_equal(a->stream_latency_ms, b->stream_latency_ms);
    assert_int_equal(a->talk, b->talk);
    assert_int_equal(a->credit, b->credit);
    assert_int_equal(a->volume_percent, b->volume_percent);
    assert_true(a->ambient_c == b->ambient_c);
    assert_true(a->louder_above_mps == b->louder_above_mps);
}

static void every_key_has_a_default(void **state)
{
    (void)state;
    struct td_settings settings, defaults;
    struct td_problem problem;
    td_settings_default(&defaults);
    assert_int_equal(parse("language: en-us\n", &settings, &problem), TD_OK);
    assert_same(&settings, &defaults);
    assert_string_equal(defaults.gpsd_port, "2947");
    assert_near(defaults.ambient_c, 32.2222, 1e-4);
}

static void the_manual_shows_every_key_with_its_default(void **state)
{
    (void)state;
    char *manual = NULL;
    size_t length = 0;
    assert_int_equal(
        td_file_read(TD_SOURCE_DIR "/docs/formats.md", 1 << 20, &manual, &length, NULL), TD_OK);
    char *from = strstr(manual, "```yaml\nhills:");
    assert_non_null(from);
    from += strlen("```yaml\n");
    char *to = strstr(from, "```");
    assert_non_null(to);
    struct td_settings settings, defaults;
    struct td_problem problem;
    td_settings_default(&defaults);
    if (td_settings_parse("m", from, (size_t)(to - from), &settings, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    assert_same(&settings, &defaults);
    size_t keys = 0;
    for (char *c = from; c < to; c = strchr(c, '\n') + 1)
        keys++;
    assert_int_equal(keys, 23);
    free(manual);
}

static void reads_every_key(void **state)
{
    (void)state;
    struct td_settings settings;
    struct td_problem problem;
    if (parse("hills: h\ntrusted_key: k\nrig: r\nphrases: p\nlanguage: de\nunits: metric\n"
              "logs: \"\"\n"
              "keep_days: 30\nkeep_mb: 0\n"
              "control: c\nstate: s\ngpsd_host: g\ngpsd_port: 3000\ndevice: d\n"
              "stream_latency: 40 ms\ntalk: trainee\nengine_brake_credit: none\nambient: 10 C\n"
              "volume: 80%\nlouder_above: 36 km/h\nlog_level: debug\n",
              &settings, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    assert_string_equal(settings.hills, "h");
    assert_string_equal(settings.trusted_key, "k");
    assert_string_equal(settings.rig, "r");
    assert_string_equal(settings.phrases, "p");
    assert_string_equal(settings.language, "de");
    assert_true(settings.metric);
    assert_string_equal(settings.logs, "");
    assert_int_equal(settings.keep_days, 30);
    assert_int_equal(settings.keep_mb, 0);
    assert_string_equal(settings.control, "c");
    assert_string_equal(settings.state, "s");
    assert_string_equal(settings.gpsd_host, "g");
    assert_string_equal(settings.gpsd_port, "3000");
    assert_string_equal(settings.device, "d");
    assert_int_equal(settings.stream_latency_ms, 40);
    assert_int_equal(settings.talk, TD_TALK_TRAINEE);
    assert_int_equal(settings.credit, TD_CREDIT_NONE);
    assert_near(settings.ambient_c, 10, 1e-12);
    assert_int_equal(settings.volume_percent, 80);
    assert_near(settings.louder_above_mps, 10, 1e-9);
    assert_string_equal(settings.log_level, "debug");
}

static void paths_count_from_the_folder_of_the_file(void **state)
{
    (void)state;
    char folder[] = "settings-test.XXXXXX", path[64], wanted[64];
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/s.yaml", folder);
    static const char text[] = "hills: hills\nrig: /abs/rig.yaml\nlogs: \"\"\n";
    struct td_problem problem;
    assert_int_equal(td_file_write(path, text, sizeof text - 1, false, &problem), TD_OK);
    struct td_settings settings;
    assert_int_equal(td_settings_read(path, &settings, &problem), TD_OK);
    (void)snprintf(wanted, sizeof wanted, "%s/hills", folder);
    assert_string_equal(settings.hills, wanted);
    assert_string_equal(settings.rig, "/abs/rig.yaml");
    assert_string_equal(settings.logs, "");
    assert_int_equal(unlink(path), 0);
    assert_int_equal(td_settings_read(path, &settings, &problem), TD_NOT_FOUND);
    assert_int_equal(rmdir(folder), 0);
}

static void names_the_line_and_the_cure(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int line;
        const char *says;
    } rows[] = {
        {"hills: h\n\nvolum: 80%\n", 3,
         "unknown key \"volum\"; known here: hills, trusted_key, rig"},
        {"volume: 80\n", 1, "volume: \"80\" has no unit"},
        {"volume: 10%\n", 1, "40% to 100% is right"},
        {"volume: 70%\nlouder_above: 45 mph\n", 2, "needs a volume of 80% to 100%"},
        {"louder_above: 45\n", 1, "louder_above: \"45\" has no unit"},
        {"volume: nan\n", 1, "does not begin with a number"},
        {"hills: h\nunits: imperial\n", 2, "one of us, metric"},
        {"keep_days: forever\n", 1, "keep_days: "},
        {"keep_days: 40000\n", 1, "from 0 to 36500"},
        {"keep_mb: -1\n", 1, "keep_mb: "},
        {"gpsd_port: 99999\n", 1, "from 1 to 65535"},
        {"stream_latency: 1 s\n", 1, "20 ms to 200 ms is right"},
        {"ambient: 500 F\n", 1, "-60 C to 60 C"},
        {"hills: \"\"\n", 1, "hills: is too short"},
        {"hills:\n", 1, "hills: has no value"},
        {"hills: [a]\n", 1, "hills: is a list"},
        {"language: en-us-and-much-more\n", 1, "longer than 15 bytes"},
        {"talk: normal\ntalk: sparse\n", 2, "talk: is there twice"},
        {"", 0, "is empty; leave the file out"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_settings settings = {.volume_percent = 77};
        struct td_problem problem = {0};
        assert_int_equal(parse(rows[i].text, &settings, &problem), TD_INVALID);
        assert_int_equal(settings.volume_percent, 77);
        if (strstr(problem.text, rows[i].says) == NULL || problem.line != rows[i].line)
            fail_msg("%s: line %d: %s", rows[i].text, problem.line, problem.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key_has_a_default),
        cmocka_unit_test(the_manual_shows_every_key_with_its_default),
        cmocka_unit_test(reads_every_key),
        cmocka_unit_test(paths_count_from_the_folder_of_the_file),
        cmocka_unit_test(names_the_line_and_the_cure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
