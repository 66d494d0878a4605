/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The driver's one button: an input device, read through libevdev, which stays inside button.c.
 *
 * A path to a FIFO is read as the bare events that a device gives (struct input_event of
 * linux/input.h): for a switch box that a script reads, and for tests where there is no device.
 *
 * A press is told while it lasts: long as soon as it has lasted TD_BUTTON_LONG_MS, short as it ends
 * before that. What the kernel repeats while a key is held is passed over. A device that is not
 * there, or goes away, is looked for again every TD_BUTTON_RETRY_S seconds; a key held as it went
 * counts as let go of. Never blocks. */
#ifndef TD_IO_BUTTON_H
#define TD_IO_BUTTON_H

#include <stdbool.h>
#include <stdint.h>

#include "talkdown/menu.h"
#include "talkdown/result.h"

enum { TD_BUTTON_LONG_MS = 800, TD_BUTTON_RETRY_S = 5 };

struct td_button;

/* `path` of the device; "" for none, which is a button that is never pressed. `key` is a name of
 * linux/input-event-codes.h ("KEY_PLAYPAUSE"), "" for any key of the device. TD_INVALID for a name
 * that is none; a device that is not there is no error. */
TD_CHECKED enum td_result td_button_open(const char *path, const char *key, int64_t now_ns,
                                         struct td_button **out, struct td_problem *problem);
/* To be polled for reading; -1 while there is no device. */
int td_button_fd(const struct td_button *button);
/* Reads what has come and watches the time; call after each poll. */
void td_button_tick(struct td_button *button, int64_t now_ns);
/* Takes the next press; false when there is none. */
bool td_button_take(struct td_button *button, enum td_press *press);
/* Call td_button_tick then at the latest; INT64_MAX when only the device matters. */
int64_t td_button_next_ns(const struct td_button *button);
/* A device is open. */
bool td_button_up(const struct td_button *button);
void td_button_close(struct td_button **button);

#endif
