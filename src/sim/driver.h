/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Simulated drivers. A driver knows what he hears, what he feels (speed, pull, gear) and the few
 * things that stand at the roadside and need no reading: where a brake check area he was told of
 * lies, and a stop sign. Speeds, gears and engine-brake stages he has from the voice alone, so that
 * a run shows what the voice was worth.
 *
 * Told in danger of an escape lane, whoever takes advice steers into it when he comes to it.
 * Told not to go down, whoever takes advice stops at the next brake check area or turn-out before
 * the crest, or just before it, and stays.
 *
 * Pure and deterministic. Between prompts he cruises; what he was told holds until the bottom is
 * called. Technique (common practice, driver's manual): from the told speed down 5 mph in about
 * three seconds, release, repeat. */
#ifndef TD_SIM_DRIVER_H
#define TD_SIM_DRIVER_H

#include <stdbool.h>
#include <stdint.h>

#include "sim/slip.h"
#include "sim/truck.h"
#include "talkdown/prompt.h"

enum td_driver_kind {
    TD_DRIVER_CAREFUL = 0, /* does what he is told, when he is told */
    TD_DRIVER_LATE,        /* the same, with three times the reaction time */
    TD_DRIVER_HEAVY_FOOT,  /* lets it run 3 mph over, then brakes hard */
    TD_DRIVER_BRAKE_RIDER, /* keeps his foot on the brake; no gear, no engine brake */
    TD_DRIVER_TEN_OVER,    /* ten miles an hour over whatever he is told; no gear, no stop */
    TD_DRIVER_DEAF,        /* hears nothing */
    TD_DRIVER_NO_BRAKES,   /* careful, but his service brakes fail on the grade */
    TD_DRIVER_KINDS
};

const char *td_driver_name(enum td_driver_kind kind);
int td_driver_from_name(const char *name); /* -1 when there is none of that name */

/* What fails on the grade, whoever drives. */
enum td_failure {
    TD_FAILURE_NONE = 0,
    TD_FAILURE_AIR,     /* the service brakes are gone at once; the engine brake is not */
    TD_FAILURE_FADE,    /* they fade away within a minute, to little or nothing */
    TD_FAILURE_NEUTRAL, /* a missed gear: neutral to the end, and the service brakes fade */
    TD_FAILURES
};

enum { TD_DRIVER_HEARD_MAX = 8 };

struct td_heard {
    struct td_prompt prompt;
    int64_t acts_ns; /* when he has understood and moves */
};

struct td_driver {
    enum td_driver_kind kind;
    double reaction_s;
    double cruise_mps;
    bool told;          /* a speed is in force */
    double told_mps;
    int told_gear;      /* -1 none */
    int told_stage;     /* -1 none or off */
    struct td_heard heard[TD_DRIVER_HEARD_MAX];
    unsigned heard_count;
    bool braking;       /* in the pressing half of a snub */
    bool stage_rests;   /* engine brake off for a while: the truck was too slow with it */
    bool stays_up;      /* told not to go down: stops before the crest for good */
    double lane_m;      /* the escape lane he makes for; NAN none */
    double stop_m;      /* next place to stop at; NAN none */
    double stopped_s;
    double last_stop_m; /* place of the last stop made, so that it is made once; NAN none */
    double fails_m;     /* it fails here; NAN never */
    enum td_failure failure; /* NONE with a place set: as AIR */
    double fade_s, fade_to; /* share of the brakes that is left, and how long it takes to go */
    double failing_s;       /* since it failed */
    bool warnings_only; /* hears nothing below a warning: late to all that comes before */
    double shift_s;     /* left of the shift under way */
    int gear_next;
    struct td_slip slip; /* for drills: td_slip_begin after td_driver_init */
};

/* `seed` places the failure of TD_DRIVER_NO_BRAKES between a fifth and half of the descent. */
void td_driver_init(struct td_driver *driver, enum td_driver_kind kind, const struct td_hill *hill,
                    double cruise_mps, uint64_t seed);
/* Something fails between a fifth and half of the descent, placed by the seed. */
void td_driver_fail(struct td_driver *driver, enum td_failure failure, const struct td_hill *hill,
                    uint64_t seed);
/* A prompt was heard to its end at now_ns. */
void td_driver_hear(struct td_driver *driver, const struct td_prompt *prompt, int64_t now_ns);
/* Hands and feet for the next dt_s. Marks the truck's brakes failed when the time has come. */
struct td_pedals td_driver_act(struct td_driver *driver, struct td_truck *truck, int64_t now_ns,
                               double dt_s);

#endif
