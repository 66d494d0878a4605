/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a drive log holds comes back bit for bit: inputs, prompts and setups of any numbers at all
 * through JSON and back; and JSON of any other kind is refused with words. */
#include "io/input_json.h"

#include <stdlib.h>
#include <string.h>

#include "io/setup_json.h"
#include "support/cm.h"
#include "support/random_input.h"

enum { ROUNDS = 3000 };

static uint64_t seed(void)
{
    const char *text = getenv("TD_SEED");
    uint64_t value = text != NULL ? strtoull(text, NULL, 10) : 20260;
    print_message("TD_SEED=%llu\n", (unsigned long long)value);
    return value;
}

static void test_input_round_trip(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, seed(), 1);
    for (int round = 0; round < ROUNDS; round++) {
        static struct td_hill hill;
        for (size_t i = 0; i < TD_HASH_BYTES; i++)
            hill.hash[i] = (uint8_t)td_rng_u32(&rng);
        static struct td_plan plan;
        struct td_input input;
        random_input(&rng, &hill, &plan, &input);
        char *text = td_input_to_json(&input);
        assert_non_null(text);
        assert_null(strchr(text, '\n'));
        static struct td_input_read back;
        struct td_problem problem = {0};
        if (td_input_from_json(text, strlen(text), &back, &problem) != TD_OK)
            fail_msg("round %d: %s: %s", round, problem.text, text);
        bool offered = input.offer.kind == TD_OFFER_HILL;
        assert_int_equal(back.has_hill, offered);
        if (offered)
            assert_memory_equal(back.hash, hill.hash, TD_HASH_BYTES);
        if (input.plan != NULL)
            assert_memory_equal(back.input.plan, input.plan, sizeof plan);
        else
            assert_null(back.input.plan);
        back.input.plan = input.plan;
        back.input.offer.hill = input.offer.hill;
        assert_memory_equal(&back.input, &input, sizeof input);
        free(text);
    }
}

static void test_prompt_round_trip(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, seed(), 2);
    for (int round = 0; round < ROUNDS; round++) {
        struct td_prompt prompt, back;
        memset(&back, 0, sizeof back);
        random_prompt(&rng, &prompt);
        char *text = td_prompt_to_json(&prompt);
        assert_non_null(text);
        assert_int_equal(td_prompt_from_json(text, strlen(text), &back, NULL), TD_OK);
        assert_memory_equal(&back, &prompt, sizeof prompt);
        free(text);
    }
}

static void test_setup_round_trip(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, seed(), 3);
    for (int round = 0; round < ROUNDS / 10; round++) {
        static struct td_setup setup, back;
        random_setup(&rng, &setup);
        char *text = td_setup_to_json(&setup);
        assert_non_null(text);
        struct td_problem problem = {0};
        if (td_setup_from_json(text, strlen(text), &back, &problem) != TD_OK)
            fail_msg("round %d: %s", round, problem.text);
        assert_memory_equal(&back, &setup, sizeof setup);
        free(text);
    }
}

/* A text cut or with one byte changed is refused or read as some input, never a crash; a cut one is
 * always refused. */
static void test_spoilt_text(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, seed(), 4);
    static struct td_hill hill;
    static struct td_plan plan;
    struct td_input input;
    static struct td_input_read back;
    for (int round = 0; round < ROUNDS / 10; round++) {
        random_input(&rng, &hill, &plan, &input);
        char *text = td_input_to_json(&input);
        assert_non_null(text);
        size_t length = strlen(text);
        struct td_problem problem = {0};
        assert_int_equal(td_input_from_json(text, td_rng_below(&rng, (uint32_t)length), &back,
                                            &problem),
                         TD_INVALID);
        assert_string_not_equal(problem.text, "");
        text[td_rng_below(&rng, (uint32_t)length)] = (char)td_rng_u32(&rng);
        enum td_result result = td_input_from_json(text, length, &back, &problem);
        assert_true(result == TD_OK || result == TD_INVALID);
        if (result == TD_OK)
            assert_true(back.input.report_count <= TD_REPORTS_MAX &&
                        back.input.command.kind < TD_COMMAND_KINDS);
        free(text);
    }
}

static void refuse(const char *text, const char *names)
{
    static struct td_input_read back;
    struct td_problem problem = {0};
    assert_int_equal(td_input_from_json(text, strlen(text), &back, &problem), TD_INVALID);
    if (strstr(problem.text, names) == NULL)
        fail_msg("%s: the problem is \"%s\", which does not name %s", text, problem.text, names);
}

static void test_refused(void **state)
{
    (void)state;
    refuse("", "JSON");
    refuse("[]", "now_ns");
    refuse("{}", "now_ns");
    refuse("{\"now_ns\":1,\"now_ns\":2}", "JSON");
    refuse("{\"now_ns\":1.5}", "now_ns");
    refuse("{\"now_ns\":1,\"colour\":2}", "colour");
    refuse("{\"now_ns\":1,\"sound\":7}", "sound");
    refuse("{\"now_ns\":1,\"fix\":{\"lat_deg\":1}}", "received_ns");
    refuse("{\"now_ns\":1,\"command\":{\"kind\":99,\"value\":0}}", "kind");
    refuse("{\"now_ns\":1,\"command\":{\"kind\":1,\"value\":3000000000}}", "value");
    refuse("{\"now_ns\":1,\"offer\":{\"kind\":1,\"want_serial\":1,\"handle\":1}}", "hash");
    refuse("{\"now_ns\":1,\"offer\":{\"kind\":2,\"want_serial\":1,\"handle\":0,\"hash\":\"ab\"}}",
           "hash");
    refuse("{\"now_ns\":1,\"reports\":{\"reports\":[0,0,0,0,0,0,0,0,0]}}", "reports");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_input_round_trip), cmocka_unit_test(test_prompt_round_trip),
        cmocka_unit_test(test_setup_round_trip), cmocka_unit_test(test_spoilt_text),
        cmocka_unit_test(test_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
