/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `talkdown plan` as a person and a machine use it: the program itself, exit codes, words. */
#include <jansson.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include "support/cm.h"

#define RIGS  TD_SOURCE_DIR "/profiles/rigs/"
#define HILLS TD_SOURCE_DIR "/profiles/hills/"
#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static char out[1 << 18];

/* Runs "talkdown plan ARGS" by the shell; standard output into `out`, standard error too when
 * `with_errors` (then standard output is dropped). Returns the exit code. */
static int run(const char *args, bool with_errors)
{
    char line[1024];
    (void)snprintf(line, sizeof line, "'%s' plan %s %s", TD_TALKDOWN, args,
                   with_errors ? "2>&1 >/dev/null" : "2>/dev/null");
    FILE *pipe = popen(line, "r");
    assert_non_null(pipe);
    size_t length = fread(out, 1, sizeof out - 1, pipe);
    out[length] = '\0';
    int status = pclose(pipe);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static json_t *json(const char *args, int exit_code)
{
    assert_int_equal(run(args, false), exit_code);
    json_error_t error;
    json_t *object = json_loads(out, JSON_REJECT_DUPLICATES, &error);
    if (object == NULL)
        fail_msg("no JSON: %s in %s", error.text, out);
    return object;
}

static int whole(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_integer(value));
    return (int)json_integer_value(value);
}

