/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What may be asked over the control socket (docs/daemon.md). */
#ifndef TD_IO_REQUEST_H
#define TD_IO_REQUEST_H

#include <stddef.h>

#include "talkdown/result.h"

enum td_request_kind {
    TD_REQUEST_STATUS = 0,
    TD_REQUEST_AGAIN,
    TD_REQUEST_QUIET,
    TD_REQUEST_LOUD,
    TD_REQUEST_ROAD,         /* word: dry, wet, ice */
    TD_REQUEST_LOAD,         /* word: name of a load */
    TD_REQUEST_ENGINE_BRAKE, /* word: off, full or the name of a stage */
    TD_REQUEST_RIG,          /* word: absolute path */
    TD_REQUEST_RELOAD,
    TD_REQUEST_KINDS
};

enum { TD_REQUEST_WORD_MAX = 512, TD_REQUEST_BYTES_MAX = 1024, TD_REPLY_BYTES_MAX = 16384 };

struct td_request {
    enum td_request_kind kind;
    char word[TD_REQUEST_WORD_MAX]; /* "" for those that take none */
};

const char *td_request_command(enum td_request_kind kind); /* "engine-brake" */
/* Key of the word in the JSON ("state"); NULL for those that take none. */
const char *td_request_key(enum td_request_kind kind);

/* One JSON object; anything it must not have is an error. */
TD_CHECKED enum td_result td_request_read(const char *bytes, size_t length,
                                          struct td_request *request, struct td_problem *problem);
/* For the caller to free; NULL without memory. */
char *td_request_text(const struct td_request *request);
/* {"ok": true}, or with the problem. For the caller to free. */
char *td_reply_text(enum td_result result, const struct td_problem *problem);

#endif
