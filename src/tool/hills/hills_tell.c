/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands beside the picture of a hill, in words: whoever does not see the picture, or prints
 * it small, has all of it here. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/hash.h"
#include "talkdown/units.h"
#include "tool/hills/hills_page.h"
#include "tool/plan/plan_words.h"

enum { HASH_SHOWN = 16 };

struct telling {
    struct td_svg *html;
    const struct td_hill *hill;
    struct td_plan_answer unit;
};

/* No line is broken between a figure and its unit. */
static void add_figures(struct td_svg *html, const char *text)
{
    char piece[TD_PLAN_LINE_MAX];
    while (*text != '\0') {
        size_t length = 0;
        bool blank = false;
        for (; text[length] != '\0' && length + 1 < sizeof piece && !blank; length++)
            blank = text[length] == ' ' && length > 0 && text[length - 1] >= '0' &&
                    text[length - 1] <= '9';
        (void)snprintf(piece, sizeof piece, "%.*s", (int)(length - blank), text);
        td_svg_escaped(html, piece);
        td_svg_raw(html, blank ? "&#160;" : "");
        text += length;
    }
}

static void add(const struct telling *telling, const char *text)
{
    add_figures(telling->html, text);
}

static void term(const struct telling *telling, const char *word)
{
    td_svg_raw(telling->html, "<dt>");
    add(telling, word);
    td_svg_raw(telling->html, "</dt><dd>");
}

static void end(const struct telling *telling)
{
    td_svg_raw(telling->html, "</dd>\n");
}

static const char *side_word(enum td_side side)
{
    static const char *const words[] = {"", ", left", ", right"};
    return words[side];
}

static void where(const struct telling *telling, const struct td_place *place)
{
    char line[TD_PLAN_LINE_MAX];
    add(telling, td_plan_place_words(&telling->unit, place->at_m, line));
    add(telling, side_word(place->side));
}

static void tell_lane(const struct telling *telling, const struct td_place *place)
{
    char line[TD_PLAN_LINE_MAX];
    where(telling, place);
    if ((place->has & TD_PLACE_LENGTH) != 0) {
        add(telling, ", ");
        add(telling, td_plan_reach_words(&telling->unit, floor(place->length_m), line));
    }
    if ((place->has & TD_PLACE_CLOSED) != 0)
        td_svg_raw(telling->html, ", <b>closed</b>");
}

static void tell_check(const struct telling *telling, const struct td_place *place)
{
    where(telling, place);
    if ((place->has & TD_PLACE_MANDATORY) != 0)
        add(telling, ", all trucks must stop");
}

static void tell_sign(const struct telling *telling, const struct td_place *place)
{
    char line[TD_PLAN_LINE_MAX];
    add(telling, td_plan_speed_words(&telling->unit, place->speed_mps, line));
    if ((place->has & TD_PLACE_OVER_MASS) != 0) {
        add(telling, " over ");
        add(telling, td_plan_mass_words(&telling->unit, place->over_kg, line));
    }
    add(telling, " from ");
    add(telling, td_plan_place_words(&telling->unit, place->at_m, line));
}

/* All places of a kind, or that none is on file: that too is worth knowing. */
static void tell_kind(const struct telling *telling, enum td_place_kind kind, const char *word,
                      void (*tell)(const struct telling *, const struct td_place *))
{
    const struct td_hill *hill = telling->hill;
    bool any = false;
    term(telling, word);
    for (size_t i = 0; i < hill->place_count; i++) {
        if (hill->places[i].kind != kind)
            continue;
        add(telling, any ? "; " : "");
        tell(telling, &hill->places[i]);
        any = true;
    }
    add(telling, any ? "" : "none on file");
    end(telling);
}

static void tell_file(const struct telling *telling, const struct td_hill_file *file,
                      const char *name)
{
    char line[TD_PLAN_LINE_MAX], hash[TD_HASH_HEX_SIZE];
    const char *surveyed = td_hill_file_surveyed(file);
    term(telling, "On file");
    td_svg_raw(telling->html, "<span>");
    add(telling, telling->hill->id);
    td_svg_raw(telling->html, "</span>");
    if (td_hill_file_revision(file) > 0) {
        (void)snprintf(line, sizeof line, ", revision %u", td_hill_file_revision(file));
        add(telling, line);
    }
    add(telling, surveyed[0] != '\0' ? ", surveyed " : ", no survey date");
    add(telling, surveyed);
    (void)snprintf(line, sizeof line, ", %zu places, road of ", telling->hill->place_count);
    add(telling, line);
    add(telling, td_plan_way_words(&telling->unit, telling->hill->length_m, line));
    (void)snprintf(line, sizeof line, ", hash %.*s, in ", (int)HASH_SHOWN,
                   td_hash_hex(telling->hill->hash, hash));
    add(telling, line);
    add(telling, name);
    end(telling);
}

void td_hill_headline(struct td_svg *html, const struct td_hill *hill, bool metric)
{
    const struct td_plan_answer unit = {.hill = hill, .query = {.speak_kmh = metric}};
    char line[TD_PLAN_LINE_MAX], way[TD_PLAN_LINE_MAX], fall[TD_PLAN_LINE_MAX];
    if (!hill->coached) {
        td_svg_raw(html, "Gentle: nothing on it needs a plan");
        return;
    }
    double fall_m = td_hill_elevation_at(hill, hill->crest_m) -
                    td_hill_elevation_at(hill, hill->foot_m);
    (void)snprintf(line, sizeof line, "%.1f %% for %s, steepest %.1f %%, falls %s",
                   hill->mean_downgrade_ratio * 100,
                   td_plan_way_words(&unit, hill->foot_m - hill->crest_m, way),
                   hill->steepest_downgrade_ratio * 100,
                   td_plan_reach_words(&unit, fmax(0, fall_m), fall));
    add_figures(html, line);
}

void td_hill_facts(struct td_svg *html, const struct td_hill_file *file, const char *name,
                   bool metric)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    const struct telling telling = {
        html, hill, {.hill = hill, .query = {.speak_kmh = metric}}};
    td_svg_raw(html, "<dl>\n");
    if (hill->coached) {
        tell_kind(&telling, TD_PLACE_ESCAPE_LANE, "Escape lanes", tell_lane);
        tell_kind(&telling, TD_PLACE_BRAKE_CHECK, "Brake check", tell_check);
        tell_kind(&telling, TD_PLACE_TRUCK_SPEED, "Truck signs", tell_sign);
    }
    tell_file(&telling, file, name);
    td_svg_raw(html, "</dl>\n");
}
