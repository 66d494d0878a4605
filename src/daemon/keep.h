/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How long drive logs are kept, and how much room they may take. A drive is personal: what nobody
 * needs any more goes by itself. Called by the log thread, never by the poll loop. */
#ifndef TD_DAEMON_KEEP_H
#define TD_DAEMON_KEEP_H

#include <stdint.h>

struct td_keep {
    int days; /* logs of drives that began longer ago go; 0 no limit */
    int mb;   /* of 10^6 bytes, all logs together, the one under way included; 0 no limit */
};

/* Deletes from `folder` the finished logs that are past a limit, oldest first by the time in their
 * name, each with its -wal and -shm and its marks. `under_way` is the path of the log being
 * written, "" none: it is counted and never deleted, however large. Files of other names are left
 * alone and not counted. A clock that stands before a log's beginning deletes nothing by age.
 * Each deletion is one line in the journal; returns how many logs went. */
unsigned td_keep_within(const char *folder, const struct td_keep *keep, int64_t utc_ms,
                        const char *under_way);

#endif
