/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of "talkdown places": where a place is to be, which one is meant, and what becomes of
 * it. docs/places.md tells people how it is used. */
#ifndef TD_TOOL_PLACES_H
#define TD_TOOL_PLACES_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "io/hill_edit.h"
#include "io/hill_file.h"

/* --- Where (places_where.c) --- */

/* A place on the road as people give it, NULL or "" what they did not give: by the posts beside the
 * road, by the distance along it, or by coordinates, where the distance may say which leg. */
struct td_where_texts {
    const char *post;  /* "mile 12.4" */
    const char *along; /* "2.3 mi", "0.5 mi before crest", "300 m past foot" */
    const char *lat, *lon;
    const char *post_name, *along_name, *coordinate_name; /* as messages call them */
};

struct td_where {
    double at_m;             /* along the road */
    double lat_deg, lon_deg; /* of the point, to 7 decimals, as it is written */
    double off_m, left_m;    /* the point from the road's line; left positive */
    bool wants_at;           /* two legs are near: at_m must be written too */
};

bool td_where_given(const struct td_where_texts *texts);
/* TD_INVALID with words (file empty): none or two given, no such post, off the road's ends, over
 * TD_PLACE_OFF_ROAD_M from it, near two legs without a word which. */
TD_CHECKED enum td_result td_where_read(const struct td_hill_file *file,
                                        const struct td_where_texts *texts, struct td_where *where,
                                        struct td_problem *problem);
/* "2.3 mi past crest" to metres along the road. */
TD_CHECKED enum td_result td_where_along(const struct td_hill *hill, const char *text,
                                         double *at_m, struct td_problem *problem);

/* --- Which (places_which.c) --- */

/* By id, by name, by role where there is one of it, or by its number in the list (from 1). */
TD_CHECKED enum td_result td_place_which(const struct td_hill_file *file, const char *text,
                                         size_t *index, struct td_problem *problem);
/* "the escape-lane \"lower\" at 2.310 mi" into `text`; returns it. */
enum { TD_PLACE_CALLED_SIZE = 160 };
const char *td_place_called(const struct td_hill_file *file, size_t index,
                            char text[TD_PLACE_CALLED_SIZE]);

/* --- What (places_change.c) --- */

enum { TD_PLACE_KEYS = 13 };
/* The properties that people set: all of docs/formats.md but role and at_m. */
extern const char *const td_place_keys[TD_PLACE_KEYS];

/* NULL: not given, "" taken out. */
struct td_place_texts {
    const char *texts[TD_PLACE_KEYS];
};
bool td_place_texts_given(const struct td_place_texts *texts);

/* The text of a property as a CSV has it, "" where it is left out; numbers into `room`. */
enum { TD_PLACE_NUMBER_SIZE = 40 };
const char *td_place_text(const json_t *properties, const char *key,
                          char room[TD_PLACE_NUMBER_SIZE]);

/* A profile with its JSON beside it: for its properties as they were written. */
struct td_places_open {
    const char *path;
    struct td_hill_file *file;
    json_t *root;
    struct td_hill_edit edit;
    bool raised;  /* its revision, already */
    bool dry_run; /* nothing is written */
};
/* `to_edit`: a hill of a library is refused. Close what was opened, whatever came of it. */
TD_CHECKED enum td_result td_places_open(const char *path, bool to_edit,
                                         struct td_places_open *open, struct td_problem *problem);
/* The same of a profile that has been read, which becomes theirs. */
TD_CHECKED enum td_result td_places_take(const char *path, struct td_hill_file *file,
                                         struct td_places_open *open, struct td_problem *problem);
void td_places_close(struct td_places_open *open);
/* Of a place by its index in the hill. */
const json_t *td_places_properties(const struct td_places_open *open, size_t index);

/* Would the place be right with these? `line` stands in messages, `name` NULL for the command line.
 * `old` NULL: a new place of that role. */
TD_CHECKED enum td_result td_place_try(const json_t *old, const char *role,
                                       const struct td_place_texts *texts, const char *name,
                                       int line, struct td_problem *problem);
enum td_place_became { TD_PLACE_SAME = 0, TD_PLACE_CHANGED = 1, TD_PLACE_MOVED = 2 };
/* Into the text of the profile; `where` NULL: it stays. Returns what became of it, as bits. */
unsigned td_place_apply(struct td_places_open *open, size_t index,
                        const struct td_place_texts *texts, const struct td_where *where);
/* A new last feature. */
void td_place_add(struct td_places_open *open, const char *role,
                  const struct td_place_texts *texts, const struct td_where *where);
/* Of several the one that comes last in the file first: those after it move up. */
void td_place_remove(struct td_places_open *open, size_t index);

/* Reads the changed text back, writes it to `out` (NULL: in its place), and gives the profile as it
 * is now. A revision goes up by one. Nothing is written when it does not read back. */
TD_CHECKED enum td_result td_places_save(struct td_places_open *open, const char *out, bool force,
                                         struct td_hill_file **saved, struct td_problem *problem);

/* --- Told (places_told.c) --- */

enum td_places_form { TD_PLACES_TEXT = 0, TD_PLACES_CSV, TD_PLACES_JSON };

int td_places_list(const char *path, enum td_places_form form);
int td_places_check(const char *path, bool as_json);
/* One place in a line for people: "mile 12.4, 2.310 mi (3718 m) along, ...". */
void td_places_tell_where(const struct td_hill_file *file, double at_m);
/* What "hills check" finds at one place; returns how many of it are errors. */
size_t td_places_tell_findings(const char *name, const struct td_hill_file *file, size_t index);

/* --- The commands (places_edit.c, places_import.c, places_posts.c) --- */

struct td_places_job {
    const char *path, *out;
    bool force, dry_run;
    struct td_where_texts where;
    struct td_place_texts texts;
};
int td_places_add(const struct td_places_job *job, const char *role);
int td_places_move(const struct td_places_job *job, const char *which);
int td_places_change(const struct td_places_job *job, const char *which);
int td_places_remove(const struct td_places_job *job, const char *which);
int td_places_import(const struct td_places_job *job, const char *csv);
/* `text` NULL: tells the posts of the road; "" takes them out. */
int td_places_posts(const struct td_places_job *job, const char *text);

#endif
