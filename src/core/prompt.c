/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of prompts (key, category) and how distances and lengths are rounded for speech. */
#include "talkdown/prompt.h"

#include <math.h>
#include <stddef.h>

#include "talkdown/text.h"
#include "talkdown/units.h"

static const struct {
    const char *key;
    enum td_category category;
} prompts[TD_PROMPT_IDS] = {
    [TD_PROMPT_READY] = {"ready", TD_NOTICE},
    [TD_PROMPT_SET_FOR] = {"set_for", TD_NOTICE},
    [TD_PROMPT_LOAD_NOT_CONFIRMED] = {"load_not_confirmed", TD_NOTICE},
    [TD_PROMPT_RIG_NOT_SET] = {"rig_not_set", TD_NOTICE},
    [TD_PROMPT_HILL_AHEAD] = {"hill_ahead", TD_ADVICE},
    [TD_PROMPT_NO_GO] = {"no_go", TD_WARNING},
    [TD_PROMPT_BRAKE_CHECK_AHEAD] = {"brake_check_ahead", TD_CAUTION},
    [TD_PROMPT_BRAKE_CHECK_PASSED] = {"brake_check_passed", TD_CAUTION},
    [TD_PROMPT_BRIEFING] = {"briefing", TD_ADVICE},
    [TD_PROMPT_SLOW_FOR_GRADE] = {"slow_for_grade", TD_CAUTION},
    [TD_PROMPT_GEAR] = {"gear", TD_CAUTION},
    [TD_PROMPT_ENGINE_BRAKE] = {"engine_brake", TD_CAUTION},
    [TD_PROMPT_CEILING] = {"ceiling", TD_ADVICE},
    [TD_PROMPT_OVER_SPEED] = {"over_speed", TD_WARNING},
    [TD_PROMPT_ESCAPE_LANE] = {"escape_lane", TD_ADVICE},
    [TD_PROMPT_LAST_ESCAPE_LANE] = {"last_escape_lane", TD_ADVICE},
    [TD_PROMPT_BOTTOM_AHEAD] = {"bottom_ahead", TD_ADVICE},
    [TD_PROMPT_BOTTOM] = {"bottom", TD_ADVICE},
    [TD_PROMPT_POSITION_LOST] = {"position_lost", TD_CAUTION},
    [TD_PROMPT_POSITION_BACK] = {"position_back", TD_CAUTION},
    [TD_PROMPT_SOUND_BACK] = {"sound_back", TD_NOTICE},
    [TD_PROMPT_NOTHING_TO_REPEAT] = {"nothing_to_repeat", TD_NOTICE},
    [TD_PROMPT_ROAD_SET] = {"road_set", TD_NOTICE},
    [TD_PROMPT_LIBRARY_REFUSED] = {"library_refused", TD_NOTICE},
    [TD_PROMPT_NO_GO_ICE] = {"no_go_ice", TD_WARNING},
    [TD_PROMPT_CURVE] = {"curve", TD_CAUTION},
    [TD_PROMPT_LIMIT] = {"limit", TD_CAUTION},
    [TD_PROMPT_STEEPER] = {"steeper", TD_CAUTION},
    [TD_PROMPT_FALSE_BOTTOM] = {"false_bottom", TD_CAUTION},
    [TD_PROMPT_FLASHERS_ON] = {"flashers_on", TD_ADVICE},
    [TD_PROMPT_FLASHERS_OFF] = {"flashers_off", TD_ADVICE},
    [TD_PROMPT_CHAIN_AREA] = {"chain_area", TD_CAUTION},
    [TD_PROMPT_SPEED_BUILDING] = {"speed_building", TD_CAUTION},
    [TD_PROMPT_BRAKES_HEATING] = {"brakes_heating", TD_CAUTION},
    [TD_PROMPT_BRAKES_HOT] = {"brakes_hot", TD_WARNING},
    [TD_PROMPT_STOP_AT] = {"stop_at", TD_WARNING},
    [TD_PROMPT_ENGINE_OVER_SPEED] = {"engine_over_speed", TD_WARNING},
    [TD_PROMPT_RUNAWAY_LANE] = {"runaway_lane", TD_DANGER},
    [TD_PROMPT_TAKE_LANE] = {"take_lane", TD_DANGER},
    [TD_PROMPT_NO_LANE_AHEAD] = {"no_lane_ahead", TD_DANGER},
    [TD_PROMPT_HOT_PARKING] = {"hot_parking", TD_CAUTION},
    [TD_PROMPT_BRAKES_STILL_HOT] = {"brakes_still_hot", TD_CAUTION},
    [TD_PROMPT_GRADE_NOT_ON_FILE] = {"grade_not_on_file", TD_CAUTION},
    [TD_PROMPT_ASK_LOAD] = {"ask_load", TD_NOTICE},
    [TD_PROMPT_ASK_ROAD] = {"ask_road", TD_NOTICE},
    [TD_PROMPT_ASK_ENGINE_BRAKE] = {"ask_engine_brake", TD_NOTICE},
    [TD_PROMPT_ASK_NO_ENGINE_BRAKE] = {"ask_no_engine_brake", TD_NOTICE},
    [TD_PROMPT_MENU_CLOSED] = {"menu_closed", TD_NOTICE},
    [TD_PROMPT_HILL_DAMAGED] = {"hill_damaged", TD_CAUTION},
    [TD_PROMPT_LIBRARY_DAMAGED] = {"library_damaged", TD_CAUTION},
};

/* Ids and categories reach these from drive logs, so a number out of range is data, not a bug. */
const char *td_prompt_key(enum td_prompt_id id)
{
    return (unsigned)id < TD_PROMPT_IDS ? prompts[id].key : "unknown";
}

