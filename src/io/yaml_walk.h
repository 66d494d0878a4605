/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Between yaml_load.c and the walk over libyaml's events. */
#ifndef TD_IO_YAML_WALK_H
#define TD_IO_YAML_WALK_H

#include "io/yaml_load.h"

struct td_yaml_lines {
    struct td_yaml_at {
        char path[TD_YAML_PATH_MAX];
        int line;
    } *at;
    size_t count, room;
};

/* Checks the document against the schema and notes the line of every value. */
TD_CHECKED enum td_result td_yaml_walk(const char *name, const char *bytes, size_t length,
                                       const cyaml_schema_value_t *schema, const char *what,
                                       struct td_yaml_lines *lines, struct td_problem *problem);

#endif
