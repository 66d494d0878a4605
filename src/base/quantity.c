/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers with units, read strictly and without a locale.
 *
 * At most 15 digits and a power of ten up to 10^22 are both exact in a double, so one
 * multiplication or division rounds once: the result is the nearest double (W. D. Clinger, How to
 * read floating point numbers accurately, PLDI 1990, the fast path). */
#include "talkdown/quantity.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include "talkdown/text.h"
#include "talkdown/units.h"

enum { DIGITS_MOST = 15, UNIT_MOST = 24, QUOTED_MOST = 60 };

static const double value_most = 1e12;

struct unit {
    const char *name; /* lower case, single blanks */
    double scale;     /* value = (written + offset) * scale */
    double offset;
};

static const struct unit number_units[] = {{"", 1, 0}, {NULL, 0, 0}};
static const struct unit speed_units[] = {
    {"mph", TD_MPS_PER_MPH, 0}, {"km/h", TD_MPS_PER_KMH, 0}, {"kmh", TD_MPS_PER_KMH, 0},
    {"kph", TD_MPS_PER_KMH, 0}, {"m/s", 1, 0},               {NULL, 0, 0}};
static const struct unit length_units[] = {
    {"mi", TD_M_PER_MI, 0},   {"mile", TD_M_PER_MI, 0}, {"miles", TD_M_PER_MI, 0},
    {"ft", TD_M_PER_FT, 0},   {"feet", TD_M_PER_FT, 0}, {"yd", 0.9144, 0},
    {"in", 0.0254, 0},        {"km", 1000, 0},          {"m", 1, 0},
    {"cm", 0.01, 0},          {"mm", 0.001, 0},         {NULL, 0, 0}};
static const struct unit mass_units[] = {{"lb", TD_KG_PER_LB, 0},
                                         {"lbs", TD_KG_PER_LB, 0},
                                         {"pounds", TD_KG_PER_LB, 0},
                                         {"kg", 1, 0},
                                         {"t", 1000, 0},
                                         {NULL, 0, 0}};
static const struct unit ratio_units[] = {
    {"%", 0.01, 0}, {"percent", 0.01, 0}, {NULL, 0, 0}};
static const struct unit area_units[] = {{"m2", 1, 0},
                                         {"m\xc2\xb2", 1, 0},
                                         {"ft2", TD_M_PER_FT * TD_M_PER_FT, 0},
                                         {"sq ft", TD_M_PER_FT * TD_M_PER_FT, 0},
                                         {NULL, 0, 0}};
static const struct unit temperature_units[] = {
    {"f", 1.0 / 1.8, -32},         {"\xc2\xb0" "f", 1.0 / 1.8, -32}, {"degf", 1.0 / 1.8, -32},
    {"c", 1, 0},                   {"\xc2\xb0" "c", 1, 0},           {"degc", 1, 0},
    {NULL, 0, 0}};
static const struct unit turns_units[] = {{"rpm", 1, 0}, {NULL, 0, 0}};
static const struct unit torque_units[] = {{"n m", 1, 0},
                                           {"nm", 1, 0},
                                           {"lb ft", TD_N_PER_LBF * TD_M_PER_FT, 0},
                                           {"ft lb", TD_N_PER_LBF * TD_M_PER_FT, 0},
                                           {"lb-ft", TD_N_PER_LBF * TD_M_PER_FT, 0},
                                           {NULL, 0, 0}};
static const struct unit acceleration_units[] = {{"m/s2", 1, 0},
                                                 {"ft/s2", TD_M_PER_FT, 0},
                                                 {"mph/s", TD_MPS_PER_MPH, 0},
                                                 {"g", TD_GRAVITY_MPS2, 0},
                                                 {NULL, 0, 0}};
static const struct unit inertia_units[] = {
    {"kg m2", 1, 0},
    {"lb ft2", TD_KG_PER_LB * TD_M_PER_FT * TD_M_PER_FT, 0},
    {NULL, 0, 0}};
static const struct unit heat_capacity_units[] = {
    {"j/k", 1, 0}, {"kj/k", 1000, 0}, {"btu/f", TD_J_PER_BTU * 1.8, 0}, {NULL, 0, 0}};
static const struct unit cooling_units[] = {{"w/k", 1, 0}, {"kw/k", 1000, 0}, {NULL, 0, 0}};
static const struct unit cooling_speed_units[] = {{"w/k per m/s", 1, 0},
                                                  {"w/k per mph", 1 / TD_MPS_PER_MPH, 0},
                                                  {"w/k per km/h", 1 / TD_MPS_PER_KMH, 0},
                                                  {NULL, 0, 0}};
static const struct unit time_units[] = {
    {"s", 1, 0}, {"ms", 0.001, 0}, {"min", 60, 0}, {"h", TD_S_PER_HOUR, 0}, {NULL, 0, 0}};

