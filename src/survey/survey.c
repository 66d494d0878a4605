/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One pass into a road: clean, smooth, space, find the greatest fall, derive, trim, derive. */
#include "survey/survey.h"

#include <math.h>
#include <string.h>

#include "survey/survey_parts.h"
#include "talkdown/text.h"

#define FALL_APPROACH_M  4000.0 /* kept around the greatest fall until the crest is known */
#define FALL_BEYOND_M    2000.0
#define DIRECTION_LEAST_M 30.0  /* a climb smaller than this says nothing about the direction */
#define SUSPECT_RATIO    0.16   /* steeper than any road built for trucks; common practice */
#define SUSPECT_M        50.0

enum td_result td_survey_wrong(struct td_problem *problem, const char *words)
{
    if (problem != NULL) {
        memset(problem, 0, sizeof *problem);
        (void)td_text_copy(problem->text, sizeof problem->text, words);
    }
    return TD_INVALID;
}

struct fall {
    size_t from, to;
    double falls_m, climbs_m;
};

/* The greatest fall from any vertex to a later one, and the greatest climb. */
static struct fall greatest_fall(const struct td_station *stations, size_t count)
{
    struct fall fall = {0, 0, 0, 0};
    size_t high = 0, low = 0;
    for (size_t i = 1; i < count; i++) {
        double here_m = stations[i].elevation_m;
        if (here_m > stations[high].elevation_m)
            high = i;
        if (here_m < stations[low].elevation_m)
            low = i;
        if (stations[high].elevation_m - here_m > fall.falls_m) {
            fall.falls_m = stations[high].elevation_m - here_m;
            fall.from = high;
            fall.to = i;
        }
        fall.climbs_m = fmax(fall.climbs_m, here_m - stations[low].elevation_m);
    }
    return fall;
}

/* Keeps the vertices from `from_m` to `to_m` along (as spaced or derived); returns how many. */
static size_t trim(struct td_station *stations, size_t count, double from_m, double to_m,
                   struct td_survey_report *report)
{
    size_t first = 0, last = count - 1;
    while (first + 2 < count && stations[first + 1].along_m <= from_m)
        first++;
    while (last > first + 1 && stations[last - 1].along_m >= to_m)
        last--;
    report->cut_before_m += stations[first].along_m - stations[0].along_m;
    report->cut_after_m += stations[count - 1].along_m - stations[last].along_m;
    size_t kept = last - first + 1;
    memmove(stations, stations + first, kept * sizeof *stations);
    return kept;
}

static enum td_result check_direction(const struct fall *fall, bool reverse,
                                      struct td_problem *problem)
{
    if (fall->climbs_m < DIRECTION_LEAST_M || fall->climbs_m < 2 * fall->falls_m)
        return TD_OK;
    if (problem == NULL)
        return TD_INVALID;
    memset(problem, 0, sizeof *problem);
    struct td_text text;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, "the track climbs ");
    td_text_add_fixed(&text, fall->climbs_m, 0);
    td_text_add(&text, " m and falls ");
    td_text_add_fixed(&text, fall->falls_m, 0);
    td_text_add(&text, reverse ? " m when reversed; leave --reverse out for a recording of the way "
                                 "down"
                               : " m; add --reverse for a recording of the way up");
    return TD_INVALID;
}

static double suspect_at_m(const struct td_hill *hill)
{
    size_t j = 0;
    for (size_t i = 0; i < hill->station_count; i++) {
        const struct td_station *a = &hill->stations[i];
        while (j + 1 < hill->station_count && hill->stations[j].along_m < a->along_m + SUSPECT_M)
            j++;
        const struct td_station *b = &hill->stations[j];
        double span_m = b->along_m - a->along_m;
        if (span_m >= SUSPECT_M && fabs(a->elevation_m - b->elevation_m) > SUSPECT_RATIO * span_m)
            return a->along_m;
    }
    return -1;
}

static enum td_result derive(struct td_hill *hill, struct td_station *stations, size_t count,
                             struct td_problem *problem)
{
    memset(hill, 0, sizeof *hill);
    hill->id = hill->name = "";
    hill->stations = stations;
    hill->station_count = count;
    return td_hill_derive(hill, stations, problem);
}

enum td_result td_survey_make(const struct td_fix *fixes, size_t count, bool reverse,
                              struct td_survey_point *points, struct td_station *stations,
                              struct td_hill *hill, struct td_survey_report *report,
                              struct td_problem *problem)
{
    memset(report, 0, sizeof *report);
    size_t used = 0;
    enum td_result result =
        td_survey_clean(fixes, count, reverse, points, &used, report, problem);
    if (result != TD_OK)
        return result;
    td_survey_smooth_line(points, used);
    size_t made = td_survey_space(points, used, stations);
    struct fall fall = greatest_fall(stations, made);
    report->falls_m = fall.falls_m;
    report->climbs_m = fall.climbs_m;
    result = check_direction(&fall, reverse, problem);
    if (result != TD_OK)
        return result;
    made = trim(stations, made, stations[fall.from].along_m - FALL_APPROACH_M,
                stations[fall.to].along_m + FALL_BEYOND_M, report);
    result = derive(hill, stations, made, problem);
    if (result == TD_OK && hill->coached) {
        made = trim(stations, made, hill->crest_m - TD_SURVEY_APPROACH_M,
                    hill->foot_m + TD_SURVEY_BEYOND_M, report);
        result = derive(hill, stations, made, problem);
    }
    if (result == TD_OK)
        report->suspect_at_m = suspect_at_m(hill);
    return result;
}
