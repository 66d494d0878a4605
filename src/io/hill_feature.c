/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Properties of a hill profile's features: which role may carry which. A
 * property nobody knows is most likely a slip in one that matters, so it is refused; null and ""
 * count as left out, since GIS programs give every feature every column. */
#include "io/hill_feature.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "io/hill_file.h"
#include "io/hill_property.h"
#include "io/problem.h"
#include "talkdown/text.h"

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
    if (at->number == 0)
        return td_problem_set(at->problem, TD_INVALID, at->name, at->line, "%s%s%s",
                              at->role != NULL ? at->role : "", at->role != NULL ? ": " : "",
                              words);
    return td_problem_set(at->problem, TD_INVALID, at->name, td_feature_line(at),
                          "feature %zu%s%.20s%s: %s",
                          at->number, at->role != NULL ? " (" : "",
                          at->role != NULL ? at->role : "", at->role != NULL ? ")" : "", words);
}

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
                            POSITION_SIGMA | PASSES | GRADE_SIGMA | LONGEST_GAP | MILEPOSTS},
};

const char *td_place_role(enum td_place_kind kind)
{
    return roles[kind].word;
}

bool td_feature_left_out(const json_t *value)
{
    const char *text = json_string_value(value);
    return value == NULL || json_is_null(value) || (text != NULL && text[0] == '\0');
}

/* Columns that GIS programs add on their own. */
static bool passed_over(const char *key)
{
    static const char *const columns[] = {"fid",    "ogc_fid", "OBJECTID", "gid",
                                          "gml_id", "layer",   "path"};
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
    bool may_be_road = at->number > 0;
    for (size_t i = 0; i < TD_PLACE_KINDS + (size_t)may_be_road; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, roles[i].word);
    }
    return td_feature_wrong(at, "unknown role \"%.40s\"; known: %s", word, list);
}

static enum td_result unknown_property(const struct td_feature_at *at, const struct role *role,
                                       const char *key)
{
    char list[240];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (const struct td_property *known = td_properties; known->key != NULL; known++)
        if ((role->allowed & known->bit) != 0) {
            td_text_add(&text, text.length > 0 ? ", " : "");
            td_text_add(&text, known->key);
        }
    return td_feature_wrong(at, "property \"%.40s\" does not belong here; a %s may have: %s", key,
                            role->word, list);
}

bool td_feature_kind(const char *role, enum td_place_kind *kind)
{
    for (size_t i = 0; i < TD_PLACE_KINDS; i++)
        if (strcmp(roles[i].word, role) == 0) {
            *kind = (enum td_place_kind)i;
            return true;
        }
    return false;
}

bool td_feature_may_have(enum td_place_kind kind, const char *key)
{
    const struct td_property *property = td_property_find(key);
    return property != NULL && (roles[kind].allowed & property->bit) != 0;
}

static enum td_result find_role(const json_t *properties, struct td_feature_at *at,
                                const struct role **role)
{
    if (!json_is_object(properties))
        return td_feature_wrong(at, "has no properties; \"role\" at least is needed");
    const json_t *value = json_object_get(properties, "role");
    if (td_feature_left_out(value))
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
    for (const struct td_property *known = td_properties; known->key != NULL; known++)
        if ((role->needed & known->bit) != 0 && (seen & known->bit) == 0)
            return td_feature_wrong(at, "lacks \"%s\"; a %s needs it", known->key, role->word);
    return TD_OK;
}

enum td_result td_feature_read(const json_t *properties, struct td_feature_at *at,
                               struct td_feature *feature)
{
    const struct role *role = NULL;
    enum td_result result = find_role(properties, at, &role);
    if (result != TD_OK)
        return result;
    *feature = (struct td_feature){.id = "", .name = ""};
    feature->is_road = role == &roles[TD_PLACE_KINDS];
    feature->place.kind = (enum td_place_kind)(role - roles);
    feature->place.material = feature->place.say = feature->place.name = "";
    unsigned seen = 0;
    const char *key;
    json_t *value;
    /* jansson's iteration takes no const, though it changes nothing. */
    json_object_foreach((json_t *)(uintptr_t)properties, key, value) {
        if (td_feature_left_out(value) || passed_over(key))
            continue;
        const struct td_property *property = td_property_find(key);
        if (property == NULL || (role->allowed & property->bit) == 0)
            return unknown_property(at, role, key);
        const struct td_property_reading reading = {at, key, feature};
        result = property->read(&reading, value);
        if (result != TD_OK)
            return result;
        seen |= property->bit;
    }
    return check_needed(at, role, seen);
}
