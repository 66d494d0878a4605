/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The inside of a cab, for its two files: cab.c has the drives, cab_step.c the steps. */
#ifndef TD_DAEMON_CAB_INNER_H
#define TD_DAEMON_CAB_INNER_H

#include "daemon/cab.h"
#include "talkdown/units.h"

enum {
    TD_CAB_FIXES_MAX = 32,
    TD_CAB_REPORTS_MAX = 64,
    TD_CAB_COMMANDS_MAX = 16,
    TD_CAB_ANSWERS_MAX = 32,
};

#define TD_CAB_MOVING_MPS 1.0
#define TD_CAB_MOVED_MPS  2.0
#define TD_CAB_STANDING_MPS 0.5

struct td_held_hill {
    uint32_t handle; /* 0 free */
    const struct td_hill *hill;
    bool let_go; /* the coach released it; passed on once no want is open */
};

struct td_cab {
    struct td_cab_parts parts;
    struct td_setup setup;
    void *memory;
    struct td_coach *coach;
    uint32_t epoch;
    uint32_t serial_base; /* of the voice's serials: those up to it belong to an earlier coach */
    uint32_t last_serial;
    struct td_fix fixes[TD_CAB_FIXES_MAX];
    unsigned fix_count;
    struct td_report reports[TD_CAB_REPORTS_MAX];
    unsigned report_count;
    struct td_command commands[TD_CAB_COMMANDS_MAX];
    unsigned command_count;
    struct td_answer answers[TD_CAB_ANSWERS_MAX];
    unsigned answer_count;
    enum td_sound sound;
    unsigned wants_open;
    struct td_held_hill hills[TD_PINNED_MAX];
    bool stepped;
    int64_t next_ns;
    int64_t started_ns, last_moving_ns, last_standing_ns;
    bool had_fix, speaking;
    bool logging, moved, restart_due, quiet;
    bool louder; /* the volume stands at its upper step */
    int32_t stage_most;
    struct td_estimate estimate;
    char words[TD_WORDS_MAX];
    uint64_t steps;
};

/* The hill held under a handle; NULL when there is none. */
const struct td_hill *td_cab_hill(const struct td_cab *cab, uint32_t handle);
void td_cab_drop_answers(struct td_cab *cab);
bool td_cab_has_input(const struct td_cab *cab);
/* Reports and sound changes of the voice become inputs of the next step. */
void td_cab_take_voice(struct td_cab *cab);
void td_cab_step(struct td_cab *cab, int64_t now_ns);

#endif
