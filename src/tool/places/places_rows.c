/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From cells to places. A row that could be one place or another is wrong, never guessed at. */
#include "tool/places/places_rows.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_feature.h"
#include "io/problem.h"
#include "talkdown/text.h"

static const double same_spot_m = 15; /* two of one kind so near are one, or need names */

/* Columns beside the properties. */
enum column { COLUMN_ROLE, COLUMN_ACTION, COLUMN_POST, COLUMN_ALONG, COLUMN_LAT, COLUMN_LON,
              COLUMNS };
static const char *const column_names[COLUMNS] = {"role",  "action",   "milepost",
                                                  "along", "latitude", "longitude"};

struct reading {
    struct td_places_import *import;
    int columns[COLUMNS];       /* which cell; -1: the table has no such column */
    int keys[TD_PLACE_KEYS];
};

static enum td_result bad(struct td_place_row *row)
{
    row->result = TD_INVALID;
    return TD_INVALID;
}

static int *find_column(struct reading *reading, const char *name)
{
    for (int i = 0; i < COLUMNS; i++)
        if (strcmp(name, column_names[i]) == 0)
            return &reading->columns[i];
    for (int i = 0; i < TD_PLACE_KEYS; i++)
        if (strcmp(name, td_place_keys[i]) == 0)
            return &reading->keys[i];
    return NULL;
}

static enum td_result unknown_column(const struct reading *reading, const char *name,
                                     struct td_problem *problem)
{
    char list[240];
    struct td_text text;
    td_text_init(&text, list, sizeof list);
    for (int i = 0; i < COLUMNS; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, column_names[i]);
    }
    for (int i = 0; i < TD_PLACE_KEYS; i++) {
        td_text_add(&text, ", ");
        td_text_add(&text, td_place_keys[i]);
    }
    return td_problem_set(problem, TD_INVALID, reading->import->csv_path, 1,
                          "column \"%.40s\" is unknown; known are %s, and all that begin with x_, "
                          "which are passed over",
                          name, list);
}

static enum td_result read_head(struct reading *reading, struct td_problem *problem)
{
    const struct td_csv *csv = &reading->import->csv;
    memset(reading->columns, -1, sizeof reading->columns);
    memset(reading->keys, -1, sizeof reading->keys);
    for (size_t i = 0; i < csv->columns; i++) {
        int *column = find_column(reading, csv->head[i]);
        if (column == NULL && strncmp(csv->head[i], "x_", 2) == 0)
            continue;
        if (column == NULL)
            return unknown_column(reading, csv->head[i], problem);
        if (*column >= 0)
            return td_problem_set(problem, TD_INVALID, reading->import->csv_path, 1,
                                  "column \"%s\" is there twice; leave one out", csv->head[i]);
        *column = (int)i;
    }
    return TD_OK;
}

static const char *cell(const struct reading *reading, const struct td_csv_row *row, int column)
{
    (void)reading;
    return column >= 0 ? row->cells[column] : NULL;
}

static const char *text_of(const struct td_place_row *row, size_t key)
{
    return row->texts.texts[key] != NULL ? row->texts.texts[key] : "";
}

enum { KEY_ID = 0, KEY_NAME = 1 }; /* of td_place_keys */

/* --- One row by itself --- */

static enum td_result read_action(struct td_places_import *import, struct td_place_row *row,
                                  const char *word)
{
    row->removes = word != NULL && strcmp(word, "remove") == 0;
    if (word == NULL || word[0] == '\0' || strcmp(word, "put") == 0 || row->removes)
        return TD_OK;
    (void)td_problem_set(&row->problem, TD_INVALID, import->csv_path, row->line,
                         "action is \"%.40s\"; put (or nothing) or remove is right", word);
    return bad(row);
}

static enum td_result read_where(const struct reading *reading, const struct td_csv_row *cells,
                                 struct td_place_row *row)
{
    const struct td_where_texts texts = {
        .post = cell(reading, cells, reading->columns[COLUMN_POST]),
        .along = cell(reading, cells, reading->columns[COLUMN_ALONG]),
        .lat = cell(reading, cells, reading->columns[COLUMN_LAT]),
        .lon = cell(reading, cells, reading->columns[COLUMN_LON]),
        .post_name = "milepost",
        .along_name = "along",
        .coordinate_name = "latitude and longitude"};
    struct td_problem wrong;
    row->has_where = td_where_given(&texts);
    if (!row->has_where ||
        td_where_read(reading->import->open.file, &texts, &row->where, &wrong) == TD_OK)
        return TD_OK;
    (void)td_problem_set(&row->problem, TD_INVALID, reading->import->csv_path, row->line, "%s",
                         wrong.text);
    return bad(row);
}

