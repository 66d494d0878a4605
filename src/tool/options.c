/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The command line: long options in any order, strict, each error with the usage beside it. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "tool/tool.h"

static const struct td_tool_option *find_option(const struct td_tool_line *line, const char *name,
                                                size_t length)
{
    for (size_t i = 0; i < line->option_count; i++)
        if (strlen(line->options[i].name) == length &&
            strncmp(line->options[i].name, name, length) == 0)
            return &line->options[i];
    return NULL;
}

/* Takes the option at argv[*at]; moves *at to the last word it used. */
static enum td_result take_option(int argc, char **argv, int *at, const struct td_tool_line *line,
                                  struct td_problem *problem)
{
    const char *name = argv[*at] + 2;
    const char *equals = strchr(name, '=');
    size_t length = equals != NULL ? (size_t)(equals - name) : strlen(name);
    const struct td_tool_option *option = find_option(line, name, length);
    if (option == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "unknown option \"--%.*s\"; usage: %s",
                              (int)length, name, line->usage);
    if (option->flag != NULL) {
        if (equals != NULL)
            return td_problem_set(problem, TD_INVALID, NULL, 0, "--%s takes no value; usage: %s",
                                  option->name, line->usage);
        *option->flag = true;
        return TD_OK;
    }
    if (*option->value != NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--%s is given twice; give it once",
                              option->name);
    if (equals == NULL && *at + 1 >= argc)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--%s lacks its value; usage: %s",
                              option->name, line->usage);
    *option->value = equals != NULL ? equals + 1 : argv[++*at];
    return TD_OK;
}

enum td_result td_tool_options(int argc, char **argv, struct td_tool_line *line,
                               struct td_problem *problem)
{
    bool words_only = false;
    line->word_count = 0;
    line->help = false;
    for (int at = 1; at < argc; at++) {
        if (!words_only && strcmp(argv[at], "--") == 0) {
            words_only = true;
        } else if (!words_only && strcmp(argv[at], "--help") == 0) {
            line->help = true;
            (void)printf("usage: talkdown %s\n", line->usage);
            if (line->more != NULL)
                (void)fputs(line->more, stdout);
            return TD_OK;
        } else if (!words_only && strncmp(argv[at], "--", 2) == 0) {
            enum td_result result = take_option(argc, argv, &at, line, problem);
            if (result != TD_OK)
                return result;
        } else if (line->word_count == line->word_most) {
            return td_problem_set(problem, TD_INVALID, NULL, 0,
                                  "\"%s\" is one word too many; usage: %s", argv[at], line->usage);
        } else {
            line->words[line->word_count++] = argv[at];
        }
    }
    return TD_OK;
}

enum td_result td_tool_whole(const char *name, const char *text, long long least, long long most,
                             long long *value, struct td_problem *problem)
{
    char *end = NULL;
    errno = 0;
    long long read = strtoll(text, &end, 10);
    if (errno != 0 || end == text || *end != '\0' || read < least || read > most)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "%s \"%s\" is no whole number from %lld to %lld", name, text, least,
                              most);
    *value = read;
    return TD_OK;
}
