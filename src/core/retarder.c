/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Temperature of a driveline retarder and the torque it leaves. */
#include "talkdown/retarder.h"

#include <math.h>

double td_retarder_share(const struct td_retarder_heat *heat, double temp_c)
{
    if (temp_c <= heat->derates_from_c)
        return 1;
    if (temp_c >= heat->derates_to_c)
        return heat->least_ratio;
    double way = (temp_c - heat->derates_from_c) / (heat->derates_to_c - heat->derates_from_c);
    return 1 - (1 - heat->least_ratio) * way;
}

double td_retarder_step_c(const struct td_retarder_heat *heat, double temp_c, double power_w,
                          double ambient_c, double dt_s)
{
    double steady_c = ambient_c + fmax(0, power_w) / heat->cooling_w_per_k;
    double share = -expm1(-heat->cooling_w_per_k / heat->heat_capacity_j_per_k * dt_s);
    return temp_c + (steady_c - temp_c) * share;
}
