/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Searching and reading an open library. A hill is handed out only when its bytes have their hash,
 * its leaf is in its block, and the block is one that the manifest covers (checked at opening). */
#include "io/library_parts.h"

#include <math.h>
#include <string.h>

#include "io/library_schema.h"
#include "io/problem.h"
#include "talkdown/text.h"

size_t td_library_file_count(const struct td_library_file *library)
{
    return library->count;
}

const char *td_library_file_manifest(const struct td_library_file *library)
{
    return library->manifest;
}

const char *td_library_file_signature(const struct td_library_file *library)
{
    return library->signature;
}

unsigned td_library_file_revision(const struct td_library_file *library)
{
    return library->revision;
}

/* --- near a place --- */

static void bind_bounds(sqlite3_stmt *s, const struct td_bounds *bounds)
{
    (void)sqlite3_bind_double(s, 1, bounds->south_deg);
    (void)sqlite3_bind_double(s, 2, bounds->north_deg);
    for (int turn = 0; turn < 3; turn++) {
        double shift_deg = 360.0 * (turn == 2 ? -1 : turn);
        (void)sqlite3_bind_double(s, 3 + 2 * turn, bounds->west_deg + shift_deg);
        (void)sqlite3_bind_double(s, 4 + 2 * turn, bounds->east_deg + shift_deg);
    }
}

struct td_box td_library_box_columns(sqlite3_stmt *s, int first)
{
    return (struct td_box){(float)sqlite3_column_double(s, first),
                           (float)sqlite3_column_double(s, first + 1),
                           (float)sqlite3_column_double(s, first + 2),
                           (float)sqlite3_column_double(s, first + 3)};
}

enum td_result td_library_file_near(struct td_library_file *library, double lat_deg,
                                    double lon_deg, double radius_m, size_t *indexes, size_t most,
                                    size_t *found, struct td_problem *problem)
{
    struct td_bounds bounds = td_bounds_round(lat_deg, lon_deg, radius_m);
    struct td_nearest nearest;
    sqlite3_stmt *s = library->statements[TD_LIBRARY_NEAR];
    bind_bounds(s, &bounds);
    td_nearest_begin(&nearest, radius_m, indexes, most);
    int64_t number = 0; /* of the hill whose pieces are coming */
    double least_m = (double)INFINITY;
    int code;
    while ((code = sqlite3_step(s)) == SQLITE_ROW) {
        int64_t next = sqlite3_column_int64(s, 0);
        struct td_box box = td_library_box_columns(s, 1);
        if (next < 1 || (uint64_t)next > library->count)
            break;
        if (next != number && number > 0)
            td_nearest_put(&nearest, (size_t)number - 1, least_m);
        if (next != number)
            least_m = (double)INFINITY;
        number = next;
        least_m = fmin(least_m, td_box_distance_m(&box, lat_deg, lon_deg));
    }
    enum td_result result = TD_OK;
    if (code == SQLITE_ROW)
        result = td_library_damaged(library, problem,
                                    "its index names a hill that it does not hold");
    else if (code != SQLITE_DONE)
        result = td_library_refused(library, problem);
    else if (number > 0)
        td_nearest_put(&nearest, (size_t)number - 1, least_m);
    (void)sqlite3_reset(s);
    if (result == TD_OK)
        *found = nearest.found;
    return result;
}

/* --- one hill --- */

static enum td_result no_hill(const struct td_library_file *library, size_t index,
                              struct td_problem *problem)
{
    return td_problem_set(problem, TD_NOT_FOUND, library->path, 0,
                          "no hill number %zu in a library of %zu", index, library->count);
}

/* Steps to the only row of a statement about a hill; the caller resets it. */
static enum td_result one_row(struct td_library_file *library, enum td_library_statement which,
                              int64_t number, struct td_problem *problem)
{
    sqlite3_stmt *s = library->statements[which];
    (void)sqlite3_bind_int64(s, 1, number);
    int code = sqlite3_step(s);
    if (code == SQLITE_ROW)
        return TD_OK;
    return code == SQLITE_DONE ? td_library_damaged(library, problem, "a hill is missing")
                               : td_library_refused(library, problem);
}

enum td_result td_library_not_found_along(const struct td_library_file *library, const char *id,
                                          struct td_problem *problem)
{
    return td_problem_set(problem, TD_INVALID, library->path, 0,
                          "hill \"%.64s\" would not be found all along its road: the index "
                          "differs; pack the library again",
                          id);
}

enum td_result td_library_altered(const struct td_library_file *library, const char *id,
                                  struct td_problem *problem)
{
    return td_problem_set(problem, TD_INVALID, library->path, 0,
                          "hill \"%.64s\" is not as it was packed: its hash differs; copy or pack "
                          "the library again",
                          id);
}

