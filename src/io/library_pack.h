/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Making a library of hills. The same hills make the same bytes, whatever order they come in (by
 * one version of SQLite); the memory it takes does not grow with their number.
 *
 * Everything goes into temporary files beside the library, which takes its place whole, by rename,
 * once it is written, synced and opened again; until then what was there stays. Killed in the
 * middle, it leaves one file named like the library with a dot and six characters more. */
#ifndef TD_IO_LIBRARY_PACK_H
#define TD_IO_LIBRARY_PACK_H

#include <stdbool.h>

#include "io/hash.h"
#include "io/hill_file.h"

struct td_library_pack;

/* TD_INVALID when the file is there and `replace` is not asked for; TD_NOT_FOUND, TD_IO. */
TD_CHECKED enum td_result td_library_pack_begin(const char *path, bool replace,
                                                struct td_library_pack **out,
                                                struct td_problem *problem);
/* The library's own revision, 0 to TD_LIBRARY_REVISION_MAX; 0, the default, is none. */
void td_library_pack_revision(struct td_library_pack *pack, unsigned revision);
/* `source` names where the hill came from. TD_INVALID for an id that another hill has, naming both
 * sources; TD_IO (a full disk). After an error only td_library_pack_abandon makes sense. */
TD_CHECKED enum td_result td_library_pack_add(struct td_library_pack *pack,
                                              const struct td_hill_file *file, const char *source,
                                              struct td_problem *problem);

struct td_library_made {
    size_t hills, pieces;
    long long bytes;
    char root[TD_HASH_HEX_SIZE]; /* of the manifest */
};
/* Told now and then how much is done; NULL for nobody. */
typedef void td_library_told(void *whom, size_t done, size_t total);
/* Writes the library and puts it in its place. *pack is gone afterwards, come what may. */
TD_CHECKED enum td_result td_library_pack_finish(struct td_library_pack **pack,
                                                 td_library_told *tell, void *whom,
                                                 struct td_library_made *made,
                                                 struct td_problem *problem);
void td_library_pack_abandon(struct td_library_pack **pack); /* accepts NULL and *pack NULL */

#endif
