/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of the trainer's page that need no browser: escaping, base64 after RFC 4648, marks that
 * must not touch, and the words of figures and of what happened next. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "review/page_parts.h"
#include "support/cm.h"
#include "talkdown/rng.h"
#include "talkdown/units.h"

static struct td_setup setup;
static struct td_hill hill = {.id = "h", .name = "H", .crest_m = 1000.0, .foot_m = 5000.0,
                              .length_m = 6000.0};
static struct td_review_drive drive = {.setup = &setup};
static struct td_review_descent descent;
static struct shown shown = {.drive = &drive, .descent = &descent, .hill = &hill};

static int fresh(void **state)
{
    (void)state;
    memset(&setup, 0, sizeof setup);
    setup.rig_is_set = true;
    descent = (struct td_review_descent){.went_down = true, .limit_c = 260.0,
                                         .answer_median_s = (double)NAN,
                                         .answer_longest_s = (double)NAN};
    return 0;
}

static void text_is_escaped(void **state)
{
    (void)state;
    struct td_html html = {.bytes = NULL};
    td_html_text(&html, "<b a=\"1\" c='2'>&amp; \xC3\xA9 \xE2\x82\xAC \xF0\x9F\x9A\x9B");
    assert_string_equal(html.bytes, "&lt;b a=&quot;1&quot; c=&#39;2&#39;&gt;&amp;amp; \xC3\xA9 "
                                    "\xE2\x82\xAC \xF0\x9F\x9A\x9B");
    html.length = 0;
    /* Overlong, cut short, half of a surrogate pair, above U+10FFFF, a control character. */
    td_html_text(&html, "a\xC0\x80" "b\xE2\x82" "c\xED\xA0\x80" "d\xF4\x90\x80\x80" "e\x01" "f");
    assert_string_equal(html.bytes, "a??b??c???d????e?f");
    free(html.bytes);
}

static void base64_is_that_of_the_rfc(void **state)
{
    (void)state;
    /* RFC 4648, section 10. */
    static const char *const pairs[][2] = {{"", ""},         {"f", "Zg=="},     {"fo", "Zm8="},
                                           {"foo", "Zm9v"},  {"foob", "Zm9vYg=="},
                                           {"fooba", "Zm9vYmE="}, {"foobar", "Zm9vYmFy"}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        struct td_html html = {.bytes = NULL};
        td_html_raw(&html, ".");
        td_html_base64(&html, (const uint8_t *)pairs[i][0], strlen(pairs[i][0]));
        assert_string_equal(html.bytes + 1, pairs[i][1]);
        free(html.bytes);
    }
}

static void assert_apart(const struct page_mark *marks, size_t count, double width, bool narrow)
{
    for (size_t i = 0; i < count; i++)
        for (size_t k = i + 1; k < count; k++) {
            int a = narrow ? marks[i].narrow : marks[i].wide;
            int b = narrow ? marks[k].narrow : marks[k].wide;
            if (a == b && fabs(marks[i].x - marks[k].x) < width - 1e-9)
                fail_msg("%.3f and %.3f touch in tier %d", marks[i].x, marks[k].x, a);
        }
}

static void marks_do_not_touch(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 7, 1);
    for (int run = 0; run < 200; run++) {
        struct page_mark marks[120];
        size_t count = 1 + (size_t)run % 120;
        int narrow, wide;
        for (size_t i = 0; i < count; i++)
            marks[i] = (struct page_mark){.x = run % 5 == 0 ? 50.0 : 100.0 * td_rng_unit(&rng),
                                          .index = i};
        page_lay_marks(marks, count, 20.0, &narrow, &wide);
        assert_apart(marks, count, 100.0 * 20.0 / PAGE_NARROW_PX, true);
        assert_apart(marks, count, 100.0 * 20.0 / PAGE_WIDE_PX, false);
        assert_true(wide <= narrow && narrow <= (int)count);
        if (run % 5 == 0)
            assert_int_equal(narrow, (int)count);
    }
}

static void figures_are_worded(void **state)
{
    (void)state;
    struct figure f[PAGE_FIGURES];
    descent.check = TD_CHECK_MADE;
    descent.check_stood_s = 95.0;
    descent.judged = true;
    descent.over_most_mps = td_mps_from_mph(6.2);
    descent.over_most_at_m = 1000.0 + TD_M_PER_MI * 1.5;
    descent.over_longest_s = 12.0;
    descent.over_s = 75.0;
    descent.heat_known = true;
    descent.least_c = td_c_from_f(150.0);
    descent.likely_c = td_c_from_f(250.0);
    descent.most_c = td_c_from_f(620.0);
    descent.snub_count = 3;
    descent.snub_drop_mps = td_mps_from_mph(5.0);
    descent.snub_seconds = 4.0;
    descent.warnings = 4;
    descent.warnings_slowed = 2;
    descent.warnings_unknown = 1;
    descent.answer_median_s = 1.5;
    descent.answer_longest_s = 2.0;
    page_figures(&shown, f);
    assert_string_equal(f[0].large, "1 min 35 s");
    assert_false(f[0].remark);
    assert_string_equal(f[1].large, "6 mph");
    assert_string_equal(f[1].small_print,
                        "at 1.5 mi; over for 12 s in one piece, 1 min 15 s in all");
    assert_true(f[1].remark);
    assert_string_equal(f[2].large, "150\xE2\x80\x93" "620\xC2\xA0\xC2\xB0" "F");
    assert_string_equal(f[2].small_print,
                        "likely 250 \xC2\xB0" "F; limit 500 \xC2\xB0" "F, past it only by the "
                        "highest figure");
    assert_false(f[2].remark); /* not by the likely figure */
    assert_string_equal(f[3].large, "3");
    assert_string_equal(f[4].large, "2 s");
    assert_string_equal(f[4].small_print,
                        "2 of 4 warnings answered by slowing, the middle one after this; longest "
                        "2 s; no slowing: 1; not seen: 1");
    assert_true(f[4].remark);
}

