/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown places list and check: what stands along the road, where, and what looks wrong about it,
 * for people, for a spreadsheet (which `places import` takes back) and for machines. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/hill_project.h"
#include "io/problem.h"
#include "talkdown/units.h"
#include "tool/cells.h"
#include "tool/hills/hills_found.h"
#include "tool/places/places.h"
#include "tool/tool.h"

enum { CELL_TEXT = 64 };

/* --- Findings at one place --- */

struct taking {
    size_t index, errors, warnings;
    json_t *list; /* NULL: printed */
};

static void take(void *context, const struct td_found_at *at, bool is_error, const char *rule,
                 const char *what, const char *cure)
{
    struct taking *taking = context;
    if (at->place == NULL || at->index != taking->index)
        return;
    taking->errors += is_error;
    taking->warnings += !is_error;
    const char *severity = is_error ? "error" : "warning";
    if (taking->list != NULL)
        (void)json_array_append_new(taking->list,
                                    json_pack("{s:s, s:s, s:s, s:s}", "severity", severity, "rule",
                                              rule, "what", what, "cure", cure));
    else
        (void)printf("   %s: %s; %s [%s]\n", severity, what, cure, rule);
}

static void find(const char *name, const struct td_hill_file *file, struct taking *taking)
{
    struct td_findings found = {.take = take, .context = taking};
    td_hills_sense_places(&found, name, file);
}

size_t td_places_tell_findings(const char *name, const struct td_hill_file *file, size_t index)
{
    struct taking taking = {.index = index};
    find(name, file, &taking);
    return taking.errors;
}

/* --- Where a place is, in words --- */

static void print_post(const struct td_hill_file *file, double at_m)
{
    const struct td_mileposts *posts = td_hill_file_mileposts(file);
    double post = td_mileposts_at(posts, at_m);
    if (isfinite(post))
        (void)printf("%s %.2f, ", td_post_unit_word(posts->unit), post);
}

static void print_from(const char *mark, double from_m)
{
    (void)printf(", %.2f mi %s the %s", fabs(td_mi_from_m(from_m)), from_m < 0 ? "before" : "past",
                 mark);
}

void td_places_tell_where(const struct td_hill_file *file, double at_m)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    double grade = td_hill_downgrade_at(hill, at_m);
    print_post(file, at_m);
    (void)printf("%.0f m high, %s %.1f %%", td_hill_elevation_at(hill, at_m),
                 grade < 0 ? "climbs" : "falls", fabs(grade) * 100);
    if (hill->coached) {
        print_from("crest", at_m - hill->crest_m);
        if (at_m > hill->foot_m)
            print_from("foot", at_m - hill->foot_m);
    }
    (void)printf("\n");
}

/* What it has on file, but for the role: "side right, length 150 m". */
static void print_texts(const json_t *properties)
{
    for (size_t i = 0; i < TD_PLACE_KEYS; i++) {
        char room[TD_PLACE_NUMBER_SIZE];
        const char *text = td_place_text(properties, td_place_keys[i], room);
        if (text[0] != '\0')
            (void)printf(", %s %s", td_place_keys[i], text);
    }
}

static void print_place(const struct td_places_open *open, size_t index)
{
    const struct td_place *place = &td_hill_file_hill(open->file)->places[index];
    (void)printf("%zu  %.3f mi (%.0f m)  ", index + 1, td_mi_from_m(place->at_m), place->at_m);
    print_post(open->file, place->at_m);
    (void)printf("%s", td_place_role(place->kind));
    print_texts(td_places_properties(open, index));
    (void)printf("\n");
}

/* --- For a spreadsheet --- */

/* The columns that `places import` reads, then two for people, which it passes over. */
static void print_csv(const struct td_places_open *open, size_t index, bool head)
{
    static char rooms[TD_PLACE_KEYS][TD_PLACE_NUMBER_SIZE];
    const struct td_mileposts *posts = td_hill_file_mileposts(open->file);
    const struct td_place *place = &td_hill_file_hill(open->file)->places[index];
    const struct td_hill_place_file on_file = td_hill_file_place(open->file, index);
    const json_t *properties = td_places_properties(open, index);
    char along[CELL_TEXT] = "", post[CELL_TEXT] = "", where[CELL_TEXT];
    struct td_cells cells = {.count = 0};
    if (on_file.has_at)
        (void)snprintf(along, sizeof along, "%.0f m", place->at_m);
    if (isfinite(td_mileposts_at(posts, place->at_m)))
        (void)snprintf(post, sizeof post, "%s %.3f", td_post_unit_word(posts->unit),
                       td_mileposts_at(posts, place->at_m));
    (void)snprintf(where, sizeof where, "%.3f mi", td_mi_from_m(place->at_m));
    td_cells_text(&cells, "role", td_place_role(place->kind));
    td_cells_text(&cells, "id", td_place_text(properties, "id", rooms[0]));
    td_cells_text(&cells, "milepost", "");
    td_cells_text(&cells, "along", along);
    td_cells_number(&cells, "latitude", on_file.lat_deg, 7);
    td_cells_number(&cells, "longitude", on_file.lon_deg, 7);
    for (size_t i = 1; i < TD_PLACE_KEYS; i++)
        td_cells_text(&cells, td_place_keys[i],
                      td_place_text(properties, td_place_keys[i], rooms[i]));
    td_cells_text(&cells, "x_milepost", post);
    td_cells_text(&cells, "x_along", where);
    if (head)
        td_cells_csv_head(stdout, &cells);
    td_cells_csv(stdout, &cells);
}

