/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One GeoJSON feature of a hill profile, read and checked. */
#ifndef TD_IO_HILL_FEATURE_H
#define TD_IO_HILL_FEATURE_H

#include <jansson.h>
#include <stdbool.h>

#include "io/mileposts.h"
#include "io/utc.h"
#include "talkdown/hill.h"

/* Where messages point: "FILE:LINE: feature 3 (escape-lane): ...". */
struct td_feature_at {
    const char *name;  /* of the file; NULL: the command line */
    const char *bytes; /* the whole text, ended by NUL: the line is looked up when it is needed */
    size_t number;     /* 1 and up; 0: not of a profile, `line` says where it stands */
    int line;          /* with number 0 only */
    const char *role; /* NULL until known */
    struct td_problem *problem;
};

/* A feature's properties in SI. Strings point into the JSON value. */
struct td_feature {
    bool is_road;
    struct td_place place; /* of a Point; at_m not yet */
    bool has_at;
    double at_m; /* as written beside the Point */
    const char *id, *name; /* "" when left out; the name of a place is in `place` */
    char surveyed[TD_DATE_SIZE]; /* of the road; "" when left out */
    unsigned revision; /* of the road; 0 when left out */
    enum td_flashers flashers;
    double position_sigma_m; /* of the road; 0 when left out */
    unsigned passes; /* that the road was surveyed from; 0 when left out */
    struct td_mileposts mileposts; /* of the road */
};

enum td_result td_feature_wrong(const struct td_feature_at *at, const char *format, ...)
    TD_PRINTF(2, 3);

/* Line on which the feature says that it is one; 0 when it cannot be told. */
int td_feature_line(const struct td_feature_at *at);

/* Reads `properties` (any JSON value, NULL too). Sets at->role as soon as it is known. */
/* Counts as left out: null and "", which GIS programs put into columns that a feature lacks. */
bool td_feature_left_out(const json_t *value);
/* A date as we write it. Programs that have a type for dates give them back with slashes, or as
 * midnight. False (and `day` alone) for what is no date. */
bool td_feature_day(const char *text, char day[TD_DATE_SIZE]);
/* Whether a kind of place may have that property; false for one that nobody knows. */
bool td_feature_may_have(enum td_place_kind kind, const char *key);
/* The kind of place that is called so; false for any other word, "road" too. */
bool td_feature_kind(const char *role, enum td_place_kind *kind);

TD_CHECKED enum td_result td_feature_read(const json_t *properties, struct td_feature_at *at,
                                          struct td_feature *feature);

#endif
