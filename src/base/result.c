/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names of results. */
#include "talkdown/result.h"

const char *td_result_name(enum td_result result)
{
    switch (result) {
    case TD_OK:
        return "ok";
    case TD_INVALID:
        return "invalid";
    case TD_FULL:
        return "full";
    case TD_NOT_FOUND:
        return "not found";
    case TD_IO:
        return "input or output failed";
    case TD_NO_MEMORY:
        return "no memory";
    case TD_UNSUPPORTED:
        return "not supported";
    }
    return "unknown";
}
