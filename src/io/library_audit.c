/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The index first: every node that a search can come to holds nothing outside the box that its
 * parent gives it (or a search near there would pass it by), and every piece in it is the one that
 * SQLite finds under its number. Then each hill: its bytes have their hash, and that with the boxes
 * found under its number makes its leaf, which is in its block. Last the blocks, which make the
 * root of the manifest. As many pieces are come to as there are, so none is out of reach.
 *
 * The form of a node is SQLite's own (its R*Tree documentation, "Shadow Tables", and the opening
 * comment of ext/rtree/rtree.c): big-endian, height of the tree (the root's only) and number of
 * cells in two bytes each, then cells of eight bytes of number and four times four of
 * coordinates. */
#include "io/library_audit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/library_parts.h"
#include "io/library_schema.h"
#include "io/problem.h"

/* R*Trees of SQLite are at most 40 high. */
enum { HEIGHT_MAX = 40, NODE_HEAD = 4, CELL = 24, ROOT_NODE = 1 };

enum part { PART_INDEX, PART_HILLS, PART_BLOCKS, PART_DONE };

struct level {
    int64_t node;
    struct td_box box; /* within which its parent says it lies */
    unsigned next;     /* cell to go down to */
    bool seen;
};

struct td_library_audit {
    struct td_library_file *library;
    enum td_library_audit_parts parts;
    enum part part;
    sqlite3_stmt *node, *home, *hill;
    struct level levels[HEIGHT_MAX + 1];
    unsigned depth, height; /* levels in hand; of the tree */
    size_t nodes, reached;  /* looked at; pieces come to */
    size_t nodes_most;      /* more do not fit into the file: it goes round in circles */
    size_t index, pieces;   /* hills looked at; their pieces */
    struct td_hash block;   /* of the leaves so far */
};

static enum td_result prepare(struct td_library_audit *audit, struct td_problem *problem)
{
    static const char hill[] = "SELECT hill.id, hill.hash, hill.leaf, profile.bytes FROM hill"
                               " JOIN profile USING(number) WHERE number = ?1";
    const char *const texts[] = {
        "SELECT data FROM road_node WHERE nodeno = ?1",
        "SELECT nodeno FROM road_rowid WHERE rowid = ?1",
        hill,
    };
    sqlite3_stmt **const statements[] = {&audit->node, &audit->home, &audit->hill};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
        if (sqlite3_prepare_v3(audit->library->db, texts[i], -1, SQLITE_PREPARE_PERSISTENT,
                               statements[i], NULL) != SQLITE_OK)
            return td_library_refused(audit->library, problem);
    return TD_OK;
}

static enum td_result find_most(struct td_library_audit *audit, struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(audit->library->db, "PRAGMA page_count", -1, &s, NULL) != SQLITE_OK)
        return td_library_refused(audit->library, problem);
    bool told = sqlite3_step(s) == SQLITE_ROW;
    audit->nodes_most = told ? (size_t)sqlite3_column_int64(s, 0) * (TD_LIBRARY_PAGE / CELL) : 0;
    (void)sqlite3_finalize(s);
    return told ? TD_OK : td_library_refused(audit->library, problem);
}

enum td_result td_library_audit_open(struct td_library_file *library,
                                     enum td_library_audit_parts parts,
                                     struct td_library_audit **out, struct td_problem *problem)
{
    struct td_library_audit *audit = calloc(1, sizeof *audit);
    if (audit == NULL)
        return td_library_no_memory(library->path, problem);
    audit->library = library;
    audit->parts = parts;
    audit->depth = 1;
    audit->levels[0] = (struct level){
        .node = ROOT_NODE, .box = {-HUGE_VALF, HUGE_VALF, -HUGE_VALF, HUGE_VALF}};
    enum td_result result = prepare(audit, problem);
    if (result == TD_OK)
        result = find_most(audit, problem);
    if (result == TD_OK)
        *out = audit;
    else
        td_library_audit_close(&audit);
    return result;
}

/* --- the index --- */

static enum td_result index_damaged(const struct td_library_audit *audit,
                                    struct td_problem *problem)
{
    return td_library_damaged(audit->library, problem,
                              "its index leads a search astray, so that hills may not be found");
}

static uint64_t number_at(const uint8_t *bytes, int count)
{
    uint64_t value = 0;
    for (int i = 0; i < count; i++)
        value = value << 8 | bytes[i];
    return value;
}

