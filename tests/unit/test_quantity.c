/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <locale.h>
#include <string.h>

#include "talkdown/quantity.h"

/* Expected SI values: NIST SP 811 (2008), Appendix B.8, factors as printed there. */
static void reads_what_people_write(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum td_dimension dimension;
        double value, tolerance;
    } rows[] = {
        {"20 mph", TD_DIM_SPEED, 8.9408, 1e-12},
        {" 20MPH ", TD_DIM_SPEED, 8.9408, 1e-12},
        {"30 km/h", TD_DIM_SPEED, 8.333333333333334, 1e-12},
        {"78000 lb", TD_DIM_MASS, 35380.20486, 1e-8},
        {"78,000 lb", TD_DIM_MASS, 35380.20486, 1e-8},
        {"1,234,567 kg", TD_DIM_MASS, 1234567, 0},
        {"36.3 t", TD_DIM_MASS, 36300, 1e-9},
        {"7%", TD_DIM_RATIO, 0.07, 1e-15},
        {"-7.5 %", TD_DIM_RATIO, -0.075, 1e-15},
        {"4 mi", TD_DIM_LENGTH, 6437.376, 1e-9},
        {"6 ft", TD_DIM_LENGTH, 1.8288, 1e-12},
        {"500 m", TD_DIM_LENGTH, 500, 0},
        {"11.2 m2", TD_DIM_AREA, 11.2, 0},
        {"11.2 m\xc2\xb2", TD_DIM_AREA, 11.2, 0},
        {"2100 rpm", TD_DIM_TURNS, 2100, 0},
        {"1700 N m", TD_DIM_TORQUE, 1700, 0},
        {"1700 Nm", TD_DIM_TORQUE, 1700, 0},
        {"1000 lb  ft", TD_DIM_TORQUE, 1355.818, 1e-3},
        {"500 F", TD_DIM_TEMPERATURE, 260, 1e-12},
        {"-40 \xc2\xb0" "F", TD_DIM_TEMPERATURE, -40, 1e-12},
        {"260 C", TD_DIM_TEMPERATURE, 260, 0},
        {"0.5 g", TD_DIM_ACCELERATION, 4.903325, 1e-12},
        {"1 Btu/F", TD_DIM_HEAT_CAPACITY, 1899.101, 1e-3},
        {"2 min", TD_DIM_TIME, 120, 0},
        {"300 kW", TD_DIM_POWER, 300e3, 0},
        {"400 hp", TD_DIM_POWER, 298279.9, 0.1}, /* NIST SP 811: 745.6999 W */
        {"3.42", TD_DIM_NUMBER, 3.42, 0},
        {"0.1", TD_DIM_NUMBER, 0.1, 0},
        {"999999999999", TD_DIM_NUMBER, 999999999999.0, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_problem problem = {0};
        double value = -1e9;
        if (td_quantity_parse(rows[i].text, rows[i].dimension, &value, &problem) != TD_OK)
            fail_msg("%s", problem.text);
        assert_near(value, rows[i].value, rows[i].tolerance);
    }
}

