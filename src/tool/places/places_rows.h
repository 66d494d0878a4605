/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of a table of places: read, checked, and brought together with the places of a profile. */
#ifndef TD_TOOL_PLACES_ROWS_H
#define TD_TOOL_PLACES_ROWS_H

#include "io/csv.h"
#include "tool/places/places.h"

#define TD_PLACE_NEW SIZE_MAX

struct td_place_row {
    int line;
    const char *role; /* "" where the table does not say */
    bool removes;
    struct td_place_texts texts;
    bool has_where;
    struct td_where where;
    size_t index;    /* of the place in the hill, or TD_PLACE_NEW */
    unsigned became; /* enum td_place_became, as bits */
    size_t feature;  /* of the changed profile */
    bool done;
    enum td_result result; /* not TD_OK: the problem says what is wrong with the line */
    struct td_problem problem;
};

struct td_places_import {
    const char *csv_path;
    struct td_places_open open;
    struct td_csv csv;
    struct td_place_row *rows;
    size_t count;
    size_t added, moved, changed, removed, same;
};

/* Reads the rows of `csv` into `rows`, each with its own result. Not TD_OK: the table as a whole is
 * wrong (its head, its size). */
TD_CHECKED enum td_result td_place_rows_read(struct td_places_import *import,
                                             struct td_problem *problem);

#endif
