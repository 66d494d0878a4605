/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From recorded passes of one road to its profile. Each pass is cleaned of stops and outliers and
 * its way, down or up, is found; all are laid on one line and averaged, places and heights apart;
 * the descent is found, and its approach and foot are kept. Pure: all memory is the caller's.
 *
 * What one pass has wrong over hundreds of metres only other passes can tell. What all passes have
 * wrong alike (one terrain model, a barometer's scale in the cold) stays wrong (docs/survey.md). */
#ifndef TD_SURVEY_SURVEY_H
#define TD_SURVEY_SURVEY_H

#include <stdbool.h>
#include <stddef.h>

#include "talkdown/fix.h"
#include "talkdown/hill.h"

#define TD_SURVEY_SPACING_M  10.0   /* of vertices; more where the count would not fit */
#define TD_SURVEY_APPROACH_M 2500.0 /* kept before the crest, where the passes have it */
#define TD_SURVEY_BEYOND_M   1000.0 /* kept past the foot */
/* Heights are fitted by straight lines over this far to either side; over the second where the
 * passes' height noise is above TD_SURVEY_FINE_NOISE_M. */
#define TD_SURVEY_HEIGHT_HALF_M   60.0
#define TD_SURVEY_HEIGHT_COARSE_M 150.0
#define TD_SURVEY_FINE_NOISE_M    1.5
/* Height noise of a pass, one sigma: a worse one is left out where most are better, and no profile
 * is made where most are worse. A pass alone gets more: the road's own shape counts as noise. */
#define TD_SURVEY_NOISE_MOST_M    5.0
#define TD_SURVEY_ALONE_MOST_M    7.5

enum { TD_SURVEY_PASSES_MAX = 64, TD_SURVEY_BRIDGES_MAX = 16 };

/* Scratch, one a fix. */
struct td_survey_point {
    double lat_deg, lon_deg, elevation_m; /* as recorded */
    double smooth_lat_deg, smooth_lon_deg;
    double along_m;         /* of the smoothed pass itself */
    double x_m, y_m;        /* in the road's frame, as recorded */
    double course_x, course_y; /* the way the smoothed pass runs here; not of unit length */
    double road_m;          /* along the road that is being made */
    double lateral_m;       /* left of it */
    bool on_road;
    bool new_run;           /* begins a way over the road */
    int64_t utc_ms;
    bool has_utc;
};

struct td_survey_pass_report {
    size_t used;            /* points the road was made of */
    size_t standing;        /* left out: standing, or closer than 3 m to the one before */
    size_t without_height;  /* left out: no elevation */
    size_t outliers;        /* left out: jumps and spikes */
    size_t elsewhere;       /* left out: not on this road, or on another run over it */
    size_t height_spikes;   /* elevation replaced by its neighbours' */
    double longest_gap_m;   /* between neighbouring points used */
    bool climbed;           /* recorded on the way up */
    double covers_m;        /* length of the road that it ran on */
    double height_off_m;    /* of its heights from the mean of all, taken out */
    double height_noise_m;  /* one sigma, as it shows over a kilometre; -1 could not be told */
    bool height_refused;    /* too noisy; its heights were left out, the others were enough */
};

struct td_survey_pass {
    const struct td_fix *fixes;
    size_t count;
    struct td_survey_point *points; /* room for `count` */
    double weight; /* how many passes it stands for: 1, or those of the profile it came from */
    struct td_survey_pass_report report;
    size_t point_count; /* scratch */
    bool turned;        /* scratch: points stand against the recorded order */
};

struct td_survey_options {
    bool reverse;      /* the pass that covers most went up, whatever its heights say */
    bool keep_extent;  /* the first pass is a road on file: its ends stay where they are */
    double cut_ends_m; /* left off both ends of every recording; 0 none */
};

/* A stretch over which heights were steeper than any road, up and down again, and were drawn
 * straight instead: a tunnel, a viaduct, a spike. Along the finished road. */
struct td_survey_bridge {
    double from_m, to_m;
};

struct td_survey_report {
    size_t reference;         /* index of the pass that covers most */
    double falls_m, climbs_m; /* greatest fall and climb of that pass, in the road's direction */
    double cut_before_m, cut_after_m; /* of it, trimmed away */
    double longest_gap_m;     /* longest piece of kept road that no pass has a point on */
    double height_half_m;     /* the window that was used, to either side */
    /* How the passes differ; -1 where there are fewer than two. One sigma of the mean, by the
     * number of passes: what all have wrong alike does not show. */
    double position_sigma_m;
    double grade_sigma_200, grade_sigma_1000; /* ratio, over 200 m and 1 km (or a third of a short
                                                 road) */
    struct td_survey_bridge bridges[TD_SURVEY_BRIDGES_MAX];
    size_t bridge_count;
    double suspect_at_m; /* first 50 m on the road steeper than 16 %; -1 none */
    size_t culprit;      /* on failure: the pass that the words are about; pass_count none */
};

/* What one pass says at each vertex of the road. */
struct td_survey_lane {
    double offset_m[TD_HILL_STATIONS_MAX], height_m[TD_HILL_STATIONS_MAX];
    bool has_offset[TD_HILL_STATIONS_MAX], has_height[TD_HILL_STATIONS_MAX];
};

struct td_survey_work {
    double a[TD_HILL_STATIONS_MAX], b[TD_HILL_STATIONS_MAX], c[TD_HILL_STATIONS_MAX];
    bool bridged[TD_HILL_STATIONS_MAX];
    struct td_survey_lane lanes[]; /* one a pass */
};

/* Fills `stations` (room for TD_HILL_STATIONS_MAX) and *hill, which points at them and is derived;
 * id, name, places and hash are left empty. 1 to TD_SURVEY_PASSES_MAX passes.
 * TD_INVALID says what is wrong with which pass: too few points with elevation, a jump that does
 * not end, a gap over 2 km, another road than the rest, the other direction, heights too noisy.
 * TD_FULL: more curves or runs than a hill holds. */
TD_CHECKED enum td_result td_survey_make(struct td_survey_pass *passes, size_t pass_count,
                                         const struct td_survey_options *options,
                                         struct td_survey_work *work, struct td_station *stations,
                                         struct td_hill *hill, struct td_survey_report *report,
                                         struct td_problem *problem);

#endif
