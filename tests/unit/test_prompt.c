/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <string.h>

#include "talkdown/prompt.h"
#include "talkdown/units.h"

static void every_prompt_has_its_own_key(void **state)
{
    (void)state;
    for (int id = 0; id < TD_PROMPT_IDS; id++) {
        const char *key = td_prompt_key((enum td_prompt_id)id);
        assert_non_null(key);
        assert_string_not_equal(key, "unknown");
        assert_int_equal(td_prompt_from_key(key), id);
    }
    assert_string_equal(td_prompt_key((enum td_prompt_id)TD_PROMPT_IDS), "unknown");
    assert_string_equal(td_prompt_key((enum td_prompt_id)-1), "unknown");
    assert_int_equal(td_prompt_from_key("hill"), -1);
    assert_int_equal(td_prompt_from_key(""), -1);
}

/* What must be acted on now is a warning, and so on. */
static void categories_follow_urgency(void **state)
{
    (void)state;
    assert_int_equal(td_prompt_category(TD_PROMPT_OVER_SPEED), TD_WARNING);
    assert_int_equal(td_prompt_category(TD_PROMPT_NO_GO), TD_WARNING);
    assert_int_equal(td_prompt_category(TD_PROMPT_NO_GO_ICE), TD_WARNING);
    assert_int_equal(td_prompt_category(TD_PROMPT_GEAR), TD_CAUTION);
    assert_int_equal(td_prompt_category(TD_PROMPT_POSITION_LOST), TD_CAUTION);
    assert_int_equal(td_prompt_category(TD_PROMPT_ESCAPE_LANE), TD_ADVICE);
    assert_int_equal(td_prompt_category(TD_PROMPT_READY), TD_NOTICE);
    assert_int_equal(td_prompt_category((enum td_prompt_id)99), TD_NOTICE);
    assert_string_equal(td_category_name(TD_DANGER), "danger");
    assert_string_equal(td_category_name((enum td_category)77), "unknown");
}

static void assert_arg(struct td_arg arg, enum td_unit unit, int32_t value)
{
    assert_int_equal(arg.unit, unit);
    assert_int_equal(arg.value, value);
}

