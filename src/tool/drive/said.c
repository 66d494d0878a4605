/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Pairs two accounts of a drive by the best alignment that keeps their order (dynamic programming
 * over both lists, only within the time that a prompt can have moved), and prints it. */
#include "tool/drive/said.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/units.h"
#include "tool/drive/prompt_lines.h"

enum { LIST_MOST = 20000, CELLS_MOST = 16 * 1024 * 1024 };

/* Worth of a pair. Two with other words are worth more than one with the same words: neighbours are
 * not left single for one's sake. */
#define WORTH_SAME_WORDS 4.0f
#define WORTH_SAME_ID    3.0f

struct td_said *td_said_add(struct td_said_list *list)
{
    if (list->count == list->room) {
        size_t room = list->room == 0 ? 64 : 2 * list->room;
        struct td_said *items = realloc(list->items, room * sizeof *items);
        if (items == NULL)
            return NULL;
        list->items = items;
        list->room = room;
    }
    struct td_said *item = &list->items[list->count++];
    memset(item, 0, sizeof *item);
    return item;
}

void td_said_free(struct td_said_list *list)
{
    free(list->items);
    *list = (struct td_said_list){0};
}

/* Worth of taking the two for one prompt; 0: they are not. */
static float worth(const struct td_said *then, const struct td_said *now)
{
    double apart_s = fabs(then->t_s - now->t_s);
    if (then->id != now->id || apart_s > TD_SAID_MOVED_S || strcmp(then->hill, now->hill) != 0)
        return 0;
    float words = strcmp(then->words, now->words) == 0 ? WORTH_SAME_WORDS : WORTH_SAME_ID;
    return words - (float)(apart_s / (2 * TD_SAID_MOVED_S));
}

/* best[i][j]: most worth of the first i of one list with the first j of the other. */
static float *fill(const struct td_said_list *then, const struct td_said_list *now)
{
    size_t wide = now->count + 1;
    float *best = calloc((then->count + 1) * wide, sizeof *best);
    if (best == NULL)
        return NULL;
    for (size_t i = 1; i <= then->count; i++) {
        for (size_t j = 1; j <= now->count; j++) {
            float most = fmaxf(best[(i - 1) * wide + j], best[i * wide + j - 1]);
            float pair = worth(&then->items[i - 1], &now->items[j - 1]);
            if (pair > 0)
                most = fmaxf(most, best[(i - 1) * wide + j - 1] + pair);
            best[i * wide + j] = most;
        }
    }
    return best;
}

static enum td_said_kind kind_of(const struct td_said *then, const struct td_said *now)
{
    if (strcmp(then->words, now->words) != 0)
        return TD_SAID_OTHER_WORDS;
    return fabs(then->t_s - now->t_s) > TD_SAID_SAME_S ? TD_SAID_MOVED : TD_SAID_SAME;
}

/* Back along the best way, from both ends to both beginnings; the pairs come out backwards. */
static size_t walk(const float *best, const struct td_said_list *then,
                   const struct td_said_list *now, struct td_said_pair *pairs)
{
    size_t i = then->count, j = now->count, wide = now->count + 1, count = 0;
    while (i > 0 || j > 0) {
        float here = best[i * wide + j];
        const struct td_said *a = i > 0 ? &then->items[i - 1] : NULL;
        const struct td_said *b = j > 0 ? &now->items[j - 1] : NULL;
        float pair = a != NULL && b != NULL ? worth(a, b) : 0;
        if (pair > 0 && best[(i - 1) * wide + j - 1] + pair >= here) {
            pairs[count++] = (struct td_said_pair){kind_of(a, b), a, b};
            i--;
            j--;
        } else if (b == NULL || (a != NULL && best[(i - 1) * wide + j] >= here &&
                                 !(best[i * wide + j - 1] >= here && b->t_s > a->t_s))) {
            pairs[count++] = (struct td_said_pair){TD_SAID_ONLY_THEN, a, NULL};
            i--;
        } else {
            pairs[count++] = (struct td_said_pair){TD_SAID_ONLY_NOW, NULL, b};
            j--;
        }
    }
    return count;
}

static void turn_round(struct td_said_pair *pairs, size_t count)
{
    for (size_t i = 0; i < count / 2; i++) {
        struct td_said_pair held = pairs[i];
        pairs[i] = pairs[count - 1 - i];
        pairs[count - 1 - i] = held;
    }
}