static enum td_result parse_row(struct td_library_file *library, sqlite3_stmt *s,
                                struct td_hill_file **out, struct td_problem *problem)
{
    const char *id = (const char *)sqlite3_column_text(s, 0);
    const uint8_t *hash = td_library_hash_column(s, 1);
    const char *bytes = sqlite3_column_blob(s, 2);
    size_t length = (size_t)sqlite3_column_bytes(s, 2);
    uint8_t is[TD_HASH_BYTES];
    if (id == NULL || hash == NULL || bytes == NULL)
        return sqlite3_errcode(library->db) == SQLITE_NOMEM
                   ? td_library_no_memory(library->path, problem)
                   : td_library_damaged(library, problem, "a hill is empty");
    if (!td_hash_of(bytes, length, is))
        return td_library_no_memory(library->path, problem);
    if (memcmp(is, hash, sizeof is) != 0)
        return td_library_altered(library, id, problem);
    struct td_hill_file *file = NULL;
    struct td_problem inside = {0};
    enum td_result result = td_hill_file_parse(library->path, bytes, length, &file, &inside);
    if (result != TD_OK)
        return td_problem_set(problem, result, library->path, inside.line, "hill \"%.64s\": %s", id,
                              inside.text);
    if (strcmp(td_hill_file_hill(file)->id, id) != 0) {
        result = td_library_altered(library, id, problem);
        td_hill_file_free(&file);
        return result;
    }
    *out = file;
    return TD_OK;
}

/* The block's leaves with this one among them hash to the block, which the root covers. */
static enum td_result check_leaf(struct td_library_file *library, size_t index,
                                 const struct td_hill_entry *entry, struct td_problem *problem)
{
    int64_t block = (int64_t)(index / TD_LIBRARY_BLOCK), number = (int64_t)index + 1;
    int64_t first = block * TD_LIBRARY_BLOCK + 1;
    sqlite3_stmt *s = library->statements[TD_LIBRARY_LEAVES];
    (void)sqlite3_bind_int64(s, 1, first);
    (void)sqlite3_bind_int64(s, 2, first + TD_LIBRARY_BLOCK - 1);
    struct td_hash hash;
    uint8_t is[TD_HASH_BYTES];
    bool same = td_hash_begin(&hash), seen = false;
    while (same && sqlite3_step(s) == SQLITE_ROW) {
        const uint8_t *leaf = td_library_hash_column(s, 1);
        same = leaf != NULL;
        if (same && sqlite3_column_int64(s, 0) == number)
            seen = same = memcmp(leaf, entry->leaf, TD_HASH_BYTES) == 0;
        if (same)
            td_hash_add(&hash, leaf, TD_HASH_BYTES);
    }
    (void)sqlite3_reset(s);
    td_hash_end(&hash, is);
    enum td_result result = one_row(library, TD_LIBRARY_BLOCK_HASH, block, problem);
    if (result != TD_OK)
        return result;
    const uint8_t *right = td_library_hash_column(library->statements[TD_LIBRARY_BLOCK_HASH], 0);
    same = same && seen && right != NULL && memcmp(is, right, sizeof is) == 0;
    (void)sqlite3_reset(library->statements[TD_LIBRARY_BLOCK_HASH]);
    return same ? TD_OK : td_library_altered(library, entry->id, problem);
}

static enum td_result read_hill(struct td_library_file *library, size_t index,
                                struct td_hill_file **out, struct td_hill_entry *entry,
                                struct td_problem *problem)
{
    if (index >= library->count)
        return no_hill(library, index, problem);
    struct td_hill_file *file = NULL;
    enum td_result result = one_row(library, TD_LIBRARY_READ, (int64_t)index + 1, problem);
    if (result == TD_OK)
        result = parse_row(library, library->statements[TD_LIBRARY_READ], &file, problem);
    (void)sqlite3_reset(library->statements[TD_LIBRARY_READ]);
    if (result == TD_OK && !td_hill_entry_make(file, entry))
        result = td_library_no_memory(library->path, problem);
    if (result == TD_OK)
        result = check_leaf(library, index, entry, problem);
    if (result == TD_OK)
        *out = file;
    else
        td_hill_file_free(&file);
    return result;
}

enum td_result td_library_file_read(struct td_library_file *library, size_t index,
                                    struct td_hill_file **out, struct td_problem *problem)
{
    struct td_hill_entry entry;
    return read_hill(library, index, out, &entry, problem);
}

static bool copy_text(sqlite3_stmt *s, int column, char *to, size_t size)
{
    const char *text = (const char *)sqlite3_column_text(s, column);
    return text != NULL && td_text_copy(to, size, text);
}

static bool copy_hash(sqlite3_stmt *s, int column, uint8_t to[TD_HASH_BYTES])
{
    const uint8_t *hash = td_library_hash_column(s, column);
    if (hash != NULL)
        memcpy(to, hash, TD_HASH_BYTES);
    return hash != NULL;
}