static double real(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static const char *word(const json_t *object, const char *key)
{
    const char *value = json_string_value(json_object_get(object, key));
    assert_non_null(value);
    return value;
}

/* Reference model of 1982 (FHWA/RD-81/185, constants from memory); the roadside sign of the same
 * hill says 18 and 37 mph (Oregon DOT, I-84 Emigrant Hill). */
static void the_reference_model_gives_the_sign_within_two_mph(void **state)
{
    (void)state;
    json_t *plan =
        json("--grade 6% --length '6 mi' --weight '80000 lb' --constants 1982 --json", 0);
    assert_int_equal(whole(plan, "target_mph"), 17);
    assert_int_equal(whole(plan, "say_mph"), 15);
    assert_string_equal(word(plan, "limited_by"), "heat");
    assert_near(real(plan, "peak_temp_f"), 487.5, 0.06);
    assert_true(json_is_null(json_object_get(plan, "gear")));
    json_decref(plan);
    plan = json("--grade 6% --length '6 mi' --weight '65,000 lb' --constants=1982 --json", 0);
    assert_int_equal(whole(plan, "target_mph"), 35);
    json_decref(plan);
    plan = json("--grade 6% --length '6 mi' --weight '80000 lb' --json", 0);
    assert_int_equal(whole(plan, "target_mph"), 15); /* 1989, the more cautious, unasked */
    assert_string_equal(word(plan, "model"), "reference-1989");
    json_decref(plan);
    plan = json("--grade 6% --length '6 mi' --weight '65000 lb' --constants 1982 --posted '25 mph' "
                "--json", 0);
    assert_int_equal(whole(plan, "target_mph"), 25);
    assert_string_equal(word(plan, "limited_by"), "posted");
    json_decref(plan);
    assert_int_equal(run("--grade 6% --length '6 mi' --weight '80000 lb' --constants 1982", false),
                     0);
    assert_non_null(strstr(out, "17 mph or slower"));
}

/* Common practice, no source: a low gear, 15 to 20 mph, about 1,500 rpm, the service brakes not
 * used once. */
static void the_demo_rig_goes_down_as_drivers_do(void **state)
{
    (void)state;
    json_t *plan = json("--grade 8% --length '3 mi' --weight '79900 lb' --posted '20 mph' --rig '"
                        RIGS "five-axle.yaml' --json", 0);
    assert_true(json_is_true(json_object_get(plan, "safe")));
    assert_in_range(whole(plan, "target_mph"), 15, 20);
    assert_in_range(whole(plan, "say_mph"), 15, 20);
    const char *gear = word(plan, "gear");
    assert_true(strcmp(gear, "third") == 0 || strcmp(gear, "fourth") == 0);
    assert_in_range(whole(plan, "rpm"), 1250, 1750);
    assert_near(real(plan, "service_brake_share_pct"), 0, 0);
    assert_string_equal(word(plan, "engine_brake"), "high");
    assert_true(whole(plan, "without_engine_brake_mph") < whole(plan, "target_mph"));
    json_decref(plan);
}

static void stretches_cover_the_descent(const json_t *plan)
{
    const json_t *stretches = json_object_get(plan, "stretches");
    double at_m = real(plan, "crest_m"), slowest = 1000;
    assert_true(json_array_size(stretches) > 0);
    for (size_t i = 0; i < json_array_size(stretches); i++) {
        const json_t *stretch = json_array_get(stretches, i);
        assert_near(real(stretch, "from_m"), at_m, 0.11);
        at_m = real(stretch, "to_m");
        assert_true(real(stretch, "grade_pct") > -20 && real(stretch, "grade_pct") < 40);
        (void)word(stretch, "limited_by");
        slowest = fmin(slowest, real(stretch, "target_mph"));
    }
    assert_near(at_m, real(plan, "foot_m"), 0.11);
    assert_near(floor(slowest + 1e-6), whole(plan, "target_mph"), 0);
}

static void every_demo_hill_and_rig_gets_a_whole_answer(void **state)
{
    (void)state;
    static const char *const hills[] = {"lunnet-slope", "ombral-pass", "quorrin-steps",
                                        "tavinek-switchbacks", "vessarin-drop"};
    static const char *const rigs[] = {"five-axle", "five-axle-no-brake", "five-axle-empty",
                                       "box-truck"};
    for (size_t h = 0; h < COUNT(hills); h++)
        for (size_t r = 0; r < COUNT(rigs); r++) {
            char args[512];
            (void)snprintf(args, sizeof args, "'" HILLS "%s.geojson' --rig '" RIGS
                           "%s.yaml' --json", hills[h], rigs[r]);
            json_t *plan = json(args, 0);
            assert_string_equal(word(plan, "hill"), hills[h]);
            assert_true(json_is_array(json_object_get(plan, "reasons")));
            if (json_is_true(json_object_get(plan, "coached"))) {
                stretches_cover_the_descent(plan);
                assert_true(real(plan, "margin_temp_f") > 0);
                (void)word(plan, "gear");
            } else {
                assert_int_equal(h, 0); /* the gentle one, and only that */
            }
            json_decref(plan);
        }
}

static void no_is_an_answer_with_reasons(void **state)
{
    (void)state;
    json_t *plan = json("'" HILLS "ombral-pass.geojson' --rig '" RIGS
                        "five-axle.yaml' --road ice --json", 1);
    assert_true(json_is_false(json_object_get(plan, "safe")));
    assert_int_equal(whole(plan, "target_mph"), 0);
    assert_true(json_is_null(json_object_get(plan, "gear")));
    assert_true(json_array_size(json_object_get(plan, "reasons")) > 0);
    json_decref(plan);
    assert_int_equal(run("--grade 15% --length '12 mi' --weight '140000 lb' --rig '" RIGS
                         "five-axle-no-brake.yaml'", false), 1);
    assert_non_null(strstr(out, "NO: this rig at this weight should not go down here."));
    assert_non_null(strstr(out, "Advice only: posted signs, the law and the driver come first."));
}

static void loads_and_policies_change_the_answer(void **state)
{
    (void)state;
    json_t *full = json("'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --json", 0);
    json_t *empty = json("'" HILLS "ombral-pass.geojson' --rig '" RIGS
                         "five-axle.yaml' --load empty --json", 0);
    json_t *none = json("'" HILLS "ombral-pass.geojson' --rig '" RIGS
                        "five-axle.yaml' --credit none --json", 0);
    assert_true(whole(empty, "target_mph") > whole(full, "target_mph"));
    assert_int_equal(whole(none, "target_mph"), whole(full, "without_engine_brake_mph"));
    assert_string_equal(word(empty, "load"), "empty");
    json_decref(full);
    json_decref(empty);
    json_decref(none);
}

static void bad_input_is_one_line_and_exit_2(void **state)
{
    (void)state;
    static const struct {
        const char *args, *words;
    } rows[] = {
        {"", "hill file"},
        {"--grade 7% --length '4 mi'", "--weight"},
        {"--grade 7 --length '4 mi' --weight '78000 lb'", "--grade"},
        {"--grade 7% --length 4 --weight '78000 lb'", "--length"},
        {"--grade 7% --length '4 mi' --weight 'nan lb'", "--weight"},
        {"--grade 70% --length '4 mi' --weight '78000 lb'", "range"},
        {"--grade=-7% --length '4 mi' --weight '78000 lb'", "--grade"},
        {"--grade 7% --length '4 mi' --weight '78000 lb' --posted 25", "--posted"},
        {"--grade 7% --length '4 mi' --weight '78000 lb' --constants 2018", "1982, 1989"},
        {"--grade 7% --length '4 mi' --weight '78000 lb' --road wet", "--road"},
        {"--grade 7% --length '4 mi' --weight '78000 lb' --constants 1982 --rig '" RIGS
         "five-axle.yaml'", "--constants"},
        {"--grade 7% --length '4 mi' --weight '78000 lb' --load full --rig '" RIGS
         "five-axle.yaml'", "--load"},
        {"'" HILLS "ombral-pass.geojson'", "--rig"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --grade 7%", "hill file"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --load fulll", "bobtail"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --road icy", "dry"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --svg x.svg", "--svg"},
        {"'" HILLS "none.geojson' --rig '" RIGS "five-axle.yaml'", "none.geojson"},
        {"'" RIGS "five-axle.yaml' --rig '" RIGS "five-axle.yaml'", "five-axle.yaml"},
        {"'" HILLS "ombral-pass.geojson' --rig '" HILLS "ombral-pass.geojson'", "ombral-pass"},
        {"--unknown", "--unknown"},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        if (run(rows[i].args, true) != 2)
            fail_msg("plan %s: not exit 2", rows[i].args);
        if (strstr(out, rows[i].words) == NULL)
            fail_msg("plan %s: \"%s\" lacks \"%s\"", rows[i].args, out, rows[i].words);
        const char *end = strchr(out, '\n');
        assert_true(end != NULL && end[1] == '\0');
        assert_int_equal(run(rows[i].args, false), 2);
        assert_string_equal(out, "");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_reference_model_gives_the_sign_within_two_mph),
        cmocka_unit_test(the_demo_rig_goes_down_as_drivers_do),
        cmocka_unit_test(every_demo_hill_and_rig_gets_a_whole_answer),
        cmocka_unit_test(no_is_an_answer_with_reasons),
        cmocka_unit_test(loads_and_policies_change_the_answer),
        cmocka_unit_test(bad_input_is_one_line_and_exit_2),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