/* The head alone, of a road where nothing stands yet: a form to fill in. */
static void print_empty_csv(void)
{
    (void)printf("role,id,milepost,along,latitude,longitude");
    for (size_t i = 1; i < TD_PLACE_KEYS; i++)
        (void)printf(",%s", td_place_keys[i]);
    (void)printf(",x_milepost,x_along\r\n");
}

/* --- For machines --- */

static json_t *number(double value, double scale)
{
    return isfinite(value) ? json_real(round(value * scale) / scale) : json_null();
}

static json_t *where_as_json(const struct td_places_open *open, size_t index)
{
    const struct td_hill *hill = td_hill_file_hill(open->file);
    const struct td_place *place = &hill->places[index];
    const struct td_hill_place_file on_file = td_hill_file_place(open->file, index);
    const struct td_mileposts *posts = td_hill_file_mileposts(open->file);
    double post = td_mileposts_at(posts, place->at_m);
    double lat_deg = 0, lon_deg = 0;
    td_hill_point(hill, place->at_m, &lat_deg, &lon_deg);
    double crest_m = hill->coached ? place->at_m - hill->crest_m : (double)NAN;
    return json_pack(
        "{s:i, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "number",
        (int)index + 1, "role", td_place_role(place->kind), "milepost", number(post, 1e3),
        "milepost_unit",
        isfinite(post) ? json_string(td_post_unit_word(posts->unit)) : json_null(), "along_m",
        number(place->at_m, 10), "past_crest_m", number(crest_m, 10), "lat_deg",
        number(on_file.lat_deg, 1e7), "lon_deg", number(on_file.lon_deg, 1e7), "road_lat_deg",
        number(lat_deg, 1e7), "road_lon_deg", number(lon_deg, 1e7), "left_of_road_m",
        number(on_file.left_m, 10), "elevation_m",
        number(td_hill_elevation_at(hill, place->at_m), 10), "downgrade_pct",
        number(td_hill_downgrade_at(hill, place->at_m) * 100, 100));
}

/* Takes over `findings`. */
static void print_json(const struct td_places_open *open, size_t index, json_t *findings)
{
    json_t *row = where_as_json(open, index);
    const json_t *properties = td_places_properties(open, index);
    for (size_t i = 0; row != NULL && i < TD_PLACE_KEYS; i++) {
        char room[TD_PLACE_NUMBER_SIZE];
        const char *text = td_place_text(properties, td_place_keys[i], room);
        (void)json_object_set_new(row, td_place_keys[i],
                                  text[0] != '\0' ? json_string(text) : json_null());
        if (strcmp(td_place_keys[i], "mandatory") == 0 && text[0] != '\0')
            (void)json_object_set_new(row, "mandatory", json_boolean(strcmp(text, "true") == 0));
    }
    if (findings != NULL)
        (void)json_object_set_new(row, "findings", findings);
    if (row != NULL && json_dumpf(row, stdout, JSON_REAL_PRECISION(12)) == 0)
        (void)putchar('\n');
    json_decref(row);
}

int td_places_list(const char *path, enum td_places_form form)
{
    struct td_places_open open;
    struct td_problem problem = {0};
    enum td_result result = td_places_open(path, false, &open, &problem);
    size_t count = result == TD_OK ? td_hill_file_hill(open.file)->place_count : 0;
    for (size_t i = 0; i < count; i++) {
        if (form == TD_PLACES_JSON)
            print_json(&open, i, NULL);
        else if (form == TD_PLACES_CSV)
            print_csv(&open, i, i == 0);
        else
            print_place(&open, i);
    }
    if (result == TD_OK && count == 0 && form == TD_PLACES_CSV)
        print_empty_csv();
    td_places_close(&open);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}

static void check_one(const struct td_places_open *open, size_t index, bool as_json,
                      struct taking *all)
{
    const struct td_hill_place_file on_file = td_hill_file_place(open->file, index);
    struct taking taking = {.index = index, .list = as_json ? json_array() : NULL};
    if (!as_json) {
        print_place(open, index);
        (void)printf("   %.7f,%.7f, %.1f m %s the line, ", on_file.lat_deg, on_file.lon_deg,
                     fabs(on_file.left_m),
                     fabs(on_file.left_m) < 0.05 ? "from" : on_file.left_m > 0 ? "left of"
                                                                             : "right of");
        td_places_tell_where(open->file, td_hill_file_hill(open->file)->places[index].at_m);
    }
    find(open->path, open->file, &taking);
    if (as_json)
        print_json(open, index, taking.list);
    all->errors += taking.errors;
    all->warnings += taking.warnings;
}

int td_places_check(const char *path, bool as_json)
{
    struct td_places_open open;
    struct td_problem problem = {0};
    struct taking all = {.errors = 0};
    enum td_result result = td_places_open(path, false, &open, &problem);
    size_t count = result == TD_OK ? td_hill_file_hill(open.file)->place_count : 0;
    for (size_t i = 0; i < count; i++)
        check_one(&open, i, as_json, &all);
    td_places_close(&open);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    if (!as_json)
        (void)printf("%zu places, %zu errors, %zu warnings; \"hills check\" looks at the road "
                     "too\n",
                     count, all.errors, all.warnings);
    return all.errors > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}
