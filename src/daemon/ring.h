/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A bounded queue of records between two threads, with a descriptor to poll. No put waits. */
#ifndef TD_DAEMON_RING_H
#define TD_DAEMON_RING_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/result.h"

struct td_ring;

/* `room` records of `item_size` bytes, of which the last `reserve` are for precious ones only. */
TD_CHECKED enum td_result td_ring_new(size_t item_size, size_t room, size_t reserve,
                                      struct td_ring **out);
/* Copies the record in; false when there is no room for it. */
bool td_ring_put(struct td_ring *ring, const void *item, bool precious);
/* Copies the oldest record out; false when there is none. */
bool td_ring_take(struct td_ring *ring, void *item);
/* Records waiting now. */
size_t td_ring_count(struct td_ring *ring);
/* Readable once something was put; td_ring_drain before taking until there is no more. */
int td_ring_fd(const struct td_ring *ring);
void td_ring_drain(struct td_ring *ring);
void td_ring_free(struct td_ring **ring);

#endif
