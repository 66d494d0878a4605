/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The daemon: one poll loop over gpsd, the voice, the I/O thread, the control socket, signals and a
 * timer. */
#ifndef TD_DAEMON_DAEMON_H
#define TD_DAEMON_DAEMON_H

#include "io/settings.h"
#include "talkdown/result.h"

struct td_daemon_options {
    const char *version;         /* "0.1.0" */
    const char *program;         /* path of this binary, for the voice process */
    struct td_settings settings;
};

/* Looks at everything the settings name without starting anything; for --check. */
TD_CHECKED enum td_result td_daemon_check(const struct td_daemon_options *options,
                                          struct td_problem *problem);
/* Runs until SIGTERM or SIGINT. Anything but TD_OK: it could not start, and the problem says why.
 * Blocks these signals and SIGHUP for the process. */
TD_CHECKED enum td_result td_daemon_run(const struct td_daemon_options *options,
                                        struct td_problem *problem);

#endif
