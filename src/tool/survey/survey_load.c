/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tracks of a survey: read, told apart, and given the memory that the survey works in. */
#include <math.h>
#include <stdlib.h>

#include "io/problem.h"
#include "talkdown/geo.h"
#include "tool/survey/survey_job.h"
#include "tool/survey/survey_tiles.h"

/* The old profile's line stands for as many passes as it was made of, but new ones must be able to
 * move it. */
#define OLD_WEIGHT_MOST 8.0

static enum td_result load_old(struct survey_job *job, struct td_problem *problem)
{
    enum td_result result = td_hill_file_read(job->update, &job->old, problem);
    if (result != TD_OK)
        return result;
    const struct td_hill *hill = td_hill_file_hill(job->old);
    struct td_fix *fixes = calloc(hill->station_count, sizeof *fixes);
    if (fixes == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, job->update, 0, "no memory to survey it");
    for (size_t i = 0; i < hill->station_count; i++)
        fixes[i] = (struct td_fix){.has = TD_FIX_POSITION | TD_FIX_ALTITUDE,
                                   .lat_deg = hill->stations[i].lat_deg,
                                   .lon_deg = hill->stations[i].lon_deg,
                                   .altitude_m = hill->stations[i].elevation_m};
    job->tracks[0] = (struct td_track){.fixes = fixes, .count = hill->station_count};
    return TD_OK;
}

/* The same recording twice would agree with itself and pass for two. */
static bool same(const struct td_track *a, const struct td_track *b)
{
    if (a->count != b->count)
        return false;
    for (size_t i = 0; i < a->count; i++)
        if (fabs(a->fixes[i].lat_deg - b->fixes[i].lat_deg) > 1e-9 ||
            fabs(a->fixes[i].lon_deg - b->fixes[i].lon_deg) > 1e-9)
            return false;
    return true;
}

static enum td_result check_same(const struct survey_job *job, size_t added,
                                 struct td_problem *problem)
{
    for (size_t i = 0; i < added; i++)
        if (same(&job->tracks[i], &job->tracks[added]))
            return td_problem_set(problem, TD_INVALID, job->paths[added], 0,
                                  "is the same recording as %s; name each pass once",
                                  job->paths[i]);
    return TD_OK;
}

/* Tracks that have heights of their own keep them. */
static enum td_result fill_heights(struct survey_job *job, struct td_problem *problem)
{
    struct td_tiles *tiles = NULL;
    enum td_result result = td_tiles_open(job->tiles, &tiles, problem);
    for (size_t i = 0; result == TD_OK && i < job->count; i++) {
        if (!survey_lacks_heights(&job->tracks[i]))
            continue;
        result = survey_heights_from(tiles, job->paths[i], &job->tracks[i], problem);
        job->from_tiles[i] = true;
    }
    td_tiles_close(&tiles);
    return result;
}

static enum td_result check_heights(const struct survey_job *job, struct td_problem *problem)
{
    for (size_t i = 0; i < job->count; i++)
        if (survey_lacks_heights(&job->tracks[i]))
            return td_problem_set(problem, TD_INVALID, job->paths[i], 0,
                                  "has no elevation; record it with a receiver that gives height, "
                                  "or name elevation tiles with --tiles");
    return TD_OK;
}

static enum td_result make_room(struct survey_job *job, struct td_problem *problem)
{
    job->work = calloc(1, sizeof *job->work + job->count * sizeof job->work->lanes[0]);
    job->stations = calloc(TD_HILL_STATIONS_MAX, sizeof *job->stations);
    job->hill = calloc(1, sizeof *job->hill);
    bool there = job->work != NULL && job->stations != NULL && job->hill != NULL;
    for (size_t i = 0; i < job->count; i++) {
        struct td_survey_pass *pass = &job->passes[i];
        *pass = (struct td_survey_pass){.fixes = job->tracks[i].fixes,
                                        .count = job->tracks[i].count, .weight = 1};
        pass->points = calloc(pass->count + 1, sizeof *pass->points);
        there = there && pass->points != NULL;
    }
    if (!there)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the survey");
    return TD_OK;
}

enum td_result survey_job_load(struct survey_job *job, struct td_problem *problem)
{
    enum td_result result = TD_OK;
    for (size_t i = 0; result == TD_OK && i < job->count; i++) {
        bool old = i == 0 && job->update != NULL;
        result = old ? load_old(job, problem)
                     : td_track_read(job->paths[i], false, &job->tracks[i], problem);
        if (result == TD_OK)
            result = check_same(job, i, problem);
    }
    if (result == TD_OK)
        result = job->tiles != NULL ? fill_heights(job, problem) : check_heights(job, problem);
    if (result == TD_OK)
        result = make_room(job, problem);
    if (result != TD_OK)
        return result;
    job->passes_in_all = (unsigned)job->count;
    if (job->old != NULL) {
        unsigned before = td_hill_file_passes(job->old);
        before = before == 0 ? 1 : before;
        job->passes_in_all += before - 1;
        job->passes[0].weight = fmin(OLD_WEIGHT_MOST, before);
        job->options.keep_extent = true;
    }
    return TD_OK;
}

void survey_job_free(struct survey_job *job)
{
    for (size_t i = 0; i < job->count; i++) {
        free(job->passes[i].points);
        td_track_free(&job->tracks[i]);
    }
    td_hill_file_free(&job->old);
    free(job->work);
    free(job->stations);
    free(job->hill);
}
