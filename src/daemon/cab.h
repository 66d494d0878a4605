/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The coach and what is around it in the daemon: inputs gathered for the next step, what the step
 * asked for passed on, everything logged. Thread: the poll loop's. */
#ifndef TD_DAEMON_CAB_H
#define TD_DAEMON_CAB_H

#include <stdbool.h>
#include <stdint.h>

#include "daemon/library.h"
#include "daemon/logger.h"
#include "daemon/state_file.h"
#include "io/settings.h"
#include "talkdown/phrase.h"
#include "voice/voice.h"

struct td_cab;

/* All of it outlives the cab. */
struct td_cab_parts {
    const char *program; /* "talkdownd 0.1.0", for the log */
    const struct td_settings *settings;
    const struct td_phrasebook *book;
    struct td_library *library;
    struct td_logger *logger;
    struct td_voice *voice;
};

/* Makes the coach and opens its drive log. TD_INVALID when the rig is not sound. */
TD_CHECKED enum td_result td_cab_start(const struct td_cab_parts *parts,
                                       const struct td_setup *setup, int64_t now_ns,
                                       struct td_cab **out, struct td_problem *problem);
void td_cab_fix(struct td_cab *cab, const struct td_fix *fix);
/* False when 16 commands wait already. */
bool td_cab_command(struct td_cab *cab, enum td_command_kind kind, int32_t value);
/* Whether one more answer is taken now. Ask before td_cab_answer: a lost end of a question would
 * keep hills from being let go of for the rest of the drive. */
bool td_cab_has_room(const struct td_cab *cab);
/* An offer or a plan of the I/O thread; other answers are not for the cab. */
void td_cab_answer(struct td_cab *cab, struct td_answer *answer);
/* Steps until nothing is left to be told, at least once when the time has come. */
void td_cab_run(struct td_cab *cab, int64_t now_ns);
int64_t td_cab_next_ns(const struct td_cab *cab);

/* Another rig (or NULL for the same): a new coach and a new drive. TD_INVALID and no change when
 * the rig is not sound. */
TD_CHECKED enum td_result td_cab_set_rig(struct td_cab *cab, const struct td_rig *rig,
                                         int64_t now_ns, struct td_problem *problem);

struct td_cab_state {
    const struct td_setup *setup; /* as it is now: load, road and hills follow the commands */
    struct td_estimate estimate;
    const struct td_hill *hill;   /* of the estimate; NULL none */
    int32_t stage_most;           /* engine brake counted on: index, -1 none */
    bool quiet;
    bool logging;
    bool moving;                  /* over 1 m/s within the last 10 s */
    bool standing;                /* known to stand: a fresh fix says so, or none came yet */
    bool speaking;                /* a prompt is in the voice's hands */
    bool moved;                   /* over 2 m/s at some time of this drive */
    char words[TD_WORDS_MAX];     /* last handed to the voice, "" none */
    uint64_t steps;
};
void td_cab_state(const struct td_cab *cab, int64_t now_ns, struct td_cab_state *state);
/* What to carry over a power cycle; false when there is nothing worth it (no rig). */
bool td_cab_carried(const struct td_cab *cab, int64_t now_ns, struct td_carried *carried);
void td_cab_free(struct td_cab **cab);

#endif
