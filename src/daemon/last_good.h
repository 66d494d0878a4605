/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is left to a truck whose library turns out bad: the last one that was verified whole.
 *
 * Libraries are replaced by rename and never written to, so a second name of the file keeps it as
 * it is, at no cost of space. A library that is taken gets the name PATH.new; once all of it is
 * verified that becomes PATH, in place of the one before. So while a new library is being looked
 * through, the one before it is still there. Kept only where a key is trusted: whoever opens one of
 * them by these names checks its signature again. Thread: one at a time. */
#ifndef TD_DAEMON_LAST_GOOD_H
#define TD_DAEMON_LAST_GOOD_H

#include <stdbool.h>

#include "io/minisign.h"
#include "io/settings.h"
#include "io/shelf.h"

struct td_last_good {
    char whole[TD_PATH_MAX], fresh[TD_PATH_MAX + 8]; /* "": nothing is kept */
    struct td_trust trust;
};

void td_last_good_init(struct td_last_good *kept, const char *path, const struct td_trust *trust);
/* The library at `path` was taken into use. Where it cannot be kept the journal says so. */
void td_last_good_taken(const struct td_last_good *kept, const char *path);
/* It was verified whole, or damage was found in it. */
void td_last_good_is_whole(const struct td_last_good *kept);
void td_last_good_is_damaged(const struct td_last_good *kept);
/* The newest of those that were taken, and whether it was verified; NULL when none opens. */
struct td_shelf *td_last_good_newest(const struct td_last_good *kept, bool *whole);
/* The last whole one, unless it is the file that was taken last; NULL when there is none. */
struct td_shelf *td_last_good_other(const struct td_last_good *kept);

#endif
