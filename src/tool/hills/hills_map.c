/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The road to scale, north up. Marks stand beside it with a leader to their place: round each place
 * spots are tried, nearest first, and the first that touches neither road nor another mark is
 * taken. A mark that finds none is left out and counted; the strip below has it all the same. */
#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/card/card_parts.h"
#include "tool/hills/hills_picture.h"

#define EDGE      8.0
#define RIGHT_AIR 40.0  /* the arrow stands there */
#define ROAD_AIR  26.0  /* for marks round the road */
#define TALLEST   168.0
#define LOWEST    64.0
#define FOOT_AIR  24.0  /* the scale's */
#define CLEAR     3.0

enum { SAMPLES = 1500, RINGS = 7, SPOTS = 16 };

struct map {
    struct td_hill_picture *picture;
    double from_m, to_m; /* of the road that is shown */
    double scale; /* units a metre */
    double origin_x, origin_y; /* of the tangent frame, on the page */
    struct td_picture_box area;
    struct {
        double x, y;
    } road[SAMPLES];
};

static void place_at(const struct map *map, double along_m, double *x, double *y)
{
    const struct td_hill *hill = map->picture->hill;
    size_t at = td_hill_station_at(hill, along_m);
    const struct td_station *from = &hill->stations[at], *to = &hill->stations[at + 1];
    double share = fmax(0, fmin(1, (along_m - from->along_m) / (to->along_m - from->along_m)));
    *x = map->origin_x + (from->x_m + share * (to->x_m - from->x_m)) * map->scale;
    *y = map->origin_y - (from->y_m + share * (to->y_m - from->y_m)) * map->scale;
}

/* The road as it is seen, in metres of the tangent frame. */
static void sample_road(struct map *map)
{
    map->origin_x = map->origin_y = 0;
    map->scale = 1;
    for (size_t i = 0; i < SAMPLES; i++) {
        double share = (double)i / (SAMPLES - 1);
        place_at(map, map->from_m + share * (map->to_m - map->from_m), &map->road[i].x,
                 &map->road[i].y);
    }
}

/* Fits it between the margins; flat roads take less height. */
static void fit(struct map *map, double top)
{
    double left = (double)INFINITY, right = -left, high = left, low = -left;
    for (size_t i = 0; i < SAMPLES; i++) {
        left = fmin(left, map->road[i].x);
        right = fmax(right, map->road[i].x);
        high = fmin(high, map->road[i].y);
        low = fmax(low, map->road[i].y);
    }
    double wide = TD_PICTURE_WIDTH - 2 * EDGE - RIGHT_AIR - 2 * ROAD_AIR;
    double scale = fmin(wide / fmax(1, right - left), TALLEST / fmax(1, low - high));
    double tall = fmax(LOWEST, (low - high) * scale);
    map->scale = scale;
    map->origin_x = EDGE + ROAD_AIR + wide / 2 - (left + right) / 2 * scale;
    map->origin_y = top + ROAD_AIR + tall / 2 - (high + low) / 2 * scale;
    map->area = (struct td_picture_box){EDGE, top, TD_PICTURE_WIDTH - EDGE,
                                        top + tall + 2 * ROAD_AIR};
    for (size_t i = 0; i < SAMPLES; i++) {
        map->road[i].x = map->origin_x + map->road[i].x * scale;
        map->road[i].y = map->origin_y + map->road[i].y * scale;
    }
}

/* From one place to another along the road; only what differs by a pixel. */
static void draw_road(const struct map *map, double from_m, double to_m, const char *look)
{
    struct td_svg *svg = map->picture->svg;
    double x, y, last_x, last_y;
    place_at(map, from_m, &last_x, &last_y);
    td_svg_path_start(svg);
    td_svg_path_to(svg, last_x, last_y, true);
    for (size_t i = 0; i < SAMPLES; i++) {
        double along_m = map->from_m + (map->to_m - map->from_m) * (double)i / (SAMPLES - 1);
        x = map->road[i].x;
        y = map->road[i].y;
        if (along_m <= from_m || along_m >= to_m || hypot(x - last_x, y - last_y) < 1)
            continue;
        td_svg_path_to(svg, x, y, false);
        last_x = x;
        last_y = y;
    }
    place_at(map, to_m, &x, &y);
    td_svg_path_to(svg, x, y, false);
    td_svg_path_end(svg, false, look);
}

