/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown survey: one recorded track in, a hill profile out. The profile is read back by the
 * loader before it is put in place, so that what is written is what will be driven on. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hill_file.h"
#include "io/hill_write.h"
#include "io/problem.h"
#include "io/track.h"
#include "survey/survey.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/commands.h"
#include "tool/tool.h"

enum { TRACKS_MOST = 64 };

struct survey {
    const char *track, *out, *name, *id;
    bool reverse, force;
    struct td_track fixes;
    struct td_survey_point *points;
    struct td_station *stations;
    struct td_hill *hill;
    struct td_survey_report report;
};

/* The file's name without folder and ending. */
static void stem_of(const char *path, char *stem, size_t size)
{
    const char *slash = strrchr(path, '/');
    const char *from = slash == NULL ? path : slash + 1;
    const char *dot = strrchr(from, '.');
    size_t length = dot == NULL || dot == from ? strlen(from) : (size_t)(dot - from);
    struct td_text text;
    td_text_init(&text, stem, size);
    td_text_add_span(&text, from, length);
}

/* Letters, digits and hyphens; whatever else is in the name becomes a hyphen. */
static void make_id(char *id)
{
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-";
    for (; *id != '\0'; id++)
        if (strchr(allowed, *id) == NULL)
            *id = '-';
}

static enum td_result compute(struct survey *survey, struct td_problem *problem)
{
    enum td_result result = td_track_read(survey->track, false, &survey->fixes, problem);
    if (result != TD_OK)
        return result;
    survey->points = calloc(survey->fixes.count, sizeof *survey->points);
    survey->stations = calloc(TD_HILL_STATIONS_MAX, sizeof *survey->stations);
    survey->hill = calloc(1, sizeof *survey->hill);
    if (survey->points == NULL || survey->stations == NULL || survey->hill == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, survey->track, 0, "no memory to survey it");
    struct td_problem wrong = {0};
    result = td_survey_make(survey->fixes.fixes, survey->fixes.count, survey->reverse,
                            survey->points, survey->stations, survey->hill, &survey->report,
                            &wrong);
    if (result != TD_OK)
        return td_problem_set(problem, result, survey->track, 0, "%s", wrong.text);
    return TD_OK;
}

static void print_distance(const char *what, double metres)
{
    (void)printf("%s %.2f km (%.2f mi)", what, metres / 1000, td_mi_from_m(metres));
}

static void print_report(const struct survey *survey, const struct td_hill *hill)
{
    const struct td_survey_report *report = &survey->report;
    (void)printf("%s: \"%s\", ", survey->out, hill->name);
    print_distance("length", hill->length_m);
    (void)printf(", %zu vertices\n", hill->station_count);
    if (hill->coached) {
        print_distance("  crest at", hill->crest_m);
        print_distance(", foot at", hill->foot_m);
        (void)printf("\n  %.1f %% mean, steepest 300 m %.1f %%",
                     hill->mean_downgrade_ratio * 100, hill->steepest_downgrade_ratio * 100);
        print_distance(" from", hill->steepest_at_m);
        (void)printf(", %zu false bottoms, %zu curves\n", hill->easing_count, hill->curve_count);
    } else {
        (void)printf("  no downgrade on it needs coaching\n");
    }
    (void)printf("  from %zu of %zu points; left out: %zu standing or too close, %zu jumps or "
                 "spikes, %zu without height, %zu refused; %zu heights mended; longest gap %.0f "
                 "m\n",
                 report->used, survey->fixes.count + survey->fixes.refused, report->standing,
                 report->outliers, report->without_height, survey->fixes.refused,
                 report->height_spikes, report->longest_gap_m);
    print_distance("  trimmed: before", report->cut_before_m);
    print_distance(", after", report->cut_after_m);
    (void)printf("\n");
    if (report->suspect_at_m >= 0)
        (void)printf("  look at %.0f m: steeper than 16 %% there; heights are often wrong in "
                     "tunnels and on bridges\n",
                     report->suspect_at_m);
    (void)printf("  put signs, brake checks and escape lanes in before it is driven on "
                 "(docs/formats.md)\n");
}

static enum td_result write_profile(const struct survey *survey, struct td_problem *problem)
{
    char id[TD_HILL_NAME_MAX], name[TD_HILL_NAME_MAX + 1], source[256];
    stem_of(survey->out, id, sizeof id);
    (void)td_text_copy(name, sizeof name, survey->name != NULL ? survey->name : id);
    if (survey->id != NULL && !td_text_copy(id, sizeof id, survey->id))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--id is too long; 63 bytes fit");
    if (survey->id == NULL)
        make_id(id);
    const char *slash = strrchr(survey->track, '/');
    (void)snprintf(source, sizeof source, "survey of one pass, %.150s%s",
                   slash == NULL ? survey->track : slash + 1,
                   survey->reverse ? ", recorded going up" : "");
    char *bytes = NULL;
    size_t length = 0;
    struct td_hill_file *file = NULL;
    enum td_result result =
        td_hill_write_text(survey->hill, id, name, source, &bytes, &length, problem);
    if (result == TD_OK)
        result = td_hill_file_parse(survey->out, bytes, length, &file, problem);
    if (result == TD_OK)
        result = td_file_write(survey->out, bytes, length, survey->force, problem);
    if (result == TD_OK)
        print_report(survey, td_hill_file_hill(file));
    td_hill_file_free(&file);
    free(bytes);
    return result;
}

static int run(struct survey *survey)
{
    struct td_problem problem = {0};
    enum td_result result = compute(survey, &problem);
    if (result == TD_OK)
        result = write_profile(survey, &problem);
    td_track_free(&survey->fixes);
    free(survey->points);
    free(survey->stations);
    free(survey->hill);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}

int td_cmd_survey(int argc, char **argv)
{
    struct survey survey = {0};
    const struct td_tool_option options[] = {
        {"out", &survey.out, NULL},         {"name", &survey.name, NULL},
        {"id", &survey.id, NULL},           {"reverse", NULL, &survey.reverse},
        {"force", NULL, &survey.force},
    };
    const char *words[TRACKS_MOST];
    struct td_tool_line line = {.usage = "survey TRACK --out HILL.geojson [--reverse] "
                                         "[--name NAME] [--id ID] [--force]",
                                .options = options,
                                .option_count = sizeof options / sizeof options[0],
                                .words = words,
                                .word_most = TRACKS_MOST};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    if (line.word_count == 0)
        return td_tool_fail_words("survey: no track; name one recorded track (GPX or gpsd JSON)");
    if (line.word_count > 1)
        return td_tool_fail_words("survey: %zu tracks, but this version makes a profile of one "
                                  "pass; name the best one (merging passes comes in a later "
                                  "version)",
                                  line.word_count);
    if (survey.out == NULL)
        return td_tool_fail_words("survey: no --out; name the profile to write, for example --out "
                                  "hill.geojson");
    survey.track = words[0];
    return run(&survey);
}
