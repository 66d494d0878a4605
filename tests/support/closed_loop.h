/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Closed-loop drives for the bench and the suite: from one seed a random hill, a rig on file with
 * one of its named loads, a driver, a hidden truth, a receiver, weather and brake heat; driven to
 * its end, and what became of it. The same seed gives the same drive. */
#ifndef TD_TESTS_CLOSED_LOOP_H
#define TD_TESTS_CLOSED_LOOP_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "sim/ride.h"
#include "support/random_hills.h"

enum { LOOP_RIGS_MAX = 32, LOOP_NAME_MAX = 48 };

/* What rigs are told apart by in the table. */
enum loop_class { LOOP_LIGHT = 0, /* under 33,000 lb (15 t) as loaded */
                  LOOP_NO_BRAKE, LOOP_BRAKE, /* heavy: without, with an engine brake */
                  LOOP_RETARDER,             /* heavy, with a driveline retarder */
                  LOOP_CLASSES };

/* Rigs on file and lengths of speech, read once. */
struct loop_set {
    struct td_rig rigs[LOOP_RIGS_MAX];
    char names[LOOP_RIGS_MAX][LOOP_NAME_MAX]; /* of the files, without .yaml */
    size_t rig_count;
    int32_t speech_ms[TD_PROMPT_IDS];
};

/* What of a drive is fixed; -1: drawn. */
struct loop_choice {
    int driver; /* enum td_driver_kind */
    int rig;
    enum td_failure failure; /* on the grade, whoever drives; NONE unless set */
    bool warnings_only;      /* the driver hears nothing below a warning */
};

/* One worker's memory: a drive at a time. */
struct loop {
    const struct loop_set *set;
    struct random_hill hill;
    struct td_ride ride;
    struct td_plan_work work;
    void *memory;
    FILE *transcript; /* NULL: none */
    /* Called after each simulation step and at each event; NULL: none. */
    void (*step)(void *who, const struct td_ride *ride);
    void (*event)(void *who, const struct td_ride *ride, const struct td_event *event);
    void *who;
    /* Of the drive in hand. */
    enum td_driver_kind driver;
    size_t rig, load;
};

/* What was said of heat and gain, and what was true of it. */
struct loop_heat {
    unsigned building, engine, heating, hot, parking, still_hot; /* spoken */
    double heating_share, hot_share; /* true brake heat as a share of the limit when first said */
    bool warm, near_limit;    /* the truth passed 75, 90 per cent of the limit below the crest */
    bool told_warm, told_hot; /* and heating or hot had been said by the time it passed 90, 100 */
    double service_c;         /* by so much the service brakes' work below the crest would heat */
    double likely_over_c;     /* most that the likely figure was above the truth below the crest */
};

struct loop_outcome {
    uint64_t seed;
    enum td_driver_kind driver;
    size_t rig, load;
    enum loop_class class;
    enum td_road road;
    enum td_credit credit;
    enum td_trip_end end;
    bool told_no_go;   /* at least once */
    bool no_go_late;   /* told so for the first time below the crest or never, though there was no
                          plan that may be driven */
    bool went_down;    /* passed the crest though told not to */
    bool warned_before_crest; /* a speed or a no-go was called before the crest, or there was
                                 nothing to say: the plan's speed there is that of his cruise */
    bool safe;         /* the last plan */
    bool judged;
    double over_mph, over_at_m, over_5mph_s;
    double peak_f, limit_f, peak_at_m;
    double plan_peak_f; /* what the plan reckoned with */
    int target_mph, say_mph;
    double curve_mph; /* slowest curve on the way down */
    bool past_limit;
    unsigned prompts, minute_most, dangers;
    double break_over_mph; /* most over the road's own ceiling between two descents */
    double lane_mph;    /* at which it went into an escape lane, 0 never */
    unsigned rises;     /* ceilings called on a downgrade 10 mph or more above the one before */
    struct loop_heat heat;
    double miles, minutes, hill_miles; /* hill: crest to foot */
};

bool loop_set_read(struct loop_set *set); /* prints what is wrong */
struct loop *loop_new(const struct loop_set *set);
void loop_free(struct loop *loop);
/* Draws and drives. */
struct loop_outcome loop_drive(struct loop *loop, uint64_t seed, const struct loop_choice *choice);
const char *loop_class_name(enum loop_class class);
/* Does what he is told, and has brakes to do it with. */
bool loop_obeys(enum td_driver_kind driver);
/* One line: all that is needed to see why and to drive it again. */
void loop_print(const struct loop_set *set, const struct loop_outcome *outcome, FILE *to);

#endif
