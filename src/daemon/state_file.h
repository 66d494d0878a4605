/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is carried over a power cycle: heat of the brakes and the load. A small JSON file, replaced
 * whole. */
#ifndef TD_DAEMON_STATE_FILE_H
#define TD_DAEMON_STATE_FILE_H

#include <stdbool.h>
#include <stdint.h>

#include "io/clock.h"
#include "talkdown/rig.h"

struct td_carried {
    char boot_id[TD_BOOT_ID_SIZE];
    int64_t saved_ns; /* boot clock */
    char rig[TD_RIG_NAME_MAX];
    char load[TD_RIG_WORD_MAX];
    bool load_confirmed;
    double least_c, likely_c, most_c;
};

/* TD_NOT_FOUND: there is no file yet; TD_INVALID: it is not ours. Both mean a cold start. */
TD_CHECKED enum td_result td_carried_read(const char *path, struct td_carried *carried,
                                          struct td_problem *problem);
/* For the caller to free; NULL without memory. */
char *td_carried_text(const struct td_carried *carried);

/* Brake temperature now: after a restart in the same boot the brakes have cooled at rest for as
 * long as the clock says; after a reboot nobody knows how long that was, and nothing is taken off.
 * NAN when the file is of another rig. */
double td_carried_heat_c(const struct td_carried *carried, const struct td_rig *rig,
                         const char *boot_id, int64_t now_ns, double ambient_c);
/* Index of the load carried; the rig's own when it has none of that name. */
size_t td_carried_load(const struct td_carried *carried, const struct td_rig *rig);
/* Confirmed still: same boot, same rig, and at most 20 minutes ago. */
bool td_carried_load_confirmed(const struct td_carried *carried, const struct td_rig *rig,
                               const char *boot_id, int64_t now_ns);

#endif
