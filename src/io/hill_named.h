/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One hill as people name it on a command line: the path of a profile, or LIBRARY.hills:ID, as
 * "hills check" names the hills of a library; a library of one hill needs no id. Thread: any. */
#ifndef TD_IO_HILL_NAMED_H
#define TD_IO_HILL_NAMED_H

#include <stddef.h>

#include "io/hill_file.h"

/* Reads it; the caller frees it. TD_NOT_FOUND for an id that the library does not have, naming
 * those near it; TD_INVALID for a library of several without an id; else as reading a profile or a
 * hill of a library. */
TD_CHECKED enum td_result td_hill_named_read(const char *name, struct td_hill_file **out,
                                             struct td_problem *problem);
/* The file that it lies in, for whoever wants what is beside it too. False when it does not fit. */
bool td_hill_named_path(const char *name, char *path, size_t size);

#endif
