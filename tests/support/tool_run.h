/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runs the tool as a person would, and reads what it printed. TD_TOOL is the binary's path. */
#ifndef TD_TESTS_TOOL_RUN_H
#define TD_TESTS_TOOL_RUN_H

#include <stdbool.h>
#include <stddef.h>

enum { TOOL_PROMPTS_MAX = 2000, TOOL_TEXT_MAX = 1 << 20 };

struct tool_prompt {
    double t_s, along_m, speed_mph;
    int serial;
    char id[32], category[16], fate[16], hill[72], words[256];
};

struct tool_run {
    int exit_code;
    char *out, *err; /* NUL-ended; the caller frees with tool_run_free */
    struct tool_prompt *prompts;
    size_t prompt_count; /* of lines on standard output that are prompts as JSON objects */
};

/* `arguments` as after the program's name in a shell; the data folder is the source tree's. */
struct tool_run tool_run(const char *arguments);
void tool_run_free(struct tool_run *run);
/* Prompts of that id whose fate is `fate` (NULL any). */
size_t tool_count(const struct tool_run *run, const char *id, const char *fate);
/* Prompts of that category that were heard, whole or in part. */
size_t tool_heard(const struct tool_run *run, const char *category);
/* A fresh empty folder's name below the working folder; gone when the program ends. */
const char *tool_folder(void);
/* Whole file, NUL-ended, for the caller to free; NULL when it cannot be read. */
char *tool_file(const char *path, size_t *length);
/* True when the file is there. */
bool tool_is_file(const char *path);

#endif
