/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown places posts: which mileposts stand where along the road, by distance or by coordinate.
 * On file are distances (docs/formats.md, `mileposts`), since they need no second look. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_project.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/hills/hills_found.h"
#include "tool/places/places.h"
#include "tool/tool.h"

/* "LAT,LON" has no letter of a unit; "2,300 ft" does. */
static bool is_coordinate(const char *text)
{
    return strchr(text, ',') != NULL && text[strspn(text, "0123456789+-., \t")] == '\0';
}

/* "mile 12 at WHERE" with WHERE brought onto the road. */
static enum td_result read_one(const struct td_hill_file *file, char *text, struct td_text *posts,
                               struct td_problem *problem)
{
    struct td_where_texts texts = {.post_name = "milepost", .along_name = "distance",
                                   .coordinate_name = "coordinate"};
    struct td_where where;
    struct td_problem wrong;
    enum td_post_unit unit;
    double post = 0;
    char *at = strstr(text, " at "), *comma = NULL;
    if (at == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "\"%.60s\" does not say where a post stands; write \"mile 12 at 3.4 "
                              "mi\" or \"mile 12 at LAT,LON\", semicolons between them",
                              text);
    *at = '\0';
    at += 4;
    if (is_coordinate(at)) {
        comma = strchr(at, ',');
        *comma = '\0';
        texts.lat = at;
        texts.lon = comma + 1;
    } else {
        texts.along = at;
    }
    enum td_result result = td_post_parse(text, &unit, &post, &wrong);
    if (result == TD_OK)
        result = td_where_read(file, &texts, &where, &wrong);
    if (result != TD_OK)
        return td_problem_set(problem, result, NULL, 0, "\"%.40s\": %s",
                              text + strspn(text, " \t"), wrong.text);
    td_text_add(posts, posts->length > 0 ? "; " : "");
    td_text_add(posts, text + strspn(text, " \t"));
    td_text_add(posts, " at ");
    td_text_add_fixed(posts, where.at_m, 0);
    td_text_add(posts, " m");
    return TD_OK;
}

/* The text of the profile's property; empty where the posts are taken out. */
static enum td_result read_posts(const struct td_hill_file *file, const char *text, char *room,
                                 size_t size, struct td_problem *problem)
{
    struct td_text posts;
    struct td_mileposts made;
    char one[160];
    enum td_result result = TD_OK;
    td_text_init(&posts, room, size);
    for (const char *at = text; result == TD_OK && at[0] != '\0';) {
        size_t length = strcspn(at, ";");
        struct td_text words;
        td_text_init(&words, one, sizeof one);
        td_text_add_span(&words, at, length);
        result = read_one(file, one, &posts, problem);
        at += length + (at[length] != '\0');
    }
    if (result == TD_OK && posts.length > 0)
        result = td_mileposts_parse(room, &made, problem);
    return result;
}

static int tell_posts(const struct td_hill_file *file)
{
    const struct td_mileposts *posts = td_hill_file_mileposts(file);
    for (size_t i = 0; i < posts->count; i++) {
        double lat_deg = 0, lon_deg = 0, at_m = posts->posts[i].along_m;
        td_hill_point(td_hill_file_hill(file), at_m, &lat_deg, &lon_deg);
        (void)printf("%s %.10g at %.0f m (%.3f mi), %.7f,%.7f\n", td_post_unit_word(posts->unit),
                     posts->posts[i].post, at_m, td_mi_from_m(at_m), lat_deg, lon_deg);
    }
    if (posts->count == 0)
        (void)puts("no mileposts on file; places posts HILL \"mile 10 at 0.35 mi; mile 12 at "
                   "2.36 mi\" puts them in");
    return posts->count > 0 ? TD_EXIT_DONE : TD_EXIT_NO;
}

static void take(void *context, const struct td_found_at *at, bool is_error, const char *rule,
                 const char *what, const char *cure)
{
    (void)context, (void)at, (void)is_error;
    if (strcmp(rule, "mileposts") == 0)
        (void)printf("   warning: %s; %s [%s]\n", what, cure, rule);
}

/* As "hills check" will. */
static void tell_findings(const char *name, const struct td_hill_file *file)
{
    struct td_findings found = {.take = take};
    td_hills_sense(&found, name, file);
}

static enum td_result put_posts(struct td_places_open *open, const struct td_places_job *job,
                                const char *text, struct td_problem *problem)
{
    char room[TD_MILEPOSTS_TEXT_MAX + 1], quoted[TD_MILEPOSTS_TEXT_MAX + 4];
    struct td_hill_file *saved = NULL;
    struct td_problem wrong = {0};
    enum td_result result = read_posts(open->file, text, room, sizeof room, &wrong);
    if (result != TD_OK)
        return td_problem_set(problem, result, NULL, 0, "places posts: %s", wrong.text);
    /* Digits, letters, blanks: nothing of it needs an escape in JSON. */
    (void)snprintf(quoted, sizeof quoted, "\"%s\"", room);
    size_t road = td_hill_file_feature(open->file, td_hill_file_hill(open->file)->place_count);
    td_hill_edit_set(&open->edit, road, TD_IN_PROPERTIES, "mileposts",
                     room[0] != '\0' ? quoted : NULL);
    open->dry_run = job->dry_run;
    result = td_places_save(open, job->out, job->force, &saved, problem);
    if (result == TD_OK) {
        (void)tell_posts(saved);
        tell_findings(open->path, saved);
    }
    td_hill_file_free(&saved);
    return result;
}

int td_places_posts(const struct td_places_job *job, const char *text)
{
    struct td_places_open open;
    struct td_problem problem = {0};
    int code = TD_EXIT_DONE;
    enum td_result result = td_places_open(job->path, text != NULL, &open, &problem);
    if (result == TD_OK && text == NULL)
        code = tell_posts(open.file);
    else if (result == TD_OK)
        result = put_posts(&open, job, text, &problem);
    td_places_close(&open);
    return result == TD_OK ? code : td_tool_fail(&problem);
}
