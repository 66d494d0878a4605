/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sound rig of rigs.h with a two-stage driveline retarder beside its engine brake: "one" is the
 * retarder alone, "two" sets the high engine brake with it. Invented, of common proportions. */
#ifndef TD_TESTS_RIG_RETARDER_H
#define TD_TESTS_RIG_RETARDER_H

#include "support/rigs.h"

static inline struct td_rig test_rig_with_retarder(void)
{
    struct td_rig rig = test_rig();
    rig.stages[2] = (struct td_engine_brake_stage){
        .name = "one",
        .kind = TD_HOLDER_RETARDER,
        .shaft_torque_nm = {3, {300, 600, 1500}, {900, 1500, 1200}},
    };
    rig.stages[3] = (struct td_engine_brake_stage){
        .name = "two",
        .kind = TD_HOLDER_RETARDER,
        .torque = rig.stages[1].torque,
        .shaft_torque_nm = {3, {300, 600, 1500}, {1800, 3000, 2400}},
    };
    rig.stage_count = 4;
    rig.retarder = (struct td_retarder_heat){
        .heat_capacity_j_per_k = 150e3,
        .cooling_w_per_k = 2000,
        .derates_from_c = 120,
        .derates_to_c = 160,
        .least_ratio = 0.25,
    };
    return rig;
}

#endif
