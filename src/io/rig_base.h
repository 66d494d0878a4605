/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A rig file with the bases it rests on, and the texts of all of them merged into one. */
#ifndef TD_IO_RIG_BASE_H
#define TD_IO_RIG_BASE_H

#include "io/rig_file.h"
#include "io/rig_text.h"

struct td_rig_chain {
    struct td_yaml *files[1 + TD_RIG_BASES_MAX]; /* the rig's own first; each rests on the next */
    char *paths[1 + TD_RIG_BASES_MAX];
    size_t count;
    struct td_rig_text merged; /* its texts are the files' */
};

/* Reads `bytes` and every base, nearest first, and merges: of each key the value of the first file
 * that has it, a list always whole. `chain` is zeroed before and to be freed whatever comes. */
TD_CHECKED enum td_result td_rig_chain_read(const char *name, const char *bytes, size_t length,
                                            const struct td_rig_source *source,
                                            struct td_rig_chain *chain,
                                            struct td_problem *problem);
void td_rig_chain_free(struct td_rig_chain *chain);

#endif
