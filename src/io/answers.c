/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills pinned by handle while the coach looks at them, and plans solved on them. */
#include "io/answers.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"

struct pinned {
    uint32_t handle; /* 0 free */
    size_t index;    /* on the present shelf; SIZE_MAX once it came from another */
    struct td_hill_file *file;
};

struct td_answers {
    const struct td_shelf *shelf;
    struct pinned pinned[TD_PINNED_MAX];
    uint32_t last_handle;
    struct td_plan_work work;
};

enum td_result td_answers_open(const struct td_shelf *shelf, struct td_answers **out,
                               struct td_problem *problem)
{
    struct td_answers *answers = calloc(1, sizeof *answers);
    if (answers == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the hills in hand");
    answers->shelf = shelf;
    *out = answers;
    return TD_OK;
}

void td_answers_reshelve(struct td_answers *answers, const struct td_shelf *shelf)
{
    answers->shelf = shelf;
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        answers->pinned[i].index = SIZE_MAX;
}

static struct pinned *find_handle(struct td_answers *answers, uint32_t handle)
{
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if (handle != 0 && answers->pinned[i].handle == handle)
            return &answers->pinned[i];
    return NULL;
}

static struct pinned *find_index(struct td_answers *answers, size_t index)
{
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if (answers->pinned[i].handle != 0 && answers->pinned[i].index == index)
            return &answers->pinned[i];
    return NULL;
}

/* The same bytes came from an earlier shelf. */
static struct pinned *find_hash(struct td_answers *answers, const uint8_t *hash)
{
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if (answers->pinned[i].handle != 0 &&
            memcmp(td_hill_file_hill(answers->pinned[i].file)->hash, hash, TD_HASH_BYTES) == 0)
            return &answers->pinned[i];
    return NULL;
}

static struct pinned *find_free(struct td_answers *answers)
{
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if (answers->pinned[i].handle == 0)
            return &answers->pinned[i];
    return NULL;
}

static enum td_result pin(struct td_answers *answers, size_t index, struct pinned **out,
                          struct td_problem *problem)
{
    struct pinned *pinned = find_index(answers, index);
    if (pinned != NULL) {
        *out = pinned;
        return TD_OK;
    }
    struct td_hill_file *file = NULL;
    enum td_result result = td_shelf_read(answers->shelf, index, &file, problem);
    if (result != TD_OK)
        return result;
    pinned = find_hash(answers, td_hill_file_hill(file)->hash);
    if (pinned != NULL) {
        td_hill_file_free(&file);
        pinned->index = index;
        *out = pinned;
        return TD_OK;
    }
    pinned = find_free(answers);
    if (pinned == NULL) {
        td_hill_file_free(&file);
        return td_problem_set(problem, TD_FULL, NULL, 0,
                              "%d hills are in hand and none was let go", TD_PINNED_MAX);
    }
    answers->last_handle++;
    *pinned = (struct pinned){.handle = answers->last_handle, .index = index, .file = file};
    *out = pinned;
    return TD_OK;
}

/* Asked for again it may be read; what is damaged stays so. */
static bool may_pass(enum td_result result)
{
    return result == TD_IO || result == TD_NO_MEMORY || result == TD_FULL;
}

/* A damaged hill, which nothing is pinned of, goes by its place on the shelf. */
static struct td_offer offer_of(const struct td_want *want, const struct pinned *pinned,
                                size_t index)
{
    if (pinned == NULL)
        return (struct td_offer){.kind = TD_OFFER_DAMAGED,
                                 .want_serial = want->serial,
                                 .handle = (uint32_t)index + 1};
    return (struct td_offer){.kind = TD_OFFER_HILL,
                             .want_serial = want->serial,
                             .handle = pinned->handle,
                             .hill = td_hill_file_hill(pinned->file)};
}

size_t td_answers_want(struct td_answers *answers, const struct td_want *want,
                       struct td_offer offers[TD_OFFERS_MAX], struct td_problem *problem)
{
    size_t indexes[TD_HILL_SLOTS];
    size_t near = 0, count = 0;
    enum td_offer_kind last = TD_OFFER_END;
    bool told = false;
    if (td_shelf_near(answers->shelf, want->lat_deg, want->lon_deg, want->radius_m, indexes,
                      TD_HILL_SLOTS, &near, problem) != TD_OK)
        last = TD_OFFER_FAILED;
    for (size_t i = 0; i < near && i < TD_HILL_SLOTS; i++) {
        struct pinned *pinned = NULL;
        struct td_problem wrong = {0};
        enum td_result result = pin(answers, indexes[i], &pinned, &wrong);
        /* The truck may be on one of the others: they are offered all the same. */
        if (result != TD_OK && !told && problem != NULL)
            *problem = wrong;
        told = told || result != TD_OK;
        if (may_pass(result))
            last = TD_OFFER_FAILED;
        else
            offers[count++] = offer_of(want, pinned, indexes[i]);
    }
    offers[count++] = (struct td_offer){.kind = last, .want_serial = want->serial};
    return count;
}

void td_answers_release(struct td_answers *answers, uint32_t handle)
{
    struct pinned *pinned = find_handle(answers, handle);
    if (pinned == NULL)
        return;
    td_hill_file_free(&pinned->file);
    *pinned = (struct pinned){0};
}

const struct td_hill_file *td_answers_hill(const struct td_answers *answers, uint32_t handle)
{
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if (handle != 0 && answers->pinned[i].handle == handle)
            return answers->pinned[i].file;
    return NULL;
}

enum td_result td_answers_solve(struct td_answers *answers, const struct td_solve *solve,
                                const struct td_rig *rig, struct td_plan *plan,
                                struct td_problem *problem)
{
    const struct pinned *pinned = find_handle(answers, solve->handle);
    if (pinned == NULL)
        return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                              "the hill of a plan was let go before it was solved");
    td_plan_solve(td_hill_file_hill(pinned->file), rig, &solve->query, &answers->work, plan);
    return TD_OK;
}

void td_answers_close(struct td_answers **answers)
{
    if (answers == NULL || *answers == NULL)
        return;
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if ((*answers)->pinned[i].handle != 0)
            td_hill_file_free(&(*answers)->pinned[i].file);
    free(*answers);
    *answers = NULL;
}