static void refuses_and_says_what_would_be_right(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        enum td_dimension dimension;
        const char *says;
    } rows[] = {
        {"20", TD_DIM_SPEED, "\"20\" has no unit; write a speed in mph, km/h or m/s"},
        {"20 lb", TD_DIM_SPEED, "does not end in a unit that fits here"},
        {"20 mph now", TD_DIM_SPEED, "unit that fits"},
        {"nan mph", TD_DIM_SPEED, "does not begin with a number"},
        {"inf lb", TD_DIM_MASS, "does not begin with a number"},
        {"0x14 mph", TD_DIM_SPEED, "is hexadecimal"},
        {"2e1 mph", TD_DIM_SPEED, "unit that fits"},
        {"", TD_DIM_SPEED, "does not begin"},
        {"mph", TD_DIM_SPEED, "does not begin"},
        {"-20 mph", TD_DIM_SPEED, "is below zero"},
        {"- 20 C", TD_DIM_TEMPERATURE, "does not begin"},
        {"--20 C", TD_DIM_TEMPERATURE, "does not begin"},
        {"7,5 %", TD_DIM_RATIO, "a decimal mark is a point"},
        {"7,5000 lb", TD_DIM_MASS, "comma"},
        {"1234,567 lb", TD_DIM_MASS, "comma"},
        {"78,000,0 lb", TD_DIM_MASS, "comma"},
        {",500 lb", TD_DIM_MASS, "does not begin"},
        {"78, lb", TD_DIM_MASS, "comma"},
        {"7. %", TD_DIM_RATIO, "no digit after its point"},
        {".5 %", TD_DIM_RATIO, "does not begin"},
        {"1.2.3 %", TD_DIM_RATIO, "unit that fits"},
        {"40 tons", TD_DIM_MASS, "lb, kg or t (1000 kg)"},
        {"1234567890123456 lb", TD_DIM_MASS, "more than 15 digits"},
        {"0.0000000000000001 lb", TD_DIM_MASS, "more than 15 digits"},
        {"9999999999999 m", TD_DIM_LENGTH, "beyond all sense"},
        {"3.42 x", TD_DIM_NUMBER, "bare number"},
        {"20 mph\n", TD_DIM_SPEED, "\"20 mph?\""},
        {"20 mphmphmphmphmphmphmphmphmphmphmph", TD_DIM_SPEED, "unit that fits"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_problem problem = {0};
        double value = 42;
        if (td_quantity_parse(rows[i].text, rows[i].dimension, &value, &problem) != TD_INVALID)
            fail_msg("\"%s\" was accepted as %g", rows[i].text, value);
        assert_true(value == 42);
        if (strstr(problem.text, rows[i].says) == NULL)
            fail_msg("\"%s\": %s", rows[i].text, problem.text);
        assert_int_equal(td_quantity_parse(rows[i].text, rows[i].dimension, &value, NULL),
                         TD_INVALID);
    }
}

static void reads_whole_numbers(void **state)
{
    (void)state;
    struct td_problem problem;
    int value = 7;
    assert_int_equal(td_whole_parse("5", 2, 9, &value, &problem), TD_OK);
    assert_int_equal(value, 5);
    static const char *const wrong[] = {"1", "10", "5.5", "5 m", "five", "", "-5", "99999999999"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        assert_int_equal(td_whole_parse(wrong[i], 2, 9, &value, &problem), TD_INVALID);
        assert_non_null(strstr(problem.text, "a whole number from 2 to 9"));
        assert_int_equal(value, 5);
    }
}

static void reads_what_machines_write(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double value;
    } rows[] = {
        {"39.8488470", 39.848847}, {"-0.5", -0.5},  {"+7", 7},       {"1e3", 1000},
        {"2.5E-2", 0.025},         {".5", 0.5},     {"5.", 5},       {"0", 0},
        {"1e-400", 0},             {"0.1", 0.1},    {"-.25e+1", -2.5},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double value = -1e9;
        assert_true(td_decimal_parse(rows[i].text, &value));
        assert_true(value == rows[i].value);
    }
    double value = 42;
    assert_true(td_decimal_parse("39.848847000000001234567890", &value));
    assert_near(value, 39.848847, 1e-13);
    assert_true(td_decimal_parse("12345678901234567890123", &value));
    assert_near(value, 1.2345678901234568e22, 1e7);
    static const char *const wrong[] = {"",    "-",   ".",      "nan", "inf", "1e",   "1e+",
                                        "0x1", "1 ",  "1.2.3",  "1,5", " 1",  "1e999", "--1"};
    value = 42;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        if (td_decimal_parse(wrong[i], &value))
            fail_msg("\"%s\" was accepted as %g", wrong[i], value);
    assert_true(value == 42);
}

/* A locale with a decimal comma once made "3.42" read as 3 elsewhere; it must not matter here. */
static void a_locale_changes_nothing(void **state)
{
    (void)state;
    if (setlocale(LC_ALL, "de_DE.UTF-8") == NULL && setlocale(LC_ALL, "fr_FR.UTF-8") == NULL) {
        print_message("SKIPPED: no locale with a decimal comma is there\n");
        skip();
    }
    double value = 0;
    assert_int_equal(td_quantity_parse("3.42", TD_DIM_NUMBER, &value, NULL), TD_OK);
    assert_true(value == 3.42);
    (void)setlocale(LC_ALL, "C");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_what_people_write),
        cmocka_unit_test(refuses_and_says_what_would_be_right),
        cmocka_unit_test(reads_whole_numbers),
        cmocka_unit_test(reads_what_machines_write),
        cmocka_unit_test(a_locale_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
