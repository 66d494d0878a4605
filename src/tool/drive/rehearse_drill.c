/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan and the file of a drill. */
#include "tool/drive/rehearse_drill.h"

#include <math.h>
#include <stdlib.h>

#include "io/file.h"
#include "io/problem.h"

enum td_result td_rehearse_plan(const struct td_hill *hill, const struct td_setup *setup,
                                struct td_plan_answer *answer, struct td_problem *problem)
{
    const struct td_rig *rig = &setup->rig;
    struct td_plan_work *work = malloc(sizeof *work);
    if (work == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the plan");
    answer->hill = hill;
    answer->rig = rig;
    answer->load = rig->loads[rig->load_now].name;
    answer->limit_c = rig->brakes.limit_c;
    answer->query = td_plan_query_default(rig);
    answer->query.road = setup->road;
    answer->query.credit = setup->credit;
    if (isfinite(setup->ambient_c))
        answer->query.ambient_c = setup->ambient_c;
    answer->query.speak_kmh = setup->metric;
    td_plan_solve(hill, rig, &answer->query, work, &answer->plan);
    free(work);
    return TD_OK;
}

enum td_result td_rehearse_sheet(const char *dir, const struct td_drill_run *run,
                                 const struct td_plan_answer *answer, const struct td_trip *trip,
                                 int64_t start_ns, struct td_problem *problem)
{
    char path[TD_PROBLEM_FILE_MAX], *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    if (to != NULL)
        (void)td_drill_sheet(to, run, answer, trip, start_ns);
    if (to == NULL || fclose(to) != 0 || run->no_memory) {
        free(text);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the sheet");
    }
    (void)snprintf(path, sizeof path, "%s/drill.txt", dir);
    enum td_result result = td_file_write_private(path, text, length, false, problem);
    free(text);
    return result;
}

void td_rehearse_tell(FILE *to, const struct td_drill_run *run, const struct td_plan *plan,
                      const char *dir)
{
    if (td_drill_calls_no_curve(run->drill, plan))
        (void)fprintf(to, "drill %s: " TD_DRILL_NO_CURVE "\n", run->drill->name);
    if (td_drill_answered(run))
        (void)fprintf(to, "drill %s: questions and answers in %s/drill.txt\n", run->drill->name,
                      dir);
    else
        (void)fprintf(to, "drill %s: this drive gave no occasion for it; try another hill, load or "
                          "--seed\n", run->drill->name);
}