enum td_result td_library_file_entry(struct td_library_file *library, size_t index,
                                     struct td_hill_entry *entry, struct td_problem *problem)
{
    if (index >= library->count)
        return no_hill(library, index, problem);
    sqlite3_stmt *s = library->statements[TD_LIBRARY_ENTRY];
    enum td_result result = one_row(library, TD_LIBRARY_ENTRY, (int64_t)index + 1, problem);
    struct td_hill_entry made = {.pieces = 0};
    double *const reals[] = {&made.south_deg, &made.north_deg, &made.west_deg, &made.east_deg,
                             &made.length_m,  &made.crest_m,   &made.foot_m,
                             &made.mean_downgrade_ratio, &made.steepest_downgrade_ratio};
    if (result == TD_OK &&
        !(copy_text(s, 0, made.id, sizeof made.id) &&
          copy_text(s, 1, made.name, sizeof made.name) &&
          copy_text(s, 2, made.surveyed, sizeof made.surveyed) && copy_hash(s, 3, made.hash) &&
          copy_hash(s, 4, made.leaf)))
        result = td_library_damaged(library, problem, "its list is unreadable");
    for (int i = 0; i < (int)(sizeof reals / sizeof reals[0]); i++)
        *reals[i] = sqlite3_column_double(s, 5 + i);
    made.coached = sqlite3_column_type(s, 10) != SQLITE_NULL;
    made.pieces = (size_t)sqlite3_column_int64(s, 14);
    made.places = (size_t)sqlite3_column_int64(s, 15);
    made.revision = (unsigned)sqlite3_column_int64(s, 16);
    (void)sqlite3_reset(s);
    if (result == TD_OK)
        *entry = made;
    return result;
}

/* Boxes of the index under the hill's number: those of its road, in order, and none after them. */
static enum td_result check_boxes(struct td_library_file *library, size_t index,
                                  const struct td_hill *hill, struct td_problem *problem)
{
    sqlite3_stmt *s = library->statements[TD_LIBRARY_BOX];
    int64_t piece = ((int64_t)index + 1) << TD_LIBRARY_PIECE_BITS;
    struct td_box road;
    bool same = true, more = true;
    for (size_t station = 0; same && more; piece++) {
        more = td_box_next(hill, &station, &road);
        (void)sqlite3_bind_int64(s, 1, piece);
        int code = sqlite3_step(s);
        same = code == (more ? SQLITE_ROW : SQLITE_DONE);
        if (same && more) {
            struct td_box box = td_library_box_columns(s, 0);
            same = memcmp(&box, &road, sizeof box) == 0;
        }
        (void)sqlite3_reset(s);
    }
    return same ? TD_OK : td_library_not_found_along(library, hill->id, problem);
}

static bool is_same(const struct td_hill_entry *a, const struct td_hill_entry *b)
{
    const double pairs[][2] = {
        {a->south_deg, b->south_deg},
        {a->north_deg, b->north_deg},
        {a->west_deg, b->west_deg},
        {a->east_deg, b->east_deg},
        {a->length_m, b->length_m},
        {a->crest_m, b->crest_m},
        {a->foot_m, b->foot_m},
        {a->mean_downgrade_ratio, b->mean_downgrade_ratio},
        {a->steepest_downgrade_ratio, b->steepest_downgrade_ratio},
    };
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        if (!(fabs(pairs[i][0] - pairs[i][1]) <= 1e-6 * (1 + fabs(pairs[i][1]))))
            return false; /* another processor may round the last digit otherwise */
    return strcmp(a->id, b->id) == 0 && strcmp(a->name, b->name) == 0 &&
           strcmp(a->surveyed, b->surveyed) == 0 && memcmp(a->hash, b->hash, TD_HASH_BYTES) == 0 &&
           memcmp(a->leaf, b->leaf, TD_HASH_BYTES) == 0 && a->coached == b->coached &&
           a->pieces == b->pieces && a->places == b->places && a->revision == b->revision;
}

enum td_result td_library_file_check(struct td_library_file *library, size_t index,
                                     struct td_problem *problem)
{
    struct td_hill_file *file = NULL;
    struct td_hill_entry is, listed;
    enum td_result result = read_hill(library, index, &file, &is, problem);
    if (result == TD_OK)
        result = td_library_file_entry(library, index, &listed, problem);
    if (result == TD_OK && !is_same(&listed, &is))
        result = td_problem_set(problem, TD_INVALID, library->path, 0,
                                "hill \"%.64s\" is listed as what it is not; pack the library "
                                "again",
                                is.id);
    if (result == TD_OK)
        result = check_boxes(library, index, td_hill_file_hill(file), problem);
    td_hill_file_free(&file);
    return result;
}

struct td_library_work td_library_file_work(struct td_library_file *library)
{
    struct td_library_work work = {0};
    int hit = 0, missed = 0, most = 0;
    for (int i = 0; i < TD_LIBRARY_STATEMENTS; i++)
        work.steps += sqlite3_stmt_status(library->statements[i], SQLITE_STMTSTATUS_VM_STEP, 0);
    (void)sqlite3_db_status(library->db, SQLITE_DBSTATUS_CACHE_HIT, &hit, &most, 0);
    (void)sqlite3_db_status(library->db, SQLITE_DBSTATUS_CACHE_MISS, &missed, &most, 0);
    work.pages_read = missed;
    work.pages = (long long)hit + missed;
    return work;
}
