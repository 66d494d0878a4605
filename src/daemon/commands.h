/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What comes over the control socket, done. */
#ifndef TD_DAEMON_COMMANDS_H
#define TD_DAEMON_COMMANDS_H

#include <stdint.h>

#include "daemon/library.h"
#include "daemon/parts.h"

/* Every request that has come in. */
void td_daemon_requests(struct td_daemon *daemon);
/* What the driver pressed, and what of the menu time or motion closes. */
void td_daemon_button(struct td_daemon *daemon);
/* Looks at the hills anew; `client` is answered when it is done, 0 is nobody (a signal). */
void td_daemon_reload(struct td_daemon *daemon, uint32_t client);
/* The I/O thread is done with a reload or a rig. */
void td_daemon_answered(struct td_daemon *daemon, struct td_answer *answer);

#endif
