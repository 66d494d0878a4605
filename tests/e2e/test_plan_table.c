/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `plan --table`: its figures are those of single plans, asked one by one; the heaviest weight is
 * within limits and a step more is not; folders, libraries and single hills answer alike; and a bad
 * file is told without stopping the rest. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/tool_run.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills"
#define RIGS  TD_SOURCE_DIR "/profiles/rigs/"
#define THREE RIGS "five-axle-no-brake.yaml," RIGS "tanker-retarder.yaml," RIGS "box-truck.yaml"

enum { ROWS_MAX = 200 };

static json_t *rows[ROWS_MAX];
static size_t row_count;

static struct tool_run table(const char *arguments, int exit_code)
{
    char line[1500];
    (void)snprintf(line, sizeof line, "plan --table %s", arguments);
    struct tool_run run = tool_run(line);
    if (run.exit_code != exit_code)
        fail_msg("%s: exit %d: %s", line, run.exit_code, run.err);
    return run;
}

static void forget_rows(void)
{
    while (row_count > 0)
        json_decref(rows[--row_count]);
}

static void read_rows(const char *arguments, int exit_code)
{
    struct tool_run run = table(arguments, exit_code);
    char *rest = NULL;
    forget_rows();
    for (char *line = strtok_r(run.out, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        assert_true(row_count < ROWS_MAX);
        rows[row_count] = json_loads(line, JSON_REJECT_DUPLICATES, NULL);
        if (rows[row_count++] == NULL)
            fail_msg("not JSON: %s", line);
    }
    tool_run_free(&run);
}

static const char *word(const json_t *object, const char *key)
{
    return json_string_value(json_object_get(object, key));
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value))
        fail_msg("\"%s\" is no number", key);
    return json_number_value(value);
}

static json_t *single(const json_t *row, const char *options)
{
    char line[1024];
    bool safe = json_is_true(json_object_get(row, "safe"));
    (void)snprintf(line, sizeof line, "plan '%s' --rig '%s' --json %s", word(row, "hill_file"),
                   word(row, "rig_file"), options);
    struct tool_run run = tool_run(line);
    if (run.exit_code != (safe ? 0 : 1))
        fail_msg("%s: exit %d, the table says %s", line, run.exit_code, safe ? "safe" : "no");
    json_t *plan = json_loads(run.out, 0, NULL);
    assert_non_null(plan);
    tool_run_free(&run);
    return plan;
}

static void same(const json_t *row, const json_t *plan, const char *const *keys)
{
    for (; *keys != NULL; keys++) {
        const json_t *left = json_object_get(row, *keys), *right = json_object_get(plan, *keys);
        assert_non_null(left);
        assert_non_null(right);
        bool equal = json_is_number(left) && json_is_number(right)
                         ? fabs(json_number_value(left) - json_number_value(right)) < 1e-6
                         : json_equal(left, right) == 1;
        if (!equal)
            fail_msg("%s, %s, %s: \"%s\" is not that of the single plan", word(row, "hill"),
                     word(row, "rig"), word(row, "load"), *keys);
    }
}

/* Row and plan; of a plan that goes down also the row's downgrade. */
static void assert_same_plan(const json_t *row, const json_t *plan)
{
    static const char *const whole[] = {
        "hill", "rig", "load", "weight_lb", "road", "credit", "ambient_f", "brakes_from_f",
        "coached", "mean_grade_pct", "limit_temp_f", "without_engine_brake_mph", "safe", NULL};
    static const char *const down[] = {"margin_temp_f", "margin_lb", NULL};
    static const char *const parts[] = {"from_m", "to_m", "target_mph", "say_mph", "say_kmh",
                                        "gear", "engine_brake", "limited_by", "peak_temp_f",
                                        "final_temp_f", NULL};
    same(row, plan, whole);
    const json_t *descents = json_object_get(plan, "descents");
    const json_t *part = json_object_get(row, "downgrade");
    if (json_is_null(part)) {
        assert_int_equal(json_array_size(descents), 0);
        return;
    }
    same(row, plan, down);
    assert_int_equal(json_array_size(descents), (size_t)number(row, "downgrades"));
    same(row, json_array_get(descents, (size_t)json_integer_value(part) - 1), parts);
    assert_true(number(row, "brake_use_pct") >= 0 && number(row, "brake_use_pct") <= 100);
}

