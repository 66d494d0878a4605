/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the commands of `talkdown` share: the way a problem is told, options, and where the files
 * that come with the program lie.
 *
 * Every command is one function in its own cmd_NAME.c; main.c holds the table. argv[0] is the
 * command's name. Exit codes: 0 done, 1 the answer is no, 2 usage or input error. */
#ifndef TD_TOOL_TOOL_H
#define TD_TOOL_TOOL_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

enum td_exit { TD_EXIT_DONE = 0, TD_EXIT_NO = 1, TD_EXIT_ERROR = 2 };

struct td_tool_command {
    const char *name;
    const char *usage; /* one line: what follows the name, then what it does */
    const char *does;
    int (*run)(int argc, char **argv);
};

/* Prints "talkdown: FILE:LINE: ..." to standard error as one line; returns TD_EXIT_ERROR. */
int td_tool_fail(const struct td_problem *problem);
/* The same for words of our own. */
int td_tool_fail_words(const char *format, ...) TD_PRINTF(1, 2);

/* One option. Exactly one of `value` and `flag` is set: `--name WORD` (or --name=WORD) stores the
 * word, `--name` alone sets the flag. */
struct td_tool_option {
    const char *name; /* without the dashes */
    const char **value;
    bool *flag;
};

/* Reads argv[1..]: options anywhere, the rest in order into `words` (room for `most`), "--" ends
 * the options, "-5" is a word. `--help` prints usage and `more` and sets help. An unknown option, a
 * missing or doubled value, too many words: TD_INVALID. */
struct td_tool_line {
    const char *usage; /* "rehearse HILL --rig RIG ...": one short line, shown with errors too */
    const char *more;  /* what --help tells beside it; NULL nothing */
    const struct td_tool_option *options;
    size_t option_count;
    const char **words;
    size_t word_most;
    size_t word_count; /* out */
    bool help;         /* out: asked for help, which was printed */
};
TD_CHECKED enum td_result td_tool_options(int argc, char **argv, struct td_tool_line *line,
                                          struct td_problem *problem);

/* Whole number in words of the command line, least to most. */
TD_CHECKED enum td_result td_tool_whole(const char *name, const char *text, long long least,
                                        long long most, long long *value,
                                        struct td_problem *problem);

/* Where a file or folder that comes with the program lies ("sounds/phrases/en-us.yaml"): below
 * TALKDOWN_DATA when that is set, else where the program was installed, else in its source tree.
 * Writes the path to `path`; TD_NOT_FOUND names the places looked at. */
TD_CHECKED enum td_result td_tool_data(const char *relative, char *path, size_t size,
                                       struct td_problem *problem);

#endif
