/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The axis in miles from the crest, and what stands beside the road: on the axis a shape of our own
 * for each kind with a number, below it the numbers again in the order of the road, each with its
 * mile and words. Words beside the shapes would lie across each other on a road with many signs.
 * What finds no room on the axis is counted. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "talkdown/units.h"
#include "tool/card/card_parts.h"

#define INK    "fill=\"#000\""
#define OPEN   "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.6\""
#define STROKE "fill=\"none\" stroke=\"#000\" stroke-width=\"1.8\""
#define COLUMN ((CARD_RIGHT - CARD_LEFT) / 2)
#define WORDS_X 88.0 /* from the column's left edge: number, shape and mile stand before */
enum { WORD_LINES = 2 };

/* How much it matters to a driver going down: lower is dropped later. */
static int rank_of(const struct td_place *place)
{
    static const int ranks[TD_PLACE_KINDS] = {
        [TD_PLACE_ESCAPE_LANE] = 0,      [TD_PLACE_BRAKE_CHECK] = 1,
        [TD_PLACE_STOP] = 2,             [TD_PLACE_SIGNAL] = 2,
        [TD_PLACE_RAIL_CROSSING] = 2,    [TD_PLACE_ENGINE_BRAKE_BAN] = 2,
        [TD_PLACE_TURN_OUT] = 3,         [TD_PLACE_TRUCK_SPEED] = 4,
        [TD_PLACE_WORK_ZONE] = 4,        [TD_PLACE_CURVE_SPEED] = 5,
        [TD_PLACE_CHAIN_AREA] = 6,       [TD_PLACE_GRADE_SIGN] = 7,
        [TD_PLACE_NOTE] = 8};
    bool closed = (place->has & TD_PLACE_CLOSED) != 0;
    return closed ? 7 : ranks[place->kind];
}

static void polygon(struct td_svg *svg, const double *xy, size_t points, double x, double y,
                    const char *look)
{
    td_svg_path_start(svg);
    for (size_t i = 0; i < points; i++)
        td_svg_path_to(svg, x + xy[2 * i], y + xy[2 * i + 1], i == 0);
    td_svg_path_end(svg, true, look);
}

static void cross(struct td_svg *svg, double x, double y)
{
    td_svg_line(svg, x - 6, y - 6, x + 6, y + 6, STROKE);
    td_svg_line(svg, x - 6, y + 6, x + 6, y - 6, STROKE);
}

static void ramp(struct td_svg *svg, bool closed, double x, double y)
{
    static const double up[] = {-7, 6, 7, 6, 7, -7};
    polygon(svg, up, 3, x, y, closed ? OPEN : INK);
    if (closed)
        cross(svg, x, y);
}

/* Signs: plates and diamonds. */
static void sign(struct td_svg *svg, enum td_place_kind kind, double x, double y)
{
    static const double diamond[] = {0, -7.5, 7.5, 0, 0, 7.5, -7.5, 0};
    static const double slope[] = {-7, -5, 7, 5, -7, 5};
    static const double triangle[] = {0, -7, 7.5, 6, -7.5, 6};
    if (kind == TD_PLACE_TRUCK_SPEED) {
        td_svg_rect(svg, x - 5.5, y - 7, 11, 14, OPEN);
        td_svg_line(svg, x - 2.5, y - 2, x + 2.5, y - 2, STROKE);
        td_svg_line(svg, x - 2.5, y + 2, x + 2.5, y + 2, STROKE);
    } else if (kind == TD_PLACE_CURVE_SPEED) {
        polygon(svg, diamond, 4, x, y, OPEN);
        td_svg_circle(svg, x, y, 2, INK);
    } else if (kind == TD_PLACE_GRADE_SIGN) {
        polygon(svg, slope, 3, x, y, OPEN);
    } else {
        polygon(svg, triangle, 3, x, y, OPEN);
        td_svg_line(svg, x, y - 2, x, y + 3, STROKE);
    }
}

static void stop(struct td_svg *svg, enum td_place_kind kind, double x, double y)
{
    static const double octagon[] = {-3, -7, 3, -7, 7, -3, 7, 3, 3, 7, -3, 7, -7, 3, -7, -3};
    if (kind == TD_PLACE_STOP) {
        polygon(svg, octagon, 8, x, y, INK);
        td_svg_line(svg, x - 4, y, x + 4, y, "stroke=\"#fff\" stroke-width=\"2.4\"");
    } else if (kind == TD_PLACE_SIGNAL) {
        td_svg_rect(svg, x - 4, y - 8, 8, 16, OPEN);
        for (int i = -1; i <= 1; i++)
            td_svg_circle(svg, x, y + 4.6 * i, 1.7, INK);
    } else {
        cross(svg, x, y);
        td_svg_line(svg, x - 7, y + 7, x + 7, y + 7, STROKE);
    }
}

