/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Opening a library. SQLite opens the file as immutable: no locks, no journal, so that it works
 * from a read-only medium, and nothing but rename may replace it. Whatever SQLite finds wrong is
 * told as damage; it reads with every check it has, since the bytes come from outside. */
#include "io/library_parts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/library_header.h"
#include "io/library_schema.h"
#include "io/minisign.h"
#include "io/problem.h"
#include "talkdown/text.h"

enum { RECORD_MOST = TD_HILL_FILE_BYTES_MAX + 65536, CACHE_KIB = 512 };

#define PIECES_IN(west, east)                                                                      \
    "SELECT piece >> 13, south_deg, north_deg, west_deg, east_deg FROM road"                       \
    " WHERE south_deg <= ?2 AND north_deg >= ?1 AND west_deg <= " east " AND east_deg >= " west

static const char *const statement_text[TD_LIBRARY_STATEMENTS] = {
    /* One range for each turn, of which one or two meet anything. */
    [TD_LIBRARY_NEAR] = PIECES_IN("?3", "?4") " UNION ALL " PIECES_IN("?5", "?6")
        " UNION ALL " PIECES_IN("?7", "?8") " ORDER BY 1",
    [TD_LIBRARY_READ] = "SELECT hill.id, hill.hash, profile.bytes FROM hill"
                        " JOIN profile USING(number) WHERE number = ?1",
    [TD_LIBRARY_ENTRY] =
        "SELECT id, name, surveyed, hash, leaf, south_deg, north_deg, west_deg, east_deg,"
        " length_m, crest_m, foot_m, mean_downgrade, steepest_downgrade, pieces, places,"
        " revision FROM hill WHERE number = ?1",
    [TD_LIBRARY_LEAVES] =
        "SELECT number, leaf FROM hill WHERE number BETWEEN ?1 AND ?2 ORDER BY number",
    [TD_LIBRARY_BLOCK_HASH] = "SELECT hash FROM block WHERE number = ?1",
    [TD_LIBRARY_BOX] = "SELECT south_deg, north_deg, west_deg, east_deg FROM road"
                       " WHERE piece = ?1",
};

enum td_result td_library_no_memory(const char *path, struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, path, 0, "no memory to read the library");
}

enum td_result td_library_refused(const struct td_library_file *library, struct td_problem *problem)
{
    int code = library->db != NULL ? sqlite3_errcode(library->db) & 0xff : SQLITE_NOMEM;
    if (code == SQLITE_NOMEM)
        return td_library_no_memory(library->path, problem);
    if (code == SQLITE_IOERR || code == SQLITE_CANTOPEN || code == SQLITE_PERM)
        return td_problem_set(problem, TD_IO, library->path, 0, "cannot read the library: %s",
                              sqlite3_errmsg(library->db));
    return td_problem_set(problem, TD_INVALID, library->path, 0,
                          "the library is damaged (%s); copy or pack it again",
                          sqlite3_errmsg(library->db));
}

enum td_result td_library_damaged(const struct td_library_file *library, struct td_problem *problem,
                              const char *what)
{
    return td_problem_set(problem, TD_INVALID, library->path, 0,
                          "the library is damaged (%s); copy or pack it again", what);
}

const uint8_t *td_library_hash_column(sqlite3_stmt *s, int column)
{
    const uint8_t *blob = sqlite3_column_blob(s, column);
    return sqlite3_column_bytes(s, column) == TD_HASH_BYTES ? blob : NULL;
}

/* file:PATH?immutable=1 with what has a meaning in a URI written as %XX. */
static char *make_uri(const char *path)
{
    static const char hex[] = "0123456789ABCDEF";
    char *uri = malloc(3 * strlen(path) + sizeof "file:?immutable=1");
    if (uri == NULL)
        return NULL;
    memcpy(uri, "file:", 5);
    char *to = uri + 5;
    for (; *path != '\0'; path++) {
        unsigned char c = (unsigned char)*path;
        bool plain = c > 0x20 && c < 0x7f && strchr("%?#", c) == NULL;
        if (plain) {
            *to++ = *path;
            continue;
        }
        *to++ = '%';
        *to++ = hex[c >> 4];
        *to++ = hex[c & 15];
    }
    memcpy(to, "?immutable=1", sizeof "?immutable=1");
    return uri;
}

