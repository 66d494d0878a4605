/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The published brake-temperature equation once more, in published units and in a few lines of its
 * own: T_f = T_0 + (T_inf - T_0 + K2 HP_B)(1 - exp(-K1 L / V)). FHWA/RD-81/185 (1982) and
 * FHWA-IP-88-015 (1989); equation and constants from memory, high confidence. Written from the
 * formula without a look at src/core/gsrs.c. */
#ifndef TD_TESTS_GSRS_BY_HAND_H
#define TD_TESTS_GSRS_BY_HAND_H

#include <math.h>
#include <stdbool.h>

/* T_f in degF of one grade entered at t0; W lb, theta a fraction, L mi, V mph. */
static inline double by_hand_final_f(bool of_1982, double w, double theta, double l, double v,
                                     double t0)
{
    double drag = of_1982 ? 450 + 17.25 * v : 459.35 + 0.132 * v * v;
    double hp = (w * theta - drag) * v / 375 - 73;
    double k1 = 1.23 + 0.0256 * v, k2 = 1 / (0.100 + 0.00208 * v);
    return t0 + (90 - t0 + k2 * (hp < 0 ? 0 : hp)) * (1 - exp(-k1 * l / v));
}

static inline double by_hand_stop_f(double w, double v)
{
    return 3.11e-7 * w * v * v;
}

/* Highest speed in tenths of a mph up to `most_tenths`, upwards to the first that fails. */
static inline int by_hand_safe_tenths(bool of_1982, double w, double theta, double l,
                                      int most_tenths)
{
    int tenths = 9;
    while (tenths < most_tenths) {
        double v = (tenths + 1) / 10.0, hot = by_hand_final_f(of_1982, w, theta, l, v, 150);
        if ((hot > 150 ? hot : 150) + by_hand_stop_f(w, v) > 500)
            break;
        tenths++;
    }
    return tenths == 9 ? 0 : tenths;
}

#endif
