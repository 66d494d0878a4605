/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The I/O thread: finds and reads hills, solves plans, reads rigs and new libraries, so that the
 * poll loop never waits for a disk. While nobody asks for anything it looks through the library in
 * use, a small step each millisecond (library_audit.h). Damage is told by an answer; where a key is
 * trusted and an older library was verified whole, that takes the damaged one's place. Hills in
 * hand stay what they are.
 *
 * Everything asked carries an epoch; when the coach starts anew the epoch rises, all hills of the
 * old one are let go, and answers of an older epoch must be passed over by whoever takes them. */
#ifndef TD_DAEMON_LIBRARY_H
#define TD_DAEMON_LIBRARY_H

#include <stdbool.h>
#include <stdint.h>

#include "io/answers.h"
#include "io/minisign.h"
#include "io/settings.h"
#include "talkdown/coach.h"

struct td_library;

enum td_answer_kind {
    TD_ANSWER_OFFER = 0,
    TD_ANSWER_PLAN,
    TD_ANSWER_SHELF, /* a reload: what is on board now, or the problem */
    TD_ANSWER_RIG,
    TD_ANSWER_VERIFIED, /* asked by nobody: the library in use was looked through to its end, or to
                         * the first damage, which `problem` tells */
};

/* Whether all of the library was verified since it was opened. Profiles of a folder are each read
 * when they are opened. */
enum td_verified { TD_VERIFIED_AT_OPENING = 0, TD_VERIFIED_NOT_YET, TD_VERIFIED_WHOLE,
                   TD_VERIFIED_DAMAGED };

/* What is on board. */
struct td_on_board {
    uint32_t hills;
    unsigned revision;           /* of the library; 0 none */
    char key_id[TD_KEY_ID_SIZE]; /* of the trusted key that signed it; "" when nobody asked */
    enum td_verified verified;
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
    struct td_on_board on_board;
    bool fell_back; /* of VERIFIED: the last good library took the damaged one's place */
    enum td_result result;
    struct td_problem problem;
};

/* Where the hills are, and whose signature is asked for. With a trusted key a library that it has
 * vouched for is also kept under `last_good` ("" keeps none; see last_good.h). */
struct td_library_source {
    const char *hills, *last_good;
    struct td_trust trust;
};
struct td_library_begun {
    struct td_on_board on_board;
    bool refused; /* the hills of the settings were not taken: `why`; on board is the last good one,
                   * or nothing */
    struct td_problem why;
};
/* Opens the shelf (here and now, before the thread starts) and starts the thread. Without a trusted
 * key, hills that cannot be opened are an error. With one, the last good library takes their place;
 * where there is none and they were refused, the truck drives without hills and is told so. */
TD_CHECKED enum td_result td_library_start(const struct td_library_source *source,
                                           struct td_library **out, struct td_library_begun *begun,
                                           struct td_problem *problem);
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
