/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The I/O thread: finds and reads hills, solves plans, reads rigs and new libraries, so that the
 * poll loop never waits for a disk.
 *
 * Everything asked carries an epoch; when the coach starts anew the epoch rises, all hills of the
 * old one are let go, and answers of an older epoch must be passed over by whoever takes them. */
#ifndef TD_DAEMON_LIBRARY_H
#define TD_DAEMON_LIBRARY_H

#include <stdbool.h>
#include <stdint.h>

#include "io/answers.h"
#include "io/settings.h"
#include "talkdown/coach.h"

struct td_library;

enum td_answer_kind {
    TD_ANSWER_OFFER = 0,
    TD_ANSWER_PLAN,
    TD_ANSWER_SHELF, /* a reload: `hills` on board now, or the problem */
    TD_ANSWER_RIG,
};

struct td_answer {
    enum td_answer_kind kind;
    uint32_t epoch;
    uint32_t client; /* as asked */
    struct td_offer offer;
    const struct td_hill_file *file; /* of an offered hill: pinned as the hill is */
    uint32_t plan_serial;
    struct td_plan *plan; /* the taker's to free */
    struct td_rig *rig;   /* the taker's to free */
    uint32_t hills;
    enum td_result result;
    struct td_problem problem;
};

/* Opens the shelf (here and now, before the thread starts) and starts the thread. */
TD_CHECKED enum td_result td_library_start(const char *hills, struct td_library **out,
                                           uint32_t *hills_on_board, struct td_problem *problem);
/* Readable when there are answers. */
int td_library_fd(const struct td_library *library);
bool td_library_take(struct td_library *library, struct td_answer *answer);

/* Each false when the queue of 64 is full; the caller then answers for itself or tries again. */
bool td_library_want(struct td_library *library, uint32_t epoch, const struct td_want *want);
bool td_library_solve(struct td_library *library, uint32_t epoch, const struct td_solve *solve,
                      const struct td_rig *rig);
bool td_library_release(struct td_library *library, uint32_t epoch, uint32_t handle);
bool td_library_reload(struct td_library *library, const char *hills, uint32_t client);
bool td_library_rig(struct td_library *library, const char *path, uint32_t client);
/* Lets go of every hill; answers from now on are of `epoch`. */
bool td_library_restart(struct td_library *library, uint32_t epoch);

/* Waits for the thread to end. */
void td_library_stop(struct td_library **library);

#endif
