/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hills on board. Each profile is read once to be checked and boxed, then let go; a handful of
 * boxes along the road keep a long diagonal hill from being near everything around it. */
#include "io/shelf.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_paths.h"
#include "io/problem.h"
#include "talkdown/geo.h"

enum { BOXES_MOST = 16 };

/* Longitudes are unwrapped from the hill's first vertex, so they may pass 180. */
struct box {
    double south_deg, north_deg, west_deg, east_deg;
};

struct item {
    char *path;
    char id[TD_HILL_NAME_MAX + 1];
    uint8_t hash[TD_HASH_BYTES];
    struct box boxes[BOXES_MOST];
    size_t box_count;
};

struct td_shelf {
    struct item *items;
    size_t count, room;
};

static enum td_result no_memory(const char *path, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to put it on the shelf");
}

static char *copy_of(const char *text)
{
    size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}

static void box_add(struct box *box, double lat_deg, double lon_deg)
{
    box->south_deg = fmin(box->south_deg, lat_deg);
    box->north_deg = fmax(box->north_deg, lat_deg);
    box->west_deg = fmin(box->west_deg, lon_deg);
    box->east_deg = fmax(box->east_deg, lon_deg);
}

/* Pieces of the road share their end vertices, so that no stretch lies between two boxes. */
static void make_boxes(struct item *item, const struct td_hill *hill)
{
    size_t pieces = hill->station_count - 1;
    item->box_count = pieces < BOXES_MOST ? pieces : BOXES_MOST;
    double first_deg = hill->stations[0].lon_deg;
    for (size_t b = 0; b < item->box_count; b++) {
        size_t from = pieces * b / item->box_count, to = pieces * (b + 1) / item->box_count;
        struct box box = {90, -90, 1e3, -1e3};
        for (size_t i = from; i <= to; i++)
            box_add(&box, hill->stations[i].lat_deg,
                    first_deg + td_geo_turn_deg(hill->stations[i].lon_deg - first_deg));
        item->boxes[b] = box;
    }
}

static double clamp(double value, double least, double most)
{
    return fmin(fmax(value, least), most);
}

static double box_distance_m(const struct box *box, double lat_deg, double lon_deg)
{
    double middle_deg = (box->west_deg + box->east_deg) / 2;
    double lon_near_deg = middle_deg + td_geo_turn_deg(lon_deg - middle_deg);
    return td_geo_distance_m(lat_deg, lon_near_deg,
                             clamp(lat_deg, box->south_deg, box->north_deg),
                             clamp(lon_near_deg, box->west_deg, box->east_deg));
}

/* Far away, degrees tell enough; the distance formula is meant for near places. */
static bool is_far(const struct box *box, double lat_deg, double radius_m)
{
    double reach_deg = radius_m / 110000.0 + 0.01; /* a degree of latitude is 110.57 km and more */
    return lat_deg < box->south_deg - reach_deg || lat_deg > box->north_deg + reach_deg;
}

static double item_distance_m(const struct item *item, double lat_deg, double lon_deg,
                              double radius_m)
{
    double least_m = (double)INFINITY;
    for (size_t i = 0; i < item->box_count; i++)
        if (!is_far(&item->boxes[i], lat_deg, radius_m))
            least_m = fmin(least_m, box_distance_m(&item->boxes[i], lat_deg, lon_deg));
    return least_m;
}

