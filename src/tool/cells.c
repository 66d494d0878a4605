/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Records for spreadsheets and machines. */
#include "tool/cells.h"

#include <inttypes.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/text.h"

/* All cells are given by our own code; more than fit is a mistake of it, and drops the last. */
static struct td_cell *add(struct td_cells *cells, const char *name, enum td_cell_kind kind)
{
    size_t at = cells->count < TD_CELLS_MAX ? cells->count++ : TD_CELLS_MAX - 1;
    cells->items[at] = (struct td_cell){.name = name, .kind = kind};
    return &cells->items[at];
}

void td_cells_text(struct td_cells *cells, const char *name, const char *text)
{
    add(cells, name, TD_CELL_TEXT)->text = text;
}

void td_cells_number(struct td_cells *cells, const char *name, double number, int decimals)
{
    struct td_cell *cell = add(cells, name, TD_CELL_NUMBER);
    cell->number = number;
    cell->decimals = decimals;
}

void td_cells_whole(struct td_cells *cells, const char *name, int64_t whole)
{
    add(cells, name, TD_CELL_WHOLE)->whole = whole;
}

void td_cells_flag(struct td_cells *cells, const char *name, bool flag)
{
    add(cells, name, TD_CELL_FLAG)->whole = flag;
}

static void put_quoted(FILE *to, const char *text)
{
    if (strpbrk(text, "\",\r\n") == NULL) {
        (void)fputs(text, to);
        return;
    }
    (void)fputc('"', to);
    for (; *text != '\0'; text++) {
        if (*text == '"')
            (void)fputc('"', to);
        (void)fputc(*text, to);
    }
    (void)fputc('"', to);
}

void td_cells_csv_head(FILE *to, const struct td_cells *cells)
{
    for (size_t i = 0; i < cells->count; i++) {
        (void)fputs(i > 0 ? "," : "", to);
        put_quoted(to, cells->items[i].name);
    }
    (void)fputs("\r\n", to);
}

void td_cells_csv(FILE *to, const struct td_cells *cells)
{
    for (size_t i = 0; i < cells->count; i++) {
        const struct td_cell *cell = &cells->items[i];
        (void)fputs(i > 0 ? "," : "", to);
        if (cell->kind == TD_CELL_TEXT && cell->text != NULL)
            put_quoted(to, cell->text);
        else if (cell->kind == TD_CELL_NUMBER && isfinite(cell->number))
            (void)fprintf(to, "%.*f", cell->decimals, cell->number);
        else if (cell->kind == TD_CELL_WHOLE)
            (void)fprintf(to, "%" PRId64, cell->whole);
        else if (cell->kind == TD_CELL_FLAG)
            (void)fputs(cell->whole != 0 ? "yes" : "no", to);
    }
    (void)fputs("\r\n", to);
}

static json_t *value_of(const struct td_cell *cell)
{
    double scale = 1;
    for (int i = 0; i < cell->decimals; i++)
        scale *= 10;
    switch (cell->kind) {
    case TD_CELL_TEXT:
        return cell->text != NULL ? json_string(cell->text) : json_null();
    case TD_CELL_NUMBER:
        return isfinite(cell->number) ? json_real(round(cell->number * scale) / scale)
                                      : json_null();
    case TD_CELL_WHOLE:
        return json_integer(cell->whole);
    case TD_CELL_FLAG:
        return json_boolean(cell->whole != 0);
    }
    return json_null();
}

void td_cells_json(FILE *to, const struct td_cells *cells)
{
    json_t *object = json_object();
    for (size_t i = 0; i < cells->count; i++)
        (void)json_object_set_new(object, cells->items[i].name, value_of(&cells->items[i]));
    char *text = json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(12));
    if (text != NULL)
        (void)fprintf(to, "%s\n", text);
    free(text);
    json_decref(object);
}
