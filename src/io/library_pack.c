/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packer of libraries. Hills are staged in a temporary database as they come, whose index then
 * gives them back in the order of their ids; so neither names nor bytes are kept in memory. The
 * stage has no name any more once it is open: it cannot stay behind. */
#include "io/library_pack.h"

#include <errno.h>
#include <inttypes.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/file.h"
#include "io/library_file.h"
#include "io/library_schema.h"
#include "io/problem.h"

enum { TELL_EVERY = 64 };

enum statement { FIND, STAGE_HILL, STAGE_PROFILE, STAGE_PIECE, INTO_BLOCK, STATEMENTS };

#define STAGED                                                                                     \
    " id, name, surveyed, hash, leaf, south_deg, north_deg, west_deg, east_deg, length_m, crest_m,"\
    " foot_m, mean_downgrade, steepest_downgrade, pieces, places, revision "

static const char *const statement_text[STATEMENTS] = {
    [FIND] = "SELECT source FROM stage.hill WHERE id = ?1",
    [STAGE_HILL] = "INSERT INTO stage.hill(" STAGED ", source) VALUES"
                   "(?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15,?16,?17,?18)",
    [STAGE_PROFILE] = "INSERT INTO stage.profile(number, bytes) VALUES(?1,?2)",
    [STAGE_PIECE] = "INSERT INTO stage.piece VALUES(?1,?2,?3,?4,?5,?6)",
    [INTO_BLOCK] = "INSERT INTO main.block VALUES(?1,?2)",
};

/* Each runs for every hill in the order of ids: ?1 its number, ?2 its row on the stage. One after
 * the other, so that list, index and profiles each lie together in the file. */
static const char *const passes[] = {
    "INSERT INTO main.hill(number," STAGED ") SELECT ?1," STAGED "FROM stage.hill WHERE rowid = ?2",
    ("INSERT INTO main.road SELECT (?1 << 13) | place, south_deg, north_deg, west_deg, east_deg"
     " FROM stage.piece WHERE hill = ?2 ORDER BY place"),
    "INSERT INTO main.profile SELECT ?1, bytes FROM stage.profile WHERE number = ?2",
};

enum { PASSES = sizeof passes / sizeof passes[0] };

struct td_library_pack {
    char *path, *temporary;
    int fd; /* of the temporary file */
    bool replace;
    unsigned revision;
    sqlite3 *db;
    sqlite3_stmt *statements[STATEMENTS];
    size_t hills, pieces;
    int code; /* of SQLite's first refusal, and its words */
    char why[160];
};

static enum td_result no_memory(const char *path, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to pack the library");
}

/* SQLite forgets what was wrong as soon as another statement is put away. */
static void keep_refusal(struct td_library_pack *pack)
{
    if (pack->code != SQLITE_OK)
        return;
    pack->code = pack->db != NULL ? sqlite3_errcode(pack->db) : SQLITE_NOMEM;
    int why = pack->db != NULL ? sqlite3_system_errno(pack->db) : 0;
    if (pack->db != NULL)
        (void)snprintf(pack->why, sizeof pack->why, "%s%s%s", sqlite3_errmsg(pack->db),
                       why != 0 ? ": " : "", why != 0 ? strerror(why) : "");
}

static enum td_result refused(struct td_library_pack *pack, struct td_problem *problem)
{
    keep_refusal(pack);
    if ((pack->code & 0xff) == SQLITE_NOMEM)
        return no_memory(pack->path, problem);
    return td_problem_set(problem, TD_IO, pack->path, 0, "cannot write the library: %s", pack->why);
}

/* --- begin --- */

static bool run_text(struct td_library_pack *pack, const char *sql)
{
    return sqlite3_exec(pack->db, sql, NULL, NULL, NULL) == SQLITE_OK;
}

/* Nothing here may depend on how this SQLite was built. Losing it half-written is no loss: it has
 * another name until it is whole. */
static bool set_up(struct td_library_pack *pack)
{
    char sql[512];
    (void)snprintf(sql, sizeof sql,
                   "PRAGMA main.page_size=%d; PRAGMA main.auto_vacuum=0; PRAGMA encoding='UTF-8';"
                   "PRAGMA main.secure_delete=ON; PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;"
                   "PRAGMA main.application_id=%d; PRAGMA main.user_version=%d; BEGIN;",
                   (int)TD_LIBRARY_PAGE, (int)TD_LIBRARY_APPLICATION_ID, (int)TD_LIBRARY_VERSION);
    return run_text(pack, sql) &&
           run_text(pack, TD_LIBRARY_META ";" TD_LIBRARY_BLOCKS ";" TD_LIBRARY_HILL
                          ";" TD_LIBRARY_ROAD ";" TD_LIBRARY_PROFILE) &&
           run_text(pack, "CREATE TABLE stage.hill(" STAGED ", source TEXT, UNIQUE(id));"
                          "CREATE TABLE stage.profile(number INTEGER PRIMARY KEY, bytes BLOB);"
                          "CREATE TABLE stage.piece(hill, place, south_deg, north_deg, west_deg,"
                          " east_deg, PRIMARY KEY(hill, place)) WITHOUT ROWID");
}

