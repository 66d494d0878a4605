/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of a running daemon, for daemon.c and commands.c. */
#ifndef TD_DAEMON_PARTS_H
#define TD_DAEMON_PARTS_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/daemon.h"
#include "daemon/status.h"
#include "io/button.h"
#include "io/phrase_file.h"

struct td_daemon {
    const struct td_daemon_options *options;
    char name[64]; /* "talkdownd 0.1.0" */
    int signal_fd, timer_fd;
    struct td_gpsd *gpsd;
    struct td_phrase_file *phrases;
    struct td_control *control;
    struct td_library *library;
    struct td_logger *logger;
    struct td_voice *voice;
    struct td_cab *cab;
    struct td_status_library on_board;
    struct td_button *button;
    struct td_menu menu;
    int64_t now_ns, started_ns, save_ns;
    int64_t watchdog_every_ns, watchdog_ns; /* every 0: nobody watches */
    bool stopping;
};

#endif