void td_card_symbol(struct td_svg *svg, const struct td_place *place, double x, double y)
{
    static const double bay[] = {-7, -4, 7, -4, 4, 5, -4, 5};
    bool must = (place->has & TD_PLACE_MANDATORY) != 0;
    switch (place->kind) {
    case TD_PLACE_ESCAPE_LANE:
        ramp(svg, (place->has & TD_PLACE_CLOSED) != 0, x, y);
        break;
    case TD_PLACE_BRAKE_CHECK:
        td_svg_circle(svg, x, y, 7, OPEN);
        td_svg_circle(svg, x, y, must ? 4.5 : 2, INK);
        break;
    case TD_PLACE_TURN_OUT:
        polygon(svg, bay, 4, x, y, OPEN);
        break;
    case TD_PLACE_CHAIN_AREA:
        td_svg_circle(svg, x - 3, y, 4, STROKE);
        td_svg_circle(svg, x + 3, y, 4, STROKE);
        break;
    case TD_PLACE_STOP:
    case TD_PLACE_SIGNAL:
    case TD_PLACE_RAIL_CROSSING:
        stop(svg, place->kind, x, y);
        break;
    case TD_PLACE_ENGINE_BRAKE_BAN:
        td_svg_circle(svg, x, y, 7, OPEN);
        td_svg_line(svg, x - 5, y + 5, x + 5, y - 5, STROKE);
        break;
    case TD_PLACE_NOTE:
        td_svg_rect(svg, x - 3.5, y - 3.5, 7, 7, INK);
        break;
    default:
        sign(svg, place->kind, x, y);
    }
}

static const char *side_word(enum td_side side)
{
    static const char *const words[] = {"", ", left", ", right"};
    return words[side];
}

/* Escape lane: side, length, and what the plan says it stops. */
static void lane_words(const struct td_card *card, const struct td_place *place, char *line)
{
    const struct td_plan_answer *answer = card->answer;
    char length[TD_PLAN_LINE_MAX] = "", stops[TD_PLAN_LINE_MAX];
    bool closed = (place->has & TD_PLACE_CLOSED) != 0;
    if ((place->has & TD_PLACE_LENGTH) != 0)
        (void)td_plan_reach_words(answer, floor(place->length_m), length);
    int used = snprintf(line, TD_PLAN_LINE_MAX, "%s%s%s%.20s",
                        closed ? "CLOSED escape lane" : "escape lane", side_word(place->side),
                        length[0] != '\0' ? ", " : "", length);
    for (size_t i = 0; i < answer->plan.escape_count && !closed; i++) {
        const struct td_plan_escape *escape = &answer->plan.escapes[i];
        if (td_plan_escape_place(answer, escape) == place && escape->stops_mps > 0)
            (void)snprintf(line + used, TD_PLAN_LINE_MAX - (size_t)used, ", stops %.20s",
                           td_plan_speed_words(answer, escape->stops_mps, stops));
    }
}

static void speed_words(const struct td_card *card, const struct td_place *place, char *line)
{
    char speed[TD_PLAN_LINE_MAX] = "", over[TD_PLAN_LINE_MAX];
    if ((place->has & TD_PLACE_SPEED) != 0)
        (void)td_plan_speed_words(card->answer, place->speed_mps, speed);
    if (place->kind == TD_PLACE_CURVE_SPEED)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "bend %.40s%s", speed, side_word(place->side));
    else if (place->kind == TD_PLACE_WORK_ZONE)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "work zone %.40s", speed);
    else if ((place->has & TD_PLACE_OVER_MASS) != 0)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%.40s over %.40s%s", speed,
                       td_plan_mass_words(card->answer, place->over_kg, over),
                       card->answer->query.mass_kg > place->over_kg ? "" : " (not you)");
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "trucks %.40s", speed);
}

