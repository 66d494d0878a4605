/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Messages between the coach process and its voice child: one fixed struct a packet of a
 * SOCK_SEQPACKET pair. Both ends are the same binary. */
#ifndef TD_VOICE_PROTOCOL_H
#define TD_VOICE_PROTOCOL_H

#include <stdbool.h>
#include <stdint.h>

#include "voice/wire.h"

enum td_message_kind {
    TD_MESSAGE_SPEAK = 1, /* serial, category, expires_in_ms, text: words */
    TD_MESSAGE_CUT,       /* serial */
    TD_MESSAGE_VOLUME,    /* value: percent */
    TD_MESSAGE_BEAT = 16, /* the child's heart */
    TD_MESSAGE_DEVICE,    /* value: 1 up, 0 down; text: its name, or the problem */
    TD_MESSAGE_REPORT,    /* serial; value: enum td_report_kind */
};

struct td_message {
    int32_t kind;
    uint32_t serial;
    int32_t value; /* also the category of SPEAK */
    int64_t expires_in_ms;
    char text[TD_SPEECH_BYTES_MAX + 1];
};

/* Never block. Sending is false when the peer is gone or its queue is full. */
bool td_message_send(int fd, const struct td_message *message);
enum td_received { TD_RECEIVED, TD_NOTHING_YET, TD_PEER_GONE };
/* A packet of another size, or a text without its end, is passed over. */
enum td_received td_message_receive(int fd, struct td_message *message);

#endif
