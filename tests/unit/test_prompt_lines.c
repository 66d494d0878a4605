/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines of prompts: in the order of speech, each once, with the fate it came to. */
#include "tool/drive/prompt_lines.h"

#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "talkdown/units.h"

static struct td_prompt_lines lines;
static char *text;
static size_t text_size;

static void begin(bool json)
{
    lines = (struct td_prompt_lines){.json = json, .start_ns = 1000, .start_utc_ms = 0};
    lines.print = open_memstream(&text, &text_size);
    assert_non_null(lines.print);
}

static void finish(void)
{
    td_prompt_lines_end(&lines);
    assert_int_equal(fclose(lines.print), 0);
}

static void event(double t_s, uint32_t serial, enum td_event_kind kind)
{
    static const enum td_prompt_id ids[] = {TD_PROMPT_READY, TD_PROMPT_CEILING,
                                            TD_PROMPT_OVER_SPEED, TD_PROMPT_BOTTOM};
    struct td_estimate estimate = {.handle = serial == 1 ? 0U : 5U, .along_m = 100 * t_s,
                                   .speed_mps = td_mps_from_mph(20)};
    struct td_event what = {.kind = kind, .prompt = {.serial = serial, .id = ids[serial % 4]}};
    what.prompt.category = td_prompt_category(what.prompt.id);
    char words[16];
    (void)snprintf(words, sizeof words, "words %u", (unsigned)serial);
    td_prompt_lines_event(&lines, 1000 + (int64_t)(t_s * 1e9), &what, &estimate, words,
                          serial == 1 ? "" : "some-hill");
}

/* Serials in the order in which their words were printed. */
static void expect_order(const char *expected)
{
    char order[32] = "";
    size_t count = 0;
    for (const char *at = text; (at = strstr(at, "words ")) != NULL && count < 31; at++)
        order[count++] = at[6];
    order[count] = '\0';
    assert_string_equal(order, expected);
}

static void what_is_dropped_waits_for_what_is_being_said(void **state)
{
    (void)state;
    begin(false);
    event(1, 1, TD_EVENT_DECIDED);
    event(1, 1, TD_EVENT_ISSUED);
    event(1.1, 1, TD_EVENT_STARTED);
    event(2, 2, TD_EVENT_DECIDED);
    event(2, 3, TD_EVENT_DECIDED);
    event(2.5, 2, TD_EVENT_DROPPED);
    (void)fflush(lines.print);
    assert_int_equal(text_size, 0);
    event(3, 1, TD_EVENT_SPOKEN);
    event(3, 3, TD_EVENT_ISSUED);
    event(4, 3, TD_EVENT_CUT);
    finish();
    expect_order("123");
    assert_int_equal(lines.printed, 3);
    assert_int_equal(lines.by_category[TD_NOTICE] + lines.by_category[TD_ADVICE] +
                         lines.by_category[TD_WARNING], 2); /* one spoken, one cut */
    assert_non_null(strstr(text, "dropped"));
    free(text);
}

static void what_the_end_cuts_short_is_open(void **state)
{
    (void)state;
    begin(true);
    event(1, 1, TD_EVENT_ISSUED);
    event(2, 1, TD_EVENT_SPOKEN);
    event(3, 2, TD_EVENT_DECIDED); /* never issued: nothing fell */
    event(4, 3, TD_EVENT_ISSUED);
    finish();
    expect_order("13");
    assert_non_null(strstr(text, "\"hill\":null,\"along_m\":null"));
    assert_non_null(strstr(text, "\"hill\":\"some-hill\",\"along_m\":400.0,\"speed_mph\":20.0,"
                                 "\"fate\":\"open\""));
    assert_non_null(strstr(text, "\"t_s\":1.0,\"utc\":\"1970-01-01T00:00:01.000Z\""));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_dropped_waits_for_what_is_being_said),
        cmocka_unit_test(what_the_end_cuts_short_is_open),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