static void grade_words(const struct td_card *card, const struct td_place *place, char *line)
{
    char way[TD_PLAN_LINE_MAX] = "";
    if ((place->has & TD_PLACE_LENGTH) != 0)
        (void)td_plan_way_words(card->answer, place->length_m, way);
    if ((place->has & TD_PLACE_GRADE) != 0)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "sign %.3g %%%s%.40s", place->grade_ratio * 100,
                       way[0] != '\0' ? ", " : "", way);
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "grade sign%s%.40s", way[0] != '\0' ? ", " : "",
                       way);
}

static void words_of(const struct td_card *card, const struct td_place *place, char *line)
{
    static const char *const plain[TD_PLACE_KINDS] = {
        [TD_PLACE_BRAKE_CHECK] = "brake check",   [TD_PLACE_CHAIN_AREA] = "chain area",
        [TD_PLACE_TURN_OUT] = "turn-out",         [TD_PLACE_STOP] = "stop sign",
        [TD_PLACE_SIGNAL] = "signal",             [TD_PLACE_RAIL_CROSSING] = "rail crossing",
        [TD_PLACE_ENGINE_BRAKE_BAN] = "no engine brake"};
    bool must = place->kind == TD_PLACE_BRAKE_CHECK && (place->has & TD_PLACE_MANDATORY) != 0;
    if (place->kind == TD_PLACE_ESCAPE_LANE)
        lane_words(card, place, line);
    else if (place->kind == TD_PLACE_TRUCK_SPEED || place->kind == TD_PLACE_CURVE_SPEED ||
             place->kind == TD_PLACE_WORK_ZONE)
        speed_words(card, place, line);
    else if (place->kind == TD_PLACE_GRADE_SIGN)
        grade_words(card, place, line);
    else if (place->kind == TD_PLACE_NOTE)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%.100s", place->name[0] != '\0' ? place->name
                                                                                : "note");
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%s%s%s", plain[place->kind],
                       side_word(place->side), must ? ", must stop" : "");
}

/* Miles or kilometres from the crest, as many as have room. */
static void axis(struct td_card *card)
{
    const struct td_hill *hill = card->answer->hill;
    double unit_m = card->answer->query.speak_kmh ? 1000 : TD_M_PER_MI, step = 0.5;
    double per_unit = (CARD_RIGHT - CARD_PLOT) / ((card->to_m - card->from_m) / unit_m);
    static const double steps[] = {0.5, 1, 2, 5, 10, 20, 50};
    for (size_t i = 0; i < sizeof steps / sizeof steps[0] && step * per_unit < 40; i++)
        step = steps[i];
    card->y += 16;
    td_svg_text(card->svg, 3, card->y, card_type(CARD_SMALL, true, TD_SVG_LEFT),
                card->answer->query.speak_kmh ? "km" : "mile");
    double first = ceil((card->from_m - hill->crest_m) / unit_m / step - 1e-9);
    double last = floor((card->to_m - hill->crest_m) / unit_m / step + 1e-9);
    for (double k = first; k <= last; k++) {
        double x = card_x(card, hill->crest_m + k * step * unit_m);
        char words[24];
        (void)snprintf(words, sizeof words, step < 1 ? "%.1f" : "%.0f", k * step + 0.0);
        double half = td_svg_width(words, CARD_SMALL, false) / 2;
        if (x - half >= CARD_PLOT - 13 && x + half <= CARD_WIDTH - 2)
            td_svg_text(card->svg, x, card->y, card_type(CARD_SMALL, false, TD_SVG_MIDDLE), words);
        td_svg_line(card->svg, x, card->y + 4, x, card->y + 10, CARD_THIN);
    }
    card->y += 10;
    td_svg_line(card->svg, CARD_PLOT, card->y, CARD_RIGHT, card->y,
                "stroke=\"#000\" stroke-width=\"2\"");
}

struct shown {
    const struct td_place *place;
    struct td_card_label label;
};

/* Shapes and numbers below the axis; leaders are longer where they have farther to go. */
static void row(struct td_card *card, const struct shown *shown, size_t count)
{
    double farthest = 0;
    int number = 0;
    for (size_t i = 0; i < count; i++)
        if (shown[i].label.tier >= 0)
            farthest = fmax(farthest, fabs(shown[i].label.x - shown[i].label.at_x));
    double bottom = card->y + 14 + fmin(26, farthest / 5);
    for (size_t i = 0; i < count; i++) {
        const struct td_card_label *label = &shown[i].label;
        char words[16];
        if (label->tier < 0)
            continue;
        (void)snprintf(words, sizeof words, "%d", ++number);
        td_svg_line(card->svg, label->at_x, card->y, label->at_x, card->y + 4, CARD_THIN);
        td_svg_line(card->svg, label->at_x, card->y + 4, label->x, bottom, CARD_THIN);
        td_card_symbol(card->svg, shown[i].place, label->x, bottom + 8);
        td_svg_text(card->svg, label->x, bottom + 30, card_type(CARD_SMALL, false, TD_SVG_MIDDLE),
                    words);
    }
    card->y = number > 0 ? bottom + 36 : card->y + 6;
}

