/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Tables of comma-separated values, as RFC 4180 has them and spreadsheets save them: a head row, CR
 * LF or LF, quotes where a cell holds a comma, a quote or a line end; a byte order mark is passed
 * over, blanks round a cell too, and rows in which every cell is empty. Thread: any. */
#ifndef TD_IO_CSV_H
#define TD_IO_CSV_H

#include <stddef.h>

#include "talkdown/result.h"

enum { TD_CSV_BYTES_MAX = 1024 * 1024, TD_CSV_COLUMNS_MAX = 64 };

struct td_csv_row {
    int line;           /* of the file, from 1, on which it begins */
    const char **cells; /* as many as the head has */
};

struct td_csv {
    const char **head;
    size_t columns;
    struct td_csv_row *rows; /* without the head */
    size_t count;
    char *bytes;
    const char **cells;
};

/* Reads a whole file. A row of more or fewer cells than the head is TD_INVALID, with its line, as
 * is whatever RFC 4180 does not know. Free with td_csv_free. */
TD_CHECKED enum td_result td_csv_read(const char *path, struct td_csv *csv,
                                      struct td_problem *problem);
/* The same from memory; `name` stands for the file in messages. */
TD_CHECKED enum td_result td_csv_parse(const char *name, const char *bytes, size_t length,
                                       struct td_csv *csv, struct td_problem *problem);
void td_csv_free(struct td_csv *csv); /* accepts a zeroed one */

#endif
