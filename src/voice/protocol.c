/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Packets between the coach process and the voice child. */
#include "voice/protocol.h"

#include <errno.h>
#include <string.h>
#include <sys/socket.h>

bool td_message_send(int fd, const struct td_message *message)
{
    ssize_t sent;
    do
        sent = send(fd, message, sizeof *message, MSG_NOSIGNAL | MSG_DONTWAIT);
    while (sent < 0 && errno == EINTR);
    return sent == (ssize_t)sizeof *message;
}

enum td_received td_message_receive(int fd, struct td_message *message)
{
    for (;;) {
        ssize_t got = recv(fd, message, sizeof *message, MSG_DONTWAIT | MSG_TRUNC);
        if (got == 0)
            return TD_PEER_GONE;
        if (got < 0 && errno != EINTR)
            return errno == EAGAIN || errno == EWOULDBLOCK ? TD_NOTHING_YET : TD_PEER_GONE;
        if (got == (ssize_t)sizeof *message && memchr(message->text, 0, sizeof message->text))
            return TD_RECEIVED;
    }
}
