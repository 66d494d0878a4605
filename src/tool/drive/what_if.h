/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drive log driven once more: its fixes and its driver's commands through today's core, with
 * another truck, road, talk or hills where asked for, and a modelled voice; compared with what was
 * said then. */
#ifndef TD_TOOL_WHAT_IF_H
#define TD_TOOL_WHAT_IF_H

#include "tool/drive/drive_options.h"
#include "tool/drive/said.h"

struct td_what_if {
    struct td_said_list then, now;
    uint32_t lost;         /* steps the log itself says are missing */
    unsigned left_out;     /* commands that mean nothing to the other truck */
    unsigned failed_answers; /* hills that could not be read */
};

/* Of the options --rig, --load, --road, --talk, --metric, --phrases, --hills and --out count; what
 * is left out is as the log has it: its rig and setup, and the hills that it carries. With --out
 * the drive is written there as by a replay. Free both lists, whatever is returned. */
TD_CHECKED enum td_result td_what_if_run(const char *path, const struct td_drive_options *options,
                                         struct td_what_if *what_if, struct td_problem *problem);

#endif
