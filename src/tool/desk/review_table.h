/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table over many drives: `review --table`. */
#ifndef TD_TOOL_REVIEW_TABLE_H
#define TD_TOOL_REVIEW_TABLE_H

#include <stdbool.h>

/* What --help tells of it. */
#define TD_REVIEW_TABLE_HELP                                                                       \
    "  --table FOLDER   many drives: a row a descent, how each hill goes with each rig over\n"     \
    "                   time, and what trainers marked; exit 1 when a log could not be read\n"     \
    "  --csv            the rows as CSV; with --trends or --marks those tables instead\n"          \
    "  --json           an object a line, its kind in \"kind\"\n"

struct td_review_table_options {
    const char *folder;
    const char *out; /* NULL: standard output */
    bool csv, json, trends, marks, anonymous, replace;
};

/* Returns an exit code of the tool. */
int td_review_table(const struct td_review_table_options *options);

#endif
