/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole transfers over a stream socket or pipe with a deadline, for the synthesis server. */
#ifndef TD_VOICE_WIRE_H
#define TD_VOICE_WIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* False when the peer is gone, the system refused, or deadline_ns (td_voice_now_ns) passed;
 * INT64_MAX waits for ever. Never raises SIGPIPE. */
bool td_wire_send(int fd, const void *data, size_t length, int64_t deadline_ns);
bool td_wire_receive(int fd, void *data, size_t length, int64_t deadline_ns);
/* Waits until `fd` can be read or is closed. */
bool td_wire_wait(int fd, short events, int64_t deadline_ns);

/* A pair of connected stream sockets, closed on exec. */
bool td_wire_pair(int type, int fds[2]);

struct td_synth_request {
    uint32_t length; /* bytes of text that follow */
};
struct td_synth_reply {
    int32_t status;      /* enum td_result */
    uint32_t count;      /* samples that follow */
    char text[160];      /* problem, when status is not TD_OK */
};

enum { TD_SPEECH_BYTES_MAX = 512 };

/* The synthesis server: initialises eSpeak NG, answers with one reply (is the voice there?), then
 * one reply a request until the peer closes. Does not return. */
_Noreturn void td_synth_serve(int fd, const char *voice, int rate_wpm);

#endif
