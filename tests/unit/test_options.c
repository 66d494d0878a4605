/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command line: what is taken, what is refused and with which words. */
#include <stdbool.h>
#include <string.h>

#include "support/cm.h"
#include "tool/tool.h"

struct taken {
    const char *rig;
    bool json;
    const char *words[2];
    struct td_tool_line line;
    struct td_problem problem;
};

static enum td_result take(struct taken *taken, int argc, char **argv)
{
    *taken = (struct taken){0};
    const struct td_tool_option options[] = {
        {"rig", &taken->rig, NULL},
        {"json", NULL, &taken->json},
    };
    taken->line = (struct td_tool_line){.usage = "go HILL --rig RIG", .options = options,
                                        .option_count = 2, .words = taken->words, .word_most = 2};
    enum td_result result = td_tool_options(argc, argv, &taken->line, &taken->problem);
    taken->line.options = NULL;
    return result;
}

#define TAKE(taken, ...)                                                                           \
    take((taken), (int)(sizeof((char *[]){__VA_ARGS__}) / sizeof(char *)), (char *[]){__VA_ARGS__})

static void options_stand_anywhere(void **state)
{
    (void)state;
    struct taken taken;
    assert_int_equal(TAKE(&taken, "go", "a.geojson", "--rig", "r.yaml", "--json", "-5"), TD_OK);
    assert_string_equal(taken.rig, "r.yaml");
    assert_true(taken.json);
    assert_int_equal(taken.line.word_count, 2);
    assert_string_equal(taken.words[1], "-5");
    assert_int_equal(TAKE(&taken, "go", "--rig=x=y", "--", "--json"), TD_OK);
    assert_string_equal(taken.rig, "x=y");
    assert_false(taken.json);
    assert_string_equal(taken.words[0], "--json");
}

static void errors_say_which(void **state)
{
    (void)state;
    struct taken taken;
    assert_int_equal(TAKE(&taken, "go", "--rigg", "x"), TD_INVALID);
    assert_non_null(strstr(taken.problem.text, "\"--rigg\""));
    assert_int_equal(TAKE(&taken, "go", "--rig"), TD_INVALID);
    assert_non_null(strstr(taken.problem.text, "lacks its value"));
    assert_int_equal(TAKE(&taken, "go", "--rig", "a", "--rig", "b"), TD_INVALID);
    assert_non_null(strstr(taken.problem.text, "twice"));
    assert_int_equal(TAKE(&taken, "go", "--json=yes"), TD_INVALID);
    assert_int_equal(TAKE(&taken, "go", "a", "b", "c"), TD_INVALID);
    assert_non_null(strstr(taken.problem.text, "\"c\""));
}

static void whole_numbers_are_strict(void **state)
{
    (void)state;
    long long value = -1;
    struct td_problem problem;
    assert_int_equal(td_tool_whole("--seed", "42", 0, 99, &value, &problem), TD_OK);
    assert_int_equal(value, 42);
    const char *wrong[] = {"", "4x", "100", "-1", "99999999999999999999", "nan"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(td_tool_whole("--seed", wrong[i], 0, 99, &value, &problem), TD_INVALID);
    assert_int_equal(value, 42);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(options_stand_anywhere),
        cmocka_unit_test(errors_say_which),
        cmocka_unit_test(whole_numbers_are_strict),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
