/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The set of drills, what each needs, and what is noted while one runs. */
#include "tool/drive/drill.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/units.h"

static const struct td_drill drills[] = {
    {.name = "late-brake-check",
     .wrong = "The driver thinks of the brake check area when it is too late, and goes by.",
     .driver = TD_DRIVER_CAREFUL,
     .slip = TD_SLIP_CHECK,
     .ask_count = 7,
     .ask = {TD_PROMPT_HILL_AHEAD, TD_PROMPT_BRAKE_CHECK_AHEAD, TD_PROMPT_BRAKE_CHECK_PASSED,
             TD_PROMPT_SLOW_FOR_GRADE, TD_PROMPT_GEAR, TD_PROMPT_ENGINE_BRAKE, TD_PROMPT_CEILING},
     .answer_count = 1,
     .answers = {TD_PROMPT_BRAKE_CHECK_AHEAD}},
    {.name = "missed-gear",
     .wrong = "The driver misses the gear, is left two gears higher, trusts the engine brake and "
              "keeps off the service brakes.",
     .driver = TD_DRIVER_CAREFUL,
     .slip = TD_SLIP_GEAR,
     .ask_count = 11,
     .ask = {TD_PROMPT_BRIEFING, TD_PROMPT_SLOW_FOR_GRADE, TD_PROMPT_GEAR, TD_PROMPT_ENGINE_BRAKE,
             TD_PROMPT_CEILING, TD_PROMPT_SPEED_BUILDING, TD_PROMPT_OVER_SPEED,
             TD_PROMPT_ENGINE_OVER_SPEED, TD_PROMPT_BRAKES_HEATING, TD_PROMPT_BRAKES_HOT,
             TD_PROMPT_STOP_AT},
     .answer_count = 3,
     .answers = {TD_PROMPT_SPEED_BUILDING, TD_PROMPT_OVER_SPEED, TD_PROMPT_ENGINE_OVER_SPEED}},
    {.name = "false-bottom",
     .wrong = "The driver takes an easing for the bottom and lets go of gear, engine brake and "
              "speed.",
     .driver = TD_DRIVER_CAREFUL,
     .slip = TD_SLIP_BOTTOM,
     .ask_count = 7,
     .ask = {TD_PROMPT_CEILING, TD_PROMPT_FALSE_BOTTOM, TD_PROMPT_STEEPER, TD_PROMPT_OVER_SPEED,
             TD_PROMPT_SPEED_BUILDING, TD_PROMPT_ENGINE_OVER_SPEED, TD_PROMPT_BOTTOM_AHEAD},
     .answer_count = 1,
     .answers = {TD_PROMPT_FALSE_BOTTOM}},
    {.name = "over-speed-curve",
     .wrong = "Before the sharpest bend of the grade the driver takes the engine brake off and "
              "lets it run.",
     .driver = TD_DRIVER_CAREFUL,
     .slip = TD_SLIP_CURVE,
     .ask_count = 5,
     .ask = {TD_PROMPT_CURVE, TD_PROMPT_OVER_SPEED, TD_PROMPT_SPEED_BUILDING,
             TD_PROMPT_ENGINE_OVER_SPEED, TD_PROMPT_LIMIT},
     .answer_count = 4,
     .answers = {TD_PROMPT_CURVE, TD_PROMPT_OVER_SPEED, TD_PROMPT_SPEED_BUILDING,
                 TD_PROMPT_ENGINE_OVER_SPEED}},
    {.name = "failing-brakes",
     .wrong = "The driver rides the service brakes, takes neither the planned gear nor the engine "
              "brake, and the service brakes fail.",
     .driver = TD_DRIVER_BRAKE_RIDER,
     .slip = TD_SLIP_BRAKES,
     .ask_count = 12,
     .ask = {TD_PROMPT_GEAR, TD_PROMPT_ENGINE_BRAKE, TD_PROMPT_ESCAPE_LANE,
             TD_PROMPT_LAST_ESCAPE_LANE, TD_PROMPT_SPEED_BUILDING, TD_PROMPT_OVER_SPEED,
             TD_PROMPT_ENGINE_OVER_SPEED, TD_PROMPT_BRAKES_HEATING, TD_PROMPT_BRAKES_HOT,
             TD_PROMPT_RUNAWAY_LANE, TD_PROMPT_TAKE_LANE, TD_PROMPT_NO_LANE_AHEAD},
     .answer_count = 8,
     .answers = {TD_PROMPT_SPEED_BUILDING, TD_PROMPT_OVER_SPEED, TD_PROMPT_ENGINE_OVER_SPEED,
                 TD_PROMPT_BRAKES_HEATING, TD_PROMPT_BRAKES_HOT, TD_PROMPT_RUNAWAY_LANE,
                 TD_PROMPT_TAKE_LANE, TD_PROMPT_NO_LANE_AHEAD}},
};

