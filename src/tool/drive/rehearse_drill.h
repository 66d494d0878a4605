/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `rehearse --drill` does beside the rehearsal: the plan that answers come from, and the sheet
 * in its file. */
#ifndef TD_TOOL_REHEARSE_DRILL_H
#define TD_TOOL_REHEARSE_DRILL_H

#include "talkdown/coach.h"
#include "tool/drive/drill.h"

/* Solves the plan for the setup, as the coach asks for it at the outset. */
TD_CHECKED enum td_result td_rehearse_plan(const struct td_hill *hill, const struct td_setup *setup,
                                           struct td_plan_answer *answer,
                                           struct td_problem *problem);
/* Writes DIR/drill.txt, readable by owner and group only. */
TD_CHECKED enum td_result td_rehearse_sheet(const char *dir, const struct td_drill_run *run,
                                            const struct td_plan_answer *answer,
                                            const struct td_trip *trip, int64_t start_ns,
                                            struct td_problem *problem);
/* Where the sheet is, or that the drive gave no occasion. */
void td_rehearse_tell(FILE *to, const struct td_drill_run *run, const struct td_plan *plan,
                      const char *dir);

#endif
