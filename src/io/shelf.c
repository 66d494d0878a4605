/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hills on board. Profiles of a folder are each read once to be checked and boxed, then let go;
 * a library needs nothing of that and is handed every question. */
#include "io/shelf.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/library_sign.h"
#include "io/paths.h"
#include "io/problem.h"
#include "talkdown/text.h"

struct item {
    char *path;
    char *bytes;   /* NULL: they are read from the path */
    size_t length;
    char id[TD_HILL_NAME_MAX + 1];
    uint8_t hash[TD_HASH_BYTES];
    struct td_box *boxes;
    size_t box_count;
};

struct td_shelf {
    struct td_library_file *library; /* NULL: the items are the shelf */
    struct item *items;              /* sorted by id */
    size_t count, room;
    bool vouched;
    struct td_voucher voucher; /* where vouched */
};

static enum td_result no_memory(const char *path, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to put it on the shelf");
}

static void free_item(struct item *item)
{
    free(item->path);
    free(item->bytes);
    free(item->boxes);
}

/* False when there is no memory. */
static bool make_item(struct item *item, const char *path, const struct td_hill *hill)
{
    size_t station = 0, count = 0;
    struct td_box box;
    while (td_box_next(hill, &station, &box))
        count++;
    *item = (struct item){.path = strdup(path), .boxes = malloc(count * sizeof *item->boxes)};
    if (item->path == NULL || item->boxes == NULL) {
        free_item(item);
        return false;
    }
    for (station = 0; td_box_next(hill, &station, &box);)
        item->boxes[item->box_count++] = box;
    (void)td_text_copy(item->id, sizeof item->id, hill->id);
    memcpy(item->hash, hill->hash, sizeof item->hash);
    return true;
}

static bool make_room(struct td_shelf *shelf)
{
    if (shelf->count < shelf->room)
        return true;
    size_t room = shelf->room == 0 ? 16 : shelf->room * 2;
    struct item *more = realloc(shelf->items, room * sizeof *more);
    if (more == NULL)
        return false;
    shelf->items = more;
    shelf->room = room;
    return true;
}

static enum td_result add_file(struct td_shelf *shelf, const char *path,
                               struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    enum td_result result = td_hill_file_read(path, &file, problem);
    if (result != TD_OK)
        return result;
    if (make_room(shelf) && make_item(&shelf->items[shelf->count], path, td_hill_file_hill(file)))
        shelf->count++;
    else
        result = no_memory(path, problem);
    td_hill_file_free(&file);
    return result;
}

static int by_id(const void *a, const void *b)
{
    const struct item *left = a, *right = b;
    int order = strcmp(left->id, right->id);
    return order != 0 ? order : strcmp(left->path, right->path);
}

static enum td_result sort_items(struct td_shelf *shelf, struct td_problem *problem)
{
    if (shelf->count > 0)
        qsort(shelf->items, shelf->count, sizeof *shelf->items, by_id);
    for (size_t i = 1; i < shelf->count; i++)
        if (strcmp(shelf->items[i - 1].id, shelf->items[i].id) == 0)
            return td_problem_set(problem, TD_INVALID, shelf->items[i].path, 0,
                                  "has the id \"%s\" of %s; give each hill an id of its own",
                                  shelf->items[i].id, shelf->items[i - 1].path);
    return TD_OK;
}

static enum td_result open_profiles(struct td_shelf *shelf, const char *path,
                                    struct td_problem *problem)
{
    struct td_paths paths;
    enum td_result result = td_paths_list(path, &td_paths_profiles, &paths, problem);
    if (result != TD_OK)
        return result;
    for (size_t i = 0; result == TD_OK && i < paths.count; i++)
        result = add_file(shelf, paths.paths[i], problem);
    td_paths_free(&paths);
    return result == TD_OK ? sort_items(shelf, problem) : result;
}

static enum td_result open_library(struct td_shelf *shelf, const char *path,
                                   const struct td_trust *trust, struct td_problem *problem)
{
    enum td_result result = td_library_file_open(path, &shelf->library, problem);
    if (result == TD_OK && trust->count > 0) {
        result = td_library_vouched(shelf->library, trust, &shelf->voucher, problem);
        shelf->vouched = result == TD_OK;
    }
    return result;
}

enum td_result td_shelf_open(const char *path, struct td_shelf **out, struct td_problem *problem)
{
    static const struct td_trust nobody = {.count = 0};
    return td_shelf_open_trusted(path, &nobody, out, problem);
}

