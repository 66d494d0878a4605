/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text in a drawing: escaped, measured, cut and broken; labels that leave each other room. */
#include "tool/card/svg.h"

#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/seed.h"
#include "tool/card/card_parts.h"

static void assert_escaped(const char *text, const char *expected)
{
    struct td_svg svg = {NULL, 0, 0, false};
    td_svg_escaped(&svg, text);
    assert_string_equal(svg.bytes, expected);
    free(svg.bytes);
}

static void text_is_escaped(void **state)
{
    (void)state;
    assert_escaped("<a href=\"x\">&'", "&lt;a href=&quot;x&quot;&gt;&amp;'");
    assert_escaped("\xc3\xa9\xe5\xb1\xb1\xf0\x9f\x9a\x9b", "\xc3\xa9\xe5\xb1\xb1\xf0\x9f\x9a\x9b");
    assert_escaped("a\x01z\x7f", "a?z?");
    /* a bad byte, an overlong blank, a surrogate, a character cut short */
    assert_escaped("\xff\xc0\x80\xed\xa0\x80\xe5\xb1", "??????");
    assert_escaped("\xef\xbf\xbf", "?");
}

static void numbers_know_no_locale_and_no_nan(void **state)
{
    (void)state;
    struct td_svg svg = {NULL, 0, 0, false};
    const double values[] = {1.25, -0.04, (double)NAN, (double)INFINITY, -1e9};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        td_svg_number(&svg, values[i]);
        td_svg_raw(&svg, " ");
    }
    assert_string_equal(svg.bytes, "1.3 0.0 0.0 0.0 -99999.0 ");
    free(svg.bytes);
}

/* Advances of Helvetica from memory: a digit 0.556 em, "i" 0.222, "W" 0.944, bold digit 0.556. Ours
 * must not be narrower. */
static void widths_are_no_less_than_common_fonts(void **state)
{
    (void)state;
    assert_true(td_svg_width("0123456789", 10, false) >= 55.6);
    assert_true(td_svg_width("iiiii", 10, false) >= 11.1);
    assert_true(td_svg_width("WWWWW", 10, true) >= 47.2);
    assert_near(td_svg_width("", 10, true), 0, 0);
    assert_near(td_svg_width("ab", 20, true), 2 * td_svg_width("ab", 10, true), 1e-9);
}

static void lines_break_at_blanks(void **state)
{
    (void)state;
    const char *text = "the quick truck";
    double width = td_svg_width("the quick", 14, false) + 1;
    assert_int_equal(td_svg_break(text, width, 14, false), strlen("the quick"));
    assert_int_equal(td_svg_break(text, 1000, 14, false), strlen(text));
    width = td_svg_width("takes about 15 m", 14, false);
    assert_int_equal(td_svg_break("takes about 15 mph", width, 14, false), strlen("takes about "));
    assert_true(td_svg_break("unbrokenword", 30, 14, false) < 12);
    assert_true(td_svg_break("W", 1, 14, false) == 1); /* always moves on */
    assert_int_equal(td_svg_break("", 10, 14, false), 0);
}

static void what_is_cut_says_so(void **state)
{
    (void)state;
    char line[16];
    td_svg_cut("short", 1000, 14, false, line, sizeof line);
    assert_string_equal(line, "short");
    td_svg_cut("much longer than that", 80, 14, false, line, sizeof line);
    assert_string_equal(line + strlen(line) - 3, "...");
    assert_true(td_svg_width(line, 14, false) <= 80);
    td_svg_cut("much longer than sixteen bytes", 1000, 14, false, line, sizeof line);
    assert_string_equal(line + strlen(line) - 3, "...");
}

static double low(const struct td_card_label *label)
{
    double text = label->text_width > 0 && label->is_left
                      ? CARD_LABEL_TEXT + label->text_width : CARD_LABEL_REACH;
    return label->x - text;
}

static double high(const struct td_card_label *label)
{
    double text = label->text_width > 0 && !label->is_left
                      ? CARD_LABEL_TEXT + label->text_width : CARD_LABEL_REACH;
    return label->x + text;
}

/* No two labels touch, none lies over a leader that goes deeper, order is kept. */
static void assert_apart(const struct td_card_label *labels, size_t count)
{
    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j < count; j++) {
            const struct td_card_label *a = &labels[i], *b = &labels[j];
            if (i == j || a->tier < 0 || b->tier < 0)
                continue;
            if (i < j)
                assert_true(b->x - a->x >= CARD_LABEL_APART - 1e-6);
            bool meet = low(a) < high(b) && low(b) < high(a);
            assert_false(meet && a->tier == b->tier);
            assert_false(b->x > low(a) && b->x < high(a) && b->tier >= a->tier);
        }
}

static void labels_leave_room(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "labels", 7);
    for (int round = 0; round < 500; round++) {
        struct td_card_label labels[100];
        size_t count = td_rng_below(&rng, round % 10 == 0 ? 100 : 14), dropped = 0, kept = 0;
        int tiers = 1 + (int)td_rng_below(&rng, 6);
        double at = 20;
        for (size_t i = 0; i < count; i++) {
            at = fmin(580, at + td_rng_between(&rng, 0, 60));
            labels[i] = (struct td_card_label){
                .at_x = at, .text_width = td_rng_below(&rng, 3) * td_rng_between(&rng, 10, 120),
                .rank = (int)td_rng_below(&rng, 5)};
        }
        int used = td_card_lay_labels(labels, count, 20, 580, tiers, &dropped);
        assert_true(used <= tiers);
        for (size_t i = 0; i < count; i++) {
            kept += labels[i].tier >= 0 ? 1 : 0;
            assert_true(labels[i].tier < used);
        }
        assert_int_equal(kept + dropped, count);
        assert_true(count == 0 || kept > 0);
        assert_apart(labels, count);
    }
}

/* What matters most goes last. */
static void the_least_important_goes_first(void **state)
{
    (void)state;
    struct td_card_label labels[40];
    size_t dropped = 0;
    for (size_t i = 0; i < 40; i++)
        labels[i] =
            (struct td_card_label){.at_x = 20 + 14.0 * (double)i, .rank = i % 4 == 0 ? 0 : 5};
    (void)td_card_lay_labels(labels, 40, 20, 580, 1, &dropped);
    assert_true(dropped > 0 && dropped <= 30);
    for (size_t i = 0; i < 40; i += 4)
        assert_true(labels[i].tier == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_is_escaped),
        cmocka_unit_test(numbers_know_no_locale_and_no_nan),
        cmocka_unit_test(widths_are_no_less_than_common_fonts),
        cmocka_unit_test(lines_break_at_blanks),
        cmocka_unit_test(what_is_cut_says_so),
        cmocka_unit_test(labels_leave_room),
        cmocka_unit_test(the_least_important_goes_first),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