static void rows_are_single_plans(const char *what, const char *options, size_t at_least)
{
    char line[1024];
    (void)snprintf(line, sizeof line, "%s --json %s", what, options);
    read_rows(line, 1);
    assert_true(row_count >= at_least);
    json_t *plan = NULL;
    for (size_t i = 0; i < row_count; i++) {
        const json_t *part = json_object_get(rows[i], "downgrade");
        if (json_is_null(part) || json_integer_value(part) == 1) {
            json_decref(plan);
            (void)snprintf(line, sizeof line, "%s --load %s",
                           strcmp(options, "--load full") == 0 ? "" : options,
                           word(rows[i], "load"));
            plan = single(rows[i], line);
        }
        assert_same_plan(rows[i], plan);
    }
    json_decref(plan);
}

static void figures_are_those_of_single_plans(void **state)
{
    (void)state;
    rows_are_single_plans(HILLS "/quorrin-steps.geojson --rig '" THREE "'", "", 10);
    rows_are_single_plans(HILLS " --rig " RIGS "five-axle-no-brake.yaml", "--load full", 5);
}

static void on_a_wet_road_with_hot_brakes_too(void **state)
{
    (void)state;
    rows_are_single_plans(HILLS "/ombral-pass.geojson --rig " RIGS "tanker-retarder.yaml",
                          "--road wet --brakes-from '200 F' --credit none --ambient '20 C'", 3);
}

/* The heaviest is within limits when asked for by itself, and a step of 100 lb more is not. */
static void the_heaviest_is_the_heaviest(void **state)
{
    (void)state;
    size_t searched = 0;
    read_rows(HILLS " --rig " RIGS "five-axle-no-brake.yaml --load full --json", 1);
    for (size_t i = 0; i < row_count; i++) {
        char line[1024];
        if (json_is_true(json_object_get(rows[i], "safe"))) {
            assert_true(json_is_false(json_object_get(rows[i], "coached")) ||
                        json_is_true(json_object_get(rows[i], "heaviest_is_most")));
            continue;
        }
        assert_string_equal(word(rows[i], "verdict"), "not_at_this_weight");
        assert_true(number(rows[i], "heaviest_lb") < number(rows[i], "weight_lb"));
        for (int more = 0; more <= 1; more++) {
            (void)snprintf(line, sizeof line, "plan '%s' --rig '%s' --weight '%.0f lb'",
                           word(rows[i], "hill_file"), word(rows[i], "rig_file"),
                           number(rows[i], "heaviest_lb") + 100 * more);
            struct tool_run run = tool_run(line);
            if (run.exit_code != more)
                fail_msg("%s: exit %d", line, run.exit_code);
            tool_run_free(&run);
        }
        searched++;
    }
    assert_true(searched >= 2);
}

static void weights_are_given_as_a_list(void **state)
{
    (void)state;
    read_rows(HILLS "/ombral-pass.geojson --rig '" RIGS "five-axle-no-brake.yaml' --json "
              "--weight '56,000 lb,30 t , 79900 lb'", 1);
    assert_int_equal(row_count, 3);
    for (size_t i = 0; i < 3; i++)
        assert_true(json_is_null(json_object_get(rows[i], "load")));
    assert_int_equal((int)number(rows[0], "weight_lb"), 56000);
    assert_int_equal((int)number(rows[1], "weight_lb"), 66139);
    assert_string_equal(word(rows[0], "verdict"), "within_limits");
    assert_string_equal(word(rows[2], "verdict"), "not_at_this_weight");
    json_t *plan = single(rows[0], "--weight '56000 lb'");
    assert_same_plan(rows[0], plan);
    json_decref(plan);
}

/* A library, one of its hills, a folder: the same rows but for the name of the file. */
static void libraries_and_folders_answer_alike(void **state)
{
    (void)state;
    char line[512], folder[64];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(line, sizeof line, "hills pack " HILLS " --out %s/all.hills", folder);
    struct tool_run pack = tool_run(line);
    assert_int_equal(pack.exit_code, 0);
    tool_run_free(&pack);
    static char texts[2][1 << 17];
    for (int i = 0; i < 2; i++) {
        (void)snprintf(line, sizeof line, "%s%s --rig '" RIGS "five-axle.yaml' --load half --json",
                       i == 0 ? HILLS : folder, i == 0 ? "" : "/all.hills");
        read_rows(line, 0);
        size_t used = 0;
        for (size_t k = 0; k < row_count; k++) {
            (void)json_object_del(rows[k], "hill_file");
            char *text = json_dumps(rows[k], JSON_SORT_KEYS);
            used += (size_t)snprintf(texts[i] + used, sizeof texts[i] - used, "%s\n", text);
            free(text);
        }
        assert_true(used < sizeof texts[i]);
    }
    assert_string_equal(texts[0], texts[1]);
    (void)snprintf(line, sizeof line, "%s/all.hills:vessarin-drop --rig '" RIGS
                   "five-axle.yaml' --load full --json", folder);
    read_rows(line, 0);
    assert_int_equal(row_count, 1);
    assert_string_equal(word(rows[0], "hill"), "vessarin-drop");
    json_t *plan = single(rows[0], "--load full");
    assert_same_plan(rows[0], plan);
    json_decref(plan);
}

