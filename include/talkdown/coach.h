/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The coach: one pure step from what is known to what is said.
 *
 *   shell --- td_input ---> td_coach_step ---> td_output --- shell
 *
 * No clock, heap, file, thread, locale or global: the same setup and the same inputs give the same
 * outputs, in the daemon, in replay, in rehearsal and on the trainer's desk. Time enters as
 * `now_ns` and never runs backwards (a step with an earlier now_ns is treated as at the latest).
 *
 * The core asks, the shell answers, always as an input of a later step:
 *   want     -> offers: hills whose road comes within the radius, DAMAGED for each that cannot be
 *               trusted, then END; or FAILED
 *   solve    -> plan
 *   speak    -> reports: STARTED, then ENDED, CUT, LOST or DROPPED, by serial
 *   cut      -> report CUT (or ENDED if it was too late)
 *   release  -> nothing: the shell may free the hill after this step
 * At most one speak or cut a step. A spoken prompt's numbers are those of the step that issued it;
 * the core issues it only when the voice is free, so that they are true as it is spoken. */
#ifndef TD_COACH_H
#define TD_COACH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/fix.h"
#include "talkdown/hill.h"
#include "talkdown/locate.h"
#include "talkdown/plan.h"
#include "talkdown/prompt.h"
#include "talkdown/rig.h"

enum { TD_REPORTS_MAX = 8, TD_EVENTS_MAX = 24 };

enum td_talk { TD_TALK_NORMAL = 0, TD_TALK_TRAINEE, TD_TALK_SPARSE };

/* House rules and what holds for a whole drive. */
struct td_setup {
    struct td_rig rig;
    bool rig_is_set;       /* false: nothing is planned, and it says so */
    bool load_confirmed;   /* false after power-up: plan for the heaviest named load */
    enum td_road road;
    enum td_credit credit;
    enum td_talk talk;
    bool metric;           /* speak kilometres, km/h, kilograms */
    double ambient_c;
    double brakes_from_c;  /* carried from before; NAN when not known */
    uint32_t hills_on_board;
    int32_t speech_ms[TD_PROMPT_IDS]; /* measured length of each prompt's speech, tone included */
    int32_t sound_delay_ms;           /* from speak to first sample, as measured */
};

enum td_report_kind { TD_REPORT_STARTED = 0, TD_REPORT_ENDED, TD_REPORT_CUT, TD_REPORT_LOST,
                      TD_REPORT_DROPPED /* the shell did not start it: expired or no words */ };

struct td_report {
    uint32_t serial;
    enum td_report_kind kind;
};

enum td_offer_kind { TD_OFFER_NOTHING = 0, TD_OFFER_HILL, TD_OFFER_END, TD_OFFER_FAILED,
                     TD_OFFER_DAMAGED /* a hill is near and is not as it was made */ };

struct td_offer {
    enum td_offer_kind kind;
    uint32_t want_serial;
    uint32_t handle; /* not 0; the shell's name for the pinned hill. Of a damaged one, a number of
                      * its own that it keeps until the hills change */
    const struct td_hill *hill;
};

enum td_command_kind {
    TD_COMMAND_NOTHING = 0,
    TD_COMMAND_AGAIN,       /* repeat the last that still matters */
    TD_COMMAND_QUIET,       /* silence this prompt; dangers stay */
    TD_COMMAND_LOUD,        /* take quiet back */
    TD_COMMAND_LOAD,        /* value: index into rig.loads; confirms it */
    TD_COMMAND_ROAD,        /* value: enum td_road */
    TD_COMMAND_ENGINE_BRAKE, /* value: strongest stage that works, -1 none */
    TD_COMMAND_HILLS_CHANGED, /* value: hills on board now; slots stay, a new want follows */
    TD_COMMAND_LIBRARY_REFUSED,
    /* Of the spoken menu (menu.h): only said, nothing is set by them. */
    TD_COMMAND_ASK_LOAD,         /* value: index into rig.loads */
    TD_COMMAND_ASK_ROAD,         /* value: enum td_road */
    TD_COMMAND_ASK_ENGINE_BRAKE, /* value: strongest stage that works, -1 none */
    TD_COMMAND_MENU_CLOSED,
    TD_COMMAND_LIBRARY_DAMAGED, /* hills on file may not be found, until they change */
    TD_COMMAND_KINDS
};

