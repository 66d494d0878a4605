/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One exact step of the lumped brake temperature. */
#include "talkdown/heat.h"

#include <math.h>

double td_heat_cooling_w_per_k(const struct td_brakes *brakes, double speed_mps)
{
    return brakes->cooling_w_per_k + brakes->cooling_w_per_k_per_mps * fabs(speed_mps);
}

double td_heat_step_c(const struct td_brakes *brakes, double capacity_ratio, double temp_c,
                      double power_w, double speed_mps, double ambient_c, double dt_s)
{
    double cooling = capacity_ratio * td_heat_cooling_w_per_k(brakes, speed_mps);
    double capacity = capacity_ratio * brakes->heat_capacity_j_per_k;
    double steady_c = ambient_c + fmax(0, power_w) / cooling;
    return temp_c + (steady_c - temp_c) * -expm1(-cooling / capacity * dt_s);
}
