/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How each property of a hill profile is read: units, ranges, words. Where a GIS program gives one
 * back in another type than it was given (a number as text, a date with slashes), both are read,
 * since they can mean only one thing. */
#include "io/hill_property.h"

#include <math.h>
#include <string.h>

#include "io/problem.h"
#include "io/utc.h"
#include "talkdown/quantity.h"
#include "talkdown/text.h"

enum { WORDS_MOST = 63, ID_MOST = 64, FREE_MOST = 1000, REVISION_MOST = 999999,
       PASSES_MOST = 1000000 };

static bool is_word(const char *text, const char *word)
{
    return text != NULL && strcmp(text, word) == 0;
}

static enum td_result read_text(const struct td_property_reading *reading, const json_t *value,
                                size_t most, const char **text)
{
    const char *words = json_string_value(value);
    if (words == NULL)
        return td_feature_wrong(reading->at, "%s is no text; write it in quotes", reading->key);
    if (strlen(words) > most)
        return td_feature_wrong(reading->at, "%s is longer than %zu bytes; shorten it",
                                reading->key, most);
    for (const char *c = words; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            return td_feature_wrong(reading->at, "%s holds a control character; leave it out",
                                    reading->key);
    *text = words;
    return TD_OK;
}

/* A quantity with its unit as text, within a range told in words. */
static enum td_result read_quantity(const struct td_property_reading *reading, const json_t *value,
                                    enum td_dimension dimension, double least, double most,
                                    const char *range, double *to)
{
    const char *text = json_string_value(value);
    if (text == NULL)
        return td_feature_wrong(reading->at,
                                "%s is no text; write number and unit in quotes, as \"20 mph\"",
                                reading->key);
    struct td_problem wrong;
    double read = 0;
    if (td_quantity_parse(text, dimension, &read, &wrong) != TD_OK)
        return td_feature_wrong(reading->at, "%s: %s", reading->key, wrong.text);
    if (read < least || read > most)
        return td_feature_wrong(reading->at, "%s: \"%.40s\" is out of range; %s is right",
                                reading->key, text, range);
    *to = read;
    return TD_OK;
}

static enum td_result read_id(const struct td_property_reading *reading, const json_t *value)
{
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-";
    const char *id = NULL;
    enum td_result result = read_text(reading, value, ID_MOST, &id);
    if (result != TD_OK)
        return result;
    if (id[strspn(id, allowed)] != '\0')
        return td_feature_wrong(reading->at,
                                "id \"%s\" has a character other than letters, digits and hyphens; "
                                "\"gull-pass-east\" is the form",
                                id);
    reading->feature->id = id;
    return TD_OK;
}

static enum td_result read_name(const struct td_property_reading *reading, const json_t *value)
{
    const char **to = reading->feature->is_road ? &reading->feature->name
                                                : &reading->feature->place.name;
    return read_text(reading, value, TD_HILL_NAME_MAX, to);
}

static enum td_result read_flashers(const struct td_property_reading *reading, const json_t *value)
{
    static const char *const words[] = {[TD_FLASHERS_REQUIRED] = "required",
                                        [TD_FLASHERS_ALLOWED] = "allowed",
                                        [TD_FLASHERS_FORBIDDEN] = "forbidden"};
    const char *text = json_string_value(value);
    for (int i = TD_FLASHERS_REQUIRED; text != NULL && i <= TD_FLASHERS_FORBIDDEN; i++)
        if (strcmp(words[i], text) == 0) {
            reading->feature->flashers = (enum td_flashers)i;
            return TD_OK;
        }
    return td_feature_wrong(reading->at, "flashers must be required, allowed or forbidden");
}

static enum td_result read_free_text(const struct td_property_reading *reading, const json_t *value)
{
    const char *ignored = NULL;
    return read_text(reading, value, FREE_MOST, &ignored);
}

bool td_feature_day(const char *text, char day[TD_DATE_SIZE])
{
    char made[TD_DATE_SIZE] = "";
    bool whole = td_text_copy(made, sizeof made, text);
    if (!whole && strcmp(text + sizeof made - 1, "T00:00:00") == 0)
        whole = true;
    if (made[0] != '\0' && made[4] == '/' && made[7] == '/')
        made[4] = made[7] = '-';
    if (!whole || !td_utc_is_date(made))
        return false;
    memcpy(day, made, sizeof made);
    return true;
}

static enum td_result read_day(const struct td_property_reading *reading, const json_t *value,
                               char day[TD_DATE_SIZE])
{
    const char *text = json_string_value(value);
    if (text == NULL || !td_feature_day(text, day))
        return td_feature_wrong(reading->at, "%s is no date; \"2031-05-17\" is the form",
                                reading->key);
    return TD_OK;
}

static enum td_result read_date(const struct td_property_reading *reading, const json_t *value)
{
    char ignored[TD_DATE_SIZE];
    return read_day(reading, value, ignored);
}

static enum td_result read_surveyed(const struct td_property_reading *reading, const json_t *value)
{
    return read_day(reading, value, reading->feature->surveyed);
}

static enum td_result read_say(const struct td_property_reading *reading, const json_t *value)
{
    return read_text(reading, value, WORDS_MOST, &reading->feature->place.say);
}

static enum td_result read_material(const struct td_property_reading *reading, const json_t *value)
{
    return read_text(reading, value, WORDS_MOST, &reading->feature->place.material);
}

static enum td_result read_side(const struct td_property_reading *reading, const json_t *value)
{
    const char *text = json_string_value(value);
    bool left = text != NULL && strcmp(text, "left") == 0;
    if (!left && (text == NULL || strcmp(text, "right") != 0))
        return td_feature_wrong(reading->at, "side must be left or right, as seen going down");
    reading->feature->place.side = left ? TD_SIDE_LEFT : TD_SIDE_RIGHT;
    return TD_OK;
}

static enum td_result read_speed(const struct td_property_reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_SPEED;
    return read_quantity(reading, value, TD_DIM_SPEED, 1.38, 41.7,
                         "5 to 150 km/h (4 to 93 mph)", &place->speed_mps);
}

static enum td_result read_over(const struct td_property_reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_OVER_MASS;
    return read_quantity(reading, value, TD_DIM_MASS, 1000, 200000,
                         "1 to 200 t (2205 to 440900 lb)", &place->over_kg);
}

static enum td_result read_length(const struct td_property_reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_LENGTH;
    return read_quantity(reading, value, TD_DIM_LENGTH, 1, 100000, "1 m to 100 km",
                         &place->length_m);
}

static enum td_result read_grade(const struct td_property_reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_GRADE;
    return read_quantity(reading, value, TD_DIM_RATIO, -0.4, 0.4, "-40% to 40%",
                         &place->grade_ratio);
}

/* Some programs keep no booleans: they give back a text, or 1 and 0. */
static enum td_result read_mandatory(const struct td_property_reading *reading, const json_t *value)
{
    const char *text = json_string_value(value);
    double number = json_is_number(value) ? json_number_value(value) : -1;
    bool yes = json_is_true(value) || number == 1 || is_word(text, "true") || is_word(text, "1");
    bool no = json_is_false(value) || number == 0 || is_word(text, "false") || is_word(text, "0");
    if (!yes && !no)
        return td_feature_wrong(reading->at, "mandatory must be true or false");
    if (yes)
        reading->feature->place.has |= TD_PLACE_MANDATORY;
    return TD_OK;
}

static enum td_result read_status(const struct td_property_reading *reading, const json_t *value)
{
    const char *text = json_string_value(value);
    bool closed = text != NULL && strcmp(text, "closed") == 0;
    if (!closed && (text == NULL || strcmp(text, "open") != 0))
        return td_feature_wrong(reading->at, "status must be open or closed");
    if (closed)
        reading->feature->place.has |= TD_PLACE_CLOSED;
    return TD_OK;
}

/* A bare number. Programs that keep a table of texts give it back as one. */
static bool read_bare(const json_t *value, double *number)
{
    const char *text = json_string_value(value);
    if (text != NULL)
        return text[strspn(text, "0123456789.")] == '\0' && td_decimal_parse(text, number);
    *number = json_number_value(value);
    return json_is_number(value);
}

static enum td_result read_at(const struct td_property_reading *reading, const json_t *value)
{
    double at_m = 0;
    if (!read_bare(value, &at_m) || at_m < 0 || at_m > 1e7)
        return td_feature_wrong(reading->at,
                                "at_m must be metres along the road from its first vertex, a bare "
                                "number");
    reading->feature->has_at = true;
    reading->feature->at_m = at_m;
    return TD_OK;
}

static enum td_result read_position_sigma(const struct td_property_reading *reading,
                                          const json_t *value)
{
    return read_quantity(reading, value, TD_DIM_LENGTH, 0.1, 50, "0.1 to 50 m",
                         &reading->feature->position_sigma_m);
}

/* A whole number; some programs give it back with a decimal point. */
static enum td_result read_count(const struct td_property_reading *reading, const json_t *value,
                                 int most, unsigned *to)
{
    double number = 0;
    if (!read_bare(value, &number) || !(number >= 1 && number <= most) || number > floor(number))
        return td_feature_wrong(reading->at, "%s must be a bare whole number from 1 to %d",
                                reading->key, most);
    *to = (unsigned)number;
    return TD_OK;
}

static enum td_result read_revision(const struct td_property_reading *reading, const json_t *value)
{
    return read_count(reading, value, REVISION_MOST, &reading->feature->revision);
}

static enum td_result read_passes(const struct td_property_reading *reading, const json_t *value)
{
    return read_count(reading, value, PASSES_MOST, &reading->feature->passes);
}

static enum td_result read_mileposts(const struct td_property_reading *reading, const json_t *value)
{
    const char *text = NULL;
    struct td_problem wrong;
    enum td_result result = read_text(reading, value, TD_MILEPOSTS_TEXT_MAX, &text);
    if (result == TD_OK &&
        td_mileposts_parse(text, &reading->feature->mileposts, &wrong) != TD_OK)
        return td_feature_wrong(reading->at, "mileposts: %s", wrong.text);
    return result;
}

/* For people and for the next survey; checked so that a slip does not stand for a figure. */
static enum td_result read_grade_sigma(const struct td_property_reading *reading,
                                       const json_t *value)
{
    double ignored = 0;
    return read_quantity(reading, value, TD_DIM_RATIO, 0, 0.2, "0% to 20%", &ignored);
}

static enum td_result read_longest_gap(const struct td_property_reading *reading,
                                       const json_t *value)
{
    double ignored = 0;
    return read_quantity(reading, value, TD_DIM_LENGTH, 0, 5000, "0 m to 5 km", &ignored);
}

static enum td_result read_role(const struct td_property_reading *reading, const json_t *value)
{
    (void)reading, (void)value; /* read before all others */
    return TD_OK;
}

const struct td_property td_properties[] = {
    {"role", ROLE, read_role},           {"name", NAME, read_name},
    {"id", ID, read_id},                 {"flashers", FLASHERS, read_flashers},
    {"source", SOURCE, read_free_text},  {"surveyed", SURVEYED, read_surveyed},
    {"say", SAY, read_say},              {"at_m", AT, read_at},
    {"side", SIDE, read_side},           {"speed", SPEED, read_speed},
    {"over", OVER, read_over},           {"length", LENGTH, read_length},
    {"grade", GRADE, read_grade},        {"material", MATERIAL, read_material},
    {"mandatory", MANDATORY, read_mandatory}, {"status", STATUS, read_status},
    {"checked", CHECKED, read_date},
    {"position_sigma", POSITION_SIGMA, read_position_sigma},
    {"revision", REVISION, read_revision},
    {"passes", PASSES, read_passes},     {"grade_sigma", GRADE_SIGMA, read_grade_sigma},
    {"longest_gap", LONGEST_GAP, read_longest_gap},
    {"mileposts", MILEPOSTS, read_mileposts},
    {NULL, 0, NULL},
};

const struct td_property *td_property_find(const char *key)
{
    for (const struct td_property *known = td_properties; known->key != NULL; known++)
        if (strcmp(known->key, key) == 0)
            return known;
    return NULL;
}