static bool boxes_touch(const struct td_picture_box *a, const struct td_picture_box *b)
{
    return a->left < b->right && b->left < a->right && a->top < b->bottom && b->top < a->bottom;
}

/* No road and no mark within it, and nothing of it outside. */
static bool is_free(const struct map *map, const struct td_picture_box *box)
{
    struct td_picture_box wide = {box->left - CLEAR, box->top - CLEAR, box->right + CLEAR,
                       box->bottom + CLEAR};
    if (box->left < map->area.left || box->right > map->area.right ||
        box->top < map->area.top || box->bottom > map->area.bottom)
        return false;
    for (size_t i = 0; i < map->picture->box_count; i++)
        if (boxes_touch(&wide, &map->picture->boxes[i]))
            return false;
    for (size_t i = 0; i < SAMPLES; i++)
        if (map->road[i].x > wide.left && map->road[i].x < wide.right &&
            map->road[i].y > wide.top && map->road[i].y < wide.bottom)
            return false;
    return true;
}

/* A box of that size near a place; false where there is none. Takes it. */
static bool find_spot(struct map *map, double x, double y, double width, double height,
                      struct td_picture_box *box)
{
    if (map->picture->box_count == TD_PICTURE_BOXES)
        return false;
    for (int ring = 0; ring < RINGS; ring++)
        for (int spot = 0; spot < SPOTS; spot++) {
            double angle = 2 * TD_PI * spot / SPOTS;
            double reach = 7 + 6 * ring; /* of the box's nearest edge */
            double middle_x = x + cos(angle) * (reach + width / 2);
            double middle_y = y + sin(angle) * (reach + height / 2);
            *box = (struct td_picture_box){middle_x - width / 2, middle_y - height / 2,
                                middle_x + width / 2, middle_y + height / 2};
            if (!is_free(map, box))
                continue;
            map->picture->boxes[map->picture->box_count++] = *box;
            return true;
        }
    map->picture->left_out++;
    return false;
}

/* From the place to the near edge of its box. */
static void leader(const struct map *map, double x, double y, const struct td_picture_box *box)
{
    double to_x = fmax(box->left, fmin(box->right, x)), to_y = fmax(box->top,
                                                                    fmin(box->bottom, y));
    td_svg_line(map->picture->svg, x, y, to_x, to_y, CARD_THIN);
}

static void mark_name(struct map *map, double along_m, const char *name)
{
    double x, y, width = td_svg_width(name, TD_PICTURE_TYPE, true);
    struct td_picture_box box;
    place_at(map, along_m, &x, &y);
    td_svg_circle(map->picture->svg, x, y, 4, "fill=\"#fff\" stroke=\"#000\" stroke-width=\"2\"");
    if (!find_spot(map, x, y, width, TD_PICTURE_TYPE, &box))
        return;
    leader(map, x, y, &box);
    td_svg_text(map->picture->svg, box.left, box.bottom - 0.22 * TD_PICTURE_TYPE,
                card_type(TD_PICTURE_TYPE, true, TD_SVG_LEFT), name);
}

static void mark_place(struct map *map, const struct td_place *place)
{
    double x, y;
    struct td_picture_box box;
    place_at(map, place->at_m, &x, &y);
    if (!find_spot(map, x, y, 16, 16, &box))
        return;
    leader(map, x, y, &box);
    td_card_symbol(map->picture->svg, place, box.left + 8, box.top + 8);
}

/* Which way is down: heads on the descent, a few and never one beside another. */
static void arrows(const struct map *map, double from_m, double to_m)
{
    double apart_m = fmax((to_m - from_m) / 5, 40 / map->scale);
    for (double at_m = from_m + apart_m / 2; at_m < to_m; at_m += apart_m) {
        double x, y, ahead_x, ahead_y;
        place_at(map, at_m, &x, &y);
        place_at(map, fmin(at_m + 6 / map->scale, to_m), &ahead_x, &ahead_y);
        double length = hypot(ahead_x - x, ahead_y - y);
        if (length < 1)
            continue;
        double east = (ahead_x - x) / length, down = (ahead_y - y) / length;
        td_svg_path_start(map->picture->svg);
        td_svg_path_to(map->picture->svg, x + 7 * east, y + 7 * down, true);
        td_svg_path_to(map->picture->svg, x - 3 * east - 5 * down, y - 3 * down + 5 * east, false);
        td_svg_path_to(map->picture->svg, x - 3 * east + 5 * down, y - 3 * down - 5 * east, false);
        td_svg_path_end(map->picture->svg, true,
                        "fill=\"#000\" stroke=\"#fff\" stroke-width=\"1\"");
    }
}

