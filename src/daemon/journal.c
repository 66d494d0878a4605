/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lines for the journal, each written by one call so that threads do not mix theirs. */
#include "daemon/journal.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "io/problem.h"

static const char *const words[] = {"error", "warn", "info", "debug"};
static enum td_level level_most = TD_LEVEL_INFO;

bool td_level_from_word(const char *word, enum td_level *level)
{
    for (unsigned i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(word, words[i]) == 0) {
            *level = (enum td_level)i;
            return true;
        }
    }
    return false;
}

void td_journal_level(enum td_level most)
{
    level_most = most;
}

void td_journal(enum td_level level, const char *format, ...)
{
    if (level > level_most)
        return;
    char line[1024];
    int head = snprintf(line, sizeof line, "talkdownd: %s: ", words[level]);
    va_list args;
    va_start(args, format);
    int body = vsnprintf(line + head, sizeof line - (size_t)head - 1, format, args);
    va_end(args);
    if (body < 0)
        return;
    for (char *c = line; *c != '\0'; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = '?';
    size_t length = strlen(line);
    line[length++] = '\n';
    /* A full or closed pipe must not stop the coaching. */
    ssize_t put = write(STDERR_FILENO, line, length);
    (void)put;
}

void td_journal_problem(enum td_level level, const struct td_problem *problem)
{
    char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 32];
    td_journal(level, "%s", td_problem_line(problem, line, sizeof line));
}
