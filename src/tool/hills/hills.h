/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of "talkdown hills", each with its command's exit code, and the walk they share. */
#ifndef TD_TOOL_HILLS_H
#define TD_TOOL_HILLS_H

#include <stdbool.h>
#include <stddef.h>

#include "io/hill_file.h"

/* One hill of a file, a folder or a library; where it cannot be read, `file` is NULL and `problem`
 * says why. */
struct td_hill_visit {
    const char *name; /* of its file, or LIBRARY:ID */
    enum td_result result;
    const struct td_hill_file *file;
    const struct td_problem *problem;
};
typedef enum td_result td_hill_visitor(void *context, const struct td_hill_visit *visit,
                                       struct td_problem *problem);
/* Goes to every hill of `path` (a profile, a folder of them, a library or LIBRARY:ID); ends
 * with the first result of `go` that is not TD_OK, or with what keeps it from listing them. */
TD_CHECKED enum td_result td_hills_visit(const char *path, td_hill_visitor *go, void *context,
                                         struct td_problem *problem);

int td_hills_check(const char *const *paths, size_t count, bool as_json);
int td_hills_list(const char *const *paths, size_t count, bool as_json);
struct td_hills_pack_options {
    const char *out;
    bool force;
    unsigned revision; /* 0 none */
};
int td_hills_pack(const char *const *paths, size_t count,
                  const struct td_hills_pack_options *options);
int td_hills_manifest(const char *path);
int td_hills_attach(const char *path, const char *signature, const char *key);
/* `key` NULL: nobody is trusted. 0 only where a trusted key signed all of them. */
int td_hills_verify(const char *const *paths, size_t count, const char *key, bool as_json);

#endif
