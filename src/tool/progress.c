/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tool/progress.h"

#include <stdio.h>
#include <unistd.h>

enum { COUNT_EVERY = 100 };

void td_progress_begin(struct td_progress *progress, const char *what)
{
    *progress = (struct td_progress){.what = what, .on = isatty(STDERR_FILENO) == 1};
}

void td_progress_at(struct td_progress *progress, size_t done, size_t total)
{
    size_t show = total > 0 ? done * 100 / total + 1 : done / COUNT_EVERY + 1;
    if (!progress->on || show == progress->shown)
        return;
    progress->shown = show;
    if (total > 0)
        (void)fprintf(stderr, "\r%s %3zu %% ", progress->what, show - 1);
    else
        (void)fprintf(stderr, "\r%s %zu ", progress->what, done);
    (void)fflush(stderr);
}

void td_progress_end(struct td_progress *progress)
{
    if (progress->on && progress->shown > 0)
        (void)fprintf(stderr, "\r%*s\r", 40, "");
    progress->shown = 0;
}
