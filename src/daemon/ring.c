/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bounded queue: a mutex held for one copy, and an eventfd. */
#include "daemon/ring.h"

#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

struct td_ring {
    pthread_mutex_t lock;
    int fd;
    size_t item_size, room, reserve, first, count;
    unsigned char *items;
};

enum td_result td_ring_new(size_t item_size, size_t room, size_t reserve, struct td_ring **out)
{
    struct td_ring *ring = calloc(1, sizeof *ring);
    if (ring == NULL)
        return TD_NO_MEMORY;
    ring->item_size = item_size;
    ring->room = room;
    ring->reserve = reserve;
    ring->items = calloc(room, item_size);
    ring->fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    if (ring->items == NULL || ring->fd < 0 || pthread_mutex_init(&ring->lock, NULL) != 0) {
        if (ring->fd >= 0)
            (void)close(ring->fd);
        free(ring->items);
        free(ring);
        return TD_NO_MEMORY;
    }
    *out = ring;
    return TD_OK;
}

bool td_ring_put(struct td_ring *ring, const void *item, bool precious)
{
    (void)pthread_mutex_lock(&ring->lock);
    bool fits = ring->count < (precious ? ring->room : ring->room - ring->reserve);
    if (fits) {
        size_t at = (ring->first + ring->count) % ring->room;
        memcpy(ring->items + at * ring->item_size, item, ring->item_size);
        ring->count++;
    }
    (void)pthread_mutex_unlock(&ring->lock);
    uint64_t one = 1;
    if (fits) {
        ssize_t put = write(ring->fd, &one, sizeof one);
        (void)put; /* fails only when it is readable already */
    }
    return fits;
}

bool td_ring_take(struct td_ring *ring, void *item)
{
    (void)pthread_mutex_lock(&ring->lock);
    bool some = ring->count > 0;
    if (some) {
        memcpy(item, ring->items + ring->first * ring->item_size, ring->item_size);
        ring->first = (ring->first + 1) % ring->room;
        ring->count--;
    }
    (void)pthread_mutex_unlock(&ring->lock);
    return some;
}

size_t td_ring_count(struct td_ring *ring)
{
    (void)pthread_mutex_lock(&ring->lock);
    size_t count = ring->count;
    (void)pthread_mutex_unlock(&ring->lock);
    return count;
}

int td_ring_fd(const struct td_ring *ring)
{
    return ring->fd;
}

void td_ring_drain(struct td_ring *ring)
{
    uint64_t times;
    ssize_t got = read(ring->fd, &times, sizeof times);
    (void)got; /* nothing to read is as good */
}

void td_ring_free(struct td_ring **ring)
{
    if (ring == NULL || *ring == NULL)
        return;
    (void)close((*ring)->fd);
    (void)pthread_mutex_destroy(&(*ring)->lock);
    free((*ring)->items);
    free(*ring);
    *ring = NULL;
}
