/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where a place is to be: a post, a distance or a coordinate, brought onto the road. A place that
 * two legs of the road claim is never guessed at. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/hill_project.h"
#include "io/problem.h"
#include "talkdown/quantity.h"
#include "talkdown/units.h"
#include "tool/places/places.h"

static const double degree_step = 1e-7; /* as many decimals as are written */
static const double agree_m = 50;       /* a distance beside a coordinate must be right to this */
static const double exact_m = 1;        /* a point of the road must be found again to this */

static bool given(const char *text)
{
    return text != NULL && text[0] != '\0';
}

bool td_where_given(const struct td_where_texts *texts)
{
    return given(texts->post) || given(texts->along) || given(texts->lat) || given(texts->lon);
}

static enum td_result wrong(struct td_problem *problem, const char *words)
{
    return td_problem_set(problem, TD_INVALID, NULL, 0, "%s", words);
}

/* A point of the road's own line, with at_m where it would be found on another leg. */
static enum td_result on_road(const struct td_hill *hill, double at_m, struct td_where *where,
                              struct td_problem *problem)
{
    double lat_deg = 0, lon_deg = 0;
    td_hill_point(hill, at_m, &lat_deg, &lon_deg);
    *where = (struct td_where){.lat_deg = round(lat_deg / degree_step) * degree_step,
                               .lon_deg = round(lon_deg / degree_step) * degree_step};
    struct td_projection found =
        td_hill_project(hill, where->lat_deg, where->lon_deg, false, 0);
    where->wants_at = found.has_other || fabs(found.at_m - at_m) > exact_m;
    if (where->wants_at)
        found = td_hill_project(hill, where->lat_deg, where->lon_deg, true, round(at_m));
    if (fabs(found.at_m - at_m) > exact_m)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "the road comes back to its point at %.0f m within a few metres of "
                              "road; put the place beside it",
                              at_m);
    where->at_m = found.at_m;
    where->off_m = found.off_m;
    where->left_m = found.left_m;
    return TD_OK;
}

static enum td_result check_ends(const struct td_hill *hill, const char *text, double at_m,
                                 struct td_problem *problem)
{
    if (at_m >= 0 && at_m <= hill->length_m)
        return TD_OK;
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "\"%.40s\" is off the road, which is %.3f mi (%.0f m) long; give a "
                          "distance on it",
                          text, td_mi_from_m(hill->length_m), hill->length_m);
}

/* "before crest" and its like after a length. */
static enum td_result read_from(const struct td_hill *hill, const char *words, double length_m,
                                double *at_m, struct td_problem *problem)
{
    char side[8] = "", mark[8] = "", more[2] = "";
    int count = sscanf(words, "%7s %7s %1s", side, mark, more);
    bool before = strcmp(side, "before") == 0, past = strcmp(side, "past") == 0;
    bool crest = strcmp(mark, "crest") == 0, foot = strcmp(mark, "foot") == 0;
    if (count != 2 || (!before && !past) || (!crest && !foot))
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "\"%.40s\" follows the length; before crest, past crest, before foot "
                              "or past foot is right",
                              words);
    if (!hill->coached)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "this road has no %s, since no downgrade on it needs coaching; count "
                              "from its first vertex",
                              mark);
    *at_m = (crest ? hill->crest_m : hill->foot_m) + (before ? -length_m : length_m);
    return TD_OK;
}

enum td_result td_where_along(const struct td_hill *hill, const char *text, double *at_m,
                              struct td_problem *problem)
{
    char length[64];
    const char *words = strstr(text, " before");
    words = words == NULL ? strstr(text, " past") : words;
    struct td_text cut;
    double length_m = 0;
    td_text_init(&cut, length, sizeof length);
    td_text_add_span(&cut, text, words == NULL ? strlen(text) : (size_t)(words - text));
    enum td_result result = td_quantity_parse(length, TD_DIM_LENGTH, &length_m, problem);
    double made_m = length_m;
    if (result == TD_OK && words != NULL)
        result = read_from(hill, words + 1, length_m, &made_m, problem);
    if (result == TD_OK)
        result = check_ends(hill, text, made_m, problem);
    if (result == TD_OK)
        *at_m = made_m;
    return result;
}

static enum td_result no_such_post(const struct td_mileposts *posts, const char *text,
                                   struct td_problem *problem)
{
    const struct td_milepost *first = posts->posts, *last = &posts->posts[posts->count - 1];
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "the road has no \"%.40s\": its posts go from %s %.10g to %.10g, and one "
                          "beyond; name a post near there (places posts), or the distance",
                          text, td_post_unit_word(posts->unit), first->post, last->post);
}

static enum td_result by_post(const struct td_hill_file *file, const char *text, double *at_m,
                              struct td_problem *problem)
{
    const struct td_mileposts *posts = td_hill_file_mileposts(file);
    enum td_post_unit unit = TD_POST_MILE;
    double post = 0, found_m[TD_MILEPOSTS_MAX];
    enum td_result result = td_post_parse(text, &unit, &post, problem);
    if (result != TD_OK)
        return result;
    if (posts->count == 0)
        return wrong(problem, "the road does not say where its mileposts stand; say so with "
                              "\"places posts\", or give the distance");
    if (unit != posts->unit)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "\"%.40s\": the posts of this road count in %s; write \"%s ...\"",
                              text, unit == TD_POST_MILE ? "km" : "miles",
                              td_post_unit_word(posts->unit));
    size_t count = td_mileposts_along(posts, td_hill_file_hill(file)->length_m, post, found_m);
    if (count == 0)
        return no_such_post(posts, text, problem);
    if (count > 1)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "the road has \"%.40s\" twice, at %.0f m and at %.0f m along; give "
                              "the distance",
                              text, found_m[0], found_m[1]);
    *at_m = found_m[0];
    return TD_OK;
}

