/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One GeoJSON feature of a hill profile, read and checked. */
#ifndef TD_IO_HILL_FEATURE_H
#define TD_IO_HILL_FEATURE_H

#include <jansson.h>
#include <stdbool.h>

#include "talkdown/hill.h"

/* Where messages point: "FILE:LINE: feature 3 (escape-lane): ...". */
struct td_feature_at {
    const char *name;  /* of the file */
    const char *bytes; /* the whole text, ended by NUL: the line is looked up when it is needed */
    size_t number;     /* 1 and up */
    const char *role; /* NULL until known */
    struct td_problem *problem;
};

/* A feature's properties in SI. Strings point into the JSON value. */
struct td_feature {
    bool is_road;
    struct td_place place; /* of a Point; at_m not yet */
    bool has_at;
    double at_m; /* as written beside the Point */
    const char *id, *name, *surveyed; /* of the road; "" when left out */
    unsigned revision; /* of the road; 0 when left out */
    enum td_flashers flashers;
    double position_sigma_m; /* of the road; 0 when left out */
    unsigned passes; /* that the road was surveyed from; 0 when left out */
};

enum td_result td_feature_wrong(const struct td_feature_at *at, const char *format, ...)
    TD_PRINTF(2, 3);

/* Line on which the feature says that it is one; 0 when it cannot be told. */
int td_feature_line(const struct td_feature_at *at);

/* Reads `properties` (any JSON value, NULL too). Sets at->role as soon as it is known. */
TD_CHECKED enum td_result td_feature_read(const json_t *properties, struct td_feature_at *at,
                                          struct td_feature *feature);

#endif
