/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The published reference model: the Grade Severity Rating System's brake temperature at the foot
 * of a grade held at constant speed.
 *
 *   T_f  = T_0 + (T_inf - T_0 + K2 HP_B) (1 - exp(-K1 L / V))
 *   HP_B = (W theta - F_drag) V / 375 - HP_eng, never below 0
 *   T_E  = 3.11e-7 W V^2, the rise of one emergency stop at the foot
 *
 * Sources: FHWA/RD-81/185 (1982) and FHWA-IP-88-015 (1989). The equation and all constants are from
 * memory, not read in the reports; docs/physics.md tells what supports them. A five-axle
 * combination with its own engine term: never mixed with a rig's own drag, gears or brakes.
 *
 * This header alone keeps the published units (lb, mile, mph, hp, degF): the constants are fits in
 * them. Callers convert with talkdown/units.h. Pure. */
#ifndef TD_GSRS_H
#define TD_GSRS_H

#include <stddef.h>

enum td_gsrs_set { TD_GSRS_1982 = 0, TD_GSRS_1989 /* less drag: the more cautious */ };

#define TD_GSRS_START_F   150.0 /* brakes at the crest */
#define TD_GSRS_AMBIENT_F 90.0
#define TD_GSRS_LIMIT_F   500.0
/* Published fit: braking power a degree that the air takes, hp/degF = at rest + by mph * V; and
 * the thermal mass they and K1 share, hp h/degF (0.100 / 1.23, both sets). */
#define TD_GSRS_COOLING_HP_PER_F         0.100
#define TD_GSRS_COOLING_HP_PER_F_PER_MPH 0.00208
#define TD_GSRS_CAPACITY_HPH_PER_F       (0.100 / 1.23)

struct td_gsrs_segment {
    double grade_ratio; /* downgrade positive */
    double length_mi;   /* above 0 */
};

/* Forces and coefficients at a constant speed_mph above 0, in published units. */
double td_gsrs_drag_lbf(enum td_gsrs_set set, double speed_mph);
double td_gsrs_brake_hp(enum td_gsrs_set set, double weight_lb, double grade_ratio,
                        double speed_mph);
double td_gsrs_k1_per_h(double speed_mph);
double td_gsrs_k2_f_per_hp(double speed_mph);

/* T_f of one segment that begins at from_f. */
double td_gsrs_final_f(enum td_gsrs_set set, double weight_lb, struct td_gsrs_segment segment,
                       double speed_mph, double from_f);
/* T_E. */
double td_gsrs_stop_f(double weight_lb, double speed_mph);
/* Highest temperature at the end of any segment of the hill at one constant speed; *final_f (may be
 * NULL) is the last. Continuous-slope method. */
double td_gsrs_peak_f(enum td_gsrs_set set, double weight_lb,
                      const struct td_gsrs_segment *segments, size_t count, double speed_mph,
                      double *final_f);

/* Highest speed, in steps of 0.1 mph upwards from 1 mph, at which no segment's end plus one
 * emergency stop passes 500 degF. T(V) is not monotone, so the scan stops at the first speed that
 * fails and never looks beyond. most_mph (1 to 120) ends the scan. 0 when even 1 mph fails. The
 * whole mph to show is its floor. */
double td_gsrs_safe_mph(enum td_gsrs_set set, double weight_lb,
                        const struct td_gsrs_segment *segments, size_t count, double most_mph);

#endif
