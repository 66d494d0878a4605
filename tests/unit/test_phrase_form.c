/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Form of what is said: every prompt in every language, with each gearbox, each kind of engine
 * brake and every distance, is a sentence as one would write it. The rules are those of ordinary
 * spelling (common practice, no source). What it composed is printed, to be read by people. */
#include "support/cm.h"

#include <stdio.h>
#include <string.h>

#include "support/english.h"

/* Capitals inside a sentence: none of our languages has one there but in names. */
static bool is_capital(const char *at)
{
    unsigned char c = (unsigned char)at[0], next = (unsigned char)at[1];
    return (c >= 'A' && c <= 'Z') || (c == 0xC3 && next >= 0x80 && next <= 0x9E);
}

static bool is_mark(char c)
{
    return c == '.' || c == '?' || c == '!';
}

/* A question or a call in Spanish opens with a mark of its own. */
static const char *past_opening(const char *at)
{
    return (unsigned char)at[0] == 0xC2 ? at + 2 : at;
}

static const char *fault_of(const char *words)
{
    size_t length = strlen(words);
    const char *first = past_opening(words);
    if (length < 2 || !(is_capital(first) || (*first >= '0' && *first <= '9')))
        return "does not begin with a capital";
    if (!is_mark(words[length - 1]) || is_mark(words[length - 2]))
        return "does not end with one mark";
    if (strstr(words, "  ") || words[0] == ' ' || strstr(words, " ,") || strstr(words, " ."))
        return "has a space too many";
    if (strstr(words, ",,") || strstr(words, ",.") || strstr(words, "..") || strpbrk(words, "{}[]"))
        return "has a mark too many";
    bool begins = false;
    for (const char *c = first + 1; *c != '\0'; c++) {
        if (is_mark(*c) && c[1] != '\0' && c[1] != ' ')
            return "has a mark without a space after it";
        if (begins && *c != ' ' && *c >= 'a' && *c <= 'z')
            return "has a sentence that begins with a small letter";
        if (!begins && is_capital(c))
            return "has a capital inside";
        begins = is_mark(*c) || (begins && *c == ' ');
    }
    return NULL;
}

static void check(const struct td_phrase_file *file, const struct td_prompt *prompt)
{
    static char last[TD_WORDS_MAX];
    char words[TD_WORDS_MAX];
    english_say(file, prompt, words);
    if (words[0] == '\0')
        fail_msg("%s has no words", td_prompt_key(prompt->id));
    if (strcmp(words, last) != 0)
        printf("%-20s %s\n", td_prompt_key(prompt->id), words);
    memcpy(last, words, sizeof last);
    const char *fault = fault_of(words);
    if (fault != NULL)
        fail_msg("%s: %s", fault, words);
}

/* Each distance in the place of the one it has; speeds in kilometres too. */
static void check_with_units(const struct td_phrase_file *file, struct td_prompt prompt)
{
    static const struct td_arg distances[] = {
        {TD_UNIT_NONE, 0},         {TD_UNIT_FOOT, 500},         {TD_UNIT_QUARTER_MILE, 1},
        {TD_UNIT_QUARTER_MILE, 2}, {TD_UNIT_QUARTER_MILE, 3},   {TD_UNIT_MILE, 1},
        {TD_UNIT_MILE, 2},         {TD_UNIT_METRE, 400},        {TD_UNIT_KM, 1},
        {TD_UNIT_KM, 3}};
    check(file, &prompt);
    for (unsigned i = 0; i < prompt.arg_count; i++) {
        struct td_arg as_is = prompt.args[i];
        if (as_is.unit == TD_UNIT_MPH) {
            prompt.args[i] = (struct td_arg){TD_UNIT_KMH, 50};
            check(file, &prompt);
        }
        bool far = as_is.unit == TD_UNIT_QUARTER_MILE || as_is.unit == TD_UNIT_METRE;
        for (size_t d = 0; far && d < sizeof distances / sizeof distances[0]; d++) {
            prompt.args[i] = distances[d];
            check(file, &prompt);
        }
        prompt.args[i] = as_is;
    }
}

static void every_prompt_is_a_sentence(void **state)
{
    (void)state;
    for (unsigned i = 0; english_language(i) != NULL; i++) {
        struct td_phrase_file *file = english_open_language(english_language(i));
        struct td_prompt prompt;
        printf("%s\n", english_language(i));
        for (unsigned n = 0; english_every(n, &prompt); n++)
            check_with_units(file, prompt);
        for (int kind = 0; kind < TD_PHRASE_HOLDERS; kind++) {
            english_variant((enum td_gearbox)(kind % TD_PHRASE_GEARBOXES), (enum td_holder)kind);
            for (unsigned n = 0; english_every(n, &prompt); n++)
                if (td_phrase_rig_slot(prompt.id) != TD_SLOT_NONE)
                    check(file, &prompt);
        }
        english_variant(TD_GEARBOX_MANUAL, TD_HOLDER_ENGINE_BRAKE);
        td_phrase_file_free(&file);
    }
}

/* The judge itself. */
static void faults_are_seen(void **state)
{
    (void)state;
    static const char *const wrong[] = {
        "take the lane.",  "\u00bfcarga media?",     "\u00e9teignez les feux.",
        "Take Ramp.",      "Take  ramp.",            "Take ramp",
        "Take ramp..",     "Grade ends. stop sign.", "Take ramp,, right.",
        "Take ramp .",     "Stop.Now.",              "Pente \u00c9troite."};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_non_null(fault_of(wrong[i]));
    static const char *const right[] = {"Take ramp, right.", "\u00bfCarga media?",
                                        "\u00c9teignez les feux.", "50 o menos."};
    for (size_t i = 0; i < sizeof right / sizeof right[0]; i++)
        assert_null(fault_of(right[i]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(faults_are_seen),
        cmocka_unit_test(every_prompt_is_a_sentence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
