/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names of library files, and which of them is opened when. */
#include "daemon/last_good.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/journal.h"
#include "talkdown/text.h"

void td_last_good_init(struct td_last_good *kept, const char *path, const struct td_trust *trust)
{
    *kept = (struct td_last_good){.trust = *trust};
    if (trust->count == 0 || path[0] == '\0' ||
        !td_text_copy(kept->whole, sizeof kept->whole, path))
        return;
    (void)snprintf(kept->fresh, sizeof kept->fresh, "%s.new", path);
}

void td_last_good_taken(const struct td_last_good *kept, const char *path)
{
    char link[TD_PATH_MAX + 16];
    if (kept->whole[0] == '\0')
        return;
    (void)snprintf(link, sizeof link, "%s.tmp", kept->fresh);
    (void)unlink(link);
    if (linkat(AT_FDCWD, path, AT_FDCWD, link, AT_SYMLINK_FOLLOW) != 0 ||
        rename(link, kept->fresh) != 0) {
        (void)unlink(kept->fresh); /* an older one must not pass for this */
        td_journal(TD_LEVEL_WARN,
                   "%s: this library cannot be kept as %s (%s); a bad one found at the next start "
                   "would leave the truck without hills",
                   path, kept->fresh, strerror(errno));
    }
    (void)unlink(link); /* of two names for one file rename leaves both */
}

static bool is_same_file(const char *a, const char *b)
{
    struct stat one, other;
    return stat(a, &one) == 0 && stat(b, &other) == 0 && one.st_dev == other.st_dev &&
           one.st_ino == other.st_ino;
}

void td_last_good_is_whole(const struct td_last_good *kept)
{
    if (kept->whole[0] == '\0')
        return;
    if (rename(kept->fresh, kept->whole) != 0 && errno != ENOENT)
        td_journal(TD_LEVEL_WARN, "%s: cannot be renamed to %s: %s", kept->fresh, kept->whole,
                   strerror(errno));
    if (is_same_file(kept->fresh, kept->whole))
        (void)unlink(kept->fresh);
}

void td_last_good_is_damaged(const struct td_last_good *kept)
{
    if (kept->whole[0] != '\0')
        (void)unlink(kept->fresh);
}

static struct td_shelf *opened(const struct td_last_good *kept, const char *path)
{
    struct td_shelf *shelf = NULL;
    struct td_problem ignored;
    if (path[0] == '\0' ||
        td_shelf_open_trusted(path, &kept->trust, &shelf, &ignored) != TD_OK)
        return NULL;
    return shelf;
}

struct td_shelf *td_last_good_newest(const struct td_last_good *kept, bool *whole)
{
    struct td_shelf *shelf = opened(kept, kept->fresh);
    *whole = shelf == NULL;
    return shelf != NULL ? shelf : opened(kept, kept->whole);
}

struct td_shelf *td_last_good_other(const struct td_last_good *kept)
{
    return is_same_file(kept->fresh, kept->whole) ? NULL : opened(kept, kept->whole);
}