static enum td_result read_row(const struct reading *reading, const struct td_csv_row *cells,
                               struct td_place_row *row)
{
    const char *role = cell(reading, cells, reading->columns[COLUMN_ROLE]);
    row->line = cells->line;
    row->role = role != NULL ? role : "";
    for (size_t i = 0; i < TD_PLACE_KEYS; i++)
        row->texts.texts[i] = cell(reading, cells, reading->keys[i]);
    enum td_result result = read_action(
        reading->import, row, cell(reading, cells, reading->columns[COLUMN_ACTION]));
    enum td_place_kind kind;
    if (result == TD_OK && row->role[0] != '\0' && !td_feature_kind(row->role, &kind)) {
        /* The reader's own words list the roles. */
        result = td_place_try(NULL, row->role, &row->texts, reading->import->csv_path, row->line,
                              &row->problem);
        return result == TD_OK ? TD_OK : bad(row);
    }
    return result == TD_OK ? read_where(reading, cells, row) : result;
}

/* --- Which place it is --- */

/* A place is one row's. */
static bool is_taken(const struct td_places_import *import, const struct td_place_row *row,
                     size_t index)
{
    for (const struct td_place_row *other = import->rows; other < row; other++)
        if (other->index == index)
            return true;
    return false;
}

static bool is_role(const struct td_places_import *import, const struct td_place_row *row,
                    size_t index)
{
    const struct td_place *place = &td_hill_file_hill(import->open.file)->places[index];
    return row->role[0] == '\0' || strcmp(row->role, td_place_role(place->kind)) == 0;
}

/* Every cell says what the place has. */
static bool is_same(const struct td_places_import *import, const struct td_place_row *row,
                    size_t index)
{
    const json_t *has = td_places_properties(&import->open, index);
    for (size_t i = 0; i < TD_PLACE_KEYS; i++) {
        char room[TD_PLACE_NUMBER_SIZE];
        if (row->texts.texts[i] != NULL && i != KEY_ID &&
            strcmp(row->texts.texts[i], td_place_text(has, td_place_keys[i], room)) != 0)
            return false;
    }
    return true;
}

static enum td_result take(struct td_places_import *import, struct td_place_row *row, size_t index)
{
    if (!is_taken(import, row, index)) {
        row->index = index;
        return TD_OK;
    }
    char called[TD_PLACE_CALLED_SIZE];
    (void)td_problem_set(&row->problem, TD_INVALID, import->csv_path, row->line,
                         "means the %s, as a line before it does; leave one out",
                         td_place_called(import->open.file, index, called));
    return bad(row);
}

static enum td_result by_id(struct td_places_import *import, struct td_place_row *row)
{
    const struct td_hill *hill = td_hill_file_hill(import->open.file);
    const char *id = text_of(row, KEY_ID);
    for (size_t i = 0; id[0] != '\0' && i < hill->place_count; i++) {
        if (strcmp(td_hill_file_place(import->open.file, i).id, id) != 0)
            continue;
        if (is_role(import, row, i))
            return take(import, row, i);
        (void)td_problem_set(&row->problem, TD_INVALID, import->csv_path, row->line,
                             "\"%s\" is a %s on file, not a %s; remove it and add it anew under "
                             "another id",
                             id, td_place_role(hill->places[i].kind), row->role);
        return bad(row);
    }
    for (struct td_place_row *other = import->rows; id[0] != '\0' && other < row; other++)
        if (strcmp(text_of(other, KEY_ID), id) == 0) {
            (void)td_problem_set(&row->problem, TD_INVALID, import->csv_path, row->line,
                                 "has the id \"%s\" of line %d; give each place one of its own",
                                 id, other->line);
            return bad(row);
        }
    return TD_OK;
}

/* Only places without another id. */
static bool may_be(const struct td_places_import *import, const struct td_place_row *row,
                   size_t index)
{
    const char *has = td_hill_file_place(import->open.file, index).id;
    return is_role(import, row, index) && (has[0] == '\0' || text_of(row, KEY_ID)[0] == '\0');
}

