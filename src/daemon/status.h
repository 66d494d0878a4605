/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The answer to `tell status`: one JSON object, its keys a contract (docs/daemon.md). */
#ifndef TD_DAEMON_STATUS_H
#define TD_DAEMON_STATUS_H

#include <stdbool.h>

#include "daemon/cab.h"
#include "daemon/library.h"
#include "daemon/logger.h"
#include "io/gpsd.h"
#include "voice/voice.h"

struct td_status_library {
    struct td_on_board now;
    struct td_problem refused; /* what was not taken last, and why; text "" when nothing was */
};

struct td_status {
    const char *version;
    double up_s;
    const struct td_settings *settings;
    struct td_cab_state cab;
    struct td_status_library library;
    struct td_gpsd_state gpsd;
    struct td_voice_state voice;
    struct td_logger_state log;
    bool button_up;
};

/* For the caller to free; NULL without memory. */
char *td_status_text(const struct td_status *status);

#endif
