/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the shell answers when the coach asks: hills near a place, and descent plans. Both may take
 * milliseconds and touch the disk, so the daemon calls them from its I/O thread; rehearsal and
 * replay call them in virtual time. Thread: one at a time. */
#ifndef TD_IO_ANSWERS_H
#define TD_IO_ANSWERS_H

#include <stddef.h>

#include "io/hill_file.h"
#include "io/shelf.h"
#include "talkdown/coach.h"

enum {
    TD_OFFERS_MAX = TD_HILL_SLOTS + 1, /* the nearest hills, whole or DAMAGED, then END or FAILED */
    TD_PINNED_MAX = 4 * TD_HILL_SLOTS,
};

struct td_answers; /* holds the pinned hills; the shelf stays the caller's and must outlive it */

TD_CHECKED enum td_result td_answers_open(const struct td_shelf *shelf, struct td_answers **out,
                                          struct td_problem *problem);
/* Another shelf from now on. Pinned hills stay; one that is the same on both keeps its handle. */
void td_answers_reshelve(struct td_answers *answers, const struct td_shelf *shelf);

/* Fills `offers` with the hills near the wanted place, nearest first, then END, all carrying the
 * want's serial; returns how many (1 and up). A hill in hand already is offered again under the
 * same handle. One that is not as it was made is offered as DAMAGED, by its place on the shelf from
 * 1; one that could not be read now is left out and the last offer is then FAILED. *problem says
 * why of the first of both; the others hold. */
size_t td_answers_want(struct td_answers *answers, const struct td_want *want,
                       struct td_offer offers[TD_OFFERS_MAX], struct td_problem *problem);
/* The coach let go of it; its memory goes now. An unknown handle is nothing. */
void td_answers_release(struct td_answers *answers, uint32_t handle);
/* The pinned hill, NULL when there is none of that handle. */
const struct td_hill_file *td_answers_hill(const struct td_answers *answers, uint32_t handle);
/* Solves a plan that the coach asked for. TD_NOT_FOUND when its hill was released meanwhile. */
TD_CHECKED enum td_result td_answers_solve(struct td_answers *answers, const struct td_solve *solve,
                                           const struct td_rig *rig, struct td_plan *plan,
                                           struct td_problem *problem);
void td_answers_close(struct td_answers **answers);

#endif
