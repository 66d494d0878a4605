/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From settings to what a coach starts with. */
#ifndef TD_DAEMON_PREPARE_H
#define TD_DAEMON_PREPARE_H

#include "io/phrase_file.h"
#include "io/settings.h"
#include "talkdown/coach.h"

/* The language file of the settings, or the one that came with the program. */
TD_CHECKED enum td_result td_prepare_phrases(const struct td_settings *settings,
                                             struct td_phrase_file **out,
                                             struct td_problem *problem);

/* Rig (none where the settings name none), house rules, and what the state file carries over. A
 * state file that cannot be read is told to the journal and means a cold start. */
TD_CHECKED enum td_result td_prepare_setup(const struct td_settings *settings,
                                           const struct td_phrase_file *phrases, int64_t now_ns,
                                           struct td_setup *setup, struct td_problem *problem);

#endif
