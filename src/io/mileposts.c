/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counting along a road by the posts beside it. */
#include "io/mileposts.h"

#include <math.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/quantity.h"
#include "talkdown/units.h"

/* Two posts nearer than this stand at one place: an equation. */
static const double jump_m = 1.0;
/* One place found from both sides of a post is one place. */
static const double same_m = 0.5;
static const double unit_m[] = {[TD_POST_MILE] = TD_M_PER_MI, [TD_POST_KM] = 1000.0};
static const double post_most = 100000.0;

const char *td_post_unit_word(enum td_post_unit unit)
{
    return unit == TD_POST_MILE ? "mile" : "km";
}

static enum td_result wrong_post(struct td_problem *problem, const char *text)
{
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "\"%.60s\" is no milepost; write the unit and its count, as \"mile "
                          "12.4\" or \"km 20\"",
                          text);
}

enum td_result td_post_parse(const char *text, enum td_post_unit *unit, double *post,
                             struct td_problem *problem)
{
    const char *at = text + strspn(text, " \t");
    enum td_post_unit read = TD_POST_MILE;
    for (; read <= TD_POST_KM; read++)
        if (strncmp(at, td_post_unit_word(read), strlen(td_post_unit_word(read))) == 0)
            break;
    if (read > TD_POST_KM)
        return wrong_post(problem, text);
    at += strlen(td_post_unit_word(read));
    double value = 0;
    if ((*at != ' ' && *at != '\t') ||
        td_quantity_parse(at, TD_DIM_NUMBER, &value, NULL) != TD_OK || value > post_most)
        return wrong_post(problem, text);
    *unit = read;
    *post = value;
    return TD_OK;
}

/* "mile 10 at 0.35 mi", of which the semicolon is cut off already. */
static enum td_result parse_one(const char *text, enum td_post_unit *unit,
                                struct td_milepost *made, struct td_problem *problem)
{
    char post[64];
    struct td_problem wrong;
    const char *at = strstr(text, " at ");
    struct td_text words;
    td_text_init(&words, post, sizeof post);
    if (at != NULL)
        td_text_add_span(&words, text, (size_t)(at - text));
    if (at == NULL || words.cut)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "\"%.60s\" does not say where a post stands; write \"mile 12 at 3.4 "
                              "mi\", semicolons between them",
                              text);
    if (td_post_parse(post, unit, &made->post, &wrong) != TD_OK ||
        td_quantity_parse(at + 4, TD_DIM_LENGTH, &made->along_m, &wrong) != TD_OK)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s", wrong.text);
    return TD_OK;
}

static double stretch(const struct td_mileposts *posts, size_t piece)
{
    const struct td_milepost *from = &posts->posts[piece], *to = from + 1;
    return fabs(to->post - from->post) * unit_m[posts->unit] / (to->along_m - from->along_m);
}

static bool is_jump(const struct td_mileposts *posts, size_t piece)
{
    return fabs(posts->posts[piece + 1].along_m - posts->posts[piece].along_m) < jump_m;
}

/* +1 where the count rises along the road, -1 where it falls. */
static double direction(const struct td_mileposts *posts)
{
    for (size_t i = 0; i + 1 < posts->count; i++)
        if (!is_jump(posts, i))
            return posts->posts[i + 1].post >= posts->posts[i].post ? 1 : -1;
    return 0;
}

static enum td_result check_piece(const struct td_mileposts *posts, size_t piece,
                                  struct td_problem *problem)
{
    const struct td_milepost *from = &posts->posts[piece], *to = from + 1;
    const char *word = td_post_unit_word(posts->unit);
    if (to->along_m < from->along_m)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "%s %.10g at %.0f m stands before %s %.10g at %.0f m; name posts in "
                              "order along the road",
                              word, to->post, to->along_m, word, from->post, from->along_m);
    if (is_jump(posts, piece))
        return TD_OK;
    if ((to->post - from->post) * direction(posts) <= 0)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "the count turns round between %s %.10g and %s %.10g; where it "
                              "jumps, name two posts at one place",
                              word, from->post, word, to->post);
    double share = stretch(posts, piece);
    if (share > 2 || share < 0.5)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "%s %.10g and %s %.10g are %.0f m apart; that is over twice or under "
                              "half of what they say",
                              word, from->post, word, to->post, to->along_m - from->along_m);
    return TD_OK;
}

static enum td_result check(const struct td_mileposts *posts, struct td_problem *problem)
{
    bool known = posts->count >= 2 && (direction(posts) > 0 || direction(posts) < 0);
    if (!known)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "two posts at two places are needed, so that the count has a "
                              "direction: \"mile 10 at 0.3 mi; mile 12 at 2.3 mi\"");
    for (size_t i = 0; i + 1 < posts->count; i++) {
        enum td_result result = check_piece(posts, i, problem);
        if (result != TD_OK)
            return result;
    }
    return TD_OK;
}