static bool set_up(sqlite3 *db)
{
    (void)sqlite3_limit(db, SQLITE_LIMIT_LENGTH, RECORD_MOST);
    (void)sqlite3_db_config(db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    (void)sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, NULL);
    (void)sqlite3_db_config(db, SQLITE_DBCONFIG_ENABLE_VIEW, 0, NULL);
    /* A small cache: the pages of one search and one hill. */
    return sqlite3_exec(db, "PRAGMA cell_size_check=ON; PRAGMA cache_size=-512;"
                            "PRAGMA temp_store=MEMORY; PRAGMA mmap_size=0",
                        NULL, NULL, NULL) == SQLITE_OK;
}

/* Exactly the tables that the packer makes; of those that SQLite makes itself, the names. */
static enum td_result check_tables(struct td_library_file *library, struct td_problem *problem)
{
    static const struct {
        const char *name, *sql;
    } tables[] = {
        {"block", TD_LIBRARY_BLOCKS}, {"hill", TD_LIBRARY_HILL},
        {"meta", TD_LIBRARY_META},    {"profile", TD_LIBRARY_PROFILE},
        {"road", TD_LIBRARY_ROAD},    {"road_node", NULL},
        {"road_parent", NULL},        {"road_rowid", NULL},
        {"sqlite_autoindex_hill_1", NULL},
    };
    enum { TABLES = sizeof tables / sizeof tables[0] };
    sqlite3_stmt *s = NULL;
    if (sqlite3_prepare_v2(library->db, "SELECT name, sql FROM sqlite_schema ORDER BY name", -1,
                           &s, NULL) != SQLITE_OK)
        return td_library_refused(library, problem);
    size_t seen = 0;
    bool same = true;
    int code;
    while ((code = sqlite3_step(s)) == SQLITE_ROW && same) {
        const char *name = (const char *)sqlite3_column_text(s, 0);
        const char *sql = (const char *)sqlite3_column_text(s, 1);
        same = seen < TABLES && name != NULL && strcmp(name, tables[seen].name) == 0 &&
               (tables[seen].sql == NULL || (sql != NULL && strcmp(sql, tables[seen].sql) == 0));
        seen++;
    }
    enum td_result result = TD_OK;
    if (same && code != SQLITE_DONE)
        result = td_library_refused(library, problem);
    else if (!same || seen != TABLES)
        result = td_library_damaged(library, problem, "its tables are not those of a library");
    (void)sqlite3_finalize(s);
    return result;
}

/* The hash of all block hashes, and how many there are. */
static enum td_result hash_blocks(struct td_library_file *library, uint8_t root[TD_HASH_BYTES],
                                  size_t *blocks, struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    struct td_hash hash;
    if (!td_hash_begin(&hash))
        return td_library_no_memory(library->path, problem);
    if (sqlite3_prepare_v2(library->db, "SELECT hash FROM block ORDER BY number", -1, &s, NULL) !=
        SQLITE_OK)
        return td_library_refused(library, problem);
    enum td_result result = TD_OK;
    int code;
    while (result == TD_OK && (code = sqlite3_step(s)) != SQLITE_DONE) {
        const uint8_t *block = code == SQLITE_ROW ? td_library_hash_column(s, 0) : NULL;
        if (code != SQLITE_ROW)
            result = td_library_refused(library, problem);
        else if (block == NULL)
            result = td_library_damaged(library, problem, "its manifest holds what is no hash");
        else
            td_hash_add(&hash, block, TD_HASH_BYTES);
        ++*blocks;
    }
    (void)sqlite3_finalize(s);
    td_hash_end(&hash, root);
    return result;
}

/* What it is worth, td_library_vouched tells. */
static enum td_result keep_signature(struct td_library_file *library, const char *text,
                                     struct td_problem *problem)
{
    if (text == NULL)
        return TD_OK;
    if (strlen(text) > TD_SIGNATURE_FILE_BYTES_MAX)
        return td_library_damaged(library, problem, "its signature is too long");
    library->signature = strdup(text);
    return library->signature != NULL ? TD_OK : td_library_no_memory(library->path, problem);
}

