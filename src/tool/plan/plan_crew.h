/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A few threads that plan one hill with many rigs at once. What comes out, and in which order, does
 * not depend on how many there are. */
#ifndef TD_TOOL_PLAN_CREW_H
#define TD_TOOL_PLAN_CREW_H

#include "tool/plan/plan_rigs.h"

/* Blocks that are planned and kept at a time: memory stays flat however many rigs there are. */
enum { TD_PLAN_CREW_BLOCKS = 32 };

struct td_plan_crew;

/* NULL without memory. */
struct td_plan_crew *td_plan_crew_new(size_t rig_count);
/* Plans the hill with `count` rigs, at most TD_PLAN_CREW_BLOCKS; the blocks stay until the next
 * call. */
const struct td_plan_block *td_plan_crew_solve(struct td_plan_crew *crew,
                                               const struct td_hill *hill,
                                               struct td_plan_rig *const *rigs, size_t count);
void td_plan_crew_free(struct td_plan_crew **crew); /* accepts NULL in it */

#endif
