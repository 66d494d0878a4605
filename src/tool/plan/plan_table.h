/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `plan --table`: every hill with every rig at every load, a row each. */
#ifndef TD_TOOL_PLAN_TABLE_H
#define TD_TOOL_PLAN_TABLE_H

#include <stddef.h>

#include "tool/plan/plan_conditions.h"

#define TD_PLAN_TABLE_HELP                                                                         \
    "  --table          all HILLS (profiles, folders, libraries, LIBRARY:ID) with all RIGS (a\n"   \
    "                   file, a folder, or several with commas between): a row each, and the\n"    \
    "                   heaviest weight that is within limits; without --load or --weight all\n"   \
    "                   loads of each rig; --weight \"60000 lb, 80,000 lb\" are several.\n"        \
    "                   Exit 1 when any answer is no, 2 when a file could not be read\n"           \
    "  --refused        of the table only what is not within limits\n"                             \
    "  --csv, --out FILE    the table for a spreadsheet; into a file\n"

struct td_plan_table_options {
    const char *const *hills;
    size_t hill_count;
    const char *rigs, *load, *weights, *out;
    struct td_plan_conditions conditions;
    bool csv, json, refused, force;
};

/* Returns an exit code of the tool. */
int td_plan_table(const struct td_plan_table_options *options);

#endif
