/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The English phrase file with something to fill its slots. */
#include "support/english.h"

#include <stdio.h>

#include "support/cm.h"

static struct td_rig rig = {
    .name = "five-axle",
    .gearbox = TD_GEARBOX_MANUAL,
    .gears = {{"low", 14.0}, {"second", 10.0}, {"third", 7.4}, {"seventh", 1.9}},
    .gear_count = 4,
    .stages = {{.name = "low"}, {.name = "high"}},
    .stage_count = 2,
    .loads = {{.name = "full"}, {.name = "bobtail"}},
    .load_count = 2,
};

static const struct td_place places[] = {
    {.kind = TD_PLACE_ESCAPE_LANE, .side = TD_SIDE_RIGHT, .material = "", .say = "", .name = ""},
    {.kind = TD_PLACE_ESCAPE_LANE, .side = TD_SIDE_LEFT, .material = "",
     .say = "Runaway truck ramp", .name = ""},
    {.kind = TD_PLACE_ESCAPE_LANE, .has = TD_PLACE_CLOSED, .side = TD_SIDE_RIGHT, .material = "",
     .say = "", .name = ""},
    {.kind = TD_PLACE_STOP, .material = "", .say = "", .name = ""},
    {.kind = TD_PLACE_TURN_OUT, .side = TD_SIDE_RIGHT, .material = "", .say = "", .name = ""},
    {.kind = TD_PLACE_BRAKE_CHECK, .side = TD_SIDE_RIGHT, .material = "", .say = "", .name = ""},
    {.kind = TD_PLACE_CHAIN_AREA, .side = TD_SIDE_RIGHT, .material = "", .say = "", .name = ""},
};

static const struct td_hill hill = {
    .id = "made-up", .name = "Made up", .places = places, .place_count = 7};

const char *english_language(unsigned index)
{
    static const char *const languages[] = {"en-us", "es-419", "fr-ca"};
    return index < sizeof languages / sizeof languages[0] ? languages[index] : NULL;
}

