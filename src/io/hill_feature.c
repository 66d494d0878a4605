/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Properties of a hill profile's features: which role may carry which, and how each is read. A
 * property nobody knows is most likely a slip in one that matters, so it is refused; null and ""
 * count as left out, since GIS programs give every feature every column. */
#include "io/hill_feature.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "io/hill_file.h"
#include "io/problem.h"
#include "io/utc.h"
#include "talkdown/quantity.h"
#include "talkdown/text.h"

enum { WORDS_MOST = 63, ID_MOST = 64, REVISION_MOST = 999999 };

struct reading {
    const struct td_feature_at *at;
    const char *key;
    struct td_feature *feature;
};

typedef enum td_result reader(const struct reading *reading, const json_t *value);

/* jansson keeps no places, but the pair of key and value stands exactly once in each feature. */
int td_feature_line(const struct td_feature_at *at)
{
    int line = 1;
    size_t seen = 0;
    for (const char *scan = at->bytes; *scan != '\0'; scan++) {
        if (*scan == '\n')
            line++;
        if (*scan != '"' || strncmp(scan, "\"type\"", 6) != 0)
            continue;
        const char *c = scan + 6;
        c += strspn(c, " \t\r\n");
        if (*c++ != ':')
            continue;
        c += strspn(c, " \t\r\n");
        if (strncmp(c, "\"Feature\"", 9) == 0 && ++seen == at->number)
            return line;
    }
    return 0;
}