static void columns_stay_in_a_hundred(const char *text)
{
    for (const char *line = text; *line != '\0'; line += strcspn(line, "\n") + 1)
        if (strcspn(line, "\n") > 100)
            fail_msg("%zu columns: %.120s", strcspn(line, "\n"), line);
}

/* All demo hills and rigs; in miles twice. */
static void text_fits_and_two_runs_are_the_same(void **state)
{
    (void)state;
    struct tool_run run = table(HILLS " --rig " RIGS, 1), again = table(HILLS " --rig " RIGS, 1);
    struct tool_run metric = table(HILLS " --rig " RIGS " --metric --load full", 1);
    assert_string_equal(run.out, again.out);
    assert_string_equal(run.err, "");
    columns_stay_in_a_hundred(run.out);
    columns_stay_in_a_hundred(metric.out);
    assert_non_null(strstr(metric.out, "36,242 kg"));
    assert_non_null(strstr(run.out, "Five-axle, no engine brake: heaviest within limits 59,7"));
    assert_non_null(strstr(run.out, "5 hills, 7 rigs, 130 plans: 2 not within limits, on 2 "));
    assert_non_null(strstr(run.out, "gentle, no plan is needed. Posted signs hold."));
    assert_non_null(strstr(run.out, "needs retarder"));
    tool_run_free(&run);
    tool_run_free(&again);
    tool_run_free(&metric);
}

/* Only what is refused: two rows, and their hills and rigs over them. */
static void only_what_is_refused(void **state)
{
    (void)state;
    struct tool_run run = table(HILLS " --rig " RIGS "five-axle-no-brake.yaml --refused", 1);
    assert_null(strstr(run.out, "within limits\n"));
    assert_null(strstr(run.out, "vessarin-drop"));
    assert_non_null(strstr(run.out, "ombral-pass"));
    tool_run_free(&run);
    run = table(HILLS " --rig " RIGS "five-axle-no-brake.yaml --refused --csv --load full", 1);
    size_t lines = 0;
    for (const char *c = run.out; *c != '\0'; c++)
        lines += *c == '\n';
    assert_int_equal(lines, 3);
    tool_run_free(&run);
    read_rows(HILLS " --rig " RIGS "five-axle.yaml --road ice --refused --load full --json", 1);
    assert_int_equal(row_count, 4); /* not the gentle one */
    assert_string_equal(word(rows[0], "verdict"), "not_on_ice");
}

static void one_bad_file_does_not_stop_the_rest(void **state)
{
    (void)state;
    char folder[64], line[512];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(line, sizeof line,
                   "cp " HILLS "/vessarin-drop.geojson " HILLS "/ombral-pass.geojson " RIGS
                   "box-truck.yaml %s && echo '{}' >%s/no.geojson && echo 'name: x' >%s/no.yaml",
                   folder, folder, folder);
    assert_int_equal(system(line), 0);
    (void)snprintf(line, sizeof line, "%s --rig %s --load full --json", folder, folder);
    read_rows(line, 2);
    assert_int_equal(row_count, 3);
    assert_string_equal(word(rows[0], "verdict"), "could_not_be_read");
    assert_non_null(strstr(word(rows[0], "hill_file"), "no.geojson"));
    assert_true(json_is_null(json_object_get(rows[0], "safe")));
    assert_string_equal(word(rows[1], "hill"), "ombral-pass");
    assert_string_equal(word(rows[2], "hill"), "vessarin-drop");
    (void)snprintf(line, sizeof line, "%s none.geojson --rig %s --refused", folder, folder);
    struct tool_run run = table(line, 2);
    assert_non_null(strstr(run.err, "no.geojson"));
    assert_non_null(strstr(run.err, "no.yaml"));
    assert_non_null(strstr(run.err, "none.geojson"));
    assert_non_null(strstr(run.out, "no.geojson: could not be read, so nothing is known: "));
    assert_non_null(strstr(run.out, "; 3 could not be read and are not counted"));
    tool_run_free(&run);
}

