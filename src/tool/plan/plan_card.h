/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan as a card: one page to print or to read on a phone at the brake check. What to do comes
 * first and large; the road, the speeds, the brakes and what stands beside the road share one axis
 * below it; margins and reasons close it. Black on white, told apart by line, hatch, shape and
 * words, never by colour. Fonts are the viewer's; nothing is loaded. */
#ifndef TD_TOOL_PLAN_CARD_H
#define TD_TOOL_PLAN_CARD_H

#include "talkdown/plan_trace.h"
#include "talkdown/result.h"
#include "tool/card/svg.h"
#include "tool/plan/plan_answer.h"

/* `points`: the brakes along the road, NULL and 0 where there are none. `source` names the files it
 * was made of. The bytes are the caller's to free, also when svg->failed says that memory ran
 * out. */
void td_plan_card_draw(const struct td_plan_answer *answer, const struct td_plan_point *points,
                       size_t point_count, const char *source, struct td_svg *svg);

/* The same into a file that is there whole or not at all; an existing one only with `replace`. */
TD_CHECKED enum td_result td_plan_card_write(const struct td_plan_answer *answer,
                                             const struct td_plan_point *points,
                                             size_t point_count, const char *source,
                                             const char *path, bool replace,
                                             struct td_problem *problem);

#endif
