/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What held for a whole drive, td_setup with its rig, as JSON and back, bit for bit. */
#ifndef TD_IO_SETUP_JSON_H
#define TD_IO_SETUP_JSON_H

#include <stddef.h>

#include "talkdown/coach.h"

/* For the caller to free; NULL when there is no memory or a name is not UTF-8. */
char *td_setup_to_json(const struct td_setup *setup);
/* Ranges of kind and count are checked; whether the rig is sound is td_rig_check's to say. */
TD_CHECKED enum td_result td_setup_from_json(const char *text, size_t length,
                                             struct td_setup *setup, struct td_problem *problem);

#endif
