/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heights along the road with the grades below them, over miles from the crest; and the picture
 * as a whole. The heights fill the strip, whatever they are: their scale is told in words beside
 * it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "talkdown/units.h"
#include "tool/card/card_parts.h"
#include "tool/hills/hills_picture.h"

#define LEFT    10.0
#define RIGHT   (TD_PICTURE_WIDTH - 10.0)
#define TALL    64.0
#define LEAD_M  600.0  /* of road before the crest and past the foot, at least */
#define REACH_M 4000.0 /* marks as far as this before the crest and past the foot are shown */

enum { STEPS = 164, TIERS = 3 };

struct strip {
    struct td_hill_picture *picture;
    double from_m, to_m;
};

static double strip_x(const struct strip *strip, double at_m)
{
    double share = (at_m - strip->from_m) / (strip->to_m - strip->from_m);
    return LEFT + (RIGHT - LEFT) * fmax(0, fmin(1, share));
}

void td_hill_picture_range(const struct td_hill *hill, double *from_m, double *to_m)
{
    *from_m = 0;
    *to_m = hill->length_m;
    if (!hill->coached)
        return;
    double from = hill->crest_m - LEAD_M, to = hill->foot_m + LEAD_M;
    for (size_t i = 0; i < hill->place_count; i++) {
        double at_m = hill->places[i].at_m;
        if (!td_hill_picture_shows(&hill->places[i]) || at_m < hill->crest_m - REACH_M ||
            at_m > hill->foot_m + REACH_M)
            continue;
        from = fmin(from, at_m - 200);
        to = fmax(to, at_m + 200);
    }
    *from_m = fmax(0, from);
    *to_m = fmin(hill->length_m, to);
}

/* --- what stands over the line --- */

struct mark {
    const struct td_place *place; /* NULL: crest or foot */
    const char *name;
    double at_m;
};

static size_t collect(const struct strip *strip, struct mark *marks)
{
    const struct td_hill *hill = strip->picture->hill;
    size_t count = 0;
    if (hill->coached) {
        marks[count++] = (struct mark){NULL, "crest", hill->crest_m};
        marks[count++] = (struct mark){NULL, "foot", hill->foot_m};
    }
    for (size_t i = 0; i < hill->place_count; i++)
        if (td_hill_picture_shows(&hill->places[i]) && hill->places[i].at_m >= strip->from_m &&
            hill->places[i].at_m <= strip->to_m)
            marks[count++] = (struct mark){&hill->places[i], "", hill->places[i].at_m};
    for (size_t i = 1; i < count; i++) /* by place; few */
        for (size_t k = i; k > 0 && marks[k].at_m < marks[k - 1].at_m; k--) {
            struct mark other = marks[k];
            marks[k] = marks[k - 1];
            marks[k - 1] = other;
        }
    return count;
}

static void draw_mark(const struct strip *strip, const struct mark *mark,
                      const struct td_card_label *label, double base, double line_y)
{
    struct td_svg *svg = strip->picture->svg;
    double y = base - CARD_LINE * label->tier;
    bool is_name = mark->place == NULL;
    td_svg_line(svg, label->x, is_name ? y - 10 : y + 3, label->x, base + 3, CARD_THIN);
    td_svg_line(svg, label->x, base + 3, label->at_x, base + 11, CARD_THIN);
    td_svg_line(svg, label->at_x, base + 11, label->at_x, line_y, CARD_THIN);
    if (is_name)
        td_svg_text(svg, label->is_left ? label->x - 4 : label->x + 4, y,
                    card_type(TD_PICTURE_TYPE, true, label->is_left ? TD_SVG_RIGHT : TD_SVG_LEFT),
                    mark->name);
    else
        td_card_symbol(svg, mark->place, label->x, y - 5);
}

struct heights {
    double low_m, high_m, top, bottom;
};

static double height_y(const struct heights *heights, double elevation_m)
{
    double share = (elevation_m - heights->low_m) / fmax(10, heights->high_m - heights->low_m);
    return heights->bottom - 6 - (heights->bottom - heights->top - 8) * share;
}

