/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of hills and rigs in docs/physics.md: the plan's figures beside the reference's. */
#ifndef TD_TESTS_POLICY_TABLE_H
#define TD_TESTS_POLICY_TABLE_H

#include <stdbool.h>
#include <stdio.h>

/* Writes the whole table as Markdown; profiles is the folder of the demo set. False, with words on
 * stderr, where a rig or hill of it cannot be read. */
bool policy_table_write(const char *profiles, FILE *to);

#endif
