/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A hill profile with its road surveyed anew: everything else in the file stays as it is. */
#ifndef TD_IO_HILL_UPDATE_H
#define TD_IO_HILL_UPDATE_H

#include <stddef.h>

#include "io/hill_write.h"

/* `bytes` is a profile that td_hill_file_parse took, of the road `old`; `road` takes its place. The
 * road keeps its properties, but for those that `words` gives (NULL or negative: kept; quality that
 * the new survey cannot tell is kept too). Places keep their coordinates and properties, and where
 * they have an at_m it is where they lie along the new road; *moved counts those.
 * *made is the caller's to free. The caller reads it back before it writes it. */
TD_CHECKED enum td_result td_hill_update(const char *name, const char *bytes, size_t length,
                                         const struct td_hill *old, const struct td_hill *road,
                                         const struct td_hill_words *words, char **made,
                                         size_t *made_length, size_t *moved,
                                         struct td_problem *problem);

#endif
