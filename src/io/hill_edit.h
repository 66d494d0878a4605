/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Changes in the text of a hill profile that leave every other byte as it is: order of members,
 * digits of numbers, blanks, and all that we do not know. The bytes are those of a profile that
 * td_hill_file_parse took; what comes out must be read back by it before it is written.
 *
 * Features count from 1, as td_hill_file_feature does; those after a removed one move up. Values
 * are JSON text. Where memory fails, `failed` stays set and nothing more is done. Thread: one. */
#ifndef TD_IO_HILL_EDIT_H
#define TD_IO_HILL_EDIT_H

#include <stdbool.h>
#include <stddef.h>

struct td_hill_edit {
    char *bytes; /* NUL-ended; the caller's to free with td_hill_edit_free */
    size_t length;
    bool failed;
};

/* Where a member is: in the feature itself, its properties, or its geometry. */
enum td_hill_edit_in { TD_IN_FEATURE = 0, TD_IN_PROPERTIES, TD_IN_GEOMETRY };

void td_hill_edit_begin(struct td_hill_edit *edit, const char *bytes, size_t length);
void td_hill_edit_free(struct td_hill_edit *edit);

/* Gives a member a value, after the others when it is new; NULL takes it out. */
void td_hill_edit_set(struct td_hill_edit *edit, size_t feature, enum td_hill_edit_in in,
                      const char *key, const char *json);
/* Moves a place: its point, and where it says itself which part of the road it means (NAN: not at
 * all). A height of the point goes, and the boxes (`bbox`) that would be wrong. */
void td_hill_edit_move(struct td_hill_edit *edit, size_t feature, double lat_deg, double lon_deg,
                       double at_m);
/* A new last feature. A box of the whole goes. */
void td_hill_edit_append(struct td_hill_edit *edit, const char *json);
void td_hill_edit_remove(struct td_hill_edit *edit, size_t feature);

/* "[-128.9, -47.1]", seven decimals: 1.1 cm at most. */
enum { TD_EDIT_POSITION_SIZE = 64 };
const char *td_hill_edit_position(double lat_deg, double lon_deg,
                                  char text[TD_EDIT_POSITION_SIZE]);

#endif
