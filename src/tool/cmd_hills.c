/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown hills: looks through profiles. `check` tells what is wrong and what looks wrong, one
 * finding a line; `list` tells what is on file. */
#include <jansson.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "io/hill_file.h"
#include "io/hill_paths.h"
#include "io/problem.h"
#include "talkdown/units.h"
#include "tool/commands.h"
#include "tool/tool.h"

enum { PATHS_MOST = 256 };

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
        if (place->kind == TD_PLACE_BRAKE_CHECK && hill->coached && place->at_m > hill->crest_m)
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

static void check_one(const char *path, struct totals *totals)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    enum td_result result = td_hill_file_read(path, &file, &problem);
    totals->profiles++;
    if (result != TD_OK) {
        totals->errors++;
        totals->unreadable = totals->unreadable || (result != TD_INVALID && result != TD_FULL);
        tell_error(&problem);
        return;
    }
    const struct td_hill *hill = td_hill_file_hill(file);
    check_shape(hill, path, totals);
    check_signs(hill, path, totals);
    td_hill_file_free(&file);
}

static int check(const char *const *words, size_t count)
{
    struct totals totals = {0};
    for (size_t i = 0; i < count; i++) {
        struct td_hill_paths paths;
        struct td_problem problem = {0};
        if (td_hill_paths_list(words[i], &paths, &problem) != TD_OK) {
            tell_error(&problem);
            totals.errors++;
            totals.unreadable = true;
            continue;
        }
        for (size_t k = 0; k < paths.count; k++)
            check_one(paths.paths[k], &totals);
        td_hill_paths_free(&paths);
    }
    (void)printf("%zu profiles, %zu errors, %zu warnings\n", totals.profiles, totals.errors,
                 totals.warnings);
    if (totals.unreadable)
        return TD_EXIT_ERROR;
    return totals.errors > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}

/* What only a coached descent has; null elsewhere, so that no reader takes 0 for a place. */
static json_t *when_coached(const struct td_hill *hill, double value)
{
    return hill->coached ? json_real(value) : json_null();
}

static void list_as_json(const struct td_hill *hill, const char *path)
{
    json_t *row = json_pack(
        "{s:s, s:s, s:s, s:f, s:b, s:o, s:o, s:o, s:f, s:i}", "id", hill->id, "name", hill->name,
        "file", path, "length_m", hill->length_m, "coached", (int)hill->coached, "crest_m",
        when_coached(hill, hill->crest_m), "foot_m", when_coached(hill, hill->foot_m),
        "mean_downgrade_pct", when_coached(hill, hill->mean_downgrade_ratio * 100),
        "steepest_downgrade_pct", hill->steepest_downgrade_ratio * 100, "places",
        (int)hill->place_count);
    if (row != NULL && json_dumpf(row, stdout, JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(6)) == 0)
        (void)putchar('\n');
    json_decref(row);
}

static void list_as_text(const struct td_hill *hill)
{
    (void)printf("%s  \"%s\"  %.1f km (%.1f mi)", hill->id, hill->name, hill->length_m / 1000,
                 td_mi_from_m(hill->length_m));
    if (hill->coached)
        (void)printf("  %.1f %% for %.1f km (%.1f mi), steepest %.1f %%",
                     hill->mean_downgrade_ratio * 100, (hill->foot_m - hill->crest_m) / 1000,
                     td_mi_from_m(hill->foot_m - hill->crest_m),
                     hill->steepest_downgrade_ratio * 100);
    else
        (void)printf("  not coached");
    (void)printf("  %zu places\n", hill->place_count);
}

static int list(const char *const *words, size_t count, bool as_json)
{
    for (size_t i = 0; i < count; i++) {
        struct td_hill_paths paths;
        struct td_problem problem = {0};
        enum td_result result = td_hill_paths_list(words[i], &paths, &problem);
        if (result != TD_OK)
            return td_tool_fail(&problem);
        for (size_t k = 0; result == TD_OK && k < paths.count; k++) {
            struct td_hill_file *file = NULL;
            result = td_hill_file_read(paths.paths[k], &file, &problem);
            if (result == TD_OK && as_json)
                list_as_json(td_hill_file_hill(file), paths.paths[k]);
            else if (result == TD_OK)
                list_as_text(td_hill_file_hill(file));
            td_hill_file_free(&file);
        }
        td_hill_paths_free(&paths);
        if (result != TD_OK)
            return td_tool_fail(&problem);
    }
    return TD_EXIT_DONE;
}

int td_cmd_hills(int argc, char **argv)
{
    bool as_json = false;
    const struct td_tool_option options[] = {{"json", NULL, &as_json}};
    const char *words[PATHS_MOST];
    struct td_tool_line line = {.usage = "hills check PATH..., or hills list PATH... [--json]",
                                .options = options,
                                .option_count = 1,
                                .words = words,
                                .word_most = PATHS_MOST};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    const char *what = line.word_count > 0 ? words[0] : "";
    bool checks = strcmp(what, "check") == 0, lists = strcmp(what, "list") == 0;
    if (strcmp(what, "pack") == 0 || strcmp(what, "verify") == 0)
        return td_tool_fail_words("hills %s: this version has no packed libraries; keep the "
                                  "profiles in a folder, which every command takes as well",
                                  what);
    if (!checks && !lists)
        return td_tool_fail_words("hills: \"%s\" is nothing it does; hills check or hills list is "
                                  "right",
                                  what);
    if (line.word_count < 2)
        return td_tool_fail_words("hills %s: no profile; name files or folders", what);
    if (checks && as_json)
        return td_tool_fail_words("hills check: --json belongs to hills list");
    return checks ? check(words + 1, line.word_count - 1)
                  : list(words + 1, line.word_count - 1, as_json);
}