static enum td_result by_name(struct td_places_import *import, struct td_place_row *row)
{
    const struct td_hill *hill = td_hill_file_hill(import->open.file);
    const char *name = text_of(row, KEY_NAME);
    size_t found = 0, index = 0;
    for (size_t i = 0; name[0] != '\0' && i < hill->place_count; i++)
        if (may_be(import, row, i) && strcmp(hill->places[i].name, name) == 0) {
            found++;
            index = i;
        }
    if (found == 1)
        return take(import, row, index);
    if (found == 0)
        return TD_OK;
    (void)td_problem_set(&row->problem, TD_INVALID, import->csv_path, row->line,
                         "%zu places are called \"%.40s\"; tell them apart with ids (places "
                         "change N --id ID)",
                         found, name);
    return bad(row);
}

/* One that has neither id nor name, by standing there. */
static enum td_result by_spot(struct td_places_import *import, struct td_place_row *row)
{
    const struct td_hill *hill = td_hill_file_hill(import->open.file);
    bool named = text_of(row, KEY_ID)[0] != '\0' || text_of(row, KEY_NAME)[0] != '\0';
    size_t near = TD_PLACE_NEW;
    for (size_t i = 0; row->has_where && row->role[0] != '\0' && i < hill->place_count; i++) {
        const char *id = td_hill_file_place(import->open.file, i).id;
        if (!is_role(import, row, i) || is_taken(import, row, i) || id[0] != '\0' ||
            fabs(hill->places[i].at_m - row->where.at_m) > same_spot_m)
            continue;
        if (is_same(import, row, i))
            return take(import, row, i);
        near = hill->places[i].name[0] == '\0' ? i : near;
    }
    if (near == TD_PLACE_NEW || named)
        return TD_OK;
    char called[TD_PLACE_CALLED_SIZE];
    (void)td_problem_set(&row->problem, TD_INVALID, import->csv_path, row->line,
                         "is it the %s, changed, or another beside it? Give that one an id "
                         "(places change %zu --id ID), and this line the same or another",
                         td_place_called(import->open.file, near, called), near + 1);
    return bad(row);
}

static enum td_result check_new(struct td_places_import *import, struct td_place_row *row)
{
    struct td_problem *problem = &row->problem;
    if (row->removes)
        (void)td_problem_set(problem, TD_INVALID, import->csv_path, row->line,
                             "no place on file is meant by it, so none can be removed; give its id "
                             "or its name");
    else if (row->role[0] == '\0')
        (void)td_problem_set(problem, TD_INVALID, import->csv_path, row->line,
                             "no place on file is meant by it, and for a new one the role is "
                             "missing");
    else if (!row->has_where)
        (void)td_problem_set(problem, TD_INVALID, import->csv_path, row->line,
                             "a new %s, and no word where it is; fill in milepost, along, or "
                             "latitude and longitude",
                             row->role);
    else
        return TD_OK;
    return bad(row);
}

static enum td_result match(struct td_places_import *import, struct td_place_row *row)
{
    row->index = TD_PLACE_NEW;
    enum td_result result = by_id(import, row);
    if (result == TD_OK && row->index == TD_PLACE_NEW)
        result = by_name(import, row);
    if (result == TD_OK && row->index == TD_PLACE_NEW)
        result = by_spot(import, row);
    if (result == TD_OK && row->index == TD_PLACE_NEW)
        result = check_new(import, row);
    if (result != TD_OK || row->removes)
        return result;
    bool is_new = row->index == TD_PLACE_NEW;
    result = td_place_try(is_new ? NULL : td_places_properties(&import->open, row->index),
                          row->role, &row->texts, import->csv_path, row->line, &row->problem);
    if (result != TD_OK)
        row->result = result;
    return result;
}

enum td_result td_place_rows_read(struct td_places_import *import, struct td_problem *problem)
{
    struct reading reading = {.import = import};
    enum td_result result = read_head(&reading, problem);
    if (result != TD_OK)
        return result;
    import->rows = calloc(import->csv.count + 1, sizeof *import->rows);
    if (import->rows == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, import->csv_path, 0, "no memory to read it");
    size_t places = td_hill_file_hill(import->open.file)->place_count;
    for (size_t i = 0; i < import->csv.count; i++) {
        struct td_place_row *row = &import->rows[import->count++];
        row->index = TD_PLACE_NEW;
        if (read_row(&reading, &import->csv.rows[i], row) != TD_OK ||
            match(import, row) != TD_OK)
            continue;
        places += row->index == TD_PLACE_NEW ? 1U : 0U;
        places -= row->removes ? 1U : 0U;
    }
    if (places > TD_HILL_PLACES_MAX)
        return td_problem_set(problem, TD_FULL, import->csv_path, 0,
                              "would make %zu places of one hill; %d are the most", places,
                              (int)TD_HILL_PLACES_MAX);
    return TD_OK;
}
