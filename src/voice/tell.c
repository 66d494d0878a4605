/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Problems in words, and the clock of deadlines. */
#include "voice/tell.h"

#include <stdarg.h>
#include <stdio.h>
#include <time.h>

enum td_result td_voice_tell(struct td_problem *problem, enum td_result result, const char *file,
                             const char *format, ...)
{
    if (!problem)
        return result;
    problem->line = 0;
    (void)snprintf(problem->file, sizeof problem->file, "%s", file ? file : "");
    va_list args;
    va_start(args, format);
    (void)vsnprintf(problem->text, sizeof problem->text, format, args);
    va_end(args);
    return result;
}

int64_t td_voice_now_ns(void)
{
    struct timespec now;
    if (clock_gettime(CLOCK_MONOTONIC, &now) != 0)
        return 0;
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}
