/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole transfers with a deadline. */
#include "voice/wire.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "voice/tell.h"

bool td_wire_wait(int fd, short events, int64_t deadline_ns)
{
    for (;;) {
        int timeout_ms = -1;
        if (deadline_ns != INT64_MAX) {
            int64_t left_ms = (deadline_ns - td_voice_now_ns() + 999999) / 1000000;
            timeout_ms = left_ms < 0 ? 0 : left_ms > 60000 ? 60000 : (int)left_ms;
        }
        struct pollfd wait = {fd, events, 0};
        int ready = poll(&wait, 1, timeout_ms);
        if (ready > 0)
            return true;
        if (ready == 0 && td_voice_now_ns() >= deadline_ns)
            return false;
        if (ready < 0 && errno != EINTR)
            return false;
    }
}

bool td_wire_send(int fd, const void *data, size_t length, int64_t deadline_ns)
{
    const char *from = data;
    while (length > 0) {
        ssize_t sent = send(fd, from, length, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (sent > 0) {
            from += sent;
            length -= (size_t)sent;
        } else if (errno == EAGAIN || errno == EWOULDBLOCK) {
            if (!td_wire_wait(fd, POLLOUT, deadline_ns))
                return false;
        } else if (errno != EINTR) {
            return false;
        }
    }
    return true;
}

bool td_wire_receive(int fd, void *data, size_t length, int64_t deadline_ns)
{
    char *to = data;
    while (length > 0) {
        if (!td_wire_wait(fd, POLLIN, deadline_ns))
            return false;
        ssize_t got = read(fd, to, length);
        if (got == 0 || (got < 0 && errno != EINTR && errno != EAGAIN))
            return false;
        if (got > 0) {
            to += got;
            length -= (size_t)got;
        }
    }
    return true;
}

bool td_wire_pair(int type, int fds[2])
{
    if (socketpair(AF_UNIX, type, 0, fds) != 0)
        return false;
    if (fcntl(fds[0], F_SETFD, FD_CLOEXEC) == 0 && fcntl(fds[1], F_SETFD, FD_CLOEXEC) == 0)
        return true;
    (void)close(fds[0]);
    (void)close(fds[1]);
    return false;
}
