/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words for events and reasons, for logs. */
#include "talkdown/coach.h"

const char *td_event_name(enum td_event_kind kind)
{
    static const char *const names[TD_EVENT_KINDS] = {
        [TD_EVENT_DECIDED] = "decided", [TD_EVENT_ISSUED] = "issued",
        [TD_EVENT_STARTED] = "started", [TD_EVENT_SPOKEN] = "spoken",
        [TD_EVENT_CUT] = "cut",         [TD_EVENT_LOST] = "lost",
        [TD_EVENT_EXPIRED] = "expired", [TD_EVENT_DROPPED] = "dropped",
        [TD_EVENT_WHERE] = "where",     [TD_EVENT_HILL_ON] = "hill-on",
        [TD_EVENT_HILL_OFF] = "hill-off", [TD_EVENT_PLAN] = "plan",
        [TD_EVENT_SOUND] = "sound",     [TD_EVENT_REFUSED] = "refused",
    };
    return (unsigned)kind < TD_EVENT_KINDS ? names[kind] : "unknown";
}

const char *td_why_word(enum td_why why)
{
    static const char *const words[TD_WHYS] = {
        [TD_WHY_NONE] = "",           [TD_WHY_DISTANCE] = "distance",
        [TD_WHY_TIME] = "time",       [TD_WHY_STATE] = "state",
        [TD_WHY_COMMAND] = "command", [TD_WHY_PASSED] = "passed",
        [TD_WHY_STALE] = "stale",     [TD_WHY_OUTRANKED] = "outranked",
        [TD_WHY_CLEARED] = "cleared", [TD_WHY_LATE] = "late",
        [TD_WHY_QUIET] = "quiet",     [TD_WHY_SOUND] = "sound",
    };
    return (unsigned)why < TD_WHYS ? words[why] : "unknown";
}