/* MUTCD 2C.61: quarters below one mile, whole miles above. */
static void distances_are_given_as_signs_give_them(void **state)
{
    (void)state;
    static const struct {
        double miles;
        enum td_unit unit;
        int32_t value;
    } rows[] = {
        {0.250001, TD_UNIT_QUARTER_MILE, 1}, {0.49, TD_UNIT_QUARTER_MILE, 1},
        {0.5, TD_UNIT_QUARTER_MILE, 2},      {0.76, TD_UNIT_QUARTER_MILE, 3},
        {0.999, TD_UNIT_QUARTER_MILE, 3},    {1.0, TD_UNIT_MILE, 1},
        {1.99, TD_UNIT_MILE, 1},             {7.3, TD_UNIT_MILE, 7},
        {0.2499, TD_UNIT_FOOT, 1000},        {0.15, TD_UNIT_FOOT, 500},
        {0.09, TD_UNIT_NONE, 0},             {0, TD_UNIT_NONE, 0},
        {1e7, TD_UNIT_MILE, 999},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_arg(td_distance_arg(td_m_from_mi(rows[i].miles), false), rows[i].unit,
                   rows[i].value);
    assert_arg(td_distance_arg(1000, true), TD_UNIT_KM, 1);
    assert_arg(td_distance_arg(999, true), TD_UNIT_METRE, 900);
    assert_arg(td_distance_arg(99, true), TD_UNIT_NONE, 0);
}

static void what_is_no_distance_is_not_said(void **state)
{
    (void)state;
    for (int metric = 0; metric < 2; metric++) {
        assert_arg(td_distance_arg((double)NAN, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_distance_arg((double)INFINITY, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_distance_arg(-1, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_countdown_arg((double)NAN, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_countdown_arg((double)INFINITY, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_countdown_arg(-1, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_length_arg((double)NAN, metric != 0), TD_UNIT_NONE, 0);
        assert_arg(td_length_arg(0, metric != 0), TD_UNIT_NONE, 0);
    }
}

/* Finer than a sign's, since it is said anywhere and not where a sign stands. */
static void a_countdown_is_finer_than_signs(void **state)
{
    (void)state;
    static const struct {
        double miles;
        enum td_unit unit;
        int32_t value;
        double next_miles;
    } rows[] = {
        {1.93, TD_UNIT_QUARTER_MILE, 7, 1.5}, {1.5, TD_UNIT_QUARTER_MILE, 6, 1.25},
        {1.1, TD_UNIT_MILE, 1, 0.75},         {0.8, TD_UNIT_QUARTER_MILE, 3, 0.5},
        {2.1, TD_UNIT_MILE, 2, 1.75},         {2.9, TD_UNIT_QUARTER_MILE, 11, 2.5},
        {4.99, TD_UNIT_QUARTER_MILE, 19, 4.5}, {5.2, TD_UNIT_MILE, 5, 4.75},
        {7.9, TD_UNIT_MILE, 7, 6.0},          {0.3, TD_UNIT_QUARTER_MILE, 1, 0},
        {0.2, TD_UNIT_FOOT, 1000, 0},         {0.01, TD_UNIT_NONE, 0, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_arg said = td_countdown_arg(td_m_from_mi(rows[i].miles), false);
        assert_arg(said, rows[i].unit, rows[i].value);
        assert_near(td_countdown_mark_m(said), td_m_from_mi(rows[i].next_miles), 1e-6);
    }
    assert_arg(td_countdown_arg(1930, true), TD_UNIT_METRE, 1500);
    assert_arg(td_countdown_arg(2100, true), TD_UNIT_KM, 2);
    assert_arg(td_countdown_arg(4999, true), TD_UNIT_METRE, 4500);
    assert_arg(td_countdown_arg(5600, true), TD_UNIT_KM, 5);
    assert_arg(td_countdown_arg(950, true), TD_UNIT_METRE, 900);
    static const double metric_m[] = {6000, 5000, 4500, 4000, 3500, 3000, 2500,
                                      2000, 1500, 1000, 700,  500,  300,  0};
    for (size_t i = 0; i + 1 < sizeof metric_m / sizeof metric_m[0]; i++)
        assert_near(td_countdown_mark_m(td_countdown_arg(metric_m[i] + 1, true)),
                    metric_m[i + 1], 1e-6);
}

static double metres(struct td_arg arg)
{
    switch (arg.unit) {
    case TD_UNIT_QUARTER_MILE:
        return arg.value * TD_M_PER_MI / 4;
    case TD_UNIT_MILE:
        return arg.value * TD_M_PER_MI;
    case TD_UNIT_FOOT:
        return arg.value * TD_M_PER_FT;
    case TD_UNIT_METRE:
        return arg.value;
    case TD_UNIT_KM:
        return arg.value * 1000.0;
    default:
        return 0;
    }
}

/* A distance never says more than there is; a length never much less. */
static void rounding_errs_to_the_safe_side(void **state)
{
    (void)state;
    for (double m = 0.5; m < 40000; m += 7.3) {
        for (int metric = 0; metric < 2; metric++) {
            double said = metres(td_distance_arg(m, metric != 0));
            assert_true(said <= m);
            double counted = metres(td_countdown_arg(m, metric != 0));
            assert_true(counted <= m && counted >= said);
            double length = metres(td_length_arg(m, metric != 0));
            double mile = metric != 0 ? 1000.0 : TD_M_PER_MI;
            double step = m >= mile ? mile : metric != 0 ? 100.0 : mile / 4;
            assert_true(length >= 0.9 * m - 1e-9);
            assert_true(length <= m + step);
        }
    }
}

static void lengths_are_as_on_signs_but_not_short(void **state)
{
    (void)state;
    assert_arg(td_length_arg(td_m_from_mi(3.0), false), TD_UNIT_MILE, 3);
    assert_arg(td_length_arg(td_m_from_mi(4.32), false), TD_UNIT_MILE, 4);
    assert_arg(td_length_arg(td_m_from_mi(2.7), false), TD_UNIT_MILE, 3);
    assert_arg(td_length_arg(td_m_from_mi(2.4), false), TD_UNIT_MILE, 3);
    assert_arg(td_length_arg(td_m_from_mi(1.2), false), TD_UNIT_MILE, 2);
    assert_arg(td_length_arg(td_m_from_mi(0.6), false), TD_UNIT_QUARTER_MILE, 3);
    assert_arg(td_length_arg(td_m_from_mi(0.95), false), TD_UNIT_MILE, 1);
    assert_arg(td_length_arg(30, false), TD_UNIT_QUARTER_MILE, 1);
    assert_arg(td_length_arg(5200, true), TD_UNIT_KM, 5);
    assert_arg(td_length_arg(960, true), TD_UNIT_KM, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_prompt_has_its_own_key),
        cmocka_unit_test(categories_follow_urgency),
        cmocka_unit_test(distances_are_given_as_signs_give_them),
        cmocka_unit_test(a_countdown_is_finer_than_signs),
        cmocka_unit_test(what_is_no_distance_is_not_said),
        cmocka_unit_test(rounding_errs_to_the_safe_side),
        cmocka_unit_test(lengths_are_as_on_signs_but_not_short),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
