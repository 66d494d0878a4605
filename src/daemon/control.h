/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The control socket: UNIX SEQPACKET, mode 0660, one request a packet, one reply a packet. Never
 * blocks; a client that does not read its reply is hung up on. At most 8 clients, each with one
 * request under way. Thread: the poll loop's. */
#ifndef TD_DAEMON_CONTROL_H
#define TD_DAEMON_CONTROL_H

#include <poll.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "io/request.h"

enum { TD_CONTROL_CLIENTS_MAX = 8, TD_CONTROL_POLLS_MAX = TD_CONTROL_CLIENTS_MAX + 1 };

struct td_control;

/* A socket left by a daemon that is gone is taken over; TD_INVALID when another one answers on it
 * or something else lies there. */
TD_CHECKED enum td_result td_control_open(const char *path, struct td_control **out,
                                          struct td_problem *problem);
/* Fills what to poll; returns how many. */
size_t td_control_polls(const struct td_control *control,
                        struct pollfd polls[TD_CONTROL_POLLS_MAX]);
/* After poll, with the same array. */
void td_control_ready(struct td_control *control, const struct pollfd *polls, size_t count);
/* The next request and whom to answer (never 0); requests that make no sense have been answered
 * already. False when there is none. */
bool td_control_request(struct td_control *control, struct td_request *request, uint32_t *client);
/* Once for every request taken; `client` may be gone by now. */
void td_control_reply(struct td_control *control, uint32_t client, const char *text);
void td_control_result(struct td_control *control, uint32_t client, enum td_result result,
                       const struct td_problem *problem);
/* Closes and removes the socket. */
void td_control_close(struct td_control **control);

#endif
