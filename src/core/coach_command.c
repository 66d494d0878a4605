/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the driver or the fleet tells the coach: load, road, engine brake, again, quiet. */
#include "core/coach_state.h"

static void refuse(struct td_output *output)
{
    td_event_add(output, TD_EVENT_REFUSED, TD_WHY_COMMAND, TD_REFUSED_COMMAND, NULL);
}

/* What would only be confusing a second time is left out. */
static bool can_be_repeated(enum td_prompt_id id)
{
    switch (id) {
    case TD_PROMPT_READY:
    case TD_PROMPT_SOUND_BACK:
    case TD_PROMPT_POSITION_BACK:
    case TD_PROMPT_NOTHING_TO_REPEAT:
    case TD_PROMPT_BRAKE_CHECK_PASSED:
        return false;
    default:
        return !td_prompt_is_menu(id);
    }
}

static void again(struct td_coach *coach, const struct td_moment *moment,
                  struct td_output *output)
{
    struct td_queue *queue = &coach->queue;
    for (unsigned i = 0; i < queue->spoken_count; i++) {
        struct td_prompt prompt = queue->spoken[i];
        enum td_why why;
        prompt.decided_ns = moment->now_ns;
        if (!can_be_repeated(prompt.id) ||
            td_cue_fill(moment, &coach->visit, &prompt, &why) != TD_FILL_READY)
            continue;
        td_queue_add(queue, moment, &prompt, TD_WHY_COMMAND, output);
        return;
    }
    td_coach_say(coach, moment, TD_PROMPT_NOTHING_TO_REPEAT, TD_WHY_COMMAND, output);
}

static void set_load(struct td_coach *coach, int32_t load, const struct td_moment *moment,
                     struct td_output *output)
{
    if (!coach->setup.rig_is_set || load < 0 || (size_t)load >= coach->setup.rig.load_count) {
        refuse(output);
        return;
    }
    coach->setup.rig.load_now = (size_t)load;
    coach->setup.load_confirmed = true;
    td_coach_replan(coach);
    td_coach_say(coach, moment, TD_PROMPT_SET_FOR, TD_WHY_COMMAND, output);
}

static void set_road(struct td_coach *coach, int32_t road, const struct td_moment *moment,
                     struct td_output *output)
{
    if (road < TD_ROAD_DRY || road > TD_ROAD_ICE) {
        refuse(output);
        return;
    }
    coach->setup.road = (enum td_road)road;
    td_coach_replan(coach);
    td_coach_say(coach, moment, TD_PROMPT_ROAD_SET, TD_WHY_COMMAND, output);
}

static void set_stage(struct td_coach *coach, int32_t stage, struct td_output *output)
{
    if (!coach->setup.rig_is_set || stage < -1 || stage >= (int32_t)coach->setup.rig.stage_count) {
        refuse(output);
        return;
    }
    coach->stage_most = (int)stage;
    td_coach_replan(coach);
}

/* One voice of the menu: what it said before is over. The words ask; nothing is set. */
static void say_menu(struct td_coach *coach, const struct td_moment *moment, enum td_prompt_id id,
                     struct td_arg arg, struct td_output *output)
{
    struct td_wishes wishes = {.count = 0};
    td_queue_clear_menu(&coach->queue, moment, output);
    td_cue_wish(&wishes, moment, id, -1, 0.0, TD_WHY_COMMAND);
    struct td_prompt *prompt = &wishes.list[0].prompt;
    td_cue_args(prompt, arg.unit == TD_UNIT_NONE ? 0 : 1, &arg);
    td_queue_add(&coach->queue, moment, prompt, TD_WHY_COMMAND, output);
}

static bool menu_makes_sense(const struct td_coach *coach, const struct td_command *command)
{
    const struct td_setup *setup = &coach->setup;
    switch (command->kind) {
    case TD_COMMAND_ASK_LOAD:
        return setup->rig_is_set && command->value >= 0 &&
               (size_t)command->value < setup->rig.load_count;
    case TD_COMMAND_ASK_ROAD:
        return command->value >= TD_ROAD_DRY && command->value <= TD_ROAD_ICE;
    case TD_COMMAND_ASK_ENGINE_BRAKE:
        return setup->rig_is_set && command->value >= -1 &&
               command->value < (int32_t)setup->rig.stage_count;
    default:
        return true;
    }
}

static void tell_menu(struct td_coach *coach, const struct td_command *command,
                      const struct td_moment *moment, struct td_output *output)
{
    if (!menu_makes_sense(coach, command)) {
        refuse(output);
        return;
    }
    struct td_arg none = {TD_UNIT_NONE, 0};
    if (command->kind == TD_COMMAND_ASK_LOAD)
        say_menu(coach, moment, TD_PROMPT_ASK_LOAD,
                 (struct td_arg){TD_UNIT_LOAD, command->value}, output);
    else if (command->kind == TD_COMMAND_ASK_ROAD)
        say_menu(coach, moment, TD_PROMPT_ASK_ROAD,
                 (struct td_arg){TD_UNIT_ROAD, command->value}, output);
    else if (command->kind == TD_COMMAND_MENU_CLOSED)
        say_menu(coach, moment, TD_PROMPT_MENU_CLOSED, none, output);
    else if (command->value < 0)
        say_menu(coach, moment, TD_PROMPT_ASK_NO_ENGINE_BRAKE, none, output);
    else
        say_menu(coach, moment, TD_PROMPT_ASK_ENGINE_BRAKE,
                 (struct td_arg){TD_UNIT_STAGE, command->value}, output);
}

void td_coach_command(struct td_coach *coach, const struct td_command *command,
                      const struct td_moment *moment, struct td_output *output)
{
    switch (command->kind) {
    case TD_COMMAND_NOTHING:
        return;
    case TD_COMMAND_AGAIN:
        again(coach, moment, output);
        return;
    case TD_COMMAND_QUIET:
        td_queue_quiet(&coach->queue, moment, &coach->visit, output);
        return;
    case TD_COMMAND_LOUD:
        coach->visit.over.muted = false;
        return;
    case TD_COMMAND_LOAD:
        set_load(coach, command->value, moment, output);
        return;
    case TD_COMMAND_ROAD:
        set_road(coach, command->value, moment, output);
        return;
    case TD_COMMAND_ENGINE_BRAKE:
        set_stage(coach, command->value, output);
        return;
    case TD_COMMAND_HILLS_CHANGED:
        if (command->value < 0) {
            refuse(output);
            return;
        }
        coach->setup.hills_on_board = (uint32_t)command->value;
        coach->asking.due = true;
        td_damaged_other_hills(&coach->damaged);
        td_queue_clear(&coach->queue, TD_PROMPT_LIBRARY_REFUSED, output);
        return;
    case TD_COMMAND_LIBRARY_REFUSED:
        td_coach_say(coach, moment, TD_PROMPT_LIBRARY_REFUSED, TD_WHY_COMMAND, output);
        return;
    case TD_COMMAND_LIBRARY_DAMAGED:
        td_damaged_told(&coach->damaged);
        return;
    case TD_COMMAND_ASK_LOAD:
    case TD_COMMAND_ASK_ROAD:
    case TD_COMMAND_ASK_ENGINE_BRAKE:
    case TD_COMMAND_MENU_CLOSED:
        tell_menu(coach, command, moment, output);
        return;
    case TD_COMMAND_KINDS:
        break;
    }
    refuse(output);
}