static const struct unit power_units[] = {
    {"kw", 1000, 0}, {"w", 1, 0}, {"hp", TD_W_PER_HP, 0}, {NULL, 0, 0}};

static const struct dimension {
    const struct unit *units;
    const char *wanted;
    bool may_be_negative;
} dimensions[TD_DIMENSIONS] = {
    [TD_DIM_NUMBER] = {number_units, "a bare number, for example 3.42", false},
    [TD_DIM_SPEED] = {speed_units, "a speed in mph, km/h or m/s, for example 20 mph", false},
    [TD_DIM_LENGTH] = {length_units,
                       "a length in mi, ft, yd, in, km, m, cm or mm, for example 4 mi", false},
    [TD_DIM_MASS] = {mass_units, "a weight in lb, kg or t (1000 kg), for example 78000 lb", false},
    [TD_DIM_RATIO] = {ratio_units, "a share in %, for example 7%", true},
    [TD_DIM_AREA] = {area_units, "an area in m2 or ft2, for example 6.2 m2", false},
    [TD_DIM_TEMPERATURE] = {temperature_units, "a temperature in F or C, for example 90 F", true},
    [TD_DIM_TURNS] = {turns_units, "an engine speed in rpm, for example 2100 rpm", false},
    [TD_DIM_TORQUE] = {torque_units, "a torque in N m or lb ft, for example 900 N m", false},
    [TD_DIM_ACCELERATION] = {acceleration_units,
                             "a rate in m/s2, ft/s2, mph/s or g, for example 0.5 m/s2", false},
    [TD_DIM_INERTIA] = {inertia_units, "an inertia in kg m2 or lb ft2, for example 3 kg m2", false},
    [TD_DIM_HEAT_CAPACITY] = {heat_capacity_units,
                              "a heat capacity in J/K, kJ/K or Btu/F, for example 570 kJ/K", false},
    [TD_DIM_COOLING] = {cooling_units, "a cooling in W/K or kW/K, for example 120 W/K", false},
    [TD_DIM_COOLING_SPEED] = {cooling_speed_units,
                              "a cooling in W/K per m/s, W/K per mph or W/K per km/h, for example "
                              "20 W/K per m/s",
                              false},
    [TD_DIM_TIME] = {time_units, "a time in s, ms, min or h, for example 14.5 s", false},
    [TD_DIM_POWER] = {power_units, "a power in kW, W or hp, for example 300 kW", false},
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static enum td_result refuse(struct td_problem *problem, const char *text, const char *wrong,
                             const char *wanted)
{
    if (problem == NULL)
        return TD_INVALID;
    memset(problem, 0, sizeof *problem);
    struct td_text words;
    td_text_init(&words, problem->text, sizeof problem->text);
    td_text_add_char(&words, '"');
    for (size_t i = 0; text[i] != '\0' && i < QUOTED_MOST; i++) {
        bool control = (unsigned char)text[i] < 0x20 || text[i] == 0x7f;
        td_text_add_char(&words, control ? '?' : text[i]);
    }
    td_text_add(&words, strlen(text) > QUOTED_MOST ? "...\" " : "\" ");
    td_text_add(&words, wrong);
    if (wanted != NULL) {
        td_text_add(&words, "; write ");
        td_text_add(&words, wanted);
    }
    return TD_INVALID;
}

/* Digits with commas between thousands; moves *at past them. NULL, or what is wrong. */
static const char *read_whole_part(const char **at, uint64_t *digits, int *count)
{
    const char *c = *at;
    int in_group = 0;
    bool grouped = false;
    for (;; c++) {
        if (is_digit(*c)) {
            if (++*count > DIGITS_MOST)
                return "has more than 15 digits";
            *digits = *digits * 10 + (uint64_t)(*c - '0');
            if (++in_group > 3 && grouped)
                return "has a comma that does not part thousands";
        } else if (*c == ',') {
            if (in_group == 0 || in_group > 3 || (grouped && in_group != 3) || !is_digit(c[1]))
                return "has a comma that does not part thousands (a decimal mark is a point)";
            grouped = true;
            in_group = 0;
        } else {
            break;
        }
    }
    if (grouped && in_group != 3)
        return "has a comma that does not part thousands (a decimal mark is a point)";
    *at = c;
    return NULL;
}

static const char *read_number(const char **at, double *value)
{
    static const double tens[] = {1,   1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                  1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    const char *c = *at;
    bool negative = *c == '-';
    if (negative)
        c++;
    if (!is_digit(*c))
        return "does not begin with a number";
    if (c[0] == '0' && (c[1] == 'x' || c[1] == 'X'))
        return "is hexadecimal";
    uint64_t digits = 0;
    int count = 0;
    const char *wrong = read_whole_part(&c, &digits, &count);
    if (wrong != NULL)
        return wrong;
    int decimals = 0;
    if (*c == '.') {
        for (c++; is_digit(*c); c++, decimals++) {
            if (++count > DIGITS_MOST)
                return "has more than 15 digits";
            digits = digits * 10 + (uint64_t)(*c - '0');
        }
        if (decimals == 0)
            return "has no digit after its point";
    }
    *value = (double)digits / tens[decimals];
    if (negative)
        *value = -*value;
    *at = c;
    return NULL;
}

/* The rest of the text in lower case, blanks single and trimmed. False when it is too long. */
static bool read_unit(const char *at, char unit[UNIT_MOST])
{
    struct td_text text;
    td_text_init(&text, unit, UNIT_MOST);
    bool blank_due = false;
    for (; *at != '\0'; at++) {
        if (is_blank(*at)) {
            blank_due = text.length > 0;
            continue;
        }
        if (blank_due)
            td_text_add_char(&text, ' ');
        blank_due = false;
        td_text_add_char(&text, *at >= 'A' && *at <= 'Z' ? (char)(*at - 'A' + 'a') : *at);
    }
    return !text.cut;
}

enum td_result td_quantity_parse(const char *text, enum td_dimension dimension, double *value,
                                 struct td_problem *problem)
{
    const struct dimension *wanted = &dimensions[dimension];
    const char *at = text;
    while (is_blank(*at))
        at++;
    double written = 0;
    const char *wrong = read_number(&at, &written);
    if (wrong != NULL)
        return refuse(problem, text, wrong, wanted->wanted);
    char name[UNIT_MOST];
    bool fits = read_unit(at, name);
    if (fits && name[0] == '\0' && dimension != TD_DIM_NUMBER)
        return refuse(problem, text, "has no unit", wanted->wanted);
    const struct unit *unit = wanted->units;
    while (unit->name != NULL && !(fits && td_text_equal(unit->name, name)))
        unit++;
    if (unit->name == NULL)
        return refuse(problem, text, "does not end in a unit that fits here", wanted->wanted);
    if (written < 0 && !wanted->may_be_negative)
        return refuse(problem, text, "is below zero", wanted->wanted);
    double made = (written + unit->offset) * unit->scale;
    if (fabs(made) > value_most)
        return refuse(problem, text, "is beyond all sense", wanted->wanted);
    *value = made;
    return TD_OK;
}

enum td_result td_whole_parse(const char *text, int least, int most, int *value,
                              struct td_problem *problem)
{
    char range[64];
    struct td_text words;
    td_text_init(&words, range, sizeof range);
    td_text_add(&words, "a whole number from ");
    td_text_add_int(&words, least);
    td_text_add(&words, " to ");
    td_text_add_int(&words, most);
    double number = 0;
    const char *at = text;
    while (is_blank(*at))
        at++;
    const char *wrong = read_number(&at, &number);
    char rest[UNIT_MOST];
    if (wrong != NULL)
        return refuse(problem, text, wrong, range);
    if (!read_unit(at, rest) || rest[0] != '\0')
        return refuse(problem, text, "has something after the number", range);
    if (number != floor(number))
        return refuse(problem, text, "is not whole", range);
    if (number < least || number > most)
        return refuse(problem, text, "is out of range", range);
    *value = (int)number;
    return TD_OK;
}

/* Sign and digits of an exponent after "e"; false when there are none or they are absurd. */
static bool read_exponent(const char **at, int *exponent)
{
    const char *c = *at;
    bool negative = *c == '-';
    if (*c == '-' || *c == '+')
        c++;
    if (!is_digit(*c))
        return false;
    int value = 0;
    for (; is_digit(*c); c++)
        if (value < 1000)
            value = value * 10 + (*c - '0');
    *exponent += negative ? -value : value;
    *at = c;
    return true;
}

bool td_decimal_parse(const char *text, double *value)
{
    const char *c = text;
    bool negative = *c == '-';
    if (*c == '-' || *c == '+')
        c++;
    uint64_t digits = 0;
    int exponent = 0, seen = 0;
    bool after_point = false;
    for (;; c++) {
        if (*c == '.' && !after_point) {
            after_point = true;
            continue;
        }
        if (!is_digit(*c))
            break;
        seen = 1;
        /* 18 digits fit; the rest only moves the point. Counts stay small: texts are short. */
        bool kept = digits < 100000000000000000U;
        if (kept)
            digits = digits * 10 + (uint64_t)(*c - '0');
        if (after_point && kept)
            exponent--;
        if (!after_point && !kept && exponent < 1000)
            exponent++;
    }
    if (seen == 0)
        return false;
    if (*c == 'e' || *c == 'E') {
        c++;
        if (!read_exponent(&c, &exponent))
            return false;
    }
    if (*c != '\0' || exponent > 280)
        return false;
    double made = digits == 0 ? 0 : (double)digits * pow(10, exponent);
    if (exponent < 0 && exponent >= -22)
        made = (double)digits / pow(10, -exponent); /* 10^22 is exact: rounds once */
    *value = negative ? -made : made;
    return true;
}