static void take_box(struct map *map, double left, double top, double right, double bottom)
{
    map->picture->boxes[map->picture->box_count++] =
        (struct td_picture_box){left, top, right, bottom};
}

static void north_arrow(struct map *map)
{
    struct td_svg *svg = map->picture->svg;
    double x = TD_PICTURE_WIDTH - EDGE - 12, top = map->area.top + 4;
    td_svg_line(svg, x, top + 4, x, top + 26, "stroke=\"#000\" stroke-width=\"2\"");
    td_svg_path_start(svg);
    td_svg_path_to(svg, x, top, true);
    td_svg_path_to(svg, x - 5, top + 10, false);
    td_svg_path_to(svg, x + 5, top + 10, false);
    td_svg_path_end(svg, true, "fill=\"#000\"");
    td_svg_text(svg, x, top + 39, card_type(TD_PICTURE_TYPE, true, TD_SVG_MIDDLE), "N");
    take_box(map, x - 12, map->area.top, map->area.right, top + 44);
}

/* The longest round length that takes at most two fifths of the width. */
static void scale_bar(const struct map *map, double y)
{
    static const double rounds[] = {50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01};
    struct td_svg *svg = map->picture->svg;
    bool metric = map->picture->unit.query.speak_kmh;
    double unit_m = metric ? 1000 : TD_M_PER_MI, round = 0.01;
    char words[32];
    for (size_t i = 0; i < sizeof rounds / sizeof rounds[0]; i++)
        if (rounds[i] * unit_m * map->scale <= 0.4 * TD_PICTURE_WIDTH) {
            round = rounds[i];
            break;
        }
    double length = round * unit_m * map->scale;
    (void)snprintf(words, sizeof words, "%g %s", round,
                   metric ? "km" : round > 1 ? "miles" : "mile");
    td_svg_line(svg, EDGE, y, EDGE + length, y, "stroke=\"#000\" stroke-width=\"2\"");
    td_svg_line(svg, EDGE, y - 4, EDGE, y + 4, "stroke=\"#000\" stroke-width=\"2\"");
    td_svg_line(svg, EDGE + length, y - 4, EDGE + length, y + 4,
                "stroke=\"#000\" stroke-width=\"2\"");
    td_svg_text(svg, EDGE + length + 6, y + 4, card_type(TD_PICTURE_TYPE, false, TD_SVG_LEFT),
                words);
}

bool td_hill_picture_shows(const struct td_place *place)
{
    return place->kind == TD_PLACE_ESCAPE_LANE || place->kind == TD_PLACE_BRAKE_CHECK;
}

void td_hill_map(struct td_hill_picture *picture)
{
    const struct td_hill *hill = picture->hill;
    struct map room = {.picture = picture}, *map = &room; /* some 30 kB */
    td_hill_picture_range(hill, &map->from_m, &map->to_m);
    sample_road(map);
    fit(map, picture->y);
    north_arrow(map);
    draw_road(map, map->from_m, map->to_m, "fill=\"none\" stroke=\"#000\" stroke-width=\"1.5\"");
    if (hill->coached) {
        draw_road(map, hill->crest_m, hill->foot_m,
                  "fill=\"none\" stroke=\"#000\" stroke-width=\"4\" stroke-linejoin=\"round\"");
        arrows(map, hill->crest_m, hill->foot_m);
        mark_name(map, hill->crest_m, "crest");
        mark_name(map, hill->foot_m, "foot");
    } else {
        arrows(map, map->from_m, map->to_m);
    }
    for (int lanes = 1; lanes >= 0; lanes--) /* escape lanes first */
        for (size_t i = 0; i < hill->place_count; i++)
            if (td_hill_picture_shows(&hill->places[i]) &&
                hill->places[i].at_m >= map->from_m && hill->places[i].at_m <= map->to_m &&
                (hill->places[i].kind == TD_PLACE_ESCAPE_LANE) == (lanes == 1))
                mark_place(map, &hill->places[i]);
    picture->y = map->area.bottom + FOOT_AIR / 2;
    scale_bar(map, picture->y);
    picture->y += FOOT_AIR / 2;
}
