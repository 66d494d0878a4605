/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the daemon tells whoever looks after it: lines on standard error. Thread: any. */
#ifndef TD_DAEMON_JOURNAL_H
#define TD_DAEMON_JOURNAL_H

#include <stdbool.h>

#include "talkdown/result.h"

enum td_level { TD_LEVEL_ERROR = 0, TD_LEVEL_WARN, TD_LEVEL_INFO, TD_LEVEL_DEBUG };

/* False for a word that is none of error, warn, info, debug. */
bool td_level_from_word(const char *word, enum td_level *level);
/* Before any other thread starts. */
void td_journal_level(enum td_level most);
/* One line, "talkdownd: warn: ...". */
void td_journal(enum td_level level, const char *format, ...) TD_PRINTF(2, 3);
void td_journal_problem(enum td_level level, const struct td_problem *problem);

#endif