enum td_result td_feature_wrong(const struct td_feature_at *at, const char *format, ...)
{
    char words[TD_PROBLEM_TEXT_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(words, sizeof words, format, args);
    va_end(args);
    return td_problem_set(at->problem, TD_INVALID, at->name, td_feature_line(at),
                          "feature %zu%s%.20s%s: %s",
                          at->number, at->role != NULL ? " (" : "",
                          at->role != NULL ? at->role : "", at->role != NULL ? ")" : "", words);
}

static enum td_result read_text(const struct reading *reading, const json_t *value, size_t most,
                                const char **text)
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
static enum td_result read_quantity(const struct reading *reading, const json_t *value,
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

static enum td_result read_id(const struct reading *reading, const json_t *value)
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

static enum td_result read_name(const struct reading *reading, const json_t *value)
{
    const char **to = reading->feature->is_road ? &reading->feature->name
                                                : &reading->feature->place.name;
    return read_text(reading, value, TD_HILL_NAME_MAX, to);
}

static enum td_result read_flashers(const struct reading *reading, const json_t *value)
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

static enum td_result read_free_text(const struct reading *reading, const json_t *value)
{
    const char *ignored = NULL;
    return read_text(reading, value, 1000, &ignored);
}

static enum td_result read_date(const struct reading *reading, const json_t *value)
{
    const char *text = json_string_value(value);
    if (text != NULL && td_utc_is_date(text))
        return TD_OK;
    return td_feature_wrong(reading->at, "%s is no date; \"2031-05-17\" is the form",
                            reading->key);
}

static enum td_result read_surveyed(const struct reading *reading, const json_t *value)
{
    enum td_result result = read_date(reading, value);
    if (result == TD_OK)
        reading->feature->surveyed = json_string_value(value);
    return result;
}

static enum td_result read_say(const struct reading *reading, const json_t *value)
{
    return read_text(reading, value, WORDS_MOST, &reading->feature->place.say);
}

static enum td_result read_material(const struct reading *reading, const json_t *value)
{
    return read_text(reading, value, WORDS_MOST, &reading->feature->place.material);
}

static enum td_result read_side(const struct reading *reading, const json_t *value)
{
    const char *text = json_string_value(value);
    bool left = text != NULL && strcmp(text, "left") == 0;
    if (!left && (text == NULL || strcmp(text, "right") != 0))
        return td_feature_wrong(reading->at, "side must be left or right, as seen going down");
    reading->feature->place.side = left ? TD_SIDE_LEFT : TD_SIDE_RIGHT;
    return TD_OK;
}

static enum td_result read_speed(const struct reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_SPEED;
    return read_quantity(reading, value, TD_DIM_SPEED, 1.38, 41.7,
                         "5 to 150 km/h (4 to 93 mph)", &place->speed_mps);
}

static enum td_result read_over(const struct reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_OVER_MASS;
    return read_quantity(reading, value, TD_DIM_MASS, 1000, 200000,
                         "1 to 200 t (2205 to 440900 lb)", &place->over_kg);
}

static enum td_result read_length(const struct reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_LENGTH;
    return read_quantity(reading, value, TD_DIM_LENGTH, 1, 100000, "1 m to 100 km",
                         &place->length_m);
}

static enum td_result read_grade(const struct reading *reading, const json_t *value)
{
    struct td_place *place = &reading->feature->place;
    place->has |= TD_PLACE_GRADE;
    return read_quantity(reading, value, TD_DIM_RATIO, -0.4, 0.4, "-40% to 40%",
                         &place->grade_ratio);
}

static enum td_result read_mandatory(const struct reading *reading, const json_t *value)
{
    const char *text = json_string_value(value); /* some programs keep no booleans */
    bool yes = json_is_true(value) || (text != NULL && strcmp(text, "true") == 0);
    bool no = json_is_false(value) || (text != NULL && strcmp(text, "false") == 0);
    if (!yes && !no)
        return td_feature_wrong(reading->at, "mandatory must be true or false");
    if (yes)
        reading->feature->place.has |= TD_PLACE_MANDATORY;
    return TD_OK;
}

static enum td_result read_status(const struct reading *reading, const json_t *value)
{
    const char *text = json_string_value(value);
    bool closed = text != NULL && strcmp(text, "closed") == 0;
    if (!closed && (text == NULL || strcmp(text, "open") != 0))
        return td_feature_wrong(reading->at, "status must be open or closed");
    if (closed)
        reading->feature->place.has |= TD_PLACE_CLOSED;
    return TD_OK;
}

static enum td_result read_at(const struct reading *reading, const json_t *value)
{
    double at_m = json_number_value(value);
    if (!json_is_number(value) || at_m < 0 || at_m > 1e7)
        return td_feature_wrong(reading->at,
                                "at_m must be metres along the road from its first vertex, a bare "
                                "number");
    reading->feature->has_at = true;
    reading->feature->at_m = at_m;
    return TD_OK;
}

static enum td_result read_position_sigma(const struct reading *reading, const json_t *value)
{
    return read_quantity(reading, value, TD_DIM_LENGTH, 0.1, 50, "0.1 to 50 m",
                         &reading->feature->position_sigma_m);
}

/* A whole number; some programs give it back with a decimal point. */
static enum td_result read_revision(const struct reading *reading, const json_t *value)
{
    double number = json_number_value(value);
    if (!json_is_number(value) || !(number >= 1 && number <= REVISION_MOST) ||
        number > floor(number))
        return td_feature_wrong(reading->at,
                                "revision must be a bare whole number from 1 to %d",
                                (int)REVISION_MOST);
    reading->feature->revision = (unsigned)number;
    return TD_OK;
}

static enum td_result read_passes(const struct reading *reading, const json_t *value)
{
    double passes = json_number_value(value);
    if (!json_is_number(value) || !(passes >= 1 && passes <= 1e6) || passes != floor(passes))
        return td_feature_wrong(reading->at, "passes must be a whole number, 1 or more");
    reading->feature->passes = (unsigned)passes;
    return TD_OK;
}

/* For people and for the next survey; checked so that a slip does not stand for a figure. */
static enum td_result read_grade_sigma(const struct reading *reading, const json_t *value)
{
    double ignored = 0;
    return read_quantity(reading, value, TD_DIM_RATIO, 0, 0.2, "0% to 20%", &ignored);
}

static enum td_result read_longest_gap(const struct reading *reading, const json_t *value)
{
    double ignored = 0;
    return read_quantity(reading, value, TD_DIM_LENGTH, 0, 5000, "0 m to 5 km", &ignored);
}

static enum td_result read_role(const struct reading *reading, const json_t *value)
{
    (void)reading, (void)value; /* read before all others */
    return TD_OK;
}

enum property_bit {
    ROLE = 1 << 0, NAME = 1 << 1, ID = 1 << 2, FLASHERS = 1 << 3, SOURCE = 1 << 4,
    SURVEYED = 1 << 5, SAY = 1 << 6, AT = 1 << 7, SIDE = 1 << 8, SPEED = 1 << 9, OVER = 1 << 10,
    LENGTH = 1 << 11, GRADE = 1 << 12, MATERIAL = 1 << 13, MANDATORY = 1 << 14, STATUS = 1 << 15,
    CHECKED = 1 << 16, REVISION = 1 << 17, POSITION_SIGMA = 1 << 18,
    PASSES = 1 << 20, GRADE_SIGMA = 1 << 21, LONGEST_GAP = 1 << 22,
    EVERY_PLACE = ROLE | NAME | SOURCE | SAY | AT,
};

static const struct property {
    const char *key;
    unsigned bit;
    reader *read;
} known[] = {
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
};

enum { KNOWN = sizeof known / sizeof known[0] };

/* The road's role comes after the kinds of places. */
static const struct role {
    const char *word;
    unsigned needed, allowed;
} roles[TD_PLACE_KINDS + 1] = {
    [TD_PLACE_BRAKE_CHECK] = {"brake-check", 0, EVERY_PLACE | SIDE | MANDATORY | LENGTH},
    [TD_PLACE_TRUCK_SPEED] = {"truck-speed", SPEED, EVERY_PLACE | SPEED | OVER},
    [TD_PLACE_CURVE_SPEED] = {"curve-speed", SPEED, EVERY_PLACE | SPEED | SIDE | LENGTH},
    [TD_PLACE_ESCAPE_LANE] = {"escape-lane", 0,
                              EVERY_PLACE | SIDE | LENGTH | GRADE | MATERIAL | STATUS | CHECKED},
    [TD_PLACE_GRADE_SIGN] = {"grade-sign", GRADE, EVERY_PLACE | GRADE | LENGTH},
    [TD_PLACE_CHAIN_AREA] = {"chain-area", 0, EVERY_PLACE | SIDE | LENGTH},
    [TD_PLACE_TURN_OUT] = {"turn-out", 0, EVERY_PLACE | SIDE | LENGTH},
    [TD_PLACE_STOP] = {"stop", 0, EVERY_PLACE},
    [TD_PLACE_SIGNAL] = {"signal", 0, EVERY_PLACE},
    [TD_PLACE_RAIL_CROSSING] = {"rail-crossing", 0, EVERY_PLACE},
    [TD_PLACE_WORK_ZONE] = {"work-zone", 0, EVERY_PLACE | SPEED | LENGTH},
    [TD_PLACE_ENGINE_BRAKE_BAN] = {"engine-brake-ban", LENGTH, EVERY_PLACE | LENGTH},
    [TD_PLACE_NOTE] = {"note", 0, EVERY_PLACE},
    [TD_PLACE_KINDS] = {"road", ID | NAME,
                        ROLE | ID | NAME | FLASHERS | SOURCE | SURVEYED | REVISION |
                            POSITION_SIGMA | PASSES | GRADE_SIGMA | LONGEST_GAP},
};

const char *td_place_role(enum td_place_kind kind)
{
    return roles[kind].word;
}

static bool left_out(const json_t *value)
{
    const char *text = json_string_value(value);
    return json_is_null(value) || (text != NULL && text[0] == '\0');
}

/* Columns that GIS programs add on their own. */
static bool passed_over(const char *key)
{
    static const char *const columns[] = {"fid", "ogc_fid", "OBJECTID", "gid", "layer", "path"};
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++)
        if (strcmp(columns[i], key) == 0)
            return true;
    return strncmp(key, "x_", 2) == 0;
}

static enum td_result unknown_role(const struct td_feature_at *at, const char *word)
{
    char list[288];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (size_t i = 0; i <= TD_PLACE_KINDS; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, roles[i].word);
    }
    return td_feature_wrong(at, "unknown role \"%.40s\"; known: %s", word, list);
}

