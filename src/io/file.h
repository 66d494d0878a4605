/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole files in and out: bounded reads, and writes that are there whole or not at all. */
#ifndef TD_IO_FILE_H
#define TD_IO_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

/* Reads a regular file (or pipe) of at most `most` bytes. *bytes is the caller's to free; a NUL
 * follows the last byte and is not counted. An empty file is TD_OK with *length 0. TD_INVALID when
 * it is larger, TD_NOT_FOUND, TD_IO. */
TD_CHECKED enum td_result td_file_read(const char *path, size_t most, char **bytes, size_t *length,
                                       struct td_problem *problem);

/* TD_INVALID for a folder, pipe, socket or device; TD_NOT_FOUND, TD_IO. */
TD_CHECKED enum td_result td_file_regular(const char *path, struct td_problem *problem);

/* Writes the file under a temporary name beside it, syncs it, and renames it, so that `path` holds
 * either what it held before or all of `bytes`. An existing file is refused (TD_INVALID) unless
 * `replace`. On failure nothing of ours stays behind. */
TD_CHECKED enum td_result td_file_write(const char *path, const char *bytes, size_t length,
                                        bool replace, struct td_problem *problem);

/* The same, and readable by owner and group only, whatever the umask: for all that tells of
 * somebody's drive. */
TD_CHECKED enum td_result td_file_write_private(const char *path, const char *bytes, size_t length,
                                                bool replace, struct td_problem *problem);
/* A new empty file of that kind, open for writing, for what grows as it is written. TD_INVALID when
 * it is there already. */
TD_CHECKED enum td_result td_file_create_private(const char *path, int *fd,
                                                 struct td_problem *problem);

/* The same as td_file_write for what another library writes: a temporary file beside `path`, open
 * for writing, its name the caller's to free; and putting it in its place once it is whole. The
 * second syncs it, and removes it when it fails; the descriptor stays the caller's to close. */
TD_CHECKED enum td_result td_file_temporary(const char *path, char **temporary, int *fd,
                                            struct td_problem *problem);
TD_CHECKED enum td_result td_file_put_in_place(int fd, const char *temporary, const char *path,
                                               bool replace, struct td_problem *problem);
/* TD_INVALID when the file is there and `replace` is not asked for. */
TD_CHECKED enum td_result td_file_may_write(const char *path, bool replace,
                                            struct td_problem *problem);

#endif
