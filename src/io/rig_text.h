/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between rig_file.c, which has libcyaml fill these, rig_base.c, which merges them, and rig_make.c,
 * which makes a rig of them. What a file leaves out is NULL. */
#ifndef TD_IO_RIG_TEXT_H
#define TD_IO_RIG_TEXT_H

#include "io/yaml_load.h"
#include "talkdown/rig.h"

/* The file as it stands, all text. */
struct td_rig_load_text {
    char *name, *weight;
};
struct td_rig_gear_text {
    char *name, *ratio;
};
struct td_rig_stage_text {
    char *name;
    enum td_holder kind; /* engine brake's list only */
    char *with_engine_brake; /* retarder's list only */
    char ***torque; /* pairs */
    unsigned torque_count;
};
struct td_rig_engine_text {
    char *inertia, *power, *least, *best, *most;
    char ***motoring; /* pairs */
    unsigned motoring_count;
};
struct td_rig_retarder_text {
    struct td_rig_stage_text *stages;
    unsigned stages_count;
    char *heat_capacity, *cooling, *derates_from, *derates_to, *least;
};
struct td_rig_brakes_text {
    enum td_brake_kind *kind;
    char *heat_capacity, *cooling, *cooling_by_speed, *limit, *missing;
};
struct td_rig_text {
    char *name, *base;
    enum td_gearbox *gearbox;
    struct td_rig_load_text *loads;
    unsigned loads_count;
    char *load;
    char *axles, *braked_axles, *tyre_radius, *rolling_resistance, *drag_area;
    char *driveline_efficiency, *axle_ratio, *rotating_wheels;
    struct td_rig_engine_text engine;
    struct td_rig_stage_text *engine_brake;
    unsigned engine_brake_count;
    struct td_rig_retarder_text retarder; /* without stages: left out */
    struct td_rig_gear_text *gears;
    unsigned gears_count;
    struct td_rig_brakes_text brakes;
    char *comfortable_slowing, *rollover;
};

extern const cyaml_schema_value_t td_rig_schema;

/* That all is there which a rig cannot be without. */
TD_CHECKED enum td_result td_rig_needs(const struct td_yaml *yaml, const struct td_rig_text *text,
                                       struct td_problem *problem);
/* Fills a zeroed rig: defaults, conversion to SI, td_rig_check; each complaint is led to its file
 * and line. */
TD_CHECKED enum td_result td_rig_make(const struct td_yaml *yaml, const struct td_rig_text *text,
                                      struct td_rig *rig, struct td_problem *problem);

#endif