enum { DRILLS = sizeof drills / sizeof drills[0] };

const struct td_drill *td_drill_find(const char *name)
{
    for (size_t i = 0; i < DRILLS; i++)
        if (strcmp(drills[i].name, name) == 0)
            return &drills[i];
    return NULL;
}

void td_drill_list(FILE *to)
{
    for (size_t i = 0; i < DRILLS; i++)
        (void)fprintf(to, "%-18s %s\n", drills[i].name, drills[i].wrong);
}

static bool has_check(const struct td_hill *hill)
{
    for (size_t i = 0; i < hill->place_count; i++)
        if (hill->places[i].kind == TD_PLACE_BRAKE_CHECK && hill->places[i].at_m < hill->crest_m)
            return true;
    return false;
}

enum td_result td_drill_fits(const struct td_drill *drill, const struct td_plan_answer *answer,
                             struct td_problem *problem)
{
    const struct td_hill *hill = answer->hill;
    const struct td_plan *plan = &answer->plan;
    const char *lacks = NULL;
    if (!plan->coached)
        lacks = "is too gentle to be coached";
    else if (!plan->safe)
        lacks = "is refused by the plan for this truck and load, so nobody drives down it";
    else if (drill->slip == TD_SLIP_CHECK && !has_check(hill))
        lacks = "has no brake check area before its crest";
    else if (drill->slip == TD_SLIP_GEAR &&
             plan->descents[0].gear + 2 >= (int)answer->rig->gear_count)
        lacks = "leaves no two gears above the planned one to be left in";
    else if (drill->slip == TD_SLIP_BOTTOM && hill->easing_count == 0)
        lacks = "has no easing that could be taken for the bottom";
    else if (drill->slip == TD_SLIP_CURVE && td_slip_curve(hill) == NULL)
        lacks = "has no curve on its grade";
    if (lacks == NULL)
        return TD_OK;
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "drill %s: the hill %s; choose another hill, truck or load",
                          drill->name, lacks);
}

static bool was_begun(enum td_event_kind fate)
{
    return fate == TD_EVENT_STARTED || fate == TD_EVENT_SPOKEN || fate == TD_EVENT_CUT;
}

/* The array with room for one more; NULL without memory. */
static void *grown(void *array, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return array;
    size_t more = *room == 0 ? 64 : 2 * *room;
    void *made = realloc(array, more * size);
    if (made != NULL)
        *room = more;
    return made;
}

void td_drill_told(void *who, const struct td_prompt_line *line)
{
    struct td_drill_run *run = who;
    if (!line->issued || !was_begun(line->fate))
        return;
    struct td_prompt_line *lines =
        grown(run->lines, run->line_count, &run->line_room, sizeof *lines);
    if (lines == NULL) {
        run->no_memory = true;
        return;
    }
    run->lines = lines;
    lines[run->line_count++] = *line;
}

void td_drill_watch(struct td_drill_run *run, const struct td_trip *trip)
{
    if (run->moment_count > 0 &&
        trip->now_ns - run->moments[run->moment_count - 1].at_ns < TD_NS_PER_S)
        return;
    struct td_drill_moment *moments =
        grown(run->moments, run->moment_count, &run->moment_room, sizeof *moments);
    if (moments == NULL) {
        run->no_memory = true;
        return;
    }
    run->moments = moments;
    moments[run->moment_count++] = (struct td_drill_moment){
        trip->now_ns, trip->truck.along_m, trip->truck.speed_mps};
}

bool td_drill_answered(const struct td_drill_run *run)
{
    for (size_t i = 0; i < run->line_count; i++)
        for (unsigned k = 0; k < run->drill->answer_count; k++)
            if (run->lines[i].prompt.id == run->drill->answers[k])
                return true;
    return false;
}

bool td_drill_calls_no_curve(const struct td_drill *drill, const struct td_plan *plan)
{
    for (size_t i = 1; i < plan->stretch_count; i++)
        if (plan->stretches[i].limited_by == TD_LIMIT_CURVE &&
            plan->stretches[i].target_mps < plan->stretches[i - 1].target_mps)
            return false;
    return drill->slip == TD_SLIP_CURVE;
}

void td_drill_free(struct td_drill_run *run)
{
    free(run->lines);
    free(run->moments);
    *run = (struct td_drill_run){.drill = NULL};
}