static enum td_result read_numbers(struct td_library_file *library, struct td_problem *problem)
{
    sqlite3_stmt *s = NULL;
    static const char sql[] =
        "SELECT (SELECT value FROM meta WHERE key = 'manifest'), (SELECT max(number) FROM hill),"
        " (SELECT max(number) FROM profile), (SELECT value FROM meta WHERE key = 'signature')";
    if (sqlite3_prepare_v2(library->db, sql, -1, &s, NULL) != SQLITE_OK)
        return td_library_refused(library, problem);
    enum td_result result = TD_OK;
    if (sqlite3_step(s) != SQLITE_ROW) {
        result = td_library_refused(library, problem);
    } else {
        const char *text = (const char *)sqlite3_column_text(s, 0);
        int64_t hills = sqlite3_column_int64(s, 1), profiles = sqlite3_column_int64(s, 2);
        library->count = (size_t)hills;
        if (text == NULL ||
            !td_text_copy(library->manifest, sizeof library->manifest, text))
            result = td_library_damaged(library, problem, "it has no manifest");
        else if (hills < 1 || hills > INT64_MAX >> TD_LIBRARY_PIECE_BITS || profiles != hills)
            result = td_library_damaged(library, problem, "hills are missing");
        else
            result = keep_signature(library, (const char *)sqlite3_column_text(s, 3), problem);
    }
    (void)sqlite3_finalize(s);
    return result;
}

/* 0 for what is no number up to the largest revision: the manifest then says something else. */
static size_t number_after(const struct td_library_file *library, const char *words)
{
    const char *at = strstr(library->manifest, words);
    unsigned long long number = at != NULL ? strtoull(at + strlen(words), NULL, 10) : 0;
    return number <= SIZE_MAX >> 1 ? (size_t)number : 0;
}

/* Its own numbers in the manifest's words must be the manifest. */
static enum td_result check_manifest(struct td_library_file *library, struct td_problem *problem)
{
    enum td_result result = read_numbers(library, problem);
    if (result != TD_OK)
        return result;
    library->pieces = number_after(library, "\npieces ");
    library->revision = (unsigned)number_after(library, "\nrevision ");
    return td_library_root_check(library, problem);
}

enum td_result td_library_root_check(struct td_library_file *library, struct td_problem *problem)
{
    uint8_t root[TD_HASH_BYTES];
    char hex[TD_HASH_HEX_SIZE], expected[TD_LIBRARY_MANIFEST_ROOM];
    size_t blocks = 0;
    enum td_result result = hash_blocks(library, root, &blocks, problem);
    if (result != TD_OK)
        return result;
    (void)snprintf(expected, sizeof expected, TD_LIBRARY_MANIFEST, library->revision,
                   library->count, library->pieces, td_hash_hex(root, hex));
    size_t right = (library->count + TD_LIBRARY_BLOCK - 1) / TD_LIBRARY_BLOCK;
    if (blocks != right || strcmp(expected, library->manifest) != 0)
        return td_library_damaged(library, problem, "its manifest is not that of its hills");
    return TD_OK;
}

static enum td_result open_db(struct td_library_file *library, struct td_problem *problem)
{
    char *uri = make_uri(library->path);
    if (uri == NULL)
        return td_library_no_memory(library->path, problem);
    int code = sqlite3_open_v2(uri, &library->db,
                               SQLITE_OPEN_READONLY | SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX, NULL);
    free(uri);
    if (code != SQLITE_OK || !set_up(library->db))
        return td_library_refused(library, problem);
    enum td_result result = check_tables(library, problem);
    for (int i = 0; result == TD_OK && i < TD_LIBRARY_STATEMENTS; i++)
        if (sqlite3_prepare_v3(library->db, statement_text[i], -1, SQLITE_PREPARE_PERSISTENT,
                               &library->statements[i], NULL) != SQLITE_OK)
            result = td_library_refused(library, problem);
    return result == TD_OK ? check_manifest(library, problem) : result;
}

enum td_result td_library_file_open(const char *path, struct td_library_file **out,
                                    struct td_problem *problem)
{
    enum td_result result = td_library_header_check(path, problem);
    if (result != TD_OK)
        return result;
    struct td_library_file *library = calloc(1, sizeof *library);
    if (library == NULL || (library->path = strdup(path)) == NULL) {
        free(library);
        return td_library_no_memory(path, problem);
    }
    result = open_db(library, problem);
    if (result == TD_OK)
        *out = library;
    else
        td_library_file_close(&library);
    return result;
}

void td_library_file_close(struct td_library_file **library)
{
    if (library == NULL || *library == NULL)
        return;
    for (int i = 0; i < TD_LIBRARY_STATEMENTS; i++)
        (void)sqlite3_finalize((*library)->statements[i]);
    (void)sqlite3_close((*library)->db);
    free((*library)->signature);
    free((*library)->path);
    free(*library);
    *library = NULL;
}
