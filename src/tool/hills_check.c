/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills check: what is wrong with profiles and what looks wrong, one finding a line. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "io/problem.h"
#include "talkdown/plan.h"
#include "tool/hills.h"
#include "tool/tool.h"

static const double approach_least_m = 2000; /* design of the format: docs/formats.md */
static const double beyond_least_m = 100;
static const double spacing_most_m = 100; /* curves and crests blur beyond it */
static const double sign_off_ratio = 0.02;

struct totals {
    size_t profiles, errors, warnings;
    bool unreadable;
};

static void warn(struct totals *totals, const char *path, const char *format, ...)
    TD_PRINTF(3, 4);

static void warn(struct totals *totals, const char *path, const char *format, ...)
{
    char words[TD_PROBLEM_TEXT_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(words, sizeof words, format, args);
    va_end(args);
    (void)printf("%s: warning: %s\n", path, words);
    totals->warnings++;
}

static double widest_gap_m(const struct td_hill *hill, double *at_m)
{
    double widest = 0;
    for (size_t i = 0; i + 1 < hill->station_count; i++) {
        double gap = hill->stations[i + 1].along_m - hill->stations[i].along_m;
        if (gap > widest) {
            widest = gap;
            *at_m = hill->stations[i].along_m;
        }
    }
    return widest;
}

static void check_signs(const struct td_hill *hill, const char *path, struct totals *totals)
{
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        if (place->kind == TD_PLACE_GRADE_SIGN &&
            fabs(place->grade_ratio - hill->steepest_downgrade_ratio) > sign_off_ratio)
            warn(totals, path,
                 "the grade sign at %.0f m says %.0f %%, but the steepest 300 m of the road are "
                 "%.1f %%; look at both",
                 place->at_m, place->grade_ratio * 100, hill->steepest_downgrade_ratio * 100);
        if (place->kind == TD_PLACE_ESCAPE_LANE && place->side == TD_SIDE_UNKNOWN &&
            (place->has & TD_PLACE_CLOSED) == 0)
            warn(totals, path,
                 "the escape lane at %.0f m has no side; left or right helps the driver",
                 place->at_m);
        /* On the level between two downgrades it stands before a crest of its own. */
        if (place->kind == TD_PLACE_BRAKE_CHECK && hill->coached && place->at_m > hill->crest_m &&
            td_hill_downgrade_at(hill, place->at_m) >= TD_PLAN_BREAK_RATIO)
            warn(totals, path,
                 "the brake check at %.0f m lies past the crest at %.0f m; look at both",
                 place->at_m, hill->crest_m);
    }
}

static void check_shape(const struct td_hill *hill, const char *path, struct totals *totals)
{
    double at_m = 0;
    double gap_m = widest_gap_m(hill, &at_m);
    if (gap_m > spacing_most_m)
        warn(totals, path,
             "the vertices at %.0f m are %.0f m apart; 10 to 25 m is good, over %.0f m blurs "
             "curves",
             at_m, gap_m, spacing_most_m);
    if (!hill->coached) {
        warn(totals, path, "no downgrade on it needs coaching; it will be silent");
        return;
    }
    if (hill->crest_m < approach_least_m)
        warn(totals, path,
             "the road begins %.0f m before the crest; 2 km gives time to talk, if the road "
             "allows",
             hill->crest_m);
    if (hill->length_m - hill->foot_m < beyond_least_m)
        warn(totals, path, "the road ends %.0f m past the foot; let it go on for 100 m and more",
             hill->length_m - hill->foot_m);
}

static void tell_error(const struct td_problem *problem)
{
    char line[TD_PROBLEM_FILE_MAX + TD_PROBLEM_TEXT_MAX + 24];
    (void)printf("%s\n", td_problem_line(problem, line, sizeof line));
}

static enum td_result check_one(void *context, const struct td_hill_visit *visit,
                                struct td_problem *problem)
{
    struct totals *totals = context;
    (void)problem;
    totals->profiles++;
    if (visit->result != TD_OK) {
        totals->errors++;
        totals->unreadable = totals->unreadable ||
                             (visit->result != TD_INVALID && visit->result != TD_FULL);
        tell_error(visit->problem);
        return TD_OK;
    }
    check_shape(td_hill_file_hill(visit->file), visit->name, totals);
    check_signs(td_hill_file_hill(visit->file), visit->name, totals);
    return TD_OK;
}

int td_hills_check(const char *const *paths, size_t count)
{
    struct totals totals = {0};
    for (size_t i = 0; i < count; i++) {
        struct td_problem problem = {0};
        enum td_result result = td_hills_visit(paths[i], check_one, &totals, &problem);
        if (result != TD_OK) {
            tell_error(&problem);
            totals.errors++;
            totals.unreadable = totals.unreadable || result != TD_INVALID;
        }
    }
    (void)printf("%zu profiles, %zu errors, %zu warnings\n", totals.profiles, totals.errors,
                 totals.warnings);
    if (totals.unreadable)
        return TD_EXIT_ERROR;
    return totals.errors > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}
