/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing a problem's one line (talkdown/result.h), and telling the time, inside src/voice. */
#ifndef TD_VOICE_TELL_H
#define TD_VOICE_TELL_H

#include <stdint.h>

#include "talkdown/result.h"

/* Fills the problem when it is not NULL; `file` may be NULL. Returns `result`, so that a caller
 * can return it. */
enum td_result td_voice_tell(struct td_problem *problem, enum td_result result, const char *file,
                             const char *format, ...) TD_PRINTF(4, 5);

/* Monotonic, for deadlines inside one process. */
int64_t td_voice_now_ns(void);

#endif
