/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include "io/utc.h"

/* 1234567890 and 951827696 s: worked examples of POSIX time; RFC 3339 section 5.8 for the forms
 * (1985-04-12T23:20:50.52Z, 1996-12-19T16:39:57-08:00, 1990-12-31T23:59:60Z). */
static void reads_published_examples(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        int64_t utc_ms;
    } rows[] = {
        {"1970-01-01T00:00:00Z", 0},
        {"2009-02-13T23:31:30Z", 1234567890000},
        {"1985-04-12T23:20:50.52Z", 482196050520},
        {"1996-12-19T16:39:57-08:00", 851042397000},
        {"1990-12-31T23:59:60Z", 662688000000},
        {"2000-02-29T12:34:56.789999Z", 951827696789},
        {"1969-12-31T23:59:59Z", -1000},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        int64_t utc_ms = 1;
        if (!td_utc_parse(rows[i].text, &utc_ms))
            fail_msg("%s was refused", rows[i].text);
        assert_true(utc_ms == rows[i].utc_ms);
    }
}

static void refuses_what_is_no_time(void **state)
{
    (void)state;
    static const char *const rows[] = {
        "", "2001-02-29T00:00:00Z", "1900-02-29T00:00:00Z", "2001-13-01T00:00:00Z",
        "2001-00-01T00:00:00Z", "2001-01-32T00:00:00Z", "2001-01-01T24:00:00Z",
        "2001-01-01T00:60:00Z", "2001-01-01T00:00:61Z", "2001-01-01T00:00:00",
        "2001-01-01T00:00:00.Z", "2001-01-01T00:00:00Z ", "2001-1-1T00:00:00Z", "nan",
        "2001-01-01T00:00:00+0100", "2001-01-01T00:00:00+25:00", "0000-01-01T00:00:00Z"};
    int64_t utc_ms = 42;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (td_utc_parse(rows[i], &utc_ms))
            fail_msg("%s was accepted", rows[i]);
    assert_true(utc_ms == 42);
    assert_true(td_utc_is_date("2024-02-29"));
    assert_false(td_utc_is_date("2023-02-29"));
    assert_false(td_utc_is_date("2024-02-29T"));
}

/* Every day of 400 years, forth and back: one whole cycle of the calendar. */
static void formats_what_it_reads(void **state)
{
    (void)state;
    char text[TD_UTC_TEXT];
    for (int64_t day = 0; day < 146097; day++) {
        int64_t utc_ms = day * 86400000 + 3723004, back = 0;
        assert_true(td_utc_parse(td_utc_format(utc_ms, text), &back));
        assert_true(back == utc_ms);
    }
    assert_string_equal(td_utc_format(951827696789, text), "2000-02-29T12:34:56.789Z");
    assert_string_equal(td_utc_format(-1, text), "?");
    assert_string_equal(td_utc_format(INT64_MAX, text), "?");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_published_examples),
        cmocka_unit_test(refuses_what_is_no_time),
        cmocka_unit_test(formats_what_it_reads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
