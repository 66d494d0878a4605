/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills check: what is wrong with profiles and what looks wrong, one finding a line. */
#include <stdio.h>

#include "io/problem.h"
#include "tool/hills/hills.h"
#include "tool/hills/hills_found.h"
#include "tool/tool.h"

struct checking {
    struct td_findings found;
    struct td_hills_pairs *pairs;
};

static enum td_result check_one(void *context, const struct td_hill_visit *visit,
                                struct td_problem *problem)
{
    struct checking *checking = context;
    checking->found.profiles++;
    td_progress_at(checking->found.progress, checking->found.profiles, 0);
    if (visit->result != TD_OK) {
        td_found_problem(&checking->found, visit->result, visit->problem);
        return TD_OK;
    }
    td_hills_sense(&checking->found, visit->name, visit->file);
    if (!td_hills_pairs_add(checking->pairs, visit->name, visit->file))
        return td_problem_set(problem, TD_NO_MEMORY, visit->name, 0, "no memory to compare it");
    return TD_OK;
}

int td_hills_check(const char *const *paths, size_t count, bool as_json)
{
    struct checking checking = {.found = {.as_json = as_json}, .pairs = td_hills_pairs_new()};
    struct td_findings *found = &checking.found;
    struct td_progress progress;
    td_progress_begin(&progress, "hills checked:");
    found->progress = &progress;
    if (checking.pairs == NULL)
        return td_tool_fail_words("hills check: no memory");
    for (size_t i = 0; i < count; i++) {
        struct td_problem problem = {0};
        enum td_result result = td_hills_visit(paths[i], check_one, &checking, &problem);
        if (result != TD_OK)
            td_found_problem(found, result, &problem);
    }
    if (!td_hills_pairs_tell(checking.pairs, found)) {
        td_hills_pairs_free(&checking.pairs);
        return td_tool_fail_words("hills check: no memory to compare the hills with each other");
    }
    td_progress_end(&progress);
    td_hills_pairs_free(&checking.pairs);
    if (!as_json)
        (void)printf("%zu profiles, %zu errors, %zu warnings\n", found->profiles, found->errors,
                     found->warnings);
    if (found->unreadable)
        return TD_EXIT_ERROR;
    return found->errors > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}
