/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The rows of a table of plans, as text of 100 columns, CSV or JSON. Figures are those of
 * `plan --json`. */
#ifndef TD_TOOL_PLAN_ROWS_H
#define TD_TOOL_PLAN_ROWS_H

#include <stdio.h>

#include "tool/cells.h"
#include "tool/plan/plan_block.h"

enum td_plan_form { TD_PLAN_TEXT = 0, TD_PLAN_CSV, TD_PLAN_JSON };

struct td_plan_rows {
    FILE *to;
    enum td_plan_form form;
    bool refused_only; /* only what is not within limits, or not known */
    bool metric;       /* of text; the names of cells keep their units */
};

/* Where a block comes from. */
struct td_plan_source {
    const char *hill_file, *rig_file;
};

/* What stands over all rows: in text the conditions, in CSV the names of the columns. */
void td_plan_rows_head(const struct td_plan_rows *rows, const struct td_plan_query *query);
/* A row for each weight and downgrade. Returns how many weights were refused. */
size_t td_plan_rows_block(const struct td_plan_rows *rows, const struct td_plan_block *block,
                          const struct td_plan_source *source);
/* A hill that could not be read: it must not look like one that is all right. */
void td_plan_rows_unread(const struct td_plan_rows *rows, const char *hill_file,
                         const struct td_problem *problem);

/* One row; its cells point into it and into what it was made of. */
struct td_plan_row {
    struct td_cells cells;
    char words[TD_PLAN_LINE_MAX], why[TD_PLAN_LINE_MAX];
};
/* Of the downgrade of that index; a refused or gentle hill has one row, its downgrade unknown. */
void td_plan_row_make(const struct td_plan_block *block, size_t weight, size_t at,
                      const struct td_plan_source *source, struct td_plan_row *row);

/* So much of the way from the brakes at the crest to their limit is used, 0 and up. */
double td_plan_brake_use_pct(const struct td_plan_answer *answer, double peak_c);
/* The first thing that fails, in words; NULL where nothing does. */
const char *td_plan_why_not(const struct td_plan_answer *answer, char *line);

/* The parts in text (plan_rows_text.c): a hill over its rigs, a rig over its rows. */
void td_plan_text_head(const struct td_plan_rows *rows, const struct td_plan_query *query);
void td_plan_text_hill(const struct td_plan_rows *rows, const struct td_hill *hill);
void td_plan_text_block(const struct td_plan_rows *rows, const struct td_plan_block *block);

#endif