struct td_command {
    enum td_command_kind kind;
    int32_t value;
};

enum td_sound { TD_SOUND_SAME = 0, TD_SOUND_UP, TD_SOUND_DOWN };

struct td_input {
    int64_t now_ns;
    bool has_fix;
    struct td_fix fix;
    unsigned report_count;
    struct td_report reports[TD_REPORTS_MAX];
    enum td_sound sound;
    struct td_offer offer;
    uint32_t plan_serial;        /* 0 none: the solve this answers */
    const struct td_plan *plan;  /* read during the step only */
    struct td_command command;
};

struct td_want {
    uint32_t serial; /* 0 none */
    double lat_deg, lon_deg, radius_m;
};

struct td_solve {
    uint32_t serial; /* 0 none */
    uint32_t handle;
    struct td_plan_query query;
};

struct td_estimate {
    enum td_where where;
    uint32_t handle; /* hill, 0 none */
    double along_m, sigma_m;
    double speed_mps;
    double target_mps; /* 0 none in force */
    double heat_least_c, heat_likely_c, heat_most_c;
};

enum td_event_kind {
    TD_EVENT_DECIDED = 0, /* a prompt entered the queue */
    TD_EVENT_ISSUED,      /* it was handed to the voice */
    TD_EVENT_STARTED,
    TD_EVENT_SPOKEN,      /* ended whole */
    TD_EVENT_CUT,
    TD_EVENT_LOST,        /* the sound went away under it */
    TD_EVENT_EXPIRED,     /* never started in time */
    TD_EVENT_DROPPED,     /* overtaken: no longer true or replaced */
    TD_EVENT_WHERE,       /* value: enum td_where entered */
    TD_EVENT_HILL_ON,     /* recognised */
    TD_EVENT_HILL_OFF,
    TD_EVENT_PLAN,        /* value: 1 safe, 0 not */
    TD_EVENT_SOUND,       /* value: enum td_sound */
    TD_EVENT_REFUSED,     /* an input made no sense and was left out; value: enum td_refused */
    TD_EVENT_KINDS
};

/* Why a prompt was decided or dropped: short word for the log, see td_why_word. */
enum td_why {
    TD_WHY_NONE = 0, TD_WHY_DISTANCE, TD_WHY_TIME, TD_WHY_STATE, TD_WHY_COMMAND, TD_WHY_PASSED,
    TD_WHY_STALE, TD_WHY_OUTRANKED, TD_WHY_CLEARED, TD_WHY_LATE, TD_WHY_QUIET, TD_WHY_SOUND,
    TD_WHYS
};

/* What of an input was left out. */
enum td_refused { TD_REFUSED_TIME = 0 /* now_ns ran backwards */, TD_REFUSED_FIX,
                  TD_REFUSED_REPORT /* too many, or of no prompt in hand */, TD_REFUSED_OFFER,
                  TD_REFUSED_PLAN, TD_REFUSED_COMMAND };

struct td_event {
    enum td_event_kind kind;
    enum td_why why;
    int32_t value;
    struct td_prompt prompt; /* for prompt events; as it was then */
};

struct td_output {
    bool has_speak;
    struct td_prompt speak;
    uint32_t cut_serial; /* 0 none */
    struct td_want want;
    struct td_solve solve;
    uint32_t release_handle; /* 0 none */
    struct td_estimate estimate;
    unsigned event_count;
    struct td_event events[TD_EVENTS_MAX];
    uint32_t events_lost; /* did not fit above; never a speak or cut */
    int64_t next_wake_ns; /* step again at the latest then; INT64_MAX when only inputs matter */
};

struct td_coach; /* its size is td_coach_size(); memory is the caller's */

/* Bytes and alignment (of max_align_t) a coach needs. */
size_t td_coach_size(void);

/* Makes a coach in `memory` of at least td_coach_size() bytes at `now_ns`. The setup is copied.
 * Returns the coach; NULL when the setup says that the rig is set and it fails td_rig_check. */
struct td_coach *td_coach_init(void *memory, const struct td_setup *setup, int64_t now_ns);

/* One step. Never fails: data that makes no sense is left out and an event says so. */
void td_coach_step(struct td_coach *coach, const struct td_input *input, struct td_output *output);

const char *td_event_name(enum td_event_kind kind);
const char *td_why_word(enum td_why why);

#endif
