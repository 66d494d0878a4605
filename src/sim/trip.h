/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A simulated trip down one hill: truck, driver and receiver stepped together in virtual time, and
 * what really became of the truck, which no coach can see. Rehearsal puts the whole cab around it,
 * the closed-loop bench only the coach (sim/ride.h).
 *
 * Pure and deterministic: the same options give the same trip. */
#ifndef TD_SIM_TRIP_H
#define TD_SIM_TRIP_H

#include <stdbool.h>
#include <stdint.h>

#include "sim/driver.h"
#include "sim/gnss.h"
#include "sim/truck.h"
#include "talkdown/plan.h"

/* Step of the simulation: small against a driver's and a truck's times. */
#define TD_TRIP_STEP_S  0.05
#define TD_TRIP_STEP_NS (TD_NS_PER_S / 20)
/* How long after the crest a driver has to be down to the target (design of the acceptance). */
#define TD_TRIP_SETTLE_S 10.0

struct td_trip_options {
    enum td_driver_kind driver;
    enum td_slip_kind slip; /* a mistake for a drill */
    enum td_failure failure; /* on the grade; NONE: only what the kind of driver brings */
    bool warnings_only;      /* the driver hears nothing below a warning */
    double cruise_mps;
    double mass_kg;        /* as the load is on file; the truth is applied to it */
    struct td_truth truth;
    enum td_road road;     /* adhesion of the tyres */
    double ambient_c, brakes_from_c;
    double from_m;         /* where it sets out, at cruise_mps; below 0: on the run-up */
    int64_t start_ns;
    int64_t utc_from_ms;   /* UTC at time 0 */
    uint64_t seed;         /* of driver and receiver */
    struct td_gnss_options receiver;
};

/* What happened, of the truth. Speeds over the target are judged between crest and foot, against
 * the target of the caller's choice, from TD_TRIP_SETTLE_S after the crest of each descent on. */
struct td_trip_seen {
    int64_t crest_ns;     /* when it passed the crest, 0 not yet */
    double descent_m;     /* crest of the descent judged now */
    int64_t descent_ns;   /* when it was passed */
    bool judged;          /* a target was in force below the crest */
    double over_mps;      /* most over the target; unset unless judged */
    double over_at_m;
    double over_5mph_s;   /* longest time in one piece that it was 5 mph or more over */
    double fastest_mps;   /* between crest and foot */
    double hottest_at_m;  /* where the brakes were at their hottest */
    double lane_mps;      /* at which it left the road into an escape lane; 0 never */
    double stands_s;      /* in one piece, until now */
    double over_now_s;    /* 5 mph or more over, in one piece, until now */
};

enum td_trip_end {
    TD_TRIP_GOING = 0,
    TD_TRIP_DOWN,      /* reached the end of the road */
    TD_TRIP_STAYED_UP, /* told not to go down, it stands before the crest for good */
    TD_TRIP_IN_LANE,   /* left the road into an escape lane */
    TD_TRIP_STANDS,    /* stands for minutes and nobody told it to: a fault */
    TD_TRIP_CRAWLS,    /* not down after hours: a fault */
};

struct td_trip {
    struct td_truck truck;
    struct td_driver driver;
    struct td_gnss gnss;
    struct td_trip_seen seen;
    double from_m;
    int64_t start_ns, now_ns;
};

/* hill and rig must outlive the trip. */
void td_trip_set_out(struct td_trip *trip, const struct td_hill *hill, const struct td_rig *rig,
                     const struct td_trip_options *options);
/* Options of a usual trip: a careful driver from 1200 m before the profile at 55 mph, dry road,
 * truth as filed, the default receiver and the plan's own air and brake temperatures. */
struct td_trip_options td_trip_options_default(const struct td_rig *rig);
/* One step. True when a fix fell due, which *fix then is. */
bool td_trip_step(struct td_trip *trip, struct td_fix *fix);
/* Books the present speed against a target, m/s; 0 when none is in force. `crest_m`: where the
 * descent under the truck began. Call once a step. */
void td_trip_judge(struct td_trip *trip, double crest_m, double target_mps);
enum td_trip_end td_trip_ended(const struct td_trip *trip);

#endif
