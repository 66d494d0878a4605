/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills that are on file and cannot be trusted. Silence about them would pass for a road without a
 * grade, so each is told once: where the truck is near it and on no hill that is coached, since the
 * words would be taken to be about that one. That hills may not be found at all waits likewise. */
#include "core/coach_state.h"

#include <string.h>

/* So many failed searches in a row (14 s of them) are a file that cannot be read. */
#define FAILURES_MOST 4

static bool holds(const struct td_damaged_list *list, uint32_t handle)
{
    for (unsigned i = 0; i < list->count; i++)
        if (list->handles[i] == handle)
            return true;
    return false;
}

/* The oldest makes room: so many damaged hills lie nowhere together. */
static void put(struct td_damaged_list *list, uint32_t handle)
{
    if (holds(list, handle))
        return;
    if (list->count == TD_DAMAGED_MAX) {
        list->count--;
        memmove(list->handles, list->handles + 1, list->count * sizeof list->handles[0]);
    }
    list->handles[list->count++] = handle;
}

void td_damaged_offered(struct td_damaged *damaged, uint32_t handle)
{
    put(&damaged->found, handle);
    put(&damaged->near, handle);
}

void td_damaged_answered(struct td_damaged *damaged)
{
    damaged->near = damaged->found;
    damaged->found.count = 0;
    if (damaged->unreadable)
        damaged->library = damaged->library_due = damaged->unreadable = false;
}

void td_damaged_failed(struct td_damaged *damaged, unsigned failures)
{
    damaged->found.count = 0;
    if (failures < FAILURES_MOST || damaged->library)
        return;
    damaged->unreadable = damaged->library = damaged->library_due = true;
}

void td_damaged_told(struct td_damaged *damaged)
{
    if (!damaged->library)
        damaged->library_due = true;
    damaged->library = true;
    damaged->unreadable = false;
}

void td_damaged_other_hills(struct td_damaged *damaged)
{
    *damaged = (struct td_damaged){.library = false};
}

static bool hill_due(const struct td_damaged *damaged)
{
    for (unsigned i = 0; i < damaged->near.count; i++)
        if (!holds(&damaged->told, damaged->near.handles[i]))
            return true;
    return false;
}

void td_coach_say_damaged(struct td_coach *coach, const struct td_moment *moment,
                          struct td_output *output)
{
    const struct td_damaged *damaged = &coach->damaged;
    if (!moment->sound_up)
        return;
    if (moment->hill_damaged && hill_due(damaged) &&
        !td_queue_has(&coach->queue, TD_PROMPT_HILL_DAMAGED))
        td_coach_say(coach, moment, TD_PROMPT_HILL_DAMAGED, TD_WHY_STATE, output);
    if (moment->library_damaged && damaged->library_due &&
        !td_queue_has(&coach->queue, TD_PROMPT_LIBRARY_DAMAGED))
        td_coach_say(coach, moment, TD_PROMPT_LIBRARY_DAMAGED, TD_WHY_STATE, output);
}

void td_damaged_issued(struct td_damaged *damaged, enum td_prompt_id id)
{
    if (id == TD_PROMPT_LIBRARY_DAMAGED)
        damaged->library_due = false;
    for (unsigned i = 0; id == TD_PROMPT_HILL_DAMAGED && i < damaged->near.count; i++)
        put(&damaged->told, damaged->near.handles[i]);
}
