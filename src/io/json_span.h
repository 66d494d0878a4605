/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where the parts of a JSON text stand in its bytes, so that one of them can be changed and every
 * other byte stays as somebody wrote it. For text that jansson has read without complaint and that
 * a NUL ends: nothing is checked here. Thread: any. */
#ifndef TD_IO_JSON_SPAN_H
#define TD_IO_JSON_SPAN_H

#include <stdbool.h>
#include <stddef.h>

struct td_span {
    size_t from, to; /* `to` is one past the end */
};

/* A walk through an object or an array. */
struct td_json_walk {
    const char *bytes;
    size_t at;
    bool is_object;
    struct td_span key;   /* of an object's member, with its quotes */
    struct td_span value;
};

/* The value that begins at or after `from`. */
struct td_span td_json_value(const char *bytes, size_t from);
/* Goes into the object or array whose span begins at `from`; then each step is at the next member
 * or element, false after the last. */
void td_json_begin(struct td_json_walk *walk, const char *bytes, size_t from);
bool td_json_step(struct td_json_walk *walk);
/* The walk at the member of that name of an object; false when it has none. A value that is no
 * object has none. */
bool td_json_member(struct td_json_walk *walk, const char *bytes, struct td_span object,
                    const char *name);
/* The element of that index (from 0) of an array; false when there is none. */
bool td_json_element(struct td_json_walk *walk, const char *bytes, struct td_span array,
                     size_t index);

#endif