struct td_phrase_file *english_open_language(const char *language)
{
    struct td_phrase_file *file = NULL;
    struct td_problem problem = {.text = ""};
    char path[256];
    (void)snprintf(path, sizeof path, TD_SOURCE_DIR "/sounds/phrases/%s.yaml", language);
    if (td_phrase_file_read(path, &file, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return file;
}

struct td_phrase_file *english_open(void)
{
    return english_open_language(english_language(0));
}

const struct td_rig *english_rig(void)
{
    return &rig;
}

void english_variant(enum td_gearbox gearbox, enum td_holder holder)
{
    rig.gearbox = gearbox;
    for (size_t i = 0; i < rig.stage_count; i++)
        rig.stages[i].kind = holder;
}

const struct td_hill *english_hill(void)
{
    return &hill;
}

struct td_prompt english_prompt(enum td_prompt_id id, unsigned count, const struct td_arg *args)
{
    struct td_prompt prompt = {.serial = 1,
                               .id = id,
                               .category = td_prompt_category(id),
                               .hill_handle = 1,
                               .place = -1,
                               .arg_count = count};
    for (unsigned i = 0; i < count && i < TD_PROMPT_ARGS_MAX; i++)
        prompt.args[i] = args[i];
    return prompt;
}

void english_say(const struct td_phrase_file *file, const struct td_prompt *prompt, char *words)
{
    words[0] = '\0';
    if (td_phrase_words(td_phrase_file_book(file), prompt, &hill, &rig, words) != TD_OK)
        words[0] = '\0';
}

static const struct {
    enum td_prompt_id id;
    unsigned count;
    struct td_arg args[3];
} longest[] = {
    {TD_PROMPT_READY, 1, {{TD_UNIT_COUNT, 77}}},
    {TD_PROMPT_READY, 1, {{TD_UNIT_COUNT, 77999}}},
    {TD_PROMPT_READY, 1, {{TD_UNIT_COUNT, 100000}}},
    {TD_PROMPT_SET_FOR, 1, {{TD_UNIT_LB, 79900}}},
    {TD_PROMPT_SET_FOR, 1, {{TD_UNIT_LB, 77700}}},
    {TD_PROMPT_SET_FOR, 1, {{TD_UNIT_LB, 177700}}},
    {TD_PROMPT_SET_FOR, 1, {{TD_UNIT_KG, 77700}}},
    {TD_PROMPT_LOAD_NOT_CONFIRMED, 1, {{TD_UNIT_LB, 77700}}},
    {TD_PROMPT_LOAD_NOT_CONFIRMED, 1, {{TD_UNIT_KG, 77700}}},
    {TD_PROMPT_RIG_NOT_SET, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_HILL_AHEAD, 2, {{TD_UNIT_PERCENT, 17}, {TD_UNIT_QUARTER_MILE, 3}}},
    {TD_PROMPT_HILL_AHEAD, 2, {{TD_UNIT_PERCENT, 11}, {TD_UNIT_MILE, 27}}},
    {TD_PROMPT_HILL_AHEAD, 2, {{TD_UNIT_PERCENT, 11}, {TD_UNIT_KM, 27}}},
    {TD_PROMPT_NO_GO, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_NO_GO_ICE, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BRAKE_CHECK_AHEAD, 2, {{TD_UNIT_QUARTER_MILE, 3}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_BRAKE_CHECK_AHEAD, 2, {{TD_UNIT_FOOT, 1000}, {TD_UNIT_SIDE, TD_SIDE_LEFT}}},
    {TD_PROMPT_BRAKE_CHECK_AHEAD, 2, {{TD_UNIT_METRE, 700}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_BRAKE_CHECK_PASSED, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BRIEFING, 2, {{TD_UNIT_GEAR, 3}, {TD_UNIT_MPH, 35}}},
    {TD_PROMPT_SLOW_FOR_GRADE, 1, {{TD_UNIT_MPH, 35}}},
    {TD_PROMPT_SLOW_FOR_GRADE, 1, {{TD_UNIT_MPH, 15}}},
    {TD_PROMPT_GEAR, 1, {{TD_UNIT_GEAR, 3}}},
    {TD_PROMPT_ENGINE_BRAKE, 1, {{TD_UNIT_STAGE, 1}}},
    {TD_PROMPT_CEILING, 1, {{TD_UNIT_MPH, 35}}},
    {TD_PROMPT_OVER_SPEED, 1, {{TD_UNIT_MPH, 15}}},
    {TD_PROMPT_OVER_SPEED, 1, {{TD_UNIT_MPH, 35}}},
    {TD_PROMPT_OVER_SPEED, 1, {{TD_UNIT_KMH, 75}}},
    {TD_PROMPT_ESCAPE_LANE,
     3,
     {{TD_UNIT_PLACE, 1}, {TD_UNIT_QUARTER_MILE, 3}, {TD_UNIT_SIDE, TD_SIDE_LEFT}}},
    {TD_PROMPT_ESCAPE_LANE,
     3,
     {{TD_UNIT_PLACE, 0}, {TD_UNIT_METRE, 700}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_LAST_ESCAPE_LANE, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BOTTOM_AHEAD,
     2,
     {{TD_UNIT_QUARTER_MILE, 3}, {TD_UNIT_NEXT, TD_NEXT_RAIL_CROSSING}}},
    {TD_PROMPT_BOTTOM, 2, {{TD_UNIT_NEXT, TD_NEXT_RAIL_CROSSING}, {TD_UNIT_QUARTER_MILE, 3}}},
    {TD_PROMPT_BOTTOM, 2, {{TD_UNIT_NEXT, TD_NEXT_GRADE}, {TD_UNIT_METRE, 700}}},
    {TD_PROMPT_POSITION_LOST, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_POSITION_BACK, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_SOUND_BACK, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_NOTHING_TO_REPEAT, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_ROAD_SET, 1, {{TD_UNIT_ROAD, TD_ROAD_ICE}}},
    {TD_PROMPT_LIBRARY_REFUSED, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_CURVE, 2, {{TD_UNIT_SIDE, TD_SIDE_RIGHT}, {TD_UNIT_MPH, 35}}},
    {TD_PROMPT_CURVE, 2, {{TD_UNIT_SIDE, TD_SIDE_LEFT}, {TD_UNIT_KMH, 75}}},
    {TD_PROMPT_LIMIT, 1, {{TD_UNIT_MPH, 35}}},
    {TD_PROMPT_STEEPER, 1, {{TD_UNIT_PERCENT, 11}}},
    {TD_PROMPT_FALSE_BOTTOM, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_FLASHERS_ON, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_FLASHERS_OFF, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_CHAIN_AREA, 2, {{TD_UNIT_QUARTER_MILE, 3}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_SPEED_BUILDING, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BRAKES_HEATING, 2, {{TD_UNIT_PLACE, 4}, {TD_UNIT_QUARTER_MILE, 3}}},
    {TD_PROMPT_BRAKES_HEATING, 2, {{TD_UNIT_PLACE, 4}, {TD_UNIT_METRE, 700}}},
    {TD_PROMPT_BRAKES_HOT, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_STOP_AT, 2, {{TD_UNIT_PLACE, 4}, {TD_UNIT_QUARTER_MILE, 2}}},
    {TD_PROMPT_BRAKES_HEATING, 2, {{TD_UNIT_PLACE, 5}, {TD_UNIT_QUARTER_MILE, 3}}},
    {TD_PROMPT_STOP_AT, 2, {{TD_UNIT_PLACE, 5}, {TD_UNIT_QUARTER_MILE, 2}}},
    {TD_PROMPT_STOP_AT, 2, {{TD_UNIT_PLACE, 6}, {TD_UNIT_QUARTER_MILE, 2}}},
    {TD_PROMPT_ENGINE_OVER_SPEED, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_RUNAWAY_LANE,
     3,
     {{TD_UNIT_PLACE, 0}, {TD_UNIT_QUARTER_MILE, 2}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_RUNAWAY_LANE,
     3,
     {{TD_UNIT_PLACE, 0}, {TD_UNIT_QUARTER_MILE, 3}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_RUNAWAY_LANE,
     3,
     {{TD_UNIT_PLACE, 1}, {TD_UNIT_QUARTER_MILE, 7}, {TD_UNIT_SIDE, TD_SIDE_UNKNOWN}}},
    {TD_PROMPT_RUNAWAY_LANE,
     3,
     {{TD_UNIT_PLACE, 1}, {TD_UNIT_METRE, 4500}, {TD_UNIT_SIDE, TD_SIDE_UNKNOWN}}},
    {TD_PROMPT_TAKE_LANE, 2, {{TD_UNIT_PLACE, 1}, {TD_UNIT_SIDE, TD_SIDE_LEFT}}},
    {TD_PROMPT_TAKE_LANE, 2, {{TD_UNIT_PLACE, 0}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_NO_LANE_AHEAD, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_HOT_PARKING, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BRAKES_STILL_HOT, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_GRADE_NOT_ON_FILE, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_ASK_LOAD, 1, {{TD_UNIT_LOAD, 1}}},
    {TD_PROMPT_ASK_ROAD, 1, {{TD_UNIT_ROAD, TD_ROAD_ICE}}},
    {TD_PROMPT_ASK_ENGINE_BRAKE, 1, {{TD_UNIT_STAGE, 1}}},
    {TD_PROMPT_ASK_NO_ENGINE_BRAKE, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_MENU_CLOSED, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_HILL_DAMAGED, 0, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_LIBRARY_DAMAGED, 0, {{TD_UNIT_NONE, 0}}},
};

bool english_longest(unsigned index, struct td_prompt *prompt)
{
    if (index >= sizeof longest / sizeof longest[0])
        return false;
    *prompt = english_prompt(longest[index].id, longest[index].count, longest[index].args);
    return true;
}

/* One argument swept while the others stay. */
static const struct {
    enum td_prompt_id id;
    unsigned count, swept;
    enum td_unit unit;
    int32_t from, to, step;
    struct td_arg args[3];
} sweeps[] = {
    {TD_PROMPT_OVER_SPEED, 1, 0, TD_UNIT_MPH, 5, 65, 5, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_CEILING, 1, 0, TD_UNIT_MPH, 5, 65, 5, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_SLOW_FOR_GRADE, 1, 0, TD_UNIT_MPH, 5, 65, 5, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BRIEFING, 2, 1, TD_UNIT_MPH, 5, 65, 5, {{TD_UNIT_GEAR, 2}, {TD_UNIT_NONE, 0}}},
    {TD_PROMPT_GEAR, 1, 0, TD_UNIT_GEAR, 0, 3, 1, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_ENGINE_BRAKE, 1, 0, TD_UNIT_STAGE, 0, 1, 1, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_SET_FOR, 1, 0, TD_UNIT_LB, 14000, 80000, 7300, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_READY, 1, 0, TD_UNIT_COUNT, 0, 21, 3, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_ROAD_SET, 1, 0, TD_UNIT_ROAD, 0, 2, 1, {{TD_UNIT_NONE, 0}}},
    {TD_PROMPT_HILL_AHEAD,
     2,
     0,
     TD_UNIT_PERCENT,
     4,
     17,
     1,
     {{TD_UNIT_NONE, 0}, {TD_UNIT_MILE, 3}}},
    {TD_PROMPT_HILL_AHEAD,
     2,
     1,
     TD_UNIT_MILE,
     1,
     12,
     1,
     {{TD_UNIT_PERCENT, 7}, {TD_UNIT_NONE, 0}}},
    {TD_PROMPT_BRAKE_CHECK_AHEAD,
     2,
     0,
     TD_UNIT_QUARTER_MILE,
     1,
     3,
     1,
     {{TD_UNIT_NONE, 0}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_ESCAPE_LANE,
     3,
     1,
     TD_UNIT_QUARTER_MILE,
     1,
     3,
     1,
     {{TD_UNIT_PLACE, 0}, {TD_UNIT_NONE, 0}, {TD_UNIT_SIDE, TD_SIDE_RIGHT}}},
    {TD_PROMPT_BOTTOM,
     2,
     0,
     TD_UNIT_NEXT,
     0,
     4,
     1,
     {{TD_UNIT_NONE, 0}, {TD_UNIT_QUARTER_MILE, 1}}},
    {TD_PROMPT_BOTTOM_AHEAD,
     2,
     1,
     TD_UNIT_NEXT,
     0,
     4,
     1,
     {{TD_UNIT_QUARTER_MILE, 1}, {TD_UNIT_NONE, 0}}},
};

bool english_every(unsigned index, struct td_prompt *prompt)
{
    unsigned first = sizeof longest / sizeof longest[0];
    if (index < first)
        return english_longest(index, prompt);
    index -= first;
    for (size_t i = 0; i < sizeof sweeps / sizeof sweeps[0]; i++) {
        unsigned steps = (unsigned)((sweeps[i].to - sweeps[i].from) / sweeps[i].step) + 1;
        if (index >= steps) {
            index -= steps;
            continue;
        }
        *prompt = english_prompt(sweeps[i].id, sweeps[i].count, sweeps[i].args);
        prompt->args[sweeps[i].swept] = (struct td_arg){
            sweeps[i].unit, sweeps[i].from + (int32_t)index * sweeps[i].step};
        return true;
    }
    return false;
}
