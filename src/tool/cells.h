/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A record as named cells, told as a row of CSV (RFC 4180: CR LF, quotes where needed, a head with
 * the names) or as a JSON object on a line. What is not known is empty there and null here. */
#ifndef TD_TOOL_CELLS_H
#define TD_TOOL_CELLS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

enum td_cell_kind { TD_CELL_TEXT = 0, TD_CELL_NUMBER, TD_CELL_WHOLE, TD_CELL_FLAG };

struct td_cell {
    const char *name; /* with its unit */
    enum td_cell_kind kind;
    const char *text; /* NULL: not known */
    double number;    /* not finite: not known */
    int decimals;     /* 0 to 9 */
    int64_t whole;
};

/* Cells in a record at most. */
enum { TD_CELLS_MAX = 64 };

struct td_cells {
    struct td_cell items[TD_CELLS_MAX];
    size_t count;
};

void td_cells_text(struct td_cells *cells, const char *name, const char *text);
void td_cells_number(struct td_cells *cells, const char *name, double number, int decimals);
void td_cells_whole(struct td_cells *cells, const char *name, int64_t whole);
void td_cells_flag(struct td_cells *cells, const char *name, bool flag);

void td_cells_csv_head(FILE *to, const struct td_cells *cells);
void td_cells_csv(FILE *to, const struct td_cells *cells);
void td_cells_json(FILE *to, const struct td_cells *cells);

#endif
