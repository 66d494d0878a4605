/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One mistake that an otherwise careful driver makes, for drills: it must come about at a place
 * where the voice has something to say to it, and end when the driver has heard that.
 *
 * Pure and deterministic. How far each goes is ours. */
#ifndef TD_SIM_SLIP_H
#define TD_SIM_SLIP_H

#include "sim/truck.h"
#include "talkdown/prompt.h"

enum td_slip_kind {
    TD_SLIP_NONE = 0,
    TD_SLIP_CHECK,  /* thinks of the brake check area when it is too late: passes it */
    TD_SLIP_GEAR,   /* misses the gear he is told, is left two higher, trusts the engine brake and
                       keeps off the service brakes until he is told of his speed */
    TD_SLIP_BOTTOM, /* takes the first easing for the bottom: gear, engine brake and speed are let
                       go until he is told better */
    TD_SLIP_CURVE,  /* lets it run into the sharpest bend of the grade, engine brake off, up to ten
                       miles an hour over what held before, until he is told of his speed */
    TD_SLIP_BRAKES, /* rides the service brakes, and they fail a third of the way down */
    TD_SLIP_KINDS
};

struct td_slip {
    enum td_slip_kind kind;
    bool slipping; /* now */
    bool slipped;  /* at all: each mistake is made once */
    int64_t from_ns;
    double from_m; /* where it began */
    /* What a false bottom made him let go. */
    double told_mps;
    int told_gear, told_stage;
};

struct td_driver;

/* Sets the driver, just initialised, to make that mistake on that hill. A rider of the brakes has
 * to be one by his own kind. */
void td_slip_begin(struct td_driver *driver, enum td_slip_kind kind, const struct td_hill *hill);
/* The sharpest bend between crest and foot that there is room to run into; NULL none. */
const struct td_curve *td_slip_curve(const struct td_hill *hill);
/* A prompt is understood. False: the mistake keeps the driver from acting on it. *prompt may be
 * changed into what he does instead. */
bool td_slip_hears(struct td_driver *driver, const struct td_truck *truck, struct td_prompt *prompt,
                   int64_t now_ns);
/* Once a step, before hands and feet. */
void td_slip_watch(struct td_driver *driver, const struct td_truck *truck, int64_t now_ns);
/* The speed that he holds, of the one he would. */
double td_slip_hold_mps(const struct td_driver *driver, const struct td_truck *truck,
                        double hold_mps);
/* Whether the engine brake is left off for now. */
bool td_slip_lets_run(const struct td_driver *driver);

#endif