static void it_goes_into_a_file_whole_or_not_at_all(void **state)
{
    (void)state;
    char folder[64], line[512], path[96];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(path, sizeof path, "%s/table.csv", folder);
    (void)snprintf(line, sizeof line, HILLS " --rig " RIGS "box-truck.yaml --csv --out %s", path);
    struct tool_run run = table(line, 0);
    assert_string_equal(run.out, "");
    tool_run_free(&run);
    char *text = tool_file(path, NULL);
    assert_non_null(text);
    assert_int_equal(strncmp(text, "hill,hill_name,", 15), 0);
    run = table(line, 2); /* it is there already */
    assert_non_null(strstr(run.err, "is there already"));
    tool_run_free(&run);
    (void)snprintf(line, sizeof line,
                   HILLS " --rig " RIGS "box-truck.yaml --csv --out %s --force", path);
    run = table(line, 0);
    tool_run_free(&run);
    char *again = tool_file(path, NULL);
    assert_string_equal(text, again);
    free(text);
    free(again);
    (void)snprintf(line, sizeof line, "[ $(ls %s | wc -l) = 1 ]", folder);
    assert_int_equal(system(line), 0);
    run = table(HILLS " --rig " RIGS "box-truck.yaml --out /dev/full/no", 2);
    tool_run_free(&run);
}

static void what_makes_no_sense_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *says;
    } cases[] = {
        {"plan --table", "a table needs hills"},
        {"plan --table " HILLS, "--rig"},
        {"plan --table " HILLS " --rig none.yaml", "none.yaml: cannot find the rigs"},
        {"plan --table " HILLS " --rig " HILLS, "holds no rig; rigs end in .yaml"},
        {"plan --table " HILLS " --rig " RIGS " --load feathers", "no rig that could be read"},
        {"plan --table " HILLS " --rig " RIGS " --load full --weight '30 t'", "leave it out"},
        {"plan --table " HILLS " --rig " RIGS " --weight '30 t, '", "--weight"},
        {"plan --table " HILLS " --rig " RIGS " --weight '30 t, 40'", "\"40\" has no unit"},
        {"plan --table " HILLS " --rig " RIGS " --weight '30 t, 400 t'", "out of range"},
        {"plan --table " HILLS " --rig " RIGS " --road mud", "none of dry, wet, ice"},
        {"plan --table " HILLS " --rig " RIGS " --csv --json", "--csv or --json"},
        {"plan --table " HILLS " --rig " RIGS " --svg a.svg", "--svg"},
        {"plan --table " HILLS " --rig " RIGS " --force", "--out"},
        {"plan " HILLS "/ombral-pass.geojson --rig " RIGS "box-truck.yaml --csv", "--table"},
        {"plan " HILLS "/ombral-pass.geojson " HILLS "/lunnet-slope.geojson --rig " RIGS
         "box-truck.yaml", "--table takes several"},
        {"plan " HILLS "/ombral-pass.geojson --rig " RIGS "box-truck.yaml --load full "
         "--weight '9 t'", "leave it out"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct tool_run run = tool_run(cases[i].arguments);
        assert_int_equal(run.exit_code, 2);
        assert_string_equal(run.out, "");
        if (strstr(run.err, cases[i].says) == NULL)
            fail_msg("%s: %s", cases[i].arguments, run.err);
        tool_run_free(&run);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_are_those_of_single_plans),
        cmocka_unit_test(on_a_wet_road_with_hot_brakes_too),
        cmocka_unit_test(the_heaviest_is_the_heaviest),
        cmocka_unit_test(weights_are_given_as_a_list),
        cmocka_unit_test(libraries_and_folders_answer_alike),
        cmocka_unit_test(text_fits_and_two_runs_are_the_same),
        cmocka_unit_test(only_what_is_refused),
        cmocka_unit_test(one_bad_file_does_not_stop_the_rest),
        cmocka_unit_test(it_goes_into_a_file_whole_or_not_at_all),
        cmocka_unit_test(what_makes_no_sense_is_refused),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    forget_rows();
    return failed;
}