int td_prompt_from_key(const char *key)
{
    for (int id = 0; id < TD_PROMPT_IDS; id++)
        if (td_text_equal(prompts[id].key, key))
            return id;
    return -1;
}

enum td_category td_prompt_category(enum td_prompt_id id)
{
    return (unsigned)id < TD_PROMPT_IDS ? prompts[id].category : TD_NOTICE;
}

bool td_prompt_is_menu(enum td_prompt_id id)
{
    return id >= TD_PROMPT_ASK_LOAD && id <= TD_PROMPT_MENU_CLOSED;
}

const char *td_category_name(enum td_category category)
{
    static const char *const names[TD_CATEGORIES] = {"notice", "advice", "caution", "warning",
                                                     "danger"};
    return (unsigned)category < TD_CATEGORIES ? names[category] : "unknown";
}

enum { FEWEST_FEET = 500, QUARTERS_A_MILE = 4, HUNDREDS_A_KM = 10, FARTHEST = 999 };

static const struct td_arg nothing_to_say = {TD_UNIT_NONE, 0};

/* steps: whole steps of the small unit; a large unit holds steps_a_large of them. */
static struct td_arg arg_from_steps(double steps, int steps_a_large, struct td_arg small_step,
                                    enum td_unit large)
{
    if (steps < 1)
        return nothing_to_say;
    if (steps < steps_a_large)
        return (struct td_arg){small_step.unit, (int32_t)steps * small_step.value};
    return (struct td_arg){large, (int32_t)fmin(floor(steps / steps_a_large), FARTHEST)};
}

static struct td_arg arg_from_quarters(double quarters)
{
    return arg_from_steps(quarters, QUARTERS_A_MILE, (struct td_arg){TD_UNIT_QUARTER_MILE, 1},
                          TD_UNIT_MILE);
}

static struct td_arg arg_from_hundreds(double hundreds)
{
    return arg_from_steps(hundreds, HUNDREDS_A_KM, (struct td_arg){TD_UNIT_METRE, 100},
                          TD_UNIT_KM);
}

struct td_arg td_distance_arg(double distance_m, bool metric)
{
    if (!isfinite(distance_m) || distance_m < 0)
        return nothing_to_say;
    if (metric)
        return arg_from_hundreds(floor(distance_m / 100.0));
    double quarters = floor(td_mi_from_m(distance_m) * QUARTERS_A_MILE);
    if (quarters >= 1)
        return arg_from_quarters(quarters);
    int32_t feet = (int32_t)floor(td_ft_from_m(distance_m) / FEWEST_FEET) * FEWEST_FEET;
    return feet > 0 ? (struct td_arg){TD_UNIT_FOOT, feet} : nothing_to_say;
}

struct td_arg td_countdown_arg(double distance_m, bool metric)
{
    double quarters = floor(distance_m / (TD_M_PER_MI / QUARTERS_A_MILE));
    double half_m = floor(distance_m / 500.0) * 500.0;
    if (metric && half_m > 1000.0 && half_m < 5000.0 && fmod(half_m, 1000.0) > 0.0)
        return (struct td_arg){TD_UNIT_METRE, (int32_t)half_m};
    if (!metric && quarters > QUARTERS_A_MILE && quarters < 5.0 * QUARTERS_A_MILE &&
        fmod(quarters, QUARTERS_A_MILE) > 0.0)
        return (struct td_arg){TD_UNIT_QUARTER_MILE, (int32_t)quarters};
    return td_distance_arg(distance_m, metric);
}

static double m_from_arg(struct td_arg arg)
{
    static const double unit_m[TD_UNITS] = {
        [TD_UNIT_QUARTER_MILE] = TD_M_PER_MI / QUARTERS_A_MILE, [TD_UNIT_MILE] = TD_M_PER_MI,
        [TD_UNIT_FOOT] = TD_M_PER_FT, [TD_UNIT_METRE] = 1.0, [TD_UNIT_KM] = 1000.0,
    };
    return (double)arg.value * unit_m[arg.unit];
}

double td_countdown_mark_m(struct td_arg said)
{
    static const double km[] = {0.3, 0.5, 0.7, 1.0};
    bool metric = said.unit == TD_UNIT_METRE || said.unit == TD_UNIT_KM;
    double said_m = m_from_arg(said), mark_m = 0.0;
    for (size_t i = 0; metric && i < sizeof km / sizeof *km && km[i] * 1000.0 < said_m; i++)
        mark_m = km[i] * 1000.0;
    double whole_m = metric ? 1000.0 : TD_M_PER_MI;
    double step_m = said_m > 5.0 * whole_m ? whole_m : whole_m / (metric ? 2 : QUARTERS_A_MILE);
    double below_m = (ceil(said_m / step_m - 1e-9) - 1.0) * step_m;
    return metric && below_m <= 1000.0 ? mark_m : fmax(below_m, 0.0);
}

/* To the nearest step, but up where that would leave out more than a tenth of what there is. */
static double steps_of_length(double steps)
{
    double nearest = floor(steps + 0.5);
    return fmax(1.0, nearest < 0.9 * steps ? nearest + 1.0 : nearest);
}

struct td_arg td_length_arg(double length_m, bool metric)
{
    if (!isfinite(length_m) || length_m <= 0)
        return nothing_to_say;
    if (metric && length_m < 1000.0)
        return arg_from_hundreds(steps_of_length(length_m / 100.0));
    if (metric)
        return arg_from_hundreds(steps_of_length(length_m / 1000.0) * HUNDREDS_A_KM);
    double miles = td_mi_from_m(length_m);
    return miles < 1.0 ? arg_from_quarters(steps_of_length(miles * QUARTERS_A_MILE))
                       : arg_from_quarters(steps_of_length(miles) * QUARTERS_A_MILE);
}