static bool read_degrees(const char *text, double most, double *deg)
{
    char digits[32];
    struct td_text trimmed;
    size_t from = strspn(text, " \t"), length = strcspn(text + from, " \t");
    td_text_init(&trimmed, digits, sizeof digits);
    td_text_add_span(&trimmed, text + from, length);
    bool alone = text[from + length + strspn(text + from + length, " \t")] == '\0';
    if (!alone || trimmed.cut || !td_decimal_parse(digits, deg) || fabs(*deg) > most)
        return false;
    *deg = round(*deg / degree_step) * degree_step;
    return true;
}

static enum td_result off_road(const struct td_hill *hill, const struct td_where *at,
                               const struct td_projection *found, struct td_problem *problem)
{
    struct td_projection other = {.off_m = (double)INFINITY};
    if (fabs(at->lon_deg) <= 90)
        other = td_hill_project(hill, at->lon_deg, at->lat_deg, false, 0);
    if (other.off_m <= TD_PLACE_OFF_ROAD_M)
        return wrong(problem, "lies on the road the other way round; latitude comes first, then "
                              "longitude");
    if (!isfinite(found->off_m))
        return wrong(problem, "lies over 100 km from the road; latitude comes first, then "
                              "longitude, in degrees");
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "lies %.0f m from the road (nearest at %.0f m along); within %.0f m is "
                          "right",
                          found->off_m, found->at_m, TD_PLACE_OFF_ROAD_M);
}

/* With a distance beside it that says which leg is meant. */
static enum td_result on_leg(const struct td_hill *hill, double hint_m, struct td_where *where,
                             struct td_problem *problem)
{
    struct td_projection found =
        td_hill_project(hill, where->lat_deg, where->lon_deg, true, hint_m);
    if (!(found.off_m <= TD_PLACE_OFF_ROAD_M) || fabs(found.at_m - hint_m) > agree_m)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "does not agree with the distance beside it, %.0f m: %s; give a "
                              "distance right to %.0f m, or one of the two",
                              hint_m,
                              found.off_m <= TD_PLACE_OFF_ROAD_M ? "it lies elsewhere on the road"
                                                                 : "the road is not near it there",
                              agree_m);
    struct td_projection alone =
        td_hill_project(hill, where->lat_deg, where->lon_deg, false, 0);
    where->wants_at = alone.has_other || fabs(alone.at_m - found.at_m) > exact_m;
    where->at_m = found.at_m;
    where->off_m = found.off_m;
    where->left_m = found.left_m;
    return TD_OK;
}

static enum td_result by_coordinate(const struct td_hill *hill, const struct td_where_texts *texts,
                                    bool has_hint, double hint_m, struct td_where *where,
                                    struct td_problem *problem)
{
    if (!given(texts->lat) || !given(texts->lon) ||
        !read_degrees(texts->lat, 90, &where->lat_deg) ||
        !read_degrees(texts->lon, 180, &where->lon_deg))
        return wrong(problem, "is no coordinate; write latitude (-90 to 90), then longitude (-180 "
                              "to 180), in degrees with a decimal point, as -48.9016853,"
                              "-123.8136634");
    struct td_projection found =
        td_hill_project(hill, where->lat_deg, where->lon_deg, false, 0);
    if (!(found.off_m <= TD_PLACE_OFF_ROAD_M))
        return off_road(hill, where, &found, problem);
    if (has_hint)
        return on_leg(hill, hint_m, where, problem);
    if (found.has_other)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "lies near two legs of the road, %.0f m from it at %.0f m along and "
                              "%.0f m at %.0f m; say which, with %s \"%.0f m\" or \"%.0f m\" "
                              "beside it",
                              found.off_m, found.at_m, found.other_off_m, found.other_at_m,
                              texts->along_name, found.at_m, found.other_at_m);
    where->at_m = found.at_m;
    where->off_m = found.off_m;
    where->left_m = found.left_m;
    return TD_OK;
}

/* Puts the name of what was given in front of the words. */
static enum td_result about(const char *name, enum td_result result,
                            const struct td_problem *wrong_one, struct td_problem *problem)
{
    if (result == TD_OK)
        return TD_OK;
    return td_problem_set(problem, result, NULL, 0, "%s: %s", name, wrong_one->text);
}

enum td_result td_where_read(const struct td_hill_file *file, const struct td_where_texts *texts,
                             struct td_where *where, struct td_problem *problem)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    struct td_problem words = {0};
    struct td_where made = {0};
    double at_m = 0;
    bool has_post = given(texts->post), has_along = given(texts->along);
    bool has_coordinate = given(texts->lat) || given(texts->lon);
    if (!has_post && !has_along && !has_coordinate)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "no word where it is; give %s, %s or %s", texts->post_name,
                              texts->along_name, texts->coordinate_name);
    if (has_post && (has_along || has_coordinate))
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "%s and %s both say where it is; give one of them",
                              texts->post_name,
                              has_along ? texts->along_name : texts->coordinate_name);
    enum td_result result = TD_OK;
    const char *name = has_post ? texts->post_name : texts->along_name;
    if (has_post)
        result = by_post(file, texts->post, &at_m, &words);
    else if (has_along)
        result = td_where_along(hill, texts->along, &at_m, &words);
    if (result == TD_OK && has_coordinate) {
        name = texts->coordinate_name;
        result = by_coordinate(hill, texts, has_along, at_m, &made, &words);
    } else if (result == TD_OK) {
        result = on_road(hill, at_m, &made, &words);
    }
    if (result == TD_OK)
        *where = made;
    return about(name, result, &words, problem);
}