/* Takes over `path`. */
static enum td_result add_item(struct td_shelf *shelf, char *path, const struct td_hill *hill,
                               struct td_problem *problem)
{
    for (size_t i = 0; i < shelf->count; i++)
        if (strcmp(shelf->items[i].id, hill->id) == 0) {
            enum td_result result =
                td_problem_set(problem, TD_INVALID, path, 0,
                               "has the id \"%s\" of %s; give each hill an id of its own",
                               hill->id, shelf->items[i].path);
            free(path);
            return result;
        }
    if (shelf->count == shelf->room) {
        size_t room = shelf->room == 0 ? 16 : shelf->room * 2;
        struct item *more = realloc(shelf->items, room * sizeof *more);
        if (more == NULL) {
            enum td_result result = no_memory(path, problem);
            free(path);
            return result;
        }
        shelf->items = more;
        shelf->room = room;
    }
    struct item *item = &shelf->items[shelf->count++];
    *item = (struct item){.path = path};
    (void)snprintf(item->id, sizeof item->id, "%s", hill->id);
    memcpy(item->hash, hill->hash, sizeof item->hash);
    make_boxes(item, hill);
    return TD_OK;
}

static enum td_result add_file(struct td_shelf *shelf, const char *path,
                               struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    enum td_result result = td_hill_file_read(path, &file, problem);
    if (result != TD_OK)
        return result;
    char *copy = copy_of(path);
    result = copy == NULL ? no_memory(path, problem)
                          : add_item(shelf, copy, td_hill_file_hill(file), problem);
    td_hill_file_free(&file);
    return result;
}

enum td_result td_shelf_open(const char *path, struct td_shelf **out, struct td_problem *problem)
{
    struct td_hill_paths paths;
    enum td_result result = td_hill_paths_list(path, &paths, problem);
    if (result != TD_OK)
        return result;
    struct td_shelf *shelf = calloc(1, sizeof *shelf);
    if (shelf == NULL)
        result = no_memory(path, problem);
    for (size_t i = 0; result == TD_OK && i < paths.count; i++)
        result = add_file(shelf, paths.paths[i], problem);
    td_hill_paths_free(&paths);
    if (result == TD_OK)
        *out = shelf;
    else
        td_shelf_close(&shelf);
    return result;
}

size_t td_shelf_count(const struct td_shelf *shelf)
{
    return shelf->count;
}

size_t td_shelf_near(const struct td_shelf *shelf, double lat_deg, double lon_deg, double radius_m,
                     size_t *indexes, size_t most)
{
    size_t found = 0, kept = 0;
    for (size_t i = 0; i < shelf->count; i++) {
        double distance_m = item_distance_m(&shelf->items[i], lat_deg, lon_deg, radius_m);
        if (!(distance_m <= radius_m))
            continue;
        found++;
        /* Insertion keeps the nearest; equal ones stay in the order of the shelf. */
        size_t at = kept < most ? kept : most;
        while (at > 0 && item_distance_m(&shelf->items[indexes[at - 1]], lat_deg, lon_deg,
                                         radius_m) > distance_m)
            at--;
        if (at >= most)
            continue;
        if (kept < most)
            kept++;
        memmove(indexes + at + 1, indexes + at, (kept - 1 - at) * sizeof *indexes);
        indexes[at] = i;
    }
    return found;
}

enum td_result td_shelf_read(const struct td_shelf *shelf, size_t index, struct td_hill_file **out,
                             struct td_problem *problem)
{
    if (index >= shelf->count)
        return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                              "no hill number %zu on a shelf of %zu", index, shelf->count);
    const struct item *item = &shelf->items[index];
    struct td_hill_file *file = NULL;
    enum td_result result = td_hill_file_read(item->path, &file, problem);
    if (result != TD_OK)
        return result;
    if (memcmp(td_hill_file_hill(file)->hash, item->hash, sizeof item->hash) != 0) {
        td_hill_file_free(&file);
        return td_problem_set(problem, TD_INVALID, item->path, 0,
                              "has changed since it was checked; reload the hills");
    }
    *out = file;
    return TD_OK;
}

void td_shelf_close(struct td_shelf **shelf)
{
    if (shelf == NULL || *shelf == NULL)
        return;
    for (size_t i = 0; i < (*shelf)->count; i++)
        free((*shelf)->items[i].path);
    free((*shelf)->items);
    free(*shelf);
    *shelf = NULL;
}
