/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Libraries of ocean hills for tests, packed by the real packer in a folder of the test's own. */
#ifndef TD_TESTS_LIBRARY_RIG_H
#define TD_TESTS_LIBRARY_RIG_H

#include <stddef.h>

#include "io/library_file.h"
#include "io/library_pack.h"

/* A hill somewhere; lat_deg 0 and lon_deg 0: where ocean hills lie. */
struct rig_hill {
    unsigned index;
    double lat_deg, lon_deg;
};

/* The profile as text, for the caller to free. */
char *rig_text(const struct rig_hill *hill, size_t *length);
/* Packs, or fails the test. */
void rig_pack(const char *path, const struct rig_hill *hills, size_t count);
void rig_pack_revision(const char *path, const struct rig_hill *hills, size_t count,
                       unsigned revision);
/* The same, but hands back what became of it. */
enum td_result rig_try_pack(const char *path, const struct rig_hill *hills, size_t count,
                            struct td_problem *problem);
struct td_library_file *rig_open(const char *path);
/* An SQL statement on the file, by SQLite itself, as somebody who alters a library would. */
void rig_alter(const char *path, const char *sql);
/* Makes a scratch folder; removes it with all in it. */
const char *rig_folder(void);
void rig_remove_folder(void);
/* FOLDER/NAME, in one of a few buffers that are used in turn. */
const char *rig_in(const char *name);
/* Files in the folder, hidden ones included. */
size_t rig_file_count(void);

#endif
