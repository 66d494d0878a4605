/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The card as a whole: page, heading and the order of its parts. */
#include "tool/plan/plan_card.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"
#include "talkdown/units.h"
#include "tool/card/card_parts.h"

struct td_svg_type card_type(double size, bool bold, enum td_svg_anchor anchor)
{
    return (struct td_svg_type){size, bold, false, anchor, false};
}

double card_x(const struct td_card *card, double at_m)
{
    double share = (at_m - card->from_m) / (card->to_m - card->from_m);
    return CARD_PLOT + (CARD_RIGHT - CARD_PLOT) * fmax(0, fmin(1, share));
}

char *card_capital(char *line)
{
    if (line[0] >= 'a' && line[0] <= 'z')
        line[0] = (char)(line[0] - 'a' + 'A');
    return line;
}

void card_write(struct td_card *card, double left, double size, bool bold, int lines,
                const char *text)
{
    char line[512];
    for (int i = 0; i < lines && *text != '\0'; i++) {
        size_t length = td_svg_break(text, CARD_RIGHT - left, size, bold);
        if (i + 1 == lines || length >= sizeof line) {
            td_svg_cut(text, CARD_RIGHT - left, size, bold, line, sizeof line);
            length = strlen(text);
        } else {
            memcpy(line, text, length);
            line[length] = '\0';
        }
        card->y += size * 1.3;
        td_svg_text(card->svg, left, card->y - size * 0.3, card_type(size, bold, TD_SVG_LEFT),
                    line);
        text += length;
        text += strspn(text, " ");
    }
}

/* Where the road falls to, for hills whose name does not say. */
static const char *direction(const struct td_hill *hill)
{
    static const char *const words[] = {"north", "north-east", "east", "south-east",
                                        "south", "south-west", "west", "north-west"};
    const struct td_station *from = &hill->stations[td_hill_station_at(hill, hill->crest_m)];
    const struct td_station *to = &hill->stations[td_hill_station_at(hill, hill->foot_m)];
    double east_m = to->x_m - from->x_m, north_m = to->y_m - from->y_m;
    if (strstr(hill->name, "bound") != NULL || hypot(east_m, north_m) < 100)
        return NULL;
    return words[(int)floor(td_deg_from_rad(atan2(east_m, north_m)) / 45 + 8.5) % 8];
}

void td_card_heading(struct td_card *card)
{
    const struct td_plan_answer *answer = card->answer;
    const struct td_hill *hill = answer->hill;
    char line[512] = "", a[TD_PLAN_LINE_MAX], b[TD_PLAN_LINE_MAX], c[TD_PLAN_LINE_MAX];
    static const char *const roads[] = {"Dry road", "Wet road", "Icy road"};
    const char *down = answer->is_plain ? NULL : direction(hill);
    card->y = 12;
    card_write(card, CARD_LEFT, 24, true, 2, answer->is_plain ? "Plain grade" : hill->name);
    if (answer->plan.coached)
        (void)snprintf(line, sizeof line, "%s%s%s%.1f %% for %s. ",
                       down != NULL ? "Down to the " : "", down != NULL ? down : "",
                       down != NULL ? ". " : "", hill->mean_downgrade_ratio * 100,
                       td_plan_way_words(answer, hill->foot_m - hill->crest_m, a));
    size_t used = strlen(line);
    (void)snprintf(line + used, sizeof line - used, "%s. Air %s, brakes %s at the crest",
                   roads[answer->query.road],
                   td_plan_temp_words(answer, answer->query.ambient_c, b),
                   td_plan_temp_words(answer, answer->query.brakes_from_c, c));
    card_write(card, CARD_LEFT, 15, false, 2, line);
    (void)snprintf(line, sizeof line, "%s. %s%s%s",
                   answer->rig != NULL ? answer->rig->name : "Five-axle reference truck",
                   answer->load != NULL ? "Load: " : "Weight: ",
                   answer->load != NULL ? answer->load : "", answer->load != NULL ? ", " : "");
    used = strlen(line);
    (void)snprintf(line + used, sizeof line - used, "%s",
                   td_plan_mass_words(answer, answer->query.mass_kg, a));
    card_write(card, CARD_LEFT, 15, true, 2, line);
    card->y += 6;
}

/* On paper the whole page in the sheet, whichever; on a screen as wide as it is, and scrolled. */
static void open_page(struct td_svg *svg, double height)
{
    td_svg_raw(svg, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                    "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 600 ");
    td_svg_number(svg, height);
    td_svg_raw(svg, "\" font-family=\"Helvetica, Arial, sans-serif\">\n"
                    "<style>@page { margin: 10mm }\n"
                    "@media screen { svg:root { width: 100%; height: auto } }</style>\n<title>");
}

void td_card_hatches(struct td_svg *svg)
{
    td_svg_raw(
        svg,
        "<defs>\n"
        "<pattern id=\"s1\" width=\"12\" height=\"12\" patternUnits=\"userSpaceOnUse\">"
        "<path d=\"M0 12L12 0\" stroke=\"#000\" stroke-width=\"0.7\"/></pattern>\n"
        "<pattern id=\"s2\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">"
        "<path d=\"M0 6L6 0\" stroke=\"#000\" stroke-width=\"1\"/></pattern>\n"
        "<pattern id=\"s3\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\">"
        "<path d=\"M0 6L6 0M0 0L6 6\" stroke=\"#000\" stroke-width=\"1.3\"/></pattern>\n"
        "</defs>\n");
}

void td_plan_card_draw(const struct td_plan_answer *answer, const struct td_plan_point *points,
                       size_t point_count, const char *source, struct td_svg *svg)
{
    struct td_svg body = {NULL, 0, 0, false};
    struct td_card card = {.svg = &body, .answer = answer, .points = points,
                           .point_count = point_count, .source = source};
    td_card_range(&card);
    td_card_heading(&card);
    td_card_orders(&card);
    td_card_road(&card);
    if (answer->plan.coached && answer->plan.safe && point_count > 0) {
        td_card_speeds(&card);
        td_card_heat(&card);
    }
    td_card_places(&card);
    td_card_notes(&card);
    double height = ceil(card.y + 12);
    open_page(svg, height);
    td_svg_escaped(svg, answer->is_plain ? "Plain grade" : answer->hill->name);
    td_svg_raw(svg, "</title>\n");
    td_card_hatches(svg);
    td_svg_rect(svg, 0, 0, CARD_WIDTH, height, "fill=\"#fff\"");
    if (body.bytes != NULL)
        td_svg_raw(svg, body.bytes);
    td_svg_raw(svg, "</svg>\n");
    svg->failed = svg->failed || body.failed;
    free(body.bytes);
}

enum td_result td_plan_card_write(const struct td_plan_answer *answer,
                                  const struct td_plan_point *points, size_t point_count,
                                  const char *source, const char *path, bool replace,
                                  struct td_problem *problem)
{
    struct td_svg svg = {NULL, 0, 0, false};
    td_plan_card_draw(answer, points, point_count, source, &svg);
    enum td_result result =
        svg.failed ? td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the card")
                   : td_file_write(path, svg.bytes, svg.length, replace, problem);
    free(svg.bytes);
    return result;
}