static bool attach(struct td_library_pack *pack, const char *stage)
{
    sqlite3_stmt *s = NULL;
    bool done = sqlite3_prepare_v2(pack->db, "ATTACH ?1 AS stage", -1, &s, NULL) == SQLITE_OK &&
                sqlite3_bind_text(s, 1, stage, -1, SQLITE_STATIC) == SQLITE_OK &&
                sqlite3_step(s) == SQLITE_DONE;
    if (!done)
        keep_refusal(pack);
    (void)sqlite3_finalize(s);
    return done;
}

static bool prepare_all(struct td_library_pack *pack)
{
    for (int i = 0; i < STATEMENTS; i++)
        if (sqlite3_prepare_v3(pack->db, statement_text[i], -1, SQLITE_PREPARE_PERSISTENT,
                               &pack->statements[i], NULL) != SQLITE_OK)
            return false;
    return true;
}

static enum td_result open_files(struct td_library_pack *pack, struct td_problem *problem)
{
    char *stage = NULL;
    int stage_fd = -1;
    enum td_result result = td_file_temporary(pack->path, &pack->temporary, &pack->fd, problem);
    if (result == TD_OK)
        result = td_file_temporary(pack->path, &stage, &stage_fd, problem);
    if (result != TD_OK)
        return result;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX;
    if (sqlite3_open_v2(pack->temporary, &pack->db, flags, NULL) != SQLITE_OK ||
        !attach(pack, stage) || !set_up(pack) || !prepare_all(pack))
        result = refused(pack, problem);
    (void)unlink(stage);
    (void)close(stage_fd);
    free(stage);
    return result;
}

enum td_result td_library_pack_begin(const char *path, bool replace, struct td_library_pack **out,
                                     struct td_problem *problem)
{
    enum td_result result = td_file_may_write(path, replace, problem);
    if (result != TD_OK)
        return result;
    struct td_library_pack *pack = calloc(1, sizeof *pack);
    if (pack == NULL || (pack->path = strdup(path)) == NULL) {
        free(pack);
        return no_memory(path, problem);
    }
    pack->fd = -1;
    pack->replace = replace;
    result = open_files(pack, problem);
    if (result == TD_OK)
        *out = pack;
    else
        td_library_pack_abandon(&pack);
    return result;
}

void td_library_pack_revision(struct td_library_pack *pack, unsigned revision)
{
    pack->revision = revision;
}

/* --- add --- */

static bool run(sqlite3_stmt *statement)
{
    bool done = sqlite3_step(statement) == SQLITE_DONE;
    (void)sqlite3_reset(statement);
    (void)sqlite3_clear_bindings(statement);
    return done;
}

static void bind_text(sqlite3_stmt *s, int at, const char *text)
{
    (void)sqlite3_bind_text(s, at, text, -1, SQLITE_STATIC);
}

static bool stage_entry(struct td_library_pack *pack, const struct td_hill_entry *entry,
                        const char *source)
{
    sqlite3_stmt *s = pack->statements[STAGE_HILL];
    const double reals[] = {entry->south_deg, entry->north_deg, entry->west_deg,
                            entry->east_deg,  entry->length_m,  entry->crest_m,
                            entry->foot_m,    entry->mean_downgrade_ratio,
                            entry->steepest_downgrade_ratio};
    bind_text(s, 1, entry->id);
    bind_text(s, 2, entry->name);
    bind_text(s, 3, entry->surveyed);
    (void)sqlite3_bind_blob(s, 4, entry->hash, TD_HASH_BYTES, SQLITE_STATIC);
    (void)sqlite3_bind_blob(s, 5, entry->leaf, TD_HASH_BYTES, SQLITE_STATIC);
    for (int i = 0; i < (int)(sizeof reals / sizeof reals[0]); i++)
        if (entry->coached || i < 5 || i > 7) /* crest, foot and mean are of a coached hill */
            (void)sqlite3_bind_double(s, 6 + i, reals[i]);
    (void)sqlite3_bind_int64(s, 15, (int64_t)entry->pieces);
    (void)sqlite3_bind_int64(s, 16, (int64_t)entry->places);
    (void)sqlite3_bind_int64(s, 17, (int64_t)entry->revision);
    bind_text(s, 18, source);
    return run(s);
}