enum td_result td_shelf_open_trusted(const char *path, const struct td_trust *trust,
                                     struct td_shelf **out, struct td_problem *problem)
{
    struct td_shelf *shelf = calloc(1, sizeof *shelf);
    if (shelf == NULL)
        return no_memory(path, problem);
    enum td_result result;
    if (td_library_file_is(path))
        result = open_library(shelf, path, trust, problem);
    else if (trust->count > 0 && access(path, F_OK) == 0)
        result = td_problem_set(problem, TD_INVALID, path, 0,
                                "is no library, and a key is trusted: profiles are signed by "
                                "nobody; pack them and sign the library");
    else
        result = open_profiles(shelf, path, problem);
    if (result == TD_OK)
        *out = shelf;
    else
        td_shelf_close(&shelf);
    return result;
}

static enum td_result add_bytes(struct td_shelf *shelf, const struct td_hill_file *file,
                                struct td_problem *problem)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    size_t length = 0;
    const char *bytes = td_hill_file_bytes(file, &length);
    if (!make_room(shelf) || !make_item(&shelf->items[shelf->count], hill->id, hill))
        return no_memory(hill->id, problem);
    struct item *item = &shelf->items[shelf->count++];
    item->bytes = malloc(length + 1);
    if (item->bytes == NULL)
        return no_memory(hill->id, problem);
    memcpy(item->bytes, bytes, length);
    item->bytes[length] = '\0';
    item->length = length;
    return TD_OK;
}

enum td_result td_shelf_of_files(const struct td_hill_file *const *files, size_t count,
                                 struct td_shelf **out, struct td_problem *problem)
{
    struct td_shelf *shelf = calloc(1, sizeof *shelf);
    if (shelf == NULL)
        return no_memory("hills in memory", problem);
    enum td_result result = TD_OK;
    for (size_t i = 0; i < count && result == TD_OK; i++)
        result = add_bytes(shelf, files[i], problem);
    if (result == TD_OK)
        result = sort_items(shelf, problem);
    if (result == TD_OK)
        *out = shelf;
    else
        td_shelf_close(&shelf);
    return result;
}

struct td_shelf_about td_shelf_about(const struct td_shelf *shelf)
{
    return (struct td_shelf_about){
        .revision = shelf->library != NULL ? td_library_file_revision(shelf->library) : 0,
        .key_id = shelf->vouched ? shelf->voucher.key_id : NULL,
        .comment = shelf->voucher.comment,
    };
}

struct td_library_file *td_shelf_library(const struct td_shelf *shelf)
{
    return shelf->library;
}

size_t td_shelf_count(const struct td_shelf *shelf)
{
    return shelf->library != NULL ? td_library_file_count(shelf->library) : shelf->count;
}

static double item_distance_m(const struct item *item, const struct td_bounds *bounds,
                              double lat_deg, double lon_deg)
{
    double least_m = (double)INFINITY;
    for (size_t i = 0; i < item->box_count; i++) {
        const struct td_box *box = &item->boxes[i];
        /* Far away, degrees tell enough, and the distance formula is meant for near places. */
        if ((double)box->south_deg <= bounds->north_deg &&
            (double)box->north_deg >= bounds->south_deg)
            least_m = fmin(least_m, td_box_distance_m(box, lat_deg, lon_deg));
    }
    return least_m;
}

enum td_result td_shelf_near(const struct td_shelf *shelf, double lat_deg, double lon_deg,
                             double radius_m, size_t *indexes, size_t most, size_t *found,
                             struct td_problem *problem)
{
    if (shelf->library != NULL)
        return td_library_file_near(shelf->library, lat_deg, lon_deg, radius_m, indexes, most,
                                    found, problem);
    struct td_bounds bounds = td_bounds_round(lat_deg, lon_deg, radius_m);
    struct td_nearest nearest;
    td_nearest_begin(&nearest, radius_m, indexes, most);
    for (size_t i = 0; i < shelf->count; i++)
        td_nearest_put(&nearest, i, item_distance_m(&shelf->items[i], &bounds, lat_deg, lon_deg));
    *found = nearest.found;
    return TD_OK;
}

enum td_result td_shelf_read(const struct td_shelf *shelf, size_t index, struct td_hill_file **out,
                             struct td_problem *problem)
{
    if (shelf->library != NULL)
        return td_library_file_read(shelf->library, index, out, problem);
    if (index >= shelf->count)
        return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                              "no hill number %zu on a shelf of %zu", index, shelf->count);
    const struct item *item = &shelf->items[index];
    struct td_hill_file *file = NULL;
    enum td_result result =
        item->bytes != NULL
            ? td_hill_file_parse(item->path, item->bytes, item->length, &file, problem)
            : td_hill_file_read(item->path, &file, problem);
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
    td_library_file_close(&(*shelf)->library);
    for (size_t i = 0; i < (*shelf)->count; i++)
        free_item(&(*shelf)->items[i]);
    free((*shelf)->items);
    free(*shelf);
    *shelf = NULL;
}
