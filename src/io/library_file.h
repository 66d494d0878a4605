/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A library: one SQLite file with up to hundreds of thousands of hills (docs/formats.md). Opening
 * looks at header, tables and manifest only; a hill is read, and verified against the manifest,
 * when it is asked for. Memory does not grow with the file. SQLite stays inside library_open.c,
 * library_file.c (library_parts.h) and library_pack.c.
 *
 * The file must not be changed while it is open: it is replaced by rename, and then the one that is
 * open stays whole. Thread: one at a time. */
#ifndef TD_IO_LIBRARY_FILE_H
#define TD_IO_LIBRARY_FILE_H

#include "io/hill_entry.h"

#define TD_LIBRARY_SUFFIX ".hills"

struct td_library_file;

/* True for a file that is named or begins as a library does; what it is worth, opening tells. */
bool td_library_file_is(const char *path);

/* TD_INVALID: no database, another program's, cut short, damaged, without its manifest;
 * TD_UNSUPPORTED: of a newer version; TD_NOT_FOUND, TD_IO. */
TD_CHECKED enum td_result td_library_file_open(const char *path, struct td_library_file **out,
                                               struct td_problem *problem);
size_t td_library_file_count(const struct td_library_file *library);
/* Of the whole library: larger is newer; 0 where its packer gave none. */
unsigned td_library_file_revision(const struct td_library_file *library);
/* Lines of text that stand for everything in it: what a signature signs. */
const char *td_library_file_manifest(const struct td_library_file *library);
/* The signature that it carries, unverified; NULL without one (library_sign.h). */
const char *td_library_file_signature(const struct td_library_file *library);

/* Hills with a piece of road whose box comes within radius_m, nearest first, then by index; at most
 * TD_NEAR_MAX into `indexes`. *found counts them all. */
TD_CHECKED enum td_result td_library_file_near(struct td_library_file *library, double lat_deg,
                                               double lon_deg, double radius_m, size_t *indexes,
                                               size_t most, size_t *found,
                                               struct td_problem *problem);
/* Reads the hill of that index, 0 and up in the order of ids. TD_INVALID when its bytes, its hash
 * or its place in the manifest do not belong together. The caller frees it. */
TD_CHECKED enum td_result td_library_file_read(struct td_library_file *library, size_t index,
                                               struct td_hill_file **out,
                                               struct td_problem *problem);
/* What the list says of it, unverified; td_library_file_check compares. */
TD_CHECKED enum td_result td_library_file_entry(struct td_library_file *library, size_t index,
                                                struct td_hill_entry *entry,
                                                struct td_problem *problem);
/* Reads the hill, and that entry and index say of it what its bytes say. */
TD_CHECKED enum td_result td_library_file_check(struct td_library_file *library, size_t index,
                                                struct td_problem *problem);

/* Work done since it was opened, for those who measure: steps of SQLite's machine, pages asked of
 * its cache, pages of these that came from the file. */
struct td_library_work {
    long long steps, pages, pages_read;
};
struct td_library_work td_library_file_work(struct td_library_file *library);

void td_library_file_close(struct td_library_file **library); /* accepts NULL and *library NULL */

#endif