static bool stage_pieces(struct td_library_pack *pack, int64_t row, const struct td_hill *hill)
{
    sqlite3_stmt *s = pack->statements[STAGE_PIECE];
    struct td_box box;
    int64_t place = 0;
    for (size_t station = 0; td_box_next(hill, &station, &box); place++) {
        (void)sqlite3_bind_int64(s, 1, row);
        (void)sqlite3_bind_int64(s, 2, place);
        (void)sqlite3_bind_double(s, 3, (double)box.south_deg);
        (void)sqlite3_bind_double(s, 4, (double)box.north_deg);
        (void)sqlite3_bind_double(s, 5, (double)box.west_deg);
        (void)sqlite3_bind_double(s, 6, (double)box.east_deg);
        if (!run(s))
            return false;
    }
    return true;
}

static bool stage_profile(struct td_library_pack *pack, int64_t row,
                          const struct td_hill_file *file)
{
    size_t length = 0;
    const char *bytes = td_hill_file_bytes(file, &length);
    sqlite3_stmt *s = pack->statements[STAGE_PROFILE];
    (void)sqlite3_bind_int64(s, 1, row);
    (void)sqlite3_bind_blob64(s, 2, bytes, length, SQLITE_STATIC);
    return run(s);
}

static enum td_result check_id(struct td_library_pack *pack, const char *id, const char *source,
                               struct td_problem *problem)
{
    sqlite3_stmt *s = pack->statements[FIND];
    bind_text(s, 1, id);
    int code = sqlite3_step(s);
    enum td_result result = TD_OK;
    if (code == SQLITE_ROW)
        result = td_problem_set(problem, TD_INVALID, source, 0,
                                "has the id \"%s\" of %s; give each hill an id of its own", id,
                                (const char *)sqlite3_column_text(s, 0));
    else if (code != SQLITE_DONE)
        result = refused(pack, problem);
    (void)sqlite3_reset(s);
    return result;
}

enum td_result td_library_pack_add(struct td_library_pack *pack, const struct td_hill_file *file,
                                   const char *source, struct td_problem *problem)
{
    struct td_hill_entry entry;
    if (!td_hill_entry_make(file, &entry))
        return no_memory(pack->path, problem);
    enum td_result result = check_id(pack, entry.id, source, problem);
    if (result != TD_OK)
        return result;
    if (!stage_entry(pack, &entry, source))
        return refused(pack, problem);
    int64_t row = sqlite3_last_insert_rowid(pack->db);
    if (!stage_pieces(pack, row, td_hill_file_hill(file)) || !stage_profile(pack, row, file))
        return refused(pack, problem);
    pack->hills++;
    pack->pieces += entry.pieces;
    return TD_OK;
}

/* --- finish --- */

struct telling {
    td_library_told *tell;
    void *whom;
    size_t done, total;
};

static void tell(struct telling *telling)
{
    telling->done++;
    bool due = telling->done % TELL_EVERY == 0 || telling->done == telling->total;
    if (telling->tell != NULL && due)
        telling->tell(telling->whom, telling->done, telling->total);
}

static bool run_pass(struct td_library_pack *pack, const char *sql, struct telling *telling)
{
    sqlite3_stmt *all = NULL, *one = NULL;
    bool good = sqlite3_prepare_v2(pack->db, "SELECT rowid FROM stage.hill ORDER BY id", -1, &all,
                                   NULL) == SQLITE_OK &&
                sqlite3_prepare_v2(pack->db, sql, -1, &one, NULL) == SQLITE_OK;
    for (int64_t number = 1; good; number++) {
        int code = sqlite3_step(all);
        if (code == SQLITE_DONE)
            break;
        good = code == SQLITE_ROW &&
               sqlite3_bind_int64(one, 1, number) == SQLITE_OK &&
               sqlite3_bind_int64(one, 2, sqlite3_column_int64(all, 0)) == SQLITE_OK &&
               run(one);
        tell(telling);
    }
    if (!good)
        keep_refusal(pack);
    (void)sqlite3_finalize(one);
    (void)sqlite3_finalize(all);
    return good;
}

static bool put_block(struct td_library_pack *pack, size_t number, struct td_hash *block,
                      struct td_hash *root)
{
    uint8_t hash[TD_HASH_BYTES];
    sqlite3_stmt *s = pack->statements[INTO_BLOCK];
    td_hash_end(block, hash);
    td_hash_add(root, hash, sizeof hash);
    (void)sqlite3_bind_int64(s, 1, (int64_t)number);
    (void)sqlite3_bind_blob(s, 2, hash, sizeof hash, SQLITE_STATIC);
    return run(s) && td_hash_begin(block);
}