/* Makes room above the profile, and says where that begins. */
static void put_marks(struct strip *strip, struct heights *heights)
{
    struct mark marks[TD_HILL_PLACES_MAX + 2];
    struct td_card_label labels[TD_HILL_PLACES_MAX + 2];
    size_t count = collect(strip, marks), dropped = 0;
    for (size_t i = 0; i < count; i++)
        labels[i] = (struct td_card_label){
            .at_x = strip_x(strip, marks[i].at_m),
            .rank = marks[i].place == NULL                         ? 0
                    : marks[i].place->kind == TD_PLACE_ESCAPE_LANE ? 1
                                                                   : 2,
            .text_width = marks[i].place == NULL
                              ? td_svg_width(marks[i].name, TD_PICTURE_TYPE, true)
                              : 0};
    int tiers = td_card_lay_labels(labels, count, LEFT + 8, RIGHT - 8, TIERS, &dropped);
    double base = strip->picture->y + CARD_LINE * (tiers > 0 ? tiers : 1) - 2;
    heights->top = base + 12;
    heights->bottom = heights->top + TALL;
    for (size_t i = 0; i < count; i++)
        if (labels[i].tier >= 0)
            draw_mark(strip, &marks[i], &labels[i], base,
                      height_y(heights, td_hill_elevation_at(strip->picture->hill,
                                                             marks[i].at_m)));
    strip->picture->left_out += dropped;
}

/* --- the profile --- */

static void measure(const struct strip *strip, struct heights *heights)
{
    heights->low_m = (double)INFINITY;
    heights->high_m = -(double)INFINITY;
    for (int i = 0; i <= STEPS; i++) {
        double at_m = strip->from_m + (strip->to_m - strip->from_m) * i / STEPS;
        double elevation_m = td_hill_elevation_at(strip->picture->hill, at_m);
        heights->low_m = fmin(heights->low_m, elevation_m);
        heights->high_m = fmax(heights->high_m, elevation_m);
    }
}

/* Below the line, each stretch of one steepness in its hatch. */
static void fill_profile(const struct strip *strip, const struct heights *heights)
{
    const struct td_hill *hill = strip->picture->hill;
    struct td_svg *svg = strip->picture->svg;
    double step_m = (strip->to_m - strip->from_m) / STEPS;
    for (int i = 0, next; i < STEPS; i = next) {
        double middle_m = strip->from_m + step_m * (i + 0.5);
        int step = td_card_steepness(td_hill_downgrade_at(hill, middle_m));
        td_svg_path_start(svg);
        td_svg_path_to(svg, strip_x(strip, strip->from_m + step_m * i), heights->bottom, true);
        for (next = i; next < STEPS; next++) {
            double at_m = strip->from_m + step_m * next;
            if (td_card_steepness(td_hill_downgrade_at(hill, at_m + step_m / 2)) != step)
                break;
            td_svg_path_to(svg, strip_x(strip, at_m),
                           height_y(heights, td_hill_elevation_at(hill, at_m)), false);
        }
        double end_m = strip->from_m + step_m * next;
        td_svg_path_to(svg, strip_x(strip, end_m),
                       height_y(heights, td_hill_elevation_at(hill, end_m)), false);
        td_svg_path_to(svg, strip_x(strip, end_m), heights->bottom, false);
        td_svg_path_end(svg, true, td_card_hatch(step));
    }
}

static void draw_line(const struct strip *strip, const struct heights *heights)
{
    struct td_svg *svg = strip->picture->svg;
    double step_m = (strip->to_m - strip->from_m) / STEPS;
    td_svg_path_start(svg);
    for (int i = 0; i <= STEPS; i++) {
        double at_m = strip->from_m + step_m * i;
        td_svg_path_to(svg, strip_x(strip, at_m),
                       height_y(heights, td_hill_elevation_at(strip->picture->hill, at_m)), i == 0);
    }
    td_svg_path_end(svg, false, "fill=\"none\" stroke=\"#000\" stroke-width=\"2.5\"");
}

