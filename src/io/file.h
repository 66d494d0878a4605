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

/* Writes the file under a temporary name beside it, syncs it, and renames it, so that `path` holds
 * either what it held before or all of `bytes`. An existing file is refused (TD_INVALID) unless
 * `replace`. On failure nothing of ours stays behind. */
TD_CHECKED enum td_result td_file_write(const char *path, const char *bytes, size_t length,
                                        bool replace, struct td_problem *problem);

#endif
