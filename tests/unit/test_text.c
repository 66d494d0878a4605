/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include "talkdown/text.h"

static void cuts_at_the_end_of_its_buffer(void **state)
{
    (void)state;
    char data[6];
    struct td_text text;
    td_text_init(&text, data, sizeof data);
    td_text_add(&text, "abc");
    assert_false(text.cut);
    td_text_add(&text, "defg");
    assert_true(text.cut);
    assert_string_equal(data, "abcde");
}

static void writes_whole_numbers(void **state)
{
    (void)state;
    char data[64];
    struct td_text text;
    td_text_init(&text, data, sizeof data);
    td_text_add_int(&text, 0);
    td_text_add_char(&text, ' ');
    td_text_add_int(&text, -79900);
    td_text_add_char(&text, ' ');
    td_text_add_int(&text, INT64_MIN);
    assert_string_equal(data, "0 -79900 -9223372036854775808");
}

static void writes_fixed_point(void **state)
{
    (void)state;
    static const struct {
        double value;
        int decimals;
        const char *words;
    } rows[] = {
        {0.05, 1, "0.1"},   {-0.04, 1, "0.0"}, {7.25, 2, "7.25"}, {-3.5, 0, "-4"},
        {1e13, 0, "?"},     {(double)NAN, 2, "?"},     {12.0, 3, "12.000"}, {0.999, 2, "1.00"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char data[40];
        struct td_text text;
        td_text_init(&text, data, sizeof data);
        td_text_add_fixed(&text, rows[i].value, rows[i].decimals);
        assert_string_equal(data, rows[i].words);
    }
}

static void copy_tells_when_it_cut(void **state)
{
    (void)state;
    char to[4];
    assert_true(td_text_copy(to, sizeof to, "abc"));
    assert_false(td_text_copy(to, sizeof to, "abcd"));
    assert_string_equal(to, "abc");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cuts_at_the_end_of_its_buffer),
        cmocka_unit_test(writes_whole_numbers),
        cmocka_unit_test(writes_fixed_point),
        cmocka_unit_test(copy_tells_when_it_cut),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