enum td_result td_said_pair_up(const struct td_said_list *then, const struct td_said_list *now,
                               struct td_said_pair **pairs, size_t *count,
                               struct td_problem *problem)
{
    if (then->count > LIST_MOST || now->count > LIST_MOST ||
        (then->count + 1) * (now->count + 1) > CELLS_MOST)
        return td_problem_set(problem, TD_FULL, NULL, 0,
                              "%zu and %zu prompts are more than can be compared", then->count,
                              now->count);
    float *best = fill(then, now);
    struct td_said_pair *made = calloc(then->count + now->count + 1, sizeof *made);
    if (best == NULL || made == NULL) {
        free(best);
        free(made);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory to compare the prompts");
    }
    *count = walk(best, then, now, made);
    turn_round(made, *count);
    free(best);
    *pairs = made;
    return TD_OK;
}

static void print_time(FILE *to, const struct td_said *said)
{
    if (said != NULL)
        (void)fprintf(to, "%9.1f s", said->t_s);
    else
        (void)fprintf(to, "%11s", "-");
}

static void print_pair(FILE *to, const struct td_said_pair *pair)
{
    static const char *const names[TD_SAID_KINDS] = {
        [TD_SAID_SAME] = "same", [TD_SAID_OTHER_WORDS] = "other words",
        [TD_SAID_ONLY_THEN] = "only then", [TD_SAID_ONLY_NOW] = "only now"};
    const struct td_said *one = pair->then != NULL ? pair->then : pair->now;
    char moved[48];
    const char *what = names[pair->kind];
    if (pair->kind == TD_SAID_MOVED) {
        double by_s = pair->now->t_s - pair->then->t_s;
        (void)snprintf(moved, sizeof moved, "%.0f s %s", fabs(by_s),
                       by_s > 0 ? "later" : "earlier");
        what = moved;
    }
    print_time(to, pair->then);
    print_time(to, pair->now);
    (void)fprintf(to, "  %-14s %-8s %s", what, td_category_name(one->category), one->words);
    if (pair->kind == TD_SAID_OTHER_WORDS)
        (void)fprintf(to, "  ->  %s", pair->now->words);
    (void)fprintf(to, "\n");
}

void td_said_print(FILE *to, const struct td_said_pair *pairs, size_t count)
{
    size_t by_kind[TD_SAID_KINDS] = {0};
    (void)fprintf(to, "%11s%11s\n", "then", "now");
    for (size_t i = 0; i < count; i++) {
        print_pair(to, &pairs[i]);
        by_kind[pairs[i].kind]++;
    }
    (void)fprintf(to, "%zu the same, %zu moved, %zu in other words, %zu only then, %zu only now\n",
                  by_kind[TD_SAID_SAME], by_kind[TD_SAID_MOVED], by_kind[TD_SAID_OTHER_WORDS],
                  by_kind[TD_SAID_ONLY_THEN], by_kind[TD_SAID_ONLY_NOW]);
}

static json_t *tenths(double value)
{
    return json_real(round(value * 10) / 10);
}

static json_t *said_json(const struct td_said *said)
{
    if (said == NULL)
        return json_null();
    return json_pack("{s:o, s:s, s:s, s:s, s:o, s:o, s:o, s:s}", "t_s", tenths(said->t_s), "id",
                     td_prompt_key(said->id), "category", td_category_name(said->category),
                     "words", said->words, "hill",
                     said->hill[0] != '\0' ? json_string(said->hill) : json_null(), "along_m",
                     said->hill[0] != '\0' ? tenths(said->along_m) : json_null(), "speed_mph",
                     tenths(td_mph_from_mps(said->speed_mps)), "fate", td_fate_word(said->fate));
}

void td_said_print_json(FILE *to, const struct td_said_pair *pairs, size_t count)
{
    static const char *const names[TD_SAID_KINDS] = {
        [TD_SAID_SAME] = "same", [TD_SAID_MOVED] = "moved", [TD_SAID_OTHER_WORDS] = "other_words",
        [TD_SAID_ONLY_THEN] = "only_then", [TD_SAID_ONLY_NOW] = "only_now"};
    for (size_t i = 0; i < count; i++) {
        const struct td_said_pair *pair = &pairs[i];
        bool both = pair->then != NULL && pair->now != NULL;
        json_t *object = json_pack(
            "{s:s, s:o, s:o, s:o}", "kind", names[pair->kind], "moved_s",
            both ? tenths(pair->now->t_s - pair->then->t_s) : json_null(), "then",
            said_json(pair->then), "now", said_json(pair->now));
        char *text =
            object != NULL ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(12)) : NULL;
        if (text != NULL)
            (void)fprintf(to, "%s\n", text);
        free(text);
        json_decref(object);
    }
}