static void one_figure_of_heat_is_an_upper_bound(void **state)
{
    (void)state;
    struct figure f[PAGE_FIGURES];
    descent.heat_known = true;
    descent.first_c = 65.0;
    descent.least_c = descent.likely_c = descent.most_c = td_c_from_f(877.0);
    page_figures(&shown, f);
    assert_string_equal(f[2].large, "up to 877\xC2\xA0\xC2\xB0" "F");
    assert_non_null(strstr(f[2].small_print, "no band"));
    assert_true(f[2].remark);
    /* Brakes that are as cool as they were need no such words. */
    descent.least_c = descent.likely_c = descent.most_c = 66.0;
    page_figures(&shown, f);
    assert_null(strstr(f[2].large, "up to"));
    assert_false(f[2].remark);
}

static void what_is_not_known_is_not_said(void **state)
{
    (void)state;
    struct figure f[PAGE_FIGURES];
    descent.check = TD_CHECK_UNKNOWN;
    setup.rig_is_set = false;
    page_figures(&shown, f);
    assert_string_equal(f[0].large, "Not seen");
    assert_string_equal(f[1].large, "No target");
    assert_string_equal(f[2].large, "-");
    assert_string_equal(f[3].large, "0");
    assert_string_equal(f[4].large, "No warnings");
    for (int i = 0; i < PAGE_FIGURES; i++)
        assert_false(f[i].remark);
    descent.warnings = descent.warnings_unknown = 2;
    page_figures(&shown, f);
    assert_string_equal(f[4].large, "Not seen");
    assert_false(f[4].remark);
    setup.metric = true;
    descent.judged = true;
    descent.over_most_mps = td_mps_from_kmh(-4.0);
    descent.over_most_at_m = 500.0;
    page_figures(&shown, f);
    assert_string_equal(f[1].large, "Never over");
    assert_string_equal(f[1].small_print, "nearest: 4 km/h under, at -0.5 km");
}

static void next_is_worded(void **state)
{
    (void)state;
    char line[PAGE_LINE_MAX];
    struct td_review_prompt p = {.said = true, .followed = true,
                                 .then_mps = td_mps_from_mph(40.0),
                                 .after_mps = td_mps_from_mph(40.5),
                                 .lowest_mps = td_mps_from_mph(40.0),
                                 .slowing_s = (double)NAN, .stood_s = (double)NAN};
    page_next(&shown, &p, line);
    assert_string_equal(line, "Held 40 mph");
    p.after_mps = td_mps_from_mph(46.0);
    page_next(&shown, &p, line);
    assert_string_equal(line, "Gained: 40 \xE2\x86\x92 46");
    p.slowing_s = 3.0;
    p.lowest_mps = td_mps_from_mph(31.0);
    p.after_mps = td_mps_from_mph(33.0);
    page_next(&shown, &p, line);
    assert_string_equal(line, "Slowed after 3 s: 40 \xE2\x86\x92 31 \xE2\x86\x92 33");
    p.stood_s = 12.0;
    page_next(&shown, &p, line);
    assert_string_equal(line, "Stood after 12 s, from 40 mph.");
    p.followed = false;
    page_next(&shown, &p, line);
    assert_string_equal(line, "Slowed after 3 s; then a gap.");
    p.slowing_s = (double)NAN;
    page_next(&shown, &p, line);
    assert_string_equal(line, "Not seen.");
    p.said = false;
    p.spoken.fate = TD_EVENT_EXPIRED;
    page_next(&shown, &p, line);
    assert_string_equal(line, "Not said: its time was over before the voice was free.");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_is_escaped),
        cmocka_unit_test(base64_is_that_of_the_rfc),
        cmocka_unit_test(marks_do_not_touch),
        cmocka_unit_test_setup(figures_are_worded, fresh),
        cmocka_unit_test_setup(one_figure_of_heat_is_an_upper_bound, fresh),
        cmocka_unit_test_setup(what_is_not_known_is_not_said, fresh),
        cmocka_unit_test_setup(next_is_worded, fresh),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
