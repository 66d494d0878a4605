/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a survey found, for machines: one JSON object with the figures of survey_told.c. Its keys
 * are a contract (docs/survey.md). */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tool/survey/survey_job.h"

static double rounded(double value, double step)
{
    return round(value / step) * step;
}

/* What is not known is null, so that no reader takes it for a 0. */
static json_t *known(bool is_known, double value, double step)
{
    return is_known ? json_real(rounded(value, step)) : json_null();
}

static const char *leaf(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? path : slash + 1;
}

static json_t *easings(const struct td_hill *hill)
{
    json_t *list = json_array();
    for (size_t i = 0; i < hill->easing_count; i++)
        (void)json_array_append_new(
            list, json_pack("{s:f, s:f}", "from_m", rounded(hill->easings[i].from_m, 0.1), "to_m",
                            rounded(hill->easings[i].to_m, 0.1)));
    return list;
}

static json_t *curves(const struct td_hill *hill)
{
    json_t *list = json_array();
    for (size_t i = 0; i < hill->curve_count; i++) {
        const struct td_curve *curve = &hill->curves[i];
        (void)json_array_append_new(
            list, json_pack("{s:f, s:f, s:f, s:s}", "from_m", rounded(curve->from_m, 0.1), "to_m",
                            rounded(curve->to_m, 0.1), "radius_m", rounded(curve->radius_m, 0.1),
                            "side", curve->turn == TD_SIDE_LEFT ? "left" : "right"));
    }
    return list;
}

static json_t *road(const struct survey_job *job, const struct td_hill *hill)
{
    bool on = hill->coached;
    return json_pack(
        "{s:s, s:s, s:s, s:f, s:i, s:b, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "file", job->out,
        "id", hill->id, "name", hill->name, "length_m", rounded(hill->length_m, 0.1), "vertices",
        (int)hill->station_count, "coached", (int)on, "crest_m", known(on, hill->crest_m, 0.1),
        "foot_m", known(on, hill->foot_m, 0.1), "mean_downgrade_pct",
        known(on, hill->mean_downgrade_ratio * 100, 0.01), "steepest_300_m_pct",
        known(on, hill->steepest_downgrade_ratio * 100, 0.01), "steepest_at_m",
        known(on, hill->steepest_at_m, 0.1), "false_bottoms", easings(hill), "curves",
        curves(hill));
}

static json_t *quality(const struct survey_job *job)
{
    const struct td_survey_report *report = &job->report;
    return json_pack(
        "{s:i, s:o, s:o, s:o, s:f, s:f, s:f, s:f, s:o}", "passes_in_all", (int)job->passes_in_all,
        "grade_sigma_200_m_pct",
        known(report->grade_sigma_200 >= 0, report->grade_sigma_200 * 100, 0.001),
        "grade_sigma_1000_m_pct",
        known(report->grade_sigma_1000 >= 0, report->grade_sigma_1000 * 100, 0.001),
        "position_sigma_m", known(report->position_sigma_m >= 0, report->position_sigma_m, 0.01),
        "smoothed_over_m", report->height_half_m, "longest_gap_m",
        rounded(report->longest_gap_m, 0.1), "trimmed_before_m", rounded(report->cut_before_m, 0.1),
        "trimmed_after_m", rounded(report->cut_after_m, 0.1), "places_moved",
        job->old != NULL ? json_integer((json_int_t)job->places_moved) : json_null());
}

static json_t *pass_row(const struct survey_job *job, size_t index)
{
    const struct td_survey_pass *pass = &job->passes[index];
    const struct td_survey_pass_report *report = &pass->report;
    bool old = index == 0 && job->old != NULL;
    json_t *row = json_pack(
        "{s:s, s:s, s:f, s:I, s:I, s:I, s:I, s:I, s:I, s:I, s:I}", "file",
        leaf(job->paths[index]), "way", old ? "as it was" : report->climbed ? "up" : "down",
        "covers_m", rounded(report->covers_m, 0.1), "points_used", (json_int_t)report->used,
        "points", (json_int_t)(pass->count + job->tracks[index].refused), "standing",
        (json_int_t)report->standing, "outliers", (json_int_t)report->outliers, "without_height",
        (json_int_t)report->without_height, "elsewhere", (json_int_t)report->elsewhere, "refused",
        (json_int_t)job->tracks[index].refused, "heights_mended",
        (json_int_t)report->height_spikes);
    json_t *heights = json_pack(
        "{s:b, s:b, s:o, s:o}", "heights_from_tiles", (int)job->from_tiles[index], "heights_used",
        (int)!report->height_refused, "height_off_m",
        known(job->count > 1, report->height_off_m, 0.1), "height_noise_m",
        known(report->height_noise_m >= 0, report->height_noise_m, 0.01));
    if (row != NULL && heights != NULL)
        (void)json_object_update(row, heights);
    json_decref(heights);
    return row;
}

static json_t *passes(const struct survey_job *job)
{
    json_t *list = json_array();
    for (size_t i = 0; i < job->count; i++)
        (void)json_array_append_new(list, pass_row(job, i));
    return list;
}

static void add_warning(json_t *list, const char *kind, double from_m, double to_m)
{
    (void)json_array_append_new(list,
                                json_pack("{s:s, s:o, s:o}", "kind", kind, "from_m",
                                          known(from_m >= 0, from_m, 0.1), "to_m",
                                          known(to_m >= 0, to_m, 0.1)));
}

static json_t *warnings(const struct survey_job *job)
{
    const struct td_survey_report *report = &job->report;
    json_t *list = json_array();
    for (size_t i = 0; i < report->bridge_count; i++)
        add_warning(list, "drawn_straight", report->bridges[i].from_m, report->bridges[i].to_m);
    if (report->suspect_at_m >= 0)
        add_warning(list, "steeper_than_16_pct", report->suspect_at_m, -1);
    if (survey_job_gap_is_long(job))
        add_warning(list, "long_gap", -1, -1);
    if (!survey_job_came_down(job))
        add_warning(list, "every_pass_went_up", -1, -1);
    return list;
}

void survey_job_tell_json(const struct survey_job *job, const struct td_hill *hill)
{
    json_t *object = road(job, hill), *more = quality(job);
    if (object != NULL && more != NULL && json_object_update(object, more) == 0 &&
        json_object_set_new(object, "passes", passes(job)) == 0 &&
        json_object_set_new(object, "warnings", warnings(job)) == 0 &&
        json_dumpf(object, stdout, JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(9)) == 0)
        (void)putchar('\n');
    json_decref(object);
    json_decref(more);
}
