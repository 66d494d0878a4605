/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One utterance in a process of its own, with a limit of time and of length. */
#ifndef TD_VOICE_UTTER_H
#define TD_VOICE_UTTER_H

#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"

/* Runs in the child: writes 16-bit samples to `fd`; true when all went well. */
typedef int td_speak_fn(int fd, const char *words);

/* Forks, collects what `speak` writes and puts the count in *count. A child not done within
 * limit_ns is killed: TD_IO. As many samples as `room` or more: TD_FULL. A crash or a 0 from
 * `speak`: TD_IO. *why then says it in words. The caller has one thread, or children that start
 * none. */
TD_CHECKED enum td_result td_utter(td_speak_fn *speak, const char *words, int64_t limit_ns,
                                   int16_t *samples, size_t room, size_t *count, const char **why);

#endif
