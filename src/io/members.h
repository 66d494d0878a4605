/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plain structs to JSON objects and back, member by member after a table, so that what was written
 * and what is read cannot drift apart. Inside src/io only (input_json, setup_json).
 *
 * Numbers come back bit for bit: 17 significant digits; a number that JSON does not know is the
 * string "nan", "inf" or "-inf" (the sign and payload of a NaN are not kept). */
#ifndef TD_IO_MEMBERS_H
#define TD_IO_MEMBERS_H

#include <jansson.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"

enum td_member_kind {
    TD_MEMBER_REAL = 0,
    TD_MEMBER_WHOLE,    /* signed of `size` bytes, 4 or 8; enums too */
    TD_MEMBER_UNSIGNED, /* unsigned of `size` bytes, 4 or 8 */
    TD_MEMBER_BOOL,
    TD_MEMBER_TEXT,     /* char array of `size` bytes */
    TD_MEMBER_STRUCT,   /* `size` bytes a piece, after `members` */
};

struct td_member {
    const char *key; /* NULL ends a table */
    enum td_member_kind kind;
    size_t offset, size;
    int64_t low, high;      /* allowed whole numbers; both 0: whatever the type holds */
    size_t most;            /* an array of that capacity; 0 is a single value */
    size_t count_offset;    /* of its count */
    size_t count_size;      /* 4 or 8; 0: the array is always full */
    const struct td_member *members;
};

#define TD_M_SIZE(type, name) sizeof(((type *)NULL)->name)
#define TD_M_REAL(type, name) {#name, TD_MEMBER_REAL, offsetof(type, name), 8, 0, 0, 0, 0, 0, NULL}
#define TD_M_WHOLE(type, name, low, high)                                                          \
    {#name, TD_MEMBER_WHOLE, offsetof(type, name), TD_M_SIZE(type, name), low, high, 0, 0, 0, NULL}
#define TD_M_UNSIGNED(type, name, high)                                                            \
    {#name, TD_MEMBER_UNSIGNED, offsetof(type, name), TD_M_SIZE(type, name), 0, high, 0, 0, 0, NULL}
#define TD_M_BOOL(type, name) {#name, TD_MEMBER_BOOL, offsetof(type, name), 1, 0, 0, 0, 0, 0, NULL}
#define TD_M_TEXT(type, name)                                                                      \
    {#name, TD_MEMBER_TEXT, offsetof(type, name), TD_M_SIZE(type, name), 0, 0, 0, 0, 0, NULL}
#define TD_M_STRUCT(type, name, table)                                                             \
    {#name, TD_MEMBER_STRUCT, offsetof(type, name), TD_M_SIZE(type, name), 0, 0, 0, 0, 0, table}
#define TD_M_ARRAY_COUNT(type, name) (TD_M_SIZE(type, name) / TD_M_SIZE(type, name[0]))
/* An array with its count; `element` is a kind without the TD_MEMBER_ prefix. */
#define TD_M_ARRAY(type, name, count, element, table)                                              \
    {#name, TD_MEMBER_##element, offsetof(type, name), TD_M_SIZE(type, name[0]), 0, 0,             \
     TD_M_ARRAY_COUNT(type, name), offsetof(type, count), TD_M_SIZE(type, count), table}
#define TD_M_WHOLE_ARRAY(type, name)                                                               \
    {#name, TD_MEMBER_WHOLE, offsetof(type, name), TD_M_SIZE(type, name[0]), 0, 0,                 \
     TD_M_ARRAY_COUNT(type, name), 0, 0, NULL}
#define TD_M_END {NULL, TD_MEMBER_REAL, 0, 0, 0, 0, 0, 0, 0, NULL}

/* A new object, or NULL (no memory, or text that is not UTF-8). */
json_t *td_members_write(const void *from, const struct td_member *table);
/* Fills the members of `into`; each of them must be there, of its kind and in its range, and no
 * other. On TD_INVALID the problem names the key and *into may be half filled. */
TD_CHECKED enum td_result td_members_read(const json_t *object, const struct td_member *table,
                                          void *into, struct td_problem *problem);
/* The object as one line of text for the caller to free, taking over the reference; NULL when
 * there is no object or no memory. */
char *td_members_text(json_t *object);

#endif
