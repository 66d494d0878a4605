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
        return true;
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
        td_queue_clear(&coach->queue, TD_PROMPT_LIBRARY_REFUSED, output);
        return;
    case TD_COMMAND_LIBRARY_REFUSED:
        td_coach_say(coach, moment, TD_PROMPT_LIBRARY_REFUSED, TD_WHY_COMMAND, output);
        return;
    }
    refuse(output);
}
