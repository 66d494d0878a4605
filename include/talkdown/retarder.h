/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heat of a driveline retarder and what it leaves of the torque. One lumped mass (rotor, oil or
 * coils), heated by all the power it takes from the shaft, cooled by the engine's coolant, which
 * does not care for the road speed:
 *   C dT/dt = P - h (T - T_ambient)
 * Common practice, no source: retarders are guarded by their temperature, and lose torque on a long
 * grade sooner than the service brakes do. A rig without a retarder has no use for it. Pure. */
#ifndef TD_RETARDER_H
#define TD_RETARDER_H

#include "talkdown/rig.h"

/* Where it starts, warm from the coolant it shares with the engine. Common practice, no source. */
#define TD_RETARDER_WARM_C 80.0

/* Share of the cold torque left at a temperature, least_ratio to 1; falls with it, never rises. */
double td_retarder_share(const struct td_retarder_heat *heat, double temp_c);

/* Temperature after dt_s seconds (0 and up) at constant power (below 0 counts as 0); exact, so the
 * size of the step does not matter while the power holds. The power is td_force_retarder_n times
 * the speed; where the guard takes some of it away, the caller keeps the step short. */
double td_retarder_step_c(const struct td_retarder_heat *heat, double temp_c, double power_w,
                          double ambient_c, double dt_s);

#endif
