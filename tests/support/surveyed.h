/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The survey with the memory it asks for, for tests: any number of tracks in, one hill out. */
#ifndef TD_TESTS_SURVEYED_H
#define TD_TESTS_SURVEYED_H

#include <stdio.h>
#include <stdlib.h>

#include "io/track.h"
#include "survey/survey.h"

struct surveyed {
    struct td_survey_pass passes[TD_SURVEY_PASSES_MAX];
    size_t pass_count;
    struct td_station stations[TD_HILL_STATIONS_MAX];
    struct td_hill hill;
    struct td_survey_report report;
    struct td_survey_options options;
    struct td_problem problem;
    struct td_track tracks[TD_SURVEY_PASSES_MAX]; /* those that were read here */
};

static inline struct surveyed *surveyed_new(void)
{
    struct surveyed *made = calloc(1, sizeof *made);
    if (made == NULL)
        abort();
    return made;
}

/* The fixes stay the caller's. */
static inline void surveyed_add(struct surveyed *made, const struct td_fix *fixes, size_t count)
{
    struct td_survey_pass *pass = &made->passes[made->pass_count++];
    *pass = (struct td_survey_pass){.fixes = fixes, .count = count, .weight = 1};
    pass->points = calloc(count + 1, sizeof *pass->points);
    if (pass->points == NULL)
        abort();
}

static inline void surveyed_read(struct surveyed *made, const char *name)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/data/%s", TD_SHARED_DIR, name);
    struct td_track *track = &made->tracks[made->pass_count];
    if (td_track_read(path, false, track, &made->problem) != TD_OK) {
        fprintf(stderr, "%s: %s\n", path, made->problem.text);
        abort();
    }
    surveyed_add(made, track->fixes, track->count);
}

static inline enum td_result surveyed_make(struct surveyed *made)
{
    struct td_survey_work *work =
        calloc(1, sizeof *work + made->pass_count * sizeof work->lanes[0]);
    if (work == NULL)
        abort();
    enum td_result result =
        td_survey_make(made->passes, made->pass_count, &made->options, work, made->stations,
                       &made->hill, &made->report, &made->problem);
    free(work);
    return result;
}

static inline void surveyed_free(struct surveyed **made)
{
    for (size_t i = 0; i < (*made)->pass_count; i++) {
        free((*made)->passes[i].points);
        td_track_free(&(*made)->tracks[i]);
    }
    free(*made);
    *made = NULL;
}

#endif
