/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between drill_sheet.c and drill_answers.c: what to ask at a prompt, and what is right. */
#ifndef TD_TOOL_DRILL_ANSWERS_H
#define TD_TOOL_DRILL_ANSWERS_H

#include "tool/drive/prompt_lines.h"
#include "tool/plan/plan_answer.h"

enum { TD_DRILL_TEXT_MAX = 512 };

/* False when there is nothing to ask about such a prompt. */
bool td_drill_ask(const struct td_plan_answer *answer, const struct td_prompt_line *line,
                  char question[TD_DRILL_TEXT_MAX], char right[TD_DRILL_TEXT_MAX]);

#endif
