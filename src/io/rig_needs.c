/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a rig cannot be without, looked for when file and bases are one. */
#include <stdio.h>

#include "io/problem.h"
#include "io/rig_text.h"
#include "talkdown/text.h"

/* NULL-ended; "" names the top. */
struct need {
    const char *in;
    const char *keys[16];
};

static const struct need top = {
    "", {"gearbox", "loads", "axles", "braked_axles", "tyre_radius", "rolling_resistance",
         "drag_area", "driveline_efficiency", "axle_ratio", "rotating_wheels", "engine", "gears"}};
static const struct need engine = {"engine", {"inertia", "least", "best", "most", "motoring"}};
/* Only where there is a retarder at all. */
static const struct need retarder = {
    "retarder", {"stages", "heat_capacity", "cooling", "derates_from", "derates_to", "least"}};

static enum td_result look_for(const struct td_yaml *yaml, const struct need *need,
                               struct td_problem *problem)
{
    const char *dot = need->in[0] != '\0' ? "." : "", *colon = need->in[0] != '\0' ? ": " : "";
    for (const char *const *key = need->keys; *key != NULL; key++) {
        char path[TD_YAML_PATH_MAX], words[TD_YAML_PATH_MAX];
        (void)snprintf(path, sizeof path, "%s%s%s", need->in, dot, *key);
        if (td_yaml_line(yaml, path) > 0)
            continue;
        (void)snprintf(words, sizeof words, "%s%slacks the key \"%s\"; it is needed", need->in,
                       colon, *key);
        return td_yaml_complain(yaml, need->in, problem, TD_INVALID, words);
    }
    return TD_OK;
}

/* An empty list takes the base's retarder away; figures of one beside it are a slip. */
static enum td_result no_retarder(const struct td_yaml *yaml, struct td_problem *problem)
{
    for (const char *const *key = retarder.keys + 1; *key != NULL; key++) {
        char path[TD_YAML_PATH_MAX];
        (void)snprintf(path, sizeof path, "retarder.%s", *key);
        if (td_yaml_has(yaml, path))
            return td_yaml_problem(yaml, path, problem,
                                   "is of a retarder without stages; list them or leave it out");
    }
    return TD_OK;
}

enum td_result td_rig_needs(const struct td_yaml *yaml, const struct td_rig_text *text,
                            struct td_problem *problem)
{
    if (!td_yaml_has(yaml, "name"))
        return td_yaml_complain(yaml, "", problem, TD_INVALID,
                                text->base == NULL
                                    ? "lacks the key \"name\"; it is needed"
                                    : "lacks the key \"name\"; a rig with a base needs one of its "
                                      "own, or nobody can tell the two apart");
    enum td_result result = look_for(yaml, &top, problem);
    if (result == TD_OK)
        result = look_for(yaml, &engine, problem);
    if (result != TD_OK || td_yaml_line(yaml, "retarder") == 0)
        return result;
    if (td_yaml_line(yaml, "retarder.stages") > 0 && text->retarder.stages_count == 0)
        return no_retarder(yaml, problem);
    return look_for(yaml, &retarder, problem);
}