static enum td_result take_one(const char *text, size_t length, struct td_mileposts *posts,
                               struct td_problem *problem)
{
    char one[128];
    struct td_text words;
    enum td_post_unit unit = posts->unit;
    td_text_init(&words, one, sizeof one);
    td_text_add_span(&words, text, length);
    if (posts->count == TD_MILEPOSTS_MAX)
        return td_problem_set(problem, TD_FULL, NULL, 0, "over %d posts; every tenth will do",
                              (int)TD_MILEPOSTS_MAX);
    enum td_result result = parse_one(one, &unit, &posts->posts[posts->count], problem);
    if (result != TD_OK)
        return result;
    if (posts->count > 0 && unit != posts->unit)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "has miles and km; posts of one road are of one kind");
    posts->unit = unit;
    posts->count++;
    return TD_OK;
}

enum td_result td_mileposts_parse(const char *text, struct td_mileposts *posts,
                                  struct td_problem *problem)
{
    struct td_mileposts made = {.count = 0};
    enum td_result result = TD_OK;
    for (const char *at = text; result == TD_OK;) {
        size_t length = strcspn(at, ";");
        result = take_one(at, length, &made, problem);
        if (at[length] == '\0')
            break;
        at += length + 1;
    }
    if (result == TD_OK)
        result = check(&made, problem);
    if (result == TD_OK)
        *posts = made;
    return result;
}

/* A count without the noughts that fixed decimals end in. */
static void add_count(struct td_text *text, double value)
{
    size_t whole = text->length;
    td_text_add_fixed(text, value, 6);
    while (text->length > whole && text->data[text->length - 1] == '0')
        text->data[--text->length] = '\0';
    if (text->length > whole && text->data[text->length - 1] == '.')
        text->data[--text->length] = '\0';
}

void td_mileposts_text(const struct td_mileposts *posts, struct td_text *text)
{
    for (size_t i = 0; i < posts->count; i++) {
        td_text_add(text, i > 0 ? "; " : "");
        td_text_add(text, td_post_unit_word(posts->unit));
        td_text_add_char(text, ' ');
        add_count(text, posts->posts[i].post);
        td_text_add(text, " at ");
        td_text_add_fixed(text, posts->posts[i].along_m, 0);
        td_text_add(text, " m");
    }
}

static size_t take(double along_m[TD_MILEPOSTS_MAX], size_t count, double found_m)
{
    if ((count > 0 && fabs(along_m[count - 1] - found_m) < same_m) || count == TD_MILEPOSTS_MAX)
        return count;
    along_m[count] = found_m;
    return count + 1;
}

/* Beyond the outer posts: metres from the post `end` to the count, against the road where it is
 * before the first; NAN where that is too far. */
static double run_on(const struct td_mileposts *posts, const struct td_milepost *end, double post)
{
    double away_m = (post - end->post) * direction(posts) * unit_m[posts->unit];
    return fabs(away_m) <= unit_m[posts->unit] ? away_m : (double)NAN;
}

size_t td_mileposts_along(const struct td_mileposts *posts, double length_m, double post,
                          double along_m[TD_MILEPOSTS_MAX])
{
    size_t found = 0;
    if (posts->count == 0)
        return 0;
    const struct td_milepost *first = posts->posts, *last = &posts->posts[posts->count - 1];
    double before_m = run_on(posts, first, post), after_m = run_on(posts, last, post);
    if (before_m < 0 && first->along_m + before_m >= 0)
        found = take(along_m, found, first->along_m + before_m);
    for (size_t i = 0; i + 1 < posts->count; i++) {
        const struct td_milepost *from = &posts->posts[i], *to = from + 1;
        double share = (post - from->post) / (to->post - from->post);
        if (!is_jump(posts, i) && share >= 0 && share <= 1)
            found = take(along_m, found, from->along_m + share * (to->along_m - from->along_m));
    }
    if (after_m > 0 && last->along_m + after_m <= length_m)
        found = take(along_m, found, last->along_m + after_m);
    return found;
}

double td_mileposts_at(const struct td_mileposts *posts, double along_m)
{
    if (posts->count == 0)
        return (double)NAN;
    const struct td_milepost *first = posts->posts, *last = &posts->posts[posts->count - 1];
    double outside_m = along_m < first->along_m ? along_m - first->along_m
                       : along_m >= last->along_m ? along_m - last->along_m : 0;
    if (fabs(outside_m) > unit_m[posts->unit])
        return (double)NAN;
    if (along_m < first->along_m || along_m >= last->along_m)
        return (along_m < first->along_m ? first : last)->post +
               direction(posts) * outside_m / unit_m[posts->unit];
    size_t i = posts->count - 1;
    while (i > 0 && posts->posts[i].along_m > along_m)
        i--;
    const struct td_milepost *from = &posts->posts[i], *to = from + 1;
    if (is_jump(posts, i))
        return to->post;
    return from->post + (to->post - from->post) * (along_m - from->along_m) /
                            (to->along_m - from->along_m);
}

double td_mileposts_worst(const struct td_mileposts *posts, double *at_m)
{
    double worst = 0;
    for (size_t i = 0; i + 1 < posts->count; i++) {
        double off = is_jump(posts, i) ? 0 : 1 / stretch(posts, i) - 1;
        if (fabs(off) > fabs(worst)) {
            worst = off;
            *at_m = posts->posts[i].along_m;
        }
    }
    return worst;
}
