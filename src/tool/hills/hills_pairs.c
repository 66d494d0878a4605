/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two hills with one id, and two hills of one road. Of each hill a thin line is kept, a point every
 * 50 m. Roads are compared only where their boxes meet, and boxes only within a cell of a grid, so
 * that a country takes as long as its hills one by one. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_entry.h"
#include "talkdown/geo.h"
#include "talkdown/text.h"
#include "tool/hills/hills_found.h"

static const double step_m = 50, near_m = 25, share_of_one = 0.8;
/* Cells of a quarter of a degree, 28 km high: a hill lies in a few, and a cell holds few hills. */
enum { FIRST_LOOK = 12, CELLS_A_DEGREE = 4, COLUMNS = 360 * CELLS_A_DEGREE };

struct line_point {
    float lat_deg, lon_deg; /* a metre or so */
};

struct kept {
    char id[TD_HILL_NAME_MAX + 1];
    char *name;
    int line;
    double south_deg, north_deg, west_deg, east_deg;
    struct line_point *points;
    size_t count;
};

struct td_hills_pairs {
    struct kept *kept;
    size_t count, room;
};

struct td_hills_pairs *td_hills_pairs_new(void)
{
    return calloc(1, sizeof(struct td_hills_pairs));
}

static bool make_room(struct td_hills_pairs *pairs)
{
    if (pairs->count < pairs->room)
        return true;
    size_t room = pairs->room == 0 ? 64 : pairs->room * 2;
    struct kept *more = realloc(pairs->kept, room * sizeof *more);
    if (more == NULL)
        return false;
    pairs->kept = more;
    pairs->room = room;
    return true;
}

static bool draw(struct kept *kept, const struct td_hill *hill)
{
    size_t most = (size_t)(hill->length_m / step_m) + 2;
    kept->points = calloc(most, sizeof *kept->points);
    if (kept->points == NULL)
        return false;
    for (double at_m = 0; at_m < hill->length_m && kept->count < most; at_m += step_m) {
        const struct td_station *from = &hill->stations[td_hill_station_at(hill, at_m)];
        double ratio = (at_m - from[0].along_m) / (from[1].along_m - from[0].along_m);
        double turn_deg = td_geo_turn_deg(from[1].lon_deg - from[0].lon_deg);
        kept->points[kept->count++] = (struct line_point){
            (float)(from[0].lat_deg + ratio * (from[1].lat_deg - from[0].lat_deg)),
            (float)(from[0].lon_deg + ratio * turn_deg)};
    }
    return true;
}

bool td_hills_pairs_add(struct td_hills_pairs *pairs, const char *name,
                        const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    struct td_hill_entry entry;
    if (!make_room(pairs) || !td_hill_entry_make(file, &entry))
        return false;
    struct kept *kept = &pairs->kept[pairs->count];
    *kept = (struct kept){.name = strdup(name),
                          .line = td_hill_file_line(file, hill->place_count),
                          .south_deg = entry.south_deg,
                          .north_deg = entry.north_deg,
                          .west_deg = entry.west_deg,
                          .east_deg = entry.east_deg};
    (void)td_text_copy(kept->id, sizeof kept->id, hill->id);
    pairs->count++;
    return kept->name != NULL && draw(kept, hill);
}

/* --- one id --- */

static int by_id(const void *a, const void *b)
{
    const struct kept *left = a, *right = b;
    int order = strcmp(left->id, right->id);
    return order != 0 ? order : strcmp(left->name, right->name);
}

static void tell_ids(const struct td_hills_pairs *pairs, struct td_findings *to)
{
    for (size_t i = 1; i < pairs->count; i++) {
        const struct kept *kept = &pairs->kept[i];
        if (strcmp(kept->id, kept[-1].id) != 0)
            continue;
        const struct td_found_at at = {kept->name, kept->line, NULL, (double)NAN, 0};
        td_found(to, &at, true, "id-twice", "give each hill an id of its own",
                 "has the id \"%s\" of %s", kept->id, kept[-1].name);
    }
}

