/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files of a rehearsal or replay: drive.db, prompts.txt and voice.wav in one folder. */
#ifndef TD_TOOL_CAB_OUTPUTS_H
#define TD_TOOL_CAB_OUTPUTS_H

#include <stdbool.h>
#include <stdio.h>

#include "io/drive_log.h"
#include "voice/sink.h"

struct td_cab_outputs {
    struct td_drive_log *log;
    FILE *prompts;
    struct td_sink *sink;
    char prompts_path[TD_PROBLEM_FILE_MAX];
};

/* Makes the folder when it is not there. Files of an earlier run: TD_INVALID, or with `replace`
 * they go first. On failure nothing is open; a folder or file made so far stays. */
TD_CHECKED enum td_result td_cab_outputs_open(struct td_cab_outputs *outputs, const char *dir,
                                              bool replace, bool sound,
                                              const struct td_drive_head *head,
                                              struct td_problem *problem);
/* Flushes and closes; accepts a zeroed one. */
enum td_result td_cab_outputs_close(struct td_cab_outputs *outputs, struct td_problem *problem);

#endif
