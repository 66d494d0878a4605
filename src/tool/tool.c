/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How every command tells a problem, and where the program finds the files that come with it. */
#include "tool/tool.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "io/problem.h"

int td_tool_fail(const struct td_problem *problem)
{
    char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 24];
    (void)fflush(stdout);
    (void)fprintf(stderr, "talkdown: %s\n", td_problem_line(problem, line, sizeof line));
    return TD_EXIT_ERROR;
}

int td_tool_fail_words(const char *format, ...)
{
    char text[TD_PROBLEM_TEXT_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    struct td_problem problem;
    (void)td_problem_set(&problem, TD_INVALID, NULL, 0, "%s", text);
    return td_tool_fail(&problem);
}

static bool place_holds(const char *root, const char *relative, char *path, size_t size)
{
    if (root == NULL || root[0] == '\0')
        return false;
    int length = snprintf(path, size, "%s/%s", root, relative);
    return length > 0 && (size_t)length < size && access(path, R_OK) == 0;
}

enum td_result td_tool_data(const char *relative, char *path, size_t size,
                            struct td_problem *problem)
{
    /* A set variable is an order: when the file is not below it, the others are not tried. */
    const char *asked = getenv("TALKDOWN_DATA");
    if (asked != NULL && asked[0] != '\0') {
        if (place_holds(asked, relative, path, size))
            return TD_OK;
        return td_problem_set(problem, TD_NOT_FOUND, relative, 0,
                              "not below TALKDOWN_DATA (%s); set it to the folder that holds "
                              "profiles and sounds, or unset it", asked);
    }
    if (place_holds(TD_DATA_DIR, relative, path, size) ||
        place_holds(TD_SOURCE_DATA_DIR, relative, path, size))
        return TD_OK;
    return td_problem_set(problem, TD_NOT_FOUND, relative, 0,
                          "neither installed (%s) nor in the source tree; set TALKDOWN_DATA to the "
                          "folder that holds profiles and sounds", TD_DATA_DIR);
}
