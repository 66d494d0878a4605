/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "support/english.h"

static char *english_text;

static int read_english(void **state)
{
    (void)state;
    size_t length = 0;
    return td_file_read(TD_SOURCE_DIR "/sounds/phrases/en-us.yaml", 1 << 20, &english_text,
                        &length, NULL) == TD_OK
               ? 0
               : -1;
}

static int free_english(void **state)
{
    (void)state;
    free(english_text);
    return 0;
}

/* Every language file in the folder has every key and no other: the reader itself insists. */
static void every_language_file_is_whole(void **state)
{
    (void)state;
    DIR *folder = opendir(TD_SOURCE_DIR "/sounds/phrases");
    assert_non_null(folder);
    int files = 0;
    for (struct dirent *entry; (entry = readdir(folder)) != NULL;) {
        size_t length = strlen(entry->d_name);
        if (length < 6 || strcmp(entry->d_name + length - 5, ".yaml") != 0)
            continue;
        char path[1024];
        (void)snprintf(path, sizeof path, "%s/sounds/phrases/%s", TD_SOURCE_DIR, entry->d_name);
        struct td_phrase_file *file = NULL;
        struct td_problem problem = {.text = ""};
        if (td_phrase_file_read(path, &file, &problem) != TD_OK)
            fail_msg("%s: %s", path, problem.text);
        /* its name is its language */
        assert_int_equal(strncmp(entry->d_name, td_phrase_file_book(file)->language, length - 5),
                         0);
        td_phrase_file_free(&file);
        files++;
    }
    closedir(folder);
    assert_true(files >= 1);
}

static void carries_voice_rate_and_lengths(void **state)
{
    (void)state;
    struct td_phrase_file *file = english_open();
    assert_string_equal(td_phrase_file_voice(file), "en-us");
    assert_int_equal(td_phrase_file_rate_wpm(file), 160);
    for (int id = 0; id < TD_PROMPT_IDS; id++)
        assert_in_range(td_phrase_file_speech_ms(file)[id], 300, 6000);
    td_phrase_file_free(&file);
    assert_null(file);
    td_phrase_file_free(&file);
    td_phrase_file_free(NULL);
}

/* English with the first `from` replaced by `to`; the problem's text when it is refused. */
static enum td_result with(const char *from, const char *to, struct td_problem *problem)
{
    const char *at = strstr(english_text, from);
    if (at == NULL)
        fail_msg("no \"%s\" in the English file", from);
    size_t size = strlen(english_text) + strlen(to) + 1;
    char *text = calloc(1, size);
    assert_non_null(text);
    (void)snprintf(text, size, "%.*s%s%s", (int)(at - english_text), english_text, to,
                   at + strlen(from));
    struct td_phrase_file *file = NULL;
    *problem = (struct td_problem){.text = ""};
    enum td_result result = td_phrase_file_parse("xx.yaml", text, strlen(text), &file, problem);
    assert_true((result == TD_OK) == (file != NULL));
    td_phrase_file_free(&file);
    free(text);
    return result;
}

static void refuses_what_a_translator_may_get_wrong(void **state)
{
    (void)state;
    static const struct {
        const char *from, *to, *named; /* what the problem must name, and the line of `from` */
    } rows[] = {
        {"  no_go: \"Too heavy for this grade.\"\n", "", "no_go"},
        {"  no_go:", "  no_goo:", "no_goo"},
        {"{about_weight}", "{wait}", "about_weight"},
        {"{grade} percent grade", "percent grade", "lacks {grade}"},
        {"[, {side}]", "[, {side}", "closed"},
        {"[, {side}]", ", {side}]", "closed"},
        {"{gear}. {speed} or slower.\"", "{gear}. {speed or slower.\"", "briefing"},
        {"\"Voice back.\"", "\"\"", "sound_back"},
        {"left: \"left\"", "left: \"\"", "sides"},
        {"many: \"{n} miles\"", "many: \"miles\"", "units.mile"},
        {"rate_wpm: 160", "rate_wpm: 900", "rate_wpm"},
        {"rate_wpm: 160", "rate_wpm: fast", "rate_wpm"},
        {"  ready: ", "  ready:\n    - ", "ready"},
        {"{n} thousand", "thousand", "thousands"},
        {"voice: en-us", "voice: \"\"", "voice"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_problem problem;
        enum td_result result = with(rows[i].from, rows[i].to, &problem);
        if (result != TD_INVALID)
            fail_msg("row %zu (%s) gave %d", i, rows[i].to, (int)result);
        if (strstr(problem.text, rows[i].named) == NULL)
            fail_msg("row %zu does not name %s: %s", i, rows[i].named, problem.text);
        assert_string_equal(problem.file, "xx.yaml");
        int line = 1;
        for (const char *c = english_text; c < strstr(english_text, rows[i].from); c++)
            line += *c == '\n' ? 1 : 0;
        if (rows[i].to[0] != '\0' && problem.line != line)
            fail_msg("row %zu names line %d, not %d: %s", i, problem.line, line, problem.text);
    }
}

static void numbers_and_speeds_may_be_left_out(void **state)
{
    (void)state;
    const char *numbers = strstr(english_text, "numbers:\n");
    const char *speech = strstr(english_text, "speech_ms:\n");
    assert_true(numbers != NULL && speech != NULL && speech > numbers);
    char *text = calloc(1, strlen(english_text) + 1);
    assert_non_null(text);
    (void)snprintf(text, strlen(english_text) + 1, "%.*s%s", (int)(numbers - english_text),
                   english_text, speech);
    struct td_phrase_file *file = NULL;
    assert_int_equal(td_phrase_file_parse("xx.yaml", text, strlen(text), &file, NULL), TD_OK);
    struct td_prompt prompt =
        english_prompt(TD_PROMPT_SET_FOR, 1, (const struct td_arg[]){{TD_UNIT_LB, 79900}});
    char words[TD_WORDS_MAX];
    english_say(file, &prompt, words);
    assert_string_equal(words, "Set for 79900 pounds.");
    td_phrase_file_free(&file);
    free(text);
}

static void refuses_what_is_no_phrase_file(void **state)
{
    (void)state;
    static const char *const texts[] = {"", "---", "[1, 2]", "language: x", "a: [", "\t", "\xff"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct td_phrase_file *file = NULL;
        struct td_problem problem = {.text = ""};
        assert_int_equal(
            td_phrase_file_parse("xx.yaml", texts[i], strlen(texts[i]), &file, &problem),
            TD_INVALID);
        assert_null(file);
        assert_string_not_equal(problem.text, "");
    }
    struct td_phrase_file *file = NULL;
    assert_int_equal(td_phrase_file_read("no-such-file.yaml", &file, NULL), TD_NOT_FOUND);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_language_file_is_whole),
        cmocka_unit_test(carries_voice_rate_and_lengths),
        cmocka_unit_test(refuses_what_a_translator_may_get_wrong),
        cmocka_unit_test(numbers_and_speeds_may_be_left_out),
        cmocka_unit_test(refuses_what_is_no_phrase_file),
    };
    return cmocka_run_group_tests(tests, read_english, free_english);
}