/* Leaves into blocks, blocks into the root. */
static bool put_blocks(struct td_library_pack *pack, uint8_t out[TD_HASH_BYTES])
{
    struct td_hash block, root;
    sqlite3_stmt *s = NULL;
    bool good = td_hash_begin(&block) && td_hash_begin(&root) &&
                sqlite3_prepare_v2(pack->db, "SELECT leaf FROM main.hill ORDER BY number", -1, &s,
                                   NULL) == SQLITE_OK;
    for (size_t at = 0; good && at < pack->hills; at++) {
        good = sqlite3_step(s) == SQLITE_ROW && sqlite3_column_bytes(s, 0) == TD_HASH_BYTES;
        if (good)
            td_hash_add(&block, sqlite3_column_blob(s, 0), TD_HASH_BYTES);
        if (good && ((at + 1) % TD_LIBRARY_BLOCK == 0 || at + 1 == pack->hills))
            good = put_block(pack, at / TD_LIBRARY_BLOCK, &block, &root);
    }
    if (!good)
        keep_refusal(pack);
    (void)sqlite3_finalize(s);
    td_hash_end(&root, out);
    return good;
}

static bool put_manifest(struct td_library_pack *pack, char hex[TD_HASH_HEX_SIZE])
{
    uint8_t root[TD_HASH_BYTES];
    char text[256];
    sqlite3_stmt *s = NULL;
    if (!put_blocks(pack, root))
        return false;
    (void)snprintf(text, sizeof text, TD_LIBRARY_MANIFEST, pack->revision, pack->hills,
                   pack->pieces, td_hash_hex(root, hex));
    bool good = sqlite3_prepare_v2(pack->db, "INSERT INTO main.meta VALUES('manifest',?1)", -1, &s,
                                   NULL) == SQLITE_OK;
    if (good) {
        bind_text(s, 1, text);
        good = run(s);
    }
    if (!good)
        keep_refusal(pack);
    (void)sqlite3_finalize(s);
    return good;
}

static enum td_result close_db(struct td_library_pack *pack, struct td_problem *problem)
{
    bool good = run_text(pack, "COMMIT");
    enum td_result result = good ? TD_OK : refused(pack, problem);
    for (int i = 0; i < STATEMENTS; i++) {
        (void)sqlite3_finalize(pack->statements[i]);
        pack->statements[i] = NULL;
    }
    (void)sqlite3_close(pack->db);
    pack->db = NULL;
    return result;
}

/* What cannot be opened is not put in place. */
static enum td_result open_again(const struct td_library_pack *pack, struct td_problem *problem)
{
    struct td_library_file *library = NULL;
    struct td_problem inside = {0};
    enum td_result result = td_library_file_open(pack->temporary, &library, &inside);
    td_library_file_close(&library);
    if (result != TD_OK)
        return td_problem_set(problem, result, pack->path, 0, "as written: %s", inside.text);
    return TD_OK;
}

static enum td_result write_all(struct td_library_pack *pack, struct telling *telling,
                                struct td_library_made *made, struct td_problem *problem)
{
    if (pack->hills == 0)
        return td_problem_set(problem, TD_INVALID, pack->path, 0,
                              "no hill to put into it; name profiles or folders of them");
    bool good = true;
    for (int i = 0; good && i < PASSES; i++)
        good = run_pass(pack, passes[i], telling);
    if (!good || !put_manifest(pack, made->root))
        return refused(pack, problem);
    enum td_result result = close_db(pack, problem);
    return result == TD_OK ? open_again(pack, problem) : result;
}

enum td_result td_library_pack_finish(struct td_library_pack **pack, td_library_told *told,
                                      void *whom, struct td_library_made *made,
                                      struct td_problem *problem)
{
    struct td_library_pack *mine = *pack;
    struct telling telling = {told, whom, 0, PASSES * mine->hills};
    struct td_library_made done = {.hills = mine->hills, .pieces = mine->pieces};
    struct stat about;
    enum td_result result = write_all(mine, &telling, &done, problem);
    if (result == TD_OK)
        result = td_file_put_in_place(mine->fd, mine->temporary, mine->path, mine->replace,
                                      problem);
    if (result == TD_OK) {
        if (fstat(mine->fd, &about) == 0)
            done.bytes = about.st_size;
        *made = done;
        free(mine->temporary);
        mine->temporary = NULL;
    }
    td_library_pack_abandon(pack);
    return result;
}

void td_library_pack_abandon(struct td_library_pack **pack)
{
    if (pack == NULL || *pack == NULL)
        return;
    for (int i = 0; i < STATEMENTS; i++)
        (void)sqlite3_finalize((*pack)->statements[i]);
    (void)sqlite3_close((*pack)->db);
    if ((*pack)->temporary != NULL)
        (void)unlink((*pack)->temporary);
    if ((*pack)->fd >= 0)
        (void)close((*pack)->fd);
    free((*pack)->temporary);
    free((*pack)->path);
    free(*pack);
    *pack = NULL;
}