/* Percent of each run where it has room. */
static void percents(const struct strip *strip)
{
    const struct td_hill *hill = strip->picture->hill;
    struct td_hill_picture *picture = strip->picture;
    td_svg_rect(picture->svg, LEFT, picture->y, RIGHT - LEFT, 18, CARD_THIN);
    for (size_t i = 0; i < hill->run_count; i++) {
        const struct td_run *run = &hill->runs[i];
        double left = strip_x(strip, run->from_m), right = strip_x(strip, run->to_m);
        double percent = run->downgrade_ratio * 100;
        char words[32];
        if (run->to_m <= strip->from_m || run->from_m >= strip->to_m)
            continue;
        if (left > LEFT)
            td_svg_line(picture->svg, left, picture->y, left, picture->y + 18, CARD_THIN);
        (void)snprintf(words, sizeof words, "%s%.*f", percent > -0.5 ? "" : "up ",
                       fabs(percent) < 1.95 ? 0 : 1, fabs(percent));
        if (td_svg_width(words, TD_PICTURE_TYPE, true) + 4 <= right - left)
            td_svg_text(picture->svg, (left + right) / 2, picture->y + 13.5,
                        card_type(TD_PICTURE_TYPE, true, TD_SVG_MIDDLE), words);
    }
    picture->y += 18;
}

static void axis(const struct strip *strip)
{
    static const double steps[] = {0.5, 1, 2, 5, 10, 20, 50};
    struct td_hill_picture *picture = strip->picture;
    bool metric = picture->unit.query.speak_kmh;
    double unit_m = metric ? 1000 : TD_M_PER_MI, step = 0.5, zero_m = picture->hill->crest_m;
    double per_unit = (RIGHT - LEFT) / ((strip->to_m - strip->from_m) / unit_m);
    for (size_t i = 0; i < sizeof steps / sizeof steps[0] && step * per_unit < 34; i++)
        step = steps[i];
    double first = ceil((strip->from_m - zero_m) / unit_m / step - 1e-9);
    double last = floor((strip->to_m - zero_m) / unit_m / step + 1e-9);
    for (double k = first; k <= last; k++) {
        double x = strip_x(strip, zero_m + k * step * unit_m);
        char words[24];
        (void)snprintf(words, sizeof words, step < 1 ? "%.1f" : "%.0f", k * step + 0.0);
        double half = td_svg_width(words, TD_PICTURE_TYPE, false) / 2;
        td_svg_line(picture->svg, x, picture->y, x, picture->y + 5, CARD_THIN);
        if (x - half >= 1 && x + half <= TD_PICTURE_WIDTH - 1)
            td_svg_text(picture->svg, x, picture->y + 17,
                        card_type(TD_PICTURE_TYPE, false, TD_SVG_MIDDLE), words);
    }
    picture->y += 34;
    char caption[64];
    (void)snprintf(caption, sizeof caption, "percent down; %s from the %s",
                   metric ? "km" : "miles", picture->hill->coached ? "crest" : "start");
    td_svg_text(picture->svg, TD_PICTURE_WIDTH / 2, picture->y - 3,
                card_type(TD_PICTURE_TYPE, false, TD_SVG_MIDDLE), caption);
}

void td_hill_strip(struct td_hill_picture *picture)
{
    struct strip strip = {.picture = picture};
    struct heights heights;
    td_hill_picture_range(picture->hill, &strip.from_m, &strip.to_m);
    measure(&strip, &heights);
    put_marks(&strip, &heights);
    fill_profile(&strip, &heights);
    draw_line(&strip, &heights);
    picture->y = heights.bottom;
    percents(&strip);
    axis(&strip);
}

size_t td_hill_picture_draw(const struct td_hill *hill, bool metric, struct td_svg *svg)
{
    struct td_svg body = {NULL, 0, 0, false};
    struct td_hill_picture picture = {
        .svg = &body, .hill = hill, .unit = {.hill = hill, .query = {.speak_kmh = metric}}, .y = 0};
    td_hill_map(&picture);
    picture.y += 4;
    td_hill_strip(&picture);
    td_svg_raw(svg, "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 344 ");
    td_svg_number(svg, ceil(picture.y + 2));
    td_svg_raw(svg, "\">\n<title>Map, north up, and profile of ");
    td_svg_escaped(svg, hill->name);
    td_svg_raw(svg, "</title>\n");
    if (body.bytes != NULL)
        td_svg_raw(svg, body.bytes);
    td_svg_raw(svg, "</svg>\n");
    svg->failed = svg->failed || body.failed;
    free(body.bytes);
    return picture.left_out;
}
