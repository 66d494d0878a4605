/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From one recorded pass to a road: drops stops and outliers, smooths, spaces vertices evenly,
 * finds the descent and keeps its approach and foot. Pure: all memory is the caller's.
 *
 * The profile is as good as the recording. Height is smoothed, not corrected: what a receiver or a
 * terrain model has wrong over hundreds of metres stays wrong, and is only pointed at. */
#ifndef TD_SURVEY_SURVEY_H
#define TD_SURVEY_SURVEY_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/fix.h"
#include "talkdown/hill.h"

#define TD_SURVEY_SPACING_M  12.5   /* of vertices; more where the count would not fit */
#define TD_SURVEY_APPROACH_M 2500.0 /* kept before the crest, where the track has it */
#define TD_SURVEY_BEYOND_M   1000.0 /* kept past the foot */

/* Scratch, one a fix. */
struct td_survey_point {
    double lat_deg, lon_deg, elevation_m; /* as recorded */
    double smooth_lat_deg, smooth_lon_deg;
    double along_m;
    int64_t utc_ms;
    bool has_utc;
};

struct td_survey_report {
    size_t used;            /* points the road was made of */
    size_t standing;        /* left out: standing, or closer than 3 m to the one before */
    size_t without_height;  /* left out: no elevation */
    size_t outliers;        /* left out: jumps and spikes */
    size_t height_spikes;   /* elevation replaced by its neighbours' */
    double longest_gap_m;   /* between neighbouring points used */
    double falls_m, climbs_m; /* greatest fall and climb of the whole track, in its direction */
    double cut_before_m, cut_after_m; /* of the track, trimmed away */
    double suspect_at_m;    /* first 50 m on the road steeper than 16 %; -1 none */
};

/* Fills `stations` (room for TD_HILL_STATIONS_MAX) and *hill, which points at them and is derived;
 * id, name, places and hash are left empty. points has room for `count`. reverse: the track was
 * recorded going up.
 * TD_INVALID says what is wrong with the track: too few points with elevation, a jump that does not
 * end, a gap over 2 km, the other direction. TD_FULL: more curves or runs than a hill holds. */
TD_CHECKED enum td_result td_survey_make(const struct td_fix *fixes, size_t count, bool reverse,
                                         struct td_survey_point *points,
                                         struct td_station *stations, struct td_hill *hill,
                                         struct td_survey_report *report,
                                         struct td_problem *problem);

#endif