static enum td_result unknown_property(const struct td_feature_at *at, const struct role *role,
                                       const char *key)
{
    char list[200];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (size_t i = 0; i < KNOWN; i++)
        if ((role->allowed & known[i].bit) != 0) {
            td_text_add(&text, text.length > 0 ? ", " : "");
            td_text_add(&text, known[i].key);
        }
    return td_feature_wrong(at, "property \"%.40s\" does not belong here; a %s may have: %s", key,
                            role->word, list);
}

static const struct property *find_property(const char *key)
{
    for (size_t i = 0; i < KNOWN; i++)
        if (strcmp(known[i].key, key) == 0)
            return &known[i];
    return NULL;
}

static enum td_result find_role(const json_t *properties, struct td_feature_at *at,
                                const struct role **role)
{
    if (!json_is_object(properties))
        return td_feature_wrong(at, "has no properties; \"role\" at least is needed");
    const json_t *value = json_object_get(properties, "role");
    if (value == NULL || left_out(value))
        return td_feature_wrong(at, "has no role; \"road\" or a kind of place is needed");
    const char *word = json_string_value(value);
    for (size_t i = 0; word != NULL && i <= TD_PLACE_KINDS; i++)
        if (strcmp(roles[i].word, word) == 0) {
            at->role = roles[i].word;
            *role = &roles[i];
            return TD_OK;
        }
    return unknown_role(at, word != NULL ? word : "(no text)");
}

static enum td_result check_needed(const struct td_feature_at *at, const struct role *role,
                                   unsigned seen)
{
    for (size_t i = 0; i < KNOWN; i++)
        if ((role->needed & known[i].bit) != 0 && (seen & known[i].bit) == 0)
            return td_feature_wrong(at, "lacks \"%s\"; a %s needs it", known[i].key, role->word);
    return TD_OK;
}

enum td_result td_feature_read(const json_t *properties, struct td_feature_at *at,
                               struct td_feature *feature)
{
    const struct role *role = NULL;
    enum td_result result = find_role(properties, at, &role);
    if (result != TD_OK)
        return result;
    *feature = (struct td_feature){.id = "", .name = "", .surveyed = ""};
    feature->is_road = role == &roles[TD_PLACE_KINDS];
    feature->place.kind = (enum td_place_kind)(role - roles);
    feature->place.material = feature->place.say = feature->place.name = "";
    unsigned seen = 0;
    const char *key;
    json_t *value;
    /* jansson's iteration takes no const, though it changes nothing. */
    json_object_foreach((json_t *)(uintptr_t)properties, key, value) {
        if (left_out(value) || passed_over(key))
            continue;
        const struct property *property = find_property(key);
        if (property == NULL || (role->allowed & property->bit) == 0)
            return unknown_property(at, role, key);
        const struct reading reading = {at, key, feature};
        result = property->read(&reading, value);
        if (result != TD_OK)
            return result;
        seen |= property->bit;
    }
    return check_needed(at, role, seen);
}
