/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Road, policy, air and brakes from the command line, for one plan as for a table of them. */
#include "tool/plan/plan_conditions.h"

#include <stdio.h>
#include <string.h>

#include "io/problem.h"

enum td_result td_plan_pick(const char *option, const char *text, const char *const words[],
                            int count, int otherwise, int *index, struct td_problem *problem)
{
    *index = otherwise;
    if (text == NULL)
        return TD_OK;
    for (int i = 0; i < count; i++)
        if (strcmp(text, words[i]) == 0) {
            *index = i;
            return TD_OK;
        }
    return td_problem_set(problem, TD_INVALID, NULL, 0, "%s \"%s\" is none of %s, %s%s%s", option,
                          text, words[0], words[1], count > 2 ? ", " : "",
                          count > 2 ? words[2] : "");
}

enum td_result td_plan_read_quantity(const char *option, const char *text,
                                     enum td_dimension dimension, double least, double most,
                                     const char *range, double *value, struct td_problem *problem)
{
    struct td_problem inner;
    double read = 0;
    if (td_quantity_parse(text, dimension, &read, &inner) != TD_OK)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s: %s", option, inner.text);
    if (!(read >= least && read <= most))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s \"%s\" is out of range; %s", option,
                              text, range);
    *value = read;
    return TD_OK;
}

enum td_result td_plan_read_weight(const char *text, double *kg, struct td_problem *problem)
{
    return td_plan_read_quantity("--weight", text, TD_DIM_MASS, 1000, 200e3,
                                 "1000 kg to 200 t, truck and load, would be right", kg, problem);
}

enum td_result td_plan_find_load(const struct td_rig *rig, const char *file, const char *name,
                                 size_t *load, struct td_problem *problem)
{
    char names[TD_RIG_LOADS_MAX * (TD_RIG_WORD_MAX + 2)] = "";
    if (name == NULL) {
        *load = rig->load_now;
        return TD_OK;
    }
    for (size_t i = 0; i < rig->load_count; i++) {
        size_t used = strlen(names);
        if (strcmp(rig->loads[i].name, name) == 0) {
            *load = i;
            return TD_OK;
        }
        (void)snprintf(names + used, sizeof names - used, "%s%s", i > 0 ? ", " : "",
                       rig->loads[i].name);
    }
    return td_problem_set(problem, TD_NOT_FOUND, file, 0, "no load \"%s\"; it names %s", name,
                          names);
}

bool td_plan_conditions_any(const struct td_plan_conditions *conditions)
{
    return conditions->road != NULL || conditions->credit != NULL ||
           conditions->ambient != NULL || conditions->brakes_from != NULL;
}

static enum td_result read_temperatures(const struct td_plan_conditions *conditions,
                                        struct td_plan_query *query, struct td_problem *problem)
{
    enum td_result result = TD_OK;
    if (conditions->ambient != NULL)
        result = td_plan_read_quantity("--ambient", conditions->ambient, TD_DIM_TEMPERATURE, -50,
                                       60, "-58 F to 140 F would be right", &query->ambient_c,
                                       problem);
    if (result == TD_OK && conditions->brakes_from != NULL)
        result = td_plan_read_quantity("--brakes-from", conditions->brakes_from,
                                       TD_DIM_TEMPERATURE, -50, 600,
                                       "-58 F to 1112 F would be right", &query->brakes_from_c,
                                       problem);
    return result;
}

enum td_result td_plan_conditions_read(const struct td_plan_conditions *conditions,
                                       struct td_plan_query *query, struct td_problem *problem)
{
    static const char *const roads[] = {"dry", "wet", "ice"};
    static const char *const credits[] = {"none", "cautious", "full"};
    int road = 0, credit = 0;
    enum td_result result =
        td_plan_pick("--road", conditions->road, roads, 3, TD_ROAD_DRY, &road, problem);
    if (result == TD_OK)
        result = td_plan_pick("--credit", conditions->credit, credits, 3, TD_CREDIT_CAUTIOUS,
                              &credit, problem);
    if (result == TD_OK)
        result = read_temperatures(conditions, query, problem);
    query->road = (enum td_road)road;
    query->credit = (enum td_credit)credit;
    query->speak_kmh = conditions->metric;
    return result;
}
