/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One run of `talkdown survey`: what was asked for, the tracks, what became of them. */
#ifndef TD_TOOL_SURVEY_JOB_H
#define TD_TOOL_SURVEY_JOB_H

#include "io/hill_file.h"
#include "io/track.h"
#include "survey/survey.h"

struct survey_job {
    const char *out, *name, *id, *update, *cut_ends, *surveyed, *tiles; /* NULL: not given */
    bool reverse, force, as_json;
    const char *paths[TD_SURVEY_PASSES_MAX]; /* of each pass; the profile to update comes first */
    size_t count;
    struct td_track tracks[TD_SURVEY_PASSES_MAX];
    bool from_tiles[TD_SURVEY_PASSES_MAX]; /* has its heights from the tiles */
    struct td_survey_pass passes[TD_SURVEY_PASSES_MAX];
    struct td_survey_options options;
    struct td_survey_work *work;
    struct td_station *stations;
    struct td_hill *hill;
    struct td_hill_file *old; /* the profile to update */
    struct td_survey_report report;
    unsigned passes_in_all; /* those of the old profile too */
    size_t places_moved;
};

/* Reads the tracks and makes room (survey_load.c). */
TD_CHECKED enum td_result survey_job_load(struct survey_job *job, struct td_problem *problem);
void survey_job_free(struct survey_job *job);
/* What came out, for people (survey_told.c) and for machines (survey_json.c). `hill` is the profile
 * as it was read back. */
void survey_job_tell(const struct survey_job *job, const struct td_hill *hill);
void survey_job_tell_json(const struct survey_job *job, const struct td_hill *hill);
/* What both warn of. */
bool survey_job_came_down(const struct survey_job *job);
bool survey_job_gap_is_long(const struct survey_job *job);

#endif
