/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Figures of a plan as machines read them, rounded alike in JSON, CSV and tables. */
#ifndef TD_TOOL_PLAN_FIGURES_H
#define TD_TOOL_PLAN_FIGURES_H

#include <math.h>

#include "talkdown/units.h"

static inline double td_round_to(double value, double step)
{
    return round(value / step) * step;
}

/* Down: a speed is never shown higher than it is. */
static inline double td_floor_mph(double mps)
{
    return floor(td_mph_from_mps(mps) * 10 + 1e-6) / 10;
}

/* The same of a weight. */
static inline long long td_floor_lb(double kg)
{
    return (long long)floor(td_lb_from_kg(kg) + 1e-6);
}

static inline double td_temp_f(double c)
{
    return td_round_to(td_f_from_c(c), 0.1);
}

#endif