/* --- one road --- */

static struct td_point point_at(const struct td_frame *frame, const struct line_point *point)
{
    struct td_point at = {HUGE_VAL, HUGE_VAL};
    (void)td_frame_point(frame, (double)point->lat_deg, (double)point->lon_deg, &at);
    return at;
}

/* Whether the other road passes point i of this one, the same way. */
static bool passes(const struct kept *other, const struct kept *kept, size_t i)
{
    struct td_frame frame;
    const struct line_point *here = &kept->points[i];
    if (!td_frame_init(&frame, (double)here->lat_deg, (double)here->lon_deg))
        return false;
    const struct line_point *next = i + 1 < kept->count ? here + 1 : here;
    struct td_point from = point_at(&frame, next > here ? here : here - 1);
    struct td_point to = point_at(&frame, next > here ? next : here);
    const double degrees = 0.002; /* 220 m: beyond it no piece of 50 m comes near */
    for (size_t k = 0; k + 1 < other->count; k++) {
        const struct line_point *a = &other->points[k];
        if (fabs((double)(a->lat_deg - here->lat_deg)) > degrees)
            continue;
        struct td_point one = point_at(&frame, a), two = point_at(&frame, a + 1);
        struct td_foot_point foot = td_geo_project(one, two, (struct td_point){0, 0});
        double same_way = (to.x_m - from.x_m) * (two.x_m - one.x_m) +
                          (to.y_m - from.y_m) * (two.y_m - one.y_m);
        if (foot.distance_m < near_m && same_way > 0)
            return true;
    }
    return false;
}

static double share_of(const struct kept *kept, const struct kept *other, size_t every)
{
    size_t looked = 0, same = 0;
    for (size_t i = 0; i < kept->count; i += every) {
        looked++;
        same += passes(other, kept, i);
    }
    return looked > 0 ? (double)same / (double)looked : 0;
}

static bool boxes_touch(const struct kept *a, const struct kept *b)
{
    double middle = (b->west_deg + b->east_deg) / 2, half = (b->east_deg - b->west_deg) / 2;
    double turn = td_geo_turn_deg(middle - (a->west_deg + a->east_deg) / 2);
    return a->south_deg <= b->north_deg && b->south_deg <= a->north_deg &&
           fabs(turn) <= (a->east_deg - a->west_deg) / 2 + half;
}

static void compare(const struct kept *a, const struct kept *b, struct td_findings *to)
{
    const struct kept *shorter = a->count <= b->count ? a : b;
    const struct kept *longer = shorter == a ? b : a;
    size_t every = shorter->count / FIRST_LOOK + 1;
    if (shorter->count < 2 || share_of(shorter, longer, every) < share_of_one / 2)
        return;
    double share = share_of(shorter, longer, 1);
    if (share < share_of_one)
        return;
    const struct td_found_at at = {shorter->name, shorter->line, NULL, (double)NAN, 0};
    td_found(to, &at, true, "same-road", "leave one of the two out: the truck would be on both",
             "%.0f %% of its road is that of \"%s\" in %s, the same way", share * 100, longer->id,
             longer->name);
}

static int by_south(const void *a, const void *b)
{
    const struct kept *left = a, *right = b;
    if (left->south_deg < right->south_deg)
        return -1;
    return left->south_deg > right->south_deg ? 1 : by_id(a, b);
}

/* --- who is near whom --- */

struct span {
    long south, north, west; /* rows; the first column, from 0 */
    long columns;            /* how many, eastward, over the antimeridian if need be */
};