/* One line of the list at `top`; returns how far it reaches down. */
static double entry(const struct td_card *card, const struct shown *shown, int number, double left,
                    double top, bool draw)
{
    char words[TD_PLAN_LINE_MAX], line[TD_PLAN_LINE_MAX], mile[24];
    bool bold = shown->place->kind == TD_PLACE_ESCAPE_LANE &&
                (shown->place->has & TD_PLACE_CLOSED) == 0;
    double unit_m = card->answer->query.speak_kmh ? 1000 : TD_M_PER_MI, y = top;
    double width = COLUMN - WORDS_X - 6;
    words_of(card, shown->place, words);
    if (draw) {
        (void)snprintf(line, sizeof line, "%d", number);
        double at = (shown->place->at_m - card->answer->hill->crest_m) / unit_m;
        (void)snprintf(mile, sizeof mile, "%.1f", fabs(at) < 0.05 ? 0 : at);
        td_svg_text(card->svg, left + 18, y + 14, card_type(CARD_SMALL, false, TD_SVG_RIGHT), line);
        td_card_symbol(card->svg, shown->place, left + 32, y + 9);
        td_svg_text(card->svg, left + WORDS_X - 8, y + 14,
                    card_type(CARD_SMALL, false, TD_SVG_RIGHT), mile);
    }
    const char *text = words;
    for (int i = 0; i < WORD_LINES && *text != '\0'; i++) {
        size_t length = td_svg_break(text, width, CARD_SMALL, bold);
        if (i + 1 == WORD_LINES) {
            td_svg_cut(text, width, CARD_SMALL, bold, line, sizeof line);
            length = strlen(text);
        } else {
            (void)snprintf(line, sizeof line, "%.*s", (int)length, text);
        }
        if (draw)
            td_svg_text(card->svg, left + WORDS_X, y + 14, card_type(CARD_SMALL, bold, TD_SVG_LEFT),
                        line);
        y += i == 0 ? 19 : 16;
        text += length;
        text += strspn(text, " ");
    }
    return y;
}

/* Two columns, the first filled as far as half of the whole. */
static void list(struct td_card *card, const struct shown *shown, size_t count)
{
    double whole = 0, left = CARD_LEFT, y = card->y, lowest = card->y;
    int number = 0;
    for (size_t i = 0; i < count; i++)
        if (shown[i].label.tier >= 0)
            whole += entry(card, &shown[i], 0, 0, 0, false);
    for (size_t i = 0; i < count; i++) {
        if (shown[i].label.tier < 0)
            continue;
        if (left < COLUMN && y - card->y >= whole / 2 - 1) {
            left += COLUMN;
            y = card->y;
        }
        y = entry(card, &shown[i], ++number, left, y, true);
        lowest = fmax(lowest, y);
    }
    card->y = lowest;
}

void td_card_places(struct td_card *card)
{
    struct shown shown[TD_HILL_PLACES_MAX];
    struct td_card_label labels[TD_HILL_PLACES_MAX];
    const struct td_hill *hill = card->answer->hill;
    size_t count = 0, dropped = 0;
    char words[TD_PLAN_LINE_MAX];
    axis(card);
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        if (place->at_m < card->from_m || place->at_m > card->to_m)
            continue;
        labels[count] = (struct td_card_label){.at_x = card_x(card, place->at_m),
                                               .rank = rank_of(place)};
        shown[count++].place = place;
    }
    (void)td_card_lay_labels(labels, count, CARD_LEFT + 10, CARD_RIGHT - 8, 1, &dropped);
    for (size_t i = 0; i < count; i++)
        shown[i].label = labels[i];
    row(card, shown, count);
    list(card, shown, count);
    if (dropped == 0)
        return;
    (void)snprintf(words, sizeof words, "%zu more beside the road had no room here: look at the "
                   "signs", dropped);
    card_write(card, CARD_LEFT, CARD_SMALL, true, 2, words);
}
