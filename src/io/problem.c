/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Problems in words, always one line. */
#include "io/problem.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "talkdown/text.h"

static void keep_to_one_line(char *text)
{
    for (; *text != '\0'; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            *text = '?';
}

enum td_result td_problem_set(struct td_problem *problem, enum td_result result, const char *file,
                              int line, const char *format, ...)
{
    if (problem == NULL)
        return result;
    struct td_problem made = {.line = line};
    (void)td_text_copy(made.file, sizeof made.file, file != NULL ? file : "");
    va_list args;
    va_start(args, format);
    (void)vsnprintf(made.text, sizeof made.text, format, args);
    va_end(args);
    keep_to_one_line(made.file);
    keep_to_one_line(made.text);
    *problem = made;
    return result;
}

const char *td_problem_line(const struct td_problem *problem, char *line, size_t size)
{
    struct td_text text;
    td_text_init(&text, line, size);
    if (problem->file[0] != '\0') {
        td_text_add(&text, problem->file);
        td_text_add_char(&text, ':');
        if (problem->line > 0) {
            td_text_add_int(&text, problem->line);
            td_text_add_char(&text, ':');
        }
        td_text_add_char(&text, ' ');
    }
    td_text_add(&text, problem->text);
    return line;
}