static float real_at(const uint8_t *bytes)
{
    uint32_t bits = (uint32_t)number_at(bytes, 4);
    float value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static const uint8_t *cell_of(const uint8_t *node, unsigned index)
{
    return node + NODE_HEAD + (size_t)index * CELL;
}

static struct td_box box_of(const uint8_t *cell)
{
    return (struct td_box){real_at(cell + 8), real_at(cell + 12), real_at(cell + 16),
                           real_at(cell + 20)};
}

/* False too for what is no number. */
static bool lies_within(const struct td_box *box, const struct td_box *outer)
{
    return box->south_deg <= box->north_deg && box->west_deg <= box->east_deg &&
           box->south_deg >= outer->south_deg && box->north_deg <= outer->north_deg &&
           box->west_deg >= outer->west_deg && box->east_deg <= outer->east_deg;
}

/* SQLite finds the piece in this node when it is asked for it by its number. */
static bool is_home(struct td_library_audit *audit, int64_t piece, int64_t node)
{
    (void)sqlite3_bind_int64(audit->home, 1, piece);
    bool same = sqlite3_step(audit->home) == SQLITE_ROW &&
                sqlite3_column_int64(audit->home, 0) == node;
    (void)sqlite3_reset(audit->home);
    return same;
}

static bool cells_hold(struct td_library_audit *audit, const uint8_t *node, unsigned cells)
{
    const struct level *level = &audit->levels[audit->depth - 1];
    bool leaf = audit->depth == audit->height + 1;
    for (unsigned i = 0; i < cells; i++) {
        const uint8_t *cell = cell_of(node, i);
        struct td_box box = box_of(cell);
        if (!lies_within(&box, &level->box) ||
            (leaf && !is_home(audit, (int64_t)number_at(cell, 8), level->node)))
            return false;
        audit->reached += leaf;
    }
    return audit->reached <= audit->library->pieces && audit->nodes <= audit->nodes_most;
}

/* Down to the next child, or up where there is none left. */
static void move_on(struct td_library_audit *audit, const uint8_t *node, unsigned cells)
{
    struct level *level = &audit->levels[audit->depth - 1];
    if (audit->depth == audit->height + 1 || level->next == cells) {
        audit->depth--;
        return;
    }
    const uint8_t *cell = cell_of(node, level->next++);
    audit->levels[audit->depth++] =
        (struct level){.node = (int64_t)number_at(cell, 8), .box = box_of(cell)};
}

static bool look_at_node(struct td_library_audit *audit, const uint8_t *node, size_t length)
{
    struct level *level = &audit->levels[audit->depth - 1];
    if (node == NULL || length < NODE_HEAD)
        return false;
    unsigned cells = (unsigned)number_at(node + 2, 2);
    if (NODE_HEAD + (size_t)cells * CELL > length)
        return false;
    if (audit->depth == 1)
        audit->height = (unsigned)number_at(node, 2);
    if (audit->height >= HEIGHT_MAX)
        return false;
    if (!level->seen) {
        level->seen = true;
        audit->nodes++;
        if (!cells_hold(audit, node, cells))
            return false;
    }
    move_on(audit, node, cells);
    return true;
}

static enum td_result step_index(struct td_library_audit *audit, struct td_problem *problem)
{
    if (audit->depth == 0) {
        if (audit->reached != audit->library->pieces)
            return index_damaged(audit, problem);
        audit->part = audit->parts == TD_AUDIT_INDEX ? PART_DONE : PART_HILLS;
        return TD_OK;
    }
    sqlite3_stmt *s = audit->node;
    (void)sqlite3_bind_int64(s, 1, audit->levels[audit->depth - 1].node);
    int code = sqlite3_step(s);
    enum td_result result = TD_OK;
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        result = td_library_refused(audit->library, problem);
    else if (code == SQLITE_DONE || !look_at_node(audit, sqlite3_column_blob(s, 0),
                                                  (size_t)sqlite3_column_bytes(s, 0)))
        result = index_damaged(audit, problem);
    (void)sqlite3_reset(s);
    return result;
}

/* --- hills --- */

/* The boxes under the hill's number into its leaf, in order; how many. SIZE_MAX: unreadable. */
static size_t add_boxes(struct td_library_audit *audit, struct td_hash *leaf)
{
    sqlite3_stmt *s = audit->library->statements[TD_LIBRARY_BOX];
    int64_t first = ((int64_t)audit->index + 1) << TD_LIBRARY_PIECE_BITS;
    size_t count = 0;
    int code;
    for (;; count++) {
        (void)sqlite3_bind_int64(s, 1, first + (int64_t)count);
        if ((code = sqlite3_step(s)) != SQLITE_ROW)
            break;
        struct td_box box = td_library_box_columns(s, 0);
        td_leaf_box(leaf, &box);
        (void)sqlite3_reset(s);
    }
    (void)sqlite3_reset(s);
    return code == SQLITE_DONE ? count : SIZE_MAX;
}

static enum td_result hill_is_whole(struct td_library_audit *audit, struct td_problem *problem)
{
    sqlite3_stmt *s = audit->hill;
    const char *id = (const char *)sqlite3_column_text(s, 0);
    const uint8_t *hash = td_library_hash_column(s, 1), *leaf = td_library_hash_column(s, 2);
    const char *bytes = sqlite3_column_blob(s, 3);
    uint8_t is[TD_HASH_BYTES], made[TD_HASH_BYTES];
    struct td_hash begun;
    if (id == NULL || hash == NULL || leaf == NULL || bytes == NULL)
        return td_library_damaged(audit->library, problem, "a hill is empty");
    if (!td_hash_of(bytes, (size_t)sqlite3_column_bytes(s, 3), is) ||
        !td_leaf_begin(&begun, id, hash))
        return td_library_no_memory(audit->library->path, problem);
    if (memcmp(is, hash, sizeof is) != 0)
        return td_library_altered(audit->library, id, problem);
    size_t pieces = add_boxes(audit, &begun);
    if (pieces == SIZE_MAX)
        return td_library_refused(audit->library, problem);
    td_hash_end(&begun, made);
    if (memcmp(made, leaf, sizeof made) != 0)
        return td_library_not_found_along(audit->library, id, problem);
    audit->pieces += pieces;
    td_hash_add(&audit->block, leaf, TD_HASH_BYTES);
    return TD_OK;
}

/* After the last hill of a block: its leaves make the block that the root covers. */
static enum td_result close_block(struct td_library_audit *audit, struct td_problem *problem)
{
    sqlite3_stmt *s = audit->library->statements[TD_LIBRARY_BLOCK_HASH];
    uint8_t made[TD_HASH_BYTES];
    td_hash_end(&audit->block, made);
    (void)sqlite3_bind_int64(s, 1, (int64_t)(audit->index / TD_LIBRARY_BLOCK));
    const uint8_t *block = sqlite3_step(s) == SQLITE_ROW ? td_library_hash_column(s, 0) : NULL;
    bool same = block != NULL && memcmp(made, block, sizeof made) == 0;
    (void)sqlite3_reset(s);
    return same ? TD_OK
                : td_library_damaged(audit->library, problem,
                                     "a block of hills is not that of its manifest");
}

static enum td_result step_hill(struct td_library_audit *audit, struct td_problem *problem)
{
    size_t count = audit->library->count;
    if (audit->index == count) {
        audit->part = PART_BLOCKS;
        return audit->pieces == audit->library->pieces ? TD_OK : index_damaged(audit, problem);
    }
    if (audit->index % TD_LIBRARY_BLOCK == 0 && !td_hash_begin(&audit->block))
        return td_library_no_memory(audit->library->path, problem);
    sqlite3_stmt *s = audit->hill;
    (void)sqlite3_bind_int64(s, 1, (int64_t)audit->index + 1);
    int code = sqlite3_step(s);
    enum td_result result = code == SQLITE_ROW ? hill_is_whole(audit, problem)
                            : code == SQLITE_DONE
                                ? td_library_damaged(audit->library, problem, "a hill is missing")
                                : td_library_refused(audit->library, problem);
    (void)sqlite3_reset(s);
    size_t next = audit->index + 1;
    bool last = next % TD_LIBRARY_BLOCK == 0 || next == count;
    if (result == TD_OK && last)
        result = close_block(audit, problem);
    if (result == TD_OK)
        audit->index++;
    return result;
}

enum td_result td_library_audit_step(struct td_library_audit *audit, bool *done,
                                     struct td_problem *problem)
{
    enum td_result result = TD_OK;
    if (audit->part == PART_INDEX) {
        result = step_index(audit, problem);
    } else if (audit->part == PART_HILLS) {
        result = step_hill(audit, problem);
    } else if (audit->part == PART_BLOCKS) {
        result = td_library_root_check(audit->library, problem);
        audit->part = PART_DONE;
    }
    *done = audit->part == PART_DONE;
    return result;
}

void td_library_audit_close(struct td_library_audit **audit)
{
    if (audit == NULL || *audit == NULL)
        return;
    (void)sqlite3_finalize((*audit)->node);
    (void)sqlite3_finalize((*audit)->home);
    (void)sqlite3_finalize((*audit)->hill);
    free(*audit);
    *audit = NULL;
}
