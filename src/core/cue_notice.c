/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Notices about the coach itself and what it knows: whether they still hold, and their numbers. */
#include "core/cue.h"

static enum td_fill fill_after(const struct td_moment *moment, struct td_prompt *prompt,
                               double after_s, struct td_arg arg)
{
    td_cue_args(prompt, arg.unit == TD_UNIT_NONE ? 0 : 1, &arg);
    td_cue_expire_after(moment, prompt, after_s);
    return TD_FILL_READY;
}

static const struct td_arg no_arg = {TD_UNIT_NONE, 0};

/* What it is set for, in the form that holds now. */
static bool setting_holds(const struct td_moment *moment, enum td_prompt_id id)
{
    bool set = moment->setup->rig_is_set, confirmed = moment->setup->load_confirmed;
    if (id == TD_PROMPT_RIG_NOT_SET)
        return !set;
    return set && confirmed == (id == TD_PROMPT_SET_FOR);
}

enum td_fill td_fill_notice(const struct td_moment *moment, struct td_prompt *prompt,
                            enum td_why *why)
{
    *why = TD_WHY_CLEARED;
    if (td_prompt_is_menu(prompt->id)) { /* its value was put in as it was asked */
        td_cue_expire_after(moment, prompt, 10.0);
        return TD_FILL_READY;
    }
    switch (prompt->id) {
    case TD_PROMPT_READY: {
        uint32_t hills = moment->setup->hills_on_board;
        int32_t count = hills > 1000000000u ? 1000000000 : (int32_t)hills;
        return fill_after(moment, prompt, 60.0, (struct td_arg){TD_UNIT_COUNT, count});
    }
    case TD_PROMPT_RIG_NOT_SET:
        return setting_holds(moment, prompt->id) ? fill_after(moment, prompt, 60.0, no_arg)
                                                 : TD_FILL_GONE;
    case TD_PROMPT_SET_FOR:
    case TD_PROMPT_LOAD_NOT_CONFIRMED:
        return setting_holds(moment, prompt->id)
                   ? fill_after(moment, prompt, 30.0, td_cue_weight_arg(moment))
                   : TD_FILL_GONE;
    case TD_PROMPT_POSITION_LOST:
        return moment->where == TD_WHERE_LOST ? fill_after(moment, prompt, 30.0, no_arg)
                                              : TD_FILL_GONE;
    case TD_PROMPT_POSITION_BACK:
        return moment->where != TD_WHERE_LOST && moment->where != TD_WHERE_NO_FIX
                   ? fill_after(moment, prompt, 15.0, no_arg)
                   : TD_FILL_GONE;
    case TD_PROMPT_GRADE_NOT_ON_FILE:
        return moment->where == TD_WHERE_OFF_FILE ? fill_after(moment, prompt, 15.0, no_arg)
                                                  : TD_FILL_GONE;
    case TD_PROMPT_HILL_DAMAGED:
        return moment->hill_damaged ? fill_after(moment, prompt, 60.0, no_arg) : TD_FILL_GONE;
    case TD_PROMPT_LIBRARY_DAMAGED:
        return moment->library_damaged ? fill_after(moment, prompt, 60.0, no_arg) : TD_FILL_GONE;
    case TD_PROMPT_ROAD_SET:
        return fill_after(moment, prompt, 20.0,
                          (struct td_arg){TD_UNIT_ROAD, (int32_t)moment->setup->road});
    case TD_PROMPT_SOUND_BACK:
    case TD_PROMPT_NOTHING_TO_REPEAT:
        return fill_after(moment, prompt, 10.0, no_arg);
    case TD_PROMPT_LIBRARY_REFUSED:
        return fill_after(moment, prompt, 60.0, no_arg);
    default:
        *why = TD_WHY_STATE;
        return TD_FILL_GONE;
    }
}
