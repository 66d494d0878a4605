/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the library's reader share, and nobody else. */
#ifndef TD_IO_LIBRARY_PARTS_H
#define TD_IO_LIBRARY_PARTS_H

#include <sqlite3.h>

#include "io/library_file.h"

enum { TD_LIBRARY_MANIFEST_ROOM = 256 };

enum td_library_statement {
    TD_LIBRARY_NEAR,
    TD_LIBRARY_READ,
    TD_LIBRARY_ENTRY,
    TD_LIBRARY_LEAVES,
    TD_LIBRARY_BLOCK_HASH,
    TD_LIBRARY_BOX,
    TD_LIBRARY_STATEMENTS
};

struct td_library_file {
    char *path;
    sqlite3 *db;
    sqlite3_stmt *statements[TD_LIBRARY_STATEMENTS];
    size_t count, pieces;
    unsigned revision;
    char manifest[TD_LIBRARY_MANIFEST_ROOM];
    char *signature; /* its text; NULL none */
};

enum td_result td_library_no_memory(const char *path, struct td_problem *problem);
/* After SQLite refused something: no memory, the system, or damage. */
enum td_result td_library_refused(const struct td_library_file *library,
                                  struct td_problem *problem);
enum td_result td_library_damaged(const struct td_library_file *library,
                                  struct td_problem *problem, const char *what);
enum td_result td_library_altered(const struct td_library_file *library, const char *id,
                                  struct td_problem *problem);
enum td_result td_library_not_found_along(const struct td_library_file *library, const char *id,
                                          struct td_problem *problem);
/* The block hashes make the root of the manifest, and are as many as its hills need. */
enum td_result td_library_root_check(struct td_library_file *library, struct td_problem *problem);
struct td_box td_library_box_columns(sqlite3_stmt *s, int first);
/* Blob of one hash, or NULL. */
const uint8_t *td_library_hash_column(sqlite3_stmt *s, int column);

#endif
