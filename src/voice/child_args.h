/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice options as arguments of the child's program, both ways. */
#ifndef TD_VOICE_CHILD_ARGS_H
#define TD_VOICE_CHILD_ARGS_H

#include "voice/voice.h"

enum { TD_CHILD_ARGS = 8, TD_CHILD_NUMBERS = 4 };

struct td_child_args {
    char numbers[TD_CHILD_NUMBERS][16];
    char *argv[TD_CHILD_ARGS + 1];
};

/* argv points into `args` and at the options' strings, which execv leaves alone. */
void td_child_args_write(const struct td_voice_options *options, int fd,
                         struct td_child_args *args);

#endif