static struct span span_of(const struct kept *kept)
{
    long west = (long)floor(kept->west_deg * CELLS_A_DEGREE);
    long east = (long)floor(kept->east_deg * CELLS_A_DEGREE);
    return (struct span){(long)floor(kept->south_deg * CELLS_A_DEGREE),
                         (long)floor(kept->north_deg * CELLS_A_DEGREE),
                         ((west % COLUMNS) + COLUMNS) % COLUMNS,
                         east - west < COLUMNS ? east - west + 1 : COLUMNS};
}

static bool has_column(const struct span *span, long column)
{
    return ((column - span->west) % COLUMNS + COLUMNS) % COLUMNS < span->columns;
}

struct in_cell {
    long row, column;
    size_t index;
};

static int by_cell(const void *a, const void *b)
{
    const struct in_cell *left = a, *right = b;
    if (left->row != right->row)
        return left->row < right->row ? -1 : 1;
    if (left->column != right->column)
        return left->column < right->column ? -1 : 1;
    return (left->index > right->index) - (left->index < right->index);
}

/* Two boxes may share cells: they are compared in the first row and, of the columns of the one,
 * the first that the other has too. */
static bool is_first_shared(const struct in_cell *cell, const struct span *a, const struct span *b)
{
    if (cell->row != (a->south > b->south ? a->south : b->south))
        return false;
    for (long i = 0; i < a->columns; i++) {
        long column = (a->west + i) % COLUMNS;
        if (has_column(b, column))
            return column == cell->column;
    }
    return false;
}

static size_t cells_of(const struct kept *kept, size_t index, struct in_cell *cells)
{
    struct span span = span_of(kept);
    size_t count = 0;
    for (long row = span.south; row <= span.north; row++)
        for (long i = 0; i < span.columns; i++) {
            if (cells != NULL)
                cells[count] = (struct in_cell){row, (span.west + i) % COLUMNS, index};
            count++;
        }
    return count;
}

static void compare_within(const struct td_hills_pairs *pairs, const struct in_cell *cells,
                           size_t count, struct td_findings *to)
{
    for (size_t i = 0; i < count; i++)
        for (size_t k = i + 1; k < count; k++) {
            const struct kept *a = &pairs->kept[cells[i].index], *b = &pairs->kept[cells[k].index];
            struct span one = span_of(a), other = span_of(b);
            if (is_first_shared(&cells[i], &one, &other) && boxes_touch(a, b))
                compare(a, b, to);
        }
}

static bool compare_near(const struct td_hills_pairs *pairs, struct td_findings *to)
{
    size_t most = 0, count = 0;
    for (size_t i = 0; i < pairs->count; i++)
        most += cells_of(&pairs->kept[i], i, NULL);
    struct in_cell *cells = malloc(most * sizeof *cells);
    if (cells == NULL)
        return false;
    for (size_t i = 0; i < pairs->count; i++)
        count += cells_of(&pairs->kept[i], i, cells + count);
    qsort(cells, count, sizeof *cells, by_cell);
    for (size_t from = 0, end; from < count; from = end) {
        for (end = from + 1; end < count && cells[end].row == cells[from].row &&
                             cells[end].column == cells[from].column;)
            end++;
        compare_within(pairs, cells + from, end - from, to);
    }
    free(cells);
    return true;
}

bool td_hills_pairs_tell(struct td_hills_pairs *pairs, struct td_findings *to)
{
    if (pairs->count == 0)
        return true;
    qsort(pairs->kept, pairs->count, sizeof *pairs->kept, by_id);
    tell_ids(pairs, to);
    qsort(pairs->kept, pairs->count, sizeof *pairs->kept, by_south);
    return compare_near(pairs, to);
}

void td_hills_pairs_free(struct td_hills_pairs **pairs)
{
    if (pairs == NULL || *pairs == NULL)
        return;
    for (size_t i = 0; i < (*pairs)->count; i++) {
        free((*pairs)->kept[i].name);
        free((*pairs)->kept[i].points);
    }
    free((*pairs)->kept);
    free(*pairs);
    *pairs = NULL;
}
