/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A hill as the core sees it: an immutable view of one road in the direction of descent, what
 * stands beside it, and what its geometry tells.
 *
 * Ownership: the shell owns every array and string; they stay as they are from the step that
 * offered the hill until the step whose output releases it. The core only reads.
 * Units: SI; distance `along_m` counts from the first station; a downgrade is positive. */
#ifndef TD_HILL_H
#define TD_HILL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"

enum {
    TD_HILL_STATIONS_MAX = 8192,
    TD_HILL_PLACES_MAX = 128,
    TD_HILL_RUNS_MAX = 64,
    TD_HILL_CURVES_MAX = 256,
    TD_HILL_NAME_MAX = 64,
    TD_HASH_BYTES = 32,
};

/* One vertex of the road. */
struct td_station {
    double along_m; /* strictly increasing, first 0 */
    double lat_deg, lon_deg;
    double x_m, y_m;        /* east and north of the hill's origin, local tangent frame */
    double elevation_m;     /* as on file */
    double downgrade_ratio; /* smoothed, of the piece from here to the next; 0.08 falls 8 in 100 */
};

enum td_side { TD_SIDE_UNKNOWN = 0, TD_SIDE_LEFT, TD_SIDE_RIGHT };

enum td_place_kind {
    TD_PLACE_BRAKE_CHECK = 0,
    TD_PLACE_TRUCK_SPEED, /* applies from here on */
    TD_PLACE_CURVE_SPEED, /* advisory speed of the curve that starts here */
    TD_PLACE_ESCAPE_LANE,
    TD_PLACE_GRADE_SIGN,
    TD_PLACE_CHAIN_AREA,
    TD_PLACE_TURN_OUT,
    TD_PLACE_STOP,
    TD_PLACE_SIGNAL,
    TD_PLACE_RAIL_CROSSING,
    TD_PLACE_WORK_ZONE,
    TD_PLACE_ENGINE_BRAKE_BAN, /* from here for length_m */
    TD_PLACE_NOTE,
    TD_PLACE_KINDS
};

/* Bits of what a place carries. */
enum td_place_has {
    TD_PLACE_SPEED = 1 << 0,
    TD_PLACE_OVER_MASS = 1 << 1,
    TD_PLACE_LENGTH = 1 << 2,
    TD_PLACE_GRADE = 1 << 3,
    TD_PLACE_MANDATORY = 1 << 4, /* brake check that every truck must stop at */
    TD_PLACE_CLOSED = 1 << 5,    /* an escape lane that must never be called */
};

struct td_place {
    enum td_place_kind kind;
    unsigned has; /* enum td_place_has bits */
    double at_m;  /* along the road; places are sorted by it */
    enum td_side side;
    double speed_mps;
    double over_kg; /* the sign holds for trucks heavier than this */
    double length_m;
    double grade_ratio;   /* on the sign; for an escape lane its own, up positive */
    const char *material; /* escape lane bed, "" when not on file */
    const char *say;      /* words of the local sign, "" for the phrase file's own */
    const char *name;     /* "" when it has none */
};

/* A stretch of much the same grade, for speech and for the plan. */
struct td_run {
    double from_m, to_m;
    double downgrade_ratio; /* mean */
};

/* An easing between two downgrades that a driver could take for the foot. */
struct td_easing {
    double from_m, to_m;
};

struct td_curve {
    double from_m, to_m;
    double radius_m; /* least, smoothed; of a slight bend, that of the arc that cuts it by 0.75 m */
    enum td_side turn;
};

enum td_flashers { TD_FLASHERS_UNKNOWN = 0, TD_FLASHERS_REQUIRED, TD_FLASHERS_ALLOWED,
                   TD_FLASHERS_FORBIDDEN };

struct td_hill {
    uint8_t hash[TD_HASH_BYTES]; /* of the bytes on file: names the hill in logs */
    const char *id;              /* short name, unique in a library; letters, digits, hyphens */
    const char *name;            /* as people call it */
    double origin_lat_deg, origin_lon_deg; /* of x_m, y_m */
    const struct td_station *stations;
    size_t station_count; /* 2 to TD_HILL_STATIONS_MAX */
    const struct td_place *places;
    size_t place_count;
    enum td_flashers flashers;
    double position_sigma_m; /* of the road's line across it, one standard deviation; 0: not told */

    /* Told by the geometry (td_hill_derive). */
    double length_m;
    bool coached;           /* false: no downgrade on it needs a word */
    double crest_m, foot_m; /* where the coached descent begins and ends; 0 when not coached */
    double mean_downgrade_ratio;     /* crest to foot; 0 when not coached */
    double steepest_downgrade_ratio; /* steepest 300 m */
    double steepest_at_m;            /* where those 300 m begin */
    struct td_run runs[TD_HILL_RUNS_MAX]; /* whole road, in order, without gaps */
    size_t run_count;
    struct td_easing easings[TD_HILL_RUNS_MAX]; /* false bottoms between crest and foot */
    size_t easing_count;
    struct td_curve curves[TD_HILL_CURVES_MAX];
    size_t curve_count;
};

/* Where a point of the road lies: by binary search. `along_m` is clamped to the road; the index is
 * of the piece's first station, so never the last one. */
size_t td_hill_station_at(const struct td_hill *hill, double along_m);
double td_hill_downgrade_at(const struct td_hill *hill, double along_m);
double td_hill_elevation_at(const struct td_hill *hill, double along_m);

/* Fills along_m, x_m, y_m and downgrade_ratio of stations whose lat_deg, lon_deg and elevation_m
 * are set, the origin (the middle station) and every derived member of `hill`, which must already
 * point at `stations` (the same memory, writable here). Places are not touched.
 * Distances sum ellipsoidal edges (WGS 84). The grade is smoothed over a window stated in hill.c.
 * A steep or long enough downgrade makes it coached (MUTCD section 2C.14); the crest is where the
 * smoothed downgrade first passes 2 %, where a loaded truck starts to gain by itself.
 * Where the road has more curves than fit, the gentlest are left out; more runs are joined.
 * TD_INVALID with words, and nothing written: fewer than 2 or too many stations, a repeated vertex,
 * a gap over 2 km, a road that reaches over 100 km from its middle, a coordinate or elevation out
 * of range (latitude beyond 85 degrees, height outside -500 to 9000 m). */
TD_CHECKED enum td_result td_hill_derive(struct td_hill *hill, struct td_station *stations,
                                         struct td_problem *problem);

#endif
