/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A reader of CSV. Cells are unquoted where they lie: they never grow. */
#include "io/csv.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/problem.h"

struct reading {
    const char *name;
    char *at, *end;
    int line;
    struct td_csv *csv;
    size_t cell_count;
    struct td_problem *problem;
};

static enum td_result wrong(const struct reading *reading, int line, const char *words)
{
    return td_problem_set(reading->problem, TD_INVALID, reading->name, line, "%s", words);
}

static bool ends_cell(char c)
{
    return c == ',' || c == '\r' || c == '\n' || c == '\0';
}

/* What is between the quotes, doubled ones single; *at goes behind the closing one. */
static enum td_result read_quoted(struct reading *reading, char **to)
{
    int line = reading->line;
    for (reading->at++; reading->at < reading->end; reading->at++) {
        if (*reading->at == '"' && reading->at[1] != '"') {
            reading->at++;
            return TD_OK;
        }
        reading->at += *reading->at == '"';
        reading->line += *reading->at == '\n';
        *(*to)++ = *reading->at;
    }
    return wrong(reading, line, "a quote is opened and not closed; close it, or double it where it "
                                "is part of the text");
}

/* One cell, its blanks trimmed, ended by NUL in place of what ends it; *ended is what that was. */
static enum td_result read_cell(struct reading *reading, const char **cell, char *ended)
{
    while (*reading->at == ' ' || *reading->at == '\t')
        reading->at++;
    char *from = reading->at, *to = from;
    if (*from == '"') {
        enum td_result result = read_quoted(reading, &to);
        if (result != TD_OK)
            return result;
        while (*reading->at == ' ' || *reading->at == '\t')
            reading->at++;
        if (!ends_cell(*reading->at))
            return wrong(reading, reading->line,
                         "text follows a closing quote; double the quotes inside a quoted cell");
    } else {
        while (!ends_cell(*reading->at) && *reading->at != '"')
            reading->at++;
        if (*reading->at == '"')
            return wrong(reading, reading->line,
                         "a quote stands inside a cell; put the whole cell in quotes and double "
                         "it");
        to = reading->at;
    }
    while (to > from && (to[-1] == ' ' || to[-1] == '\t'))
        to--;
    *ended = *reading->at;
    *to = '\0';
    *cell = from;
    return TD_OK;
}

/* Goes behind what ended a cell. */
static void pass_end(struct reading *reading, char ended)
{
    if (reading->at >= reading->end)
        return;
    reading->at++;
    if (ended == '\r' && *reading->at == '\n')
        reading->at++;
    reading->line += ended == '\r' || ended == '\n';
}

static enum td_result read_row(struct reading *reading, const char ***cells, size_t *count)
{
    struct td_csv *csv = reading->csv;
    *cells = &csv->cells[reading->cell_count];
    *count = 0;
    for (char ended = ','; ended == ',';) {
        const char *cell = NULL;
        enum td_result result = read_cell(reading, &cell, &ended);
        if (result != TD_OK)
            return result;
        if (*count == TD_CSV_COLUMNS_MAX)
            return wrong(reading, reading->line, "has over 64 columns; leave some out");
        csv->cells[reading->cell_count++] = cell;
        (*count)++;
        pass_end(reading, ended);
    }
    return TD_OK;
}

static bool is_empty(const char *const *cells, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (cells[i][0] != '\0')
            return false;
    return true;
}

static enum td_result take_row(struct reading *reading)
{
    struct td_csv *csv = reading->csv;
    const char **cells = NULL;
    size_t count = 0, before = reading->cell_count;
    int line = reading->line;
    enum td_result result = read_row(reading, &cells, &count);
    if (result != TD_OK)
        return result;
    if (is_empty(cells, count)) {
        reading->cell_count = before;
        return TD_OK;
    }
    if (csv->head == NULL) {
        csv->head = cells;
        csv->columns = count;
        if (count == 1 && strpbrk(cells[0], ";\t") != NULL)
            return wrong(reading, line, "is parted by semicolons or tabs; save it with commas");
        return TD_OK;
    }
    if (count != csv->columns)
        return td_problem_set(reading->problem, TD_INVALID, reading->name, line,
                              "has %zu cells, but the head has %zu; a text with a comma in it "
                              "must be in quotes",
                              count, csv->columns);
    csv->rows[csv->count++] = (struct td_csv_row){line, cells};
    return TD_OK;
}

static enum td_result make_room(struct reading *reading)
{
    size_t cells = 2, rows = 2;
    for (const char *c = reading->at; c < reading->end; c++) {
        cells += ends_cell(*c);
        rows += *c == '\n' || *c == '\r';
    }
    reading->csv->cells = calloc(cells, sizeof *reading->csv->cells);
    reading->csv->rows = calloc(rows, sizeof *reading->csv->rows);
    if (reading->csv->cells == NULL || reading->csv->rows == NULL)
        return td_problem_set(reading->problem, TD_NO_MEMORY, reading->name, 0,
                              "no memory to read it");
    return TD_OK;
}

/* `bytes` is ended by a NUL and becomes the table's. */
static enum td_result parse(const char *name, char *bytes, size_t length, struct td_csv *csv,
                            struct td_problem *problem)
{
    static const char mark[] = "\xef\xbb\xbf";
    struct td_csv made = {.bytes = bytes};
    struct reading reading = {name, bytes, bytes + length, 1, &made, 0, problem};
    enum td_result result = TD_OK;
    if (strlen(bytes) != length)
        result = wrong(&reading, 0, "holds a NUL byte; a CSV is text, saved as UTF-8");
    if (strncmp(bytes, mark, strlen(mark)) == 0)
        reading.at += strlen(mark);
    if (result == TD_OK)
        result = make_room(&reading);
    while (result == TD_OK && reading.at < reading.end)
        result = take_row(&reading);
    if (result == TD_OK && made.head == NULL)
        result = wrong(&reading, 0, "is empty; the first row names the columns");
    if (result == TD_OK)
        *csv = made;
    else
        td_csv_free(&made);
    return result;
}

enum td_result td_csv_parse(const char *name, const char *bytes, size_t length,
                            struct td_csv *csv, struct td_problem *problem)
{
    char *copy = malloc(length + 1);
    if (copy == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, name, 0, "no memory to read it");
    memcpy(copy, bytes, length);
    copy[length] = '\0';
    return parse(name, copy, length, csv, problem);
}

enum td_result td_csv_read(const char *path, struct td_csv *csv, struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    enum td_result result = td_file_read(path, TD_CSV_BYTES_MAX, &bytes, &length, problem);
    return result == TD_OK ? parse(path, bytes, length, csv, problem) : result;
}

void td_csv_free(struct td_csv *csv)
{
    free(csv->bytes);
    free(csv->cells);
    free(csv->rows);
    *csv = (struct td_csv){.count = 0};
}
