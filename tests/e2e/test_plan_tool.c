/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `talkdown plan` as a person and a machine use it: the program itself, exit codes, words. */
#include <jansson.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include "support/cm.h"
#include "talkdown/plan.h"

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

/* Descents lie between crest and foot in order, a break between each two; the summary is that of
 * the slowest. */
static void descents_are_in_order(const json_t *plan)
{
    const json_t *descents = json_object_get(plan, "descents");
    double from_m = real(plan, "crest_m");
    int slowest = 1000;
    bool has_peak = false;
    assert_true(json_array_size(descents) > 0);
    for (size_t i = 0; i < json_array_size(descents); i++) {
        const json_t *descent = json_array_get(descents, i);
        assert_true(real(descent, "from_m") >= from_m - 0.11);
        assert_true(i == 0 || real(descent, "from_m") - from_m >= TD_PLAN_BREAK_M - 60);
        from_m = real(descent, "to_m");
        assert_true(from_m > real(descent, "from_m"));
        has_peak = has_peak || real(descent, "peak_temp_f") == real(plan, "peak_temp_f");
        assert_true(whole(descent, "say_mph") <= whole(descent, "target_mph"));
        (void)word(descent, "gear");
        if (whole(descent, "target_mph") < slowest)
            slowest = whole(descent, "target_mph");
    }
    assert_near(from_m, real(plan, "foot_m"), 0.11);
    assert_int_equal(slowest, whole(plan, "target_mph"));
    assert_true(has_peak);
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
            /* Full and without an engine brake, three miles and more are refused. */
            bool refused = r == 1 && (h == 1 || h == 2);
            json_t *plan = json(args, refused ? 1 : 0);
            assert_string_equal(word(plan, "hill"), hills[h]);
            assert_true(json_is_array(json_object_get(plan, "reasons")));
            if (refused) {
                assert_true(json_is_false(json_object_get(plan, "safe")));
            } else if (json_is_true(json_object_get(plan, "coached"))) {
                stretches_cover_the_descent(plan);
                descents_are_in_order(plan);
                assert_true(real(plan, "last_stop_m") <= real(plan, "foot_m"));
                assert_true(real(plan, "likely_peak_temp_f") <= real(plan, "peak_temp_f"));
                assert_true(whole(plan, "stop_distance_ft") > 0);
                assert_true(whole(plan, "margin_lb") >= 0 && real(plan, "margin_mph") >= 0);
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
    assert_true(json_is_null(json_object_get(plan, "margin_lb")));
    assert_int_equal(json_array_size(json_object_get(plan, "descents")), 0);
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
    static const char drop[] = "'" HILLS "tavinek-switchbacks.geojson' --rig '" RIGS
                               "five-axle.yaml' --json";
    char args[512];
    json_t *full = json(drop, 0);
    (void)snprintf(args, sizeof args, "%s --load empty", drop);
    json_t *empty = json(args, 0);
    (void)snprintf(args, sizeof args, "%s --credit none", drop);
    json_t *none = json(args, 0);
    assert_true(whole(empty, "target_mph") >= whole(full, "target_mph"));
    assert_true(whole(none, "target_mph") < whole(full, "target_mph"));
    assert_int_equal(whole(none, "target_mph"), whole(full, "without_engine_brake_mph"));
    assert_string_equal(word(empty, "load"), "empty");
    json_decref(full);
    json_decref(empty);
    json_decref(none);
}

/* Hotter air and hotter brakes at the crest never raise the target, and show in the answer. */
static void temperatures_are_taken(void **state)
{
    (void)state;
    const char *drop = "'" HILLS "vessarin-drop.geojson' --rig '" RIGS "five-axle-no-brake.yaml'";
    char args[512];
    json_t *usual = NULL, *hot = NULL;
    (void)snprintf(args, sizeof args, "%s --json", drop);
    usual = json(args, 0);
    (void)snprintf(args, sizeof args, "%s --ambient '104 F' --brakes-from '150 C' --json", drop);
    hot = json(args, 0);
    assert_near(real(usual, "ambient_f"), 90, 0.01);
    assert_near(real(usual, "brakes_from_f"), 150, 0.01);
    assert_near(real(hot, "ambient_f"), 104, 0.01);
    assert_near(real(hot, "brakes_from_f"), 302, 0.01);
    assert_true(real(hot, "target_exact_mph") <= real(usual, "target_exact_mph"));
    assert_true(real(hot, "peak_temp_f") >= 302);
    json_decref(usual);
    json_decref(hot);
    (void)snprintf(args, sizeof args, "%s --brakes-from '510 F' --json", drop);
    json_t *cooked = json(args, 1); /* past the limit before the first foot of it */
    assert_true(json_is_false(json_object_get(cooked, "safe")));
    json_decref(cooked);
}

/* What is said in km/h is what was solved in km/h; JSON keys keep their units. */
static void metric_changes_words_not_keys(void **state)
{
    (void)state;
    const char *pass = "'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml'";
    char args[512], spoken[40];
    (void)snprintf(args, sizeof args, "%s --metric --json", pass);
    json_t *plan = json(args, 0);
    assert_int_equal(whole(plan, "say_kmh") % 5, 0);
    assert_true(whole(plan, "say_kmh") <= real(plan, "target_exact_mph") * 1.609344 + 0.2);
    assert_int_equal(whole(plan, "weight_lb"), 79900);
    (void)snprintf(spoken, sizeof spoken, "(spoken: %d)", whole(plan, "say_kmh"));
    json_decref(plan);
    (void)snprintf(args, sizeof args, "%s --metric", pass);
    assert_int_equal(run(args, false), 0);
    assert_non_null(strstr(out, "km/h or slower"));
    assert_non_null(strstr(out, spoken));
    assert_non_null(strstr(out, "36,242 kg"));
    assert_null(strstr(out, "mph"));
    assert_null(strstr(out, " lb"));
    assert_null(strstr(out, "mile"));
}

/* The text says the figures of the JSON. */
static void text_and_json_say_the_same(void **state)
{
    (void)state;
    const char *steps = "'" HILLS "quorrin-steps.geojson' --rig '" RIGS "five-axle.yaml'";
    char args[512], line[128];
    (void)snprintf(args, sizeof args, "%s --json", steps);
    json_t *plan = json(args, 0);
    (void)snprintf(args, sizeof args, "%s", steps);
    assert_int_equal(run(args, false), 0);
    const json_t *descents = json_object_get(plan, "descents");
    assert_int_equal(json_array_size(descents), 2);
    const json_t *lanes = json_object_get(plan, "escape_lanes");
    assert_int_equal(json_array_size(lanes), 3);
    for (size_t i = 0; i < json_array_size(lanes); i++) {
        const json_t *lane = json_array_get(lanes, i);
        bool holds = real(lane, "stops_mph") >= real(lane, "runaway_mph");
        assert_true(holds == (real(lane, "needs_ft") <= real(lane, "length_ft") + 1));
    }
    for (size_t i = 0; i < json_array_size(descents); i++) {
        const json_t *descent = json_array_get(descents, i);
        (void)snprintf(line, sizeof line, "%d mph or slower (spoken: %d), limited by %s",
                       whole(descent, "target_mph"), whole(descent, "say_mph"),
                       word(descent, "limited_by"));
        assert_non_null(strstr(out, line));
        (void)snprintf(line, sizeof line, "gear %s, engine brake %s; %d rpm",
                       word(descent, "gear"), word(descent, "engine_brake"),
                       whole(descent, "rpm"));
        assert_non_null(strstr(out, line));
    }
    const json_t *reasons = json_object_get(plan, "reasons");
    for (size_t i = 0; i < json_array_size(reasons); i++)
        assert_non_null(strstr(out, word(json_array_get(reasons, i), "words")));
    json_decref(plan);
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
        {"--grade 7% --length '4 mi' --weight '78000 lb' --force", "--svg"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --ambient 95", "--ambient"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --ambient '200 F'",
         "140 F"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --brakes-from '9999 F'",
         "1112 F"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --brakes-from hot",
         "--brakes-from"},
        {"'" HILLS "ombral-pass.geojson' --rig '" RIGS "five-axle.yaml' --credit some", "cautious"},
        {"--grade 7% --length '4 mi' --weight '78000 lb' --ambient '95 F'", "--ambient"},
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
        cmocka_unit_test(temperatures_are_taken),
        cmocka_unit_test(metric_changes_words_not_keys),
        cmocka_unit_test(text_and_json_say_the_same),
        cmocka_unit_test(bad_input_is_one_line_and_exit_2),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
