/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The closed loop without a cab around it: a trip (sim/trip.h) whose driver hears the coach, whose
 * coach has this one hill on board, gets its plans a fixed time after it asks, and speaks with a
 * voice that lasts as long as the table of measured lengths says. No files, no words.
 *
 * Pure and deterministic. */
#ifndef TD_SIM_RIDE_H
#define TD_SIM_RIDE_H

#include <stdbool.h>
#include <stdint.h>

#include "sim/trip.h"
#include "talkdown/coach.h"

enum { TD_RIDE_MINUTE_MAX = 64 };

/* What was said, as far as the driver heard it begin. */
struct td_ride_said {
    unsigned prompts;                /* begun */
    unsigned by_id[TD_PROMPT_IDS];
    unsigned by_category[TD_CATEGORIES];
    unsigned minute_most;            /* most begun within 60 s */
    int64_t recent_ns[TD_RIDE_MINUTE_MAX]; /* when the last ones began; a ring */
};

struct td_ride {
    struct td_trip trip;
    struct td_setup setup;
    struct td_coach *coach;
    struct td_plan_work *work;
    struct td_input input;
    struct td_output output; /* of the last step */
    struct td_ride_said said;

    /* Asked by the coach, on its way to it. */
    uint32_t want_serial;
    bool offered;
    int64_t offer_ns;
    bool solving;
    int64_t plan_ns;
    uint32_t plan_serial;
    struct td_plan plan; /* the last one solved */
    bool has_plan;       /* the coach has been given it */
    double break_over_mps; /* most over the road's own ceiling on a break between two descents */

    /* The voice. */
    bool speaking, started;
    struct td_prompt prompt;
    int64_t starts_ns, ends_ns;

    /* Called as each prompt meets its fate; may be NULL. */
    void (*watch)(void *who, const struct td_ride *ride, const struct td_event *event);
    void *who;
};

/* Sets out. hill, memory (td_coach_size() bytes, aligned as max_align_t) and work are the caller's
 * and must outlive the ride. False when the coach refuses the rig. */
bool td_ride_set_out(struct td_ride *ride, const struct td_hill *hill,
                     const struct td_setup *setup, const struct td_trip_options *options,
                     void *memory, struct td_plan_work *work);
/* One simulation step and whatever the coach has to do in it. */
void td_ride_step(struct td_ride *ride);
/* To the end of the trip. */
enum td_trip_end td_ride_to_end(struct td_ride *ride);
/* The ceiling that really holds where the truck is: the plan's target at its true place, m/s; 0
 * when no plan that may be driven is in hand. */
double td_ride_ceiling_mps(const struct td_ride *ride);

#endif
