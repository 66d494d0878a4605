/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown survey: recorded passes in, a hill profile out; or an old profile and new passes. The
 * profile is read back by the loader before it is put in place, so that what is written is what
 * will be driven on. No times and no names of recordings go into it: they tell who drove when. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hill_update.h"
#include "io/hill_write.h"
#include "io/problem.h"
#include "talkdown/quantity.h"
#include "talkdown/text.h"
#include "tool/commands.h"
#include "tool/survey/survey_job.h"
#include "tool/tool.h"

/* Ours: what receivers on one road share does not show as a spread; and the lane up is as far from
 * the lane down as lanes are wide. */
#define POSITION_FLOOR_M 2.0
#define POSITION_LANE_M  4.0

static const char help[] =
    "Tracks are GPX, gpsd JSON (one object a line), what a receiver sent (NMEA, by gpsdecode), or\n"
    "a line of GeoJSON; each went down or up the same road. Several passes make a better profile\n"
    "(docs/survey.md).\n"
    "  --reverse          the longest pass went up, whatever its heights say\n"
    "  --update HILL      survey that profile anew; its places and names stay\n"
    "  --cut-ends LENGTH  leave so much of both ends of each recording out (\"500 m\")\n"
    "  --tiles PATH       heights for tracks that have none: an SRTM (.hgt) or GeoTIFF tile, or a\n"
    "                     folder of them\n"
    "  --surveyed DATE    write the date into the profile (2031-05-17); no time is ever written\n"
    "  --force            replace OUT where it is there already\n"
    "  --json             tell what came out as one JSON object (docs/survey.md)\n";

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

/* Of the road's line, for the locator; 0 where one pass cannot tell. */
static double position_sigma_m(const struct survey_job *job)
{
    bool down = survey_job_came_down(job);
    if (job->report.position_sigma_m < 0)
        return 0;
    return hypot(fmax(POSITION_FLOOR_M, job->report.position_sigma_m), down ? 0 : POSITION_LANE_M);
}

static enum td_result compute(struct survey_job *job, struct td_problem *problem)
{
    enum td_result result = survey_job_load(job, problem);
    if (result != TD_OK)
        return result;
    struct td_problem wrong = {0};
    result = td_survey_make(job->passes, job->count, &job->options, job->work, job->stations,
                            job->hill, &job->report, &wrong);
    if (result == TD_OK) {
        job->hill->position_sigma_m = position_sigma_m(job);
        return TD_OK;
    }
    const char *about = job->report.culprit < job->count ? job->paths[job->report.culprit]
                        : job->count == 1                ? job->paths[0]
                                                         : "survey";
    return td_problem_set(problem, result, about, 0, "%s", wrong.text);
}

/* The profile's text, from scratch or out of the old one. */
static enum td_result write_text(struct survey_job *job, char **bytes, size_t *length,
                                 struct td_problem *problem)
{
    char id[TD_HILL_NAME_MAX], name[TD_HILL_NAME_MAX + 1], source[64];
    stem_of(job->out, id, sizeof id);
    (void)td_text_copy(name, sizeof name, job->name != NULL ? job->name : id);
    if (job->id != NULL && !td_text_copy(id, sizeof id, job->id))
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--id is too long; 63 bytes fit");
    if (job->id == NULL)
        make_id(id);
    (void)snprintf(source, sizeof source, "survey of %u pass%s", job->passes_in_all,
                   job->passes_in_all == 1 ? "" : "es");
    struct td_hill_words words = {
        .id = id, .name = name, .source = source, .surveyed = job->surveyed,
        .passes = job->passes_in_all, .grade_sigma_ratio = job->report.grade_sigma_200,
        .longest_gap_m = job->report.longest_gap_m};
    if (job->old == NULL)
        return td_hill_write_words(job->hill, &words, bytes, length, problem);
    words.id = job->id;
    words.name = job->name;
    size_t old_length = 0;
    const char *old = td_hill_file_bytes(job->old, &old_length);
    return td_hill_update(job->update, old, old_length, td_hill_file_hill(job->old), job->hill,
                          &words, bytes, length, &job->places_moved, problem);
}

static enum td_result write_profile(struct survey_job *job, struct td_problem *problem)
{
    char *bytes = NULL;
    size_t length = 0;
    struct td_hill_file *file = NULL;
    enum td_result result = write_text(job, &bytes, &length, problem);
    if (result == TD_OK)
        result = td_hill_file_parse(job->out, bytes, length, &file, problem);
    if (result == TD_OK)
        result = td_file_write(job->out, bytes, length, job->force, problem);
    if (result == TD_OK)
        (job->as_json ? survey_job_tell_json : survey_job_tell)(job, td_hill_file_hill(file));
    td_hill_file_free(&file);
    free(bytes);
    return result;
}

static enum td_result read_options(struct survey_job *job, struct td_problem *problem)
{
    struct td_problem wrong;
    job->options.reverse = job->reverse;
    if (job->reverse && job->update != NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--reverse does not go with --update: the profile knows the way");
    if (job->cut_ends == NULL)
        return TD_OK;
    if (td_quantity_parse(job->cut_ends, TD_DIM_LENGTH, &job->options.cut_ends_m, &wrong) != TD_OK)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "--cut-ends: %s", wrong.text);
    if (job->options.cut_ends_m < 0 || job->options.cut_ends_m > 20000)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--cut-ends: \"%.40s\" is out of range; 0 m to 20 km is right",
                              job->cut_ends);
    return TD_OK;
}

static int run(struct survey_job *job)
{
    struct td_problem problem = {0};
    enum td_result result = read_options(job, &problem);
    if (result == TD_OK)
        result = compute(job, &problem);
    if (result == TD_OK)
        result = write_profile(job, &problem);
    survey_job_free(job);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}

int td_cmd_survey(int argc, char **argv)
{
    static struct survey_job job;
    job = (struct survey_job){0};
    const struct td_tool_option options[] = {
        {"out", &job.out, NULL},           {"name", &job.name, NULL},
        {"id", &job.id, NULL},             {"reverse", NULL, &job.reverse},
        {"force", NULL, &job.force},       {"update", &job.update, NULL},
        {"cut-ends", &job.cut_ends, NULL}, {"surveyed", &job.surveyed, NULL},
        {"tiles", &job.tiles, NULL},       {"json", NULL, &job.as_json},
    };
    const char *words[TD_SURVEY_PASSES_MAX - 1];
    struct td_tool_line line = {.usage = "survey TRACK... --out HILL.geojson "
                                         "[--update HILL.geojson] [--reverse] "
                                         "[--cut-ends LENGTH] [--tiles PATH] [--name NAME] "
                                         "[--id ID] [--surveyed DATE] [--force] [--json]",
                                .more = help,
                                .options = options,
                                .option_count = sizeof options / sizeof options[0],
                                .words = words,
                                .word_most = TD_SURVEY_PASSES_MAX - 1};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    if (line.word_count == 0)
        return td_tool_fail_words("survey: no track; name one or more recorded passes (GPX, gpsd "
                                  "JSON or NMEA)");
    if (job.out == NULL)
        return td_tool_fail_words("survey: no --out; name the profile to write, for example --out "
                                  "hill.geojson");
    if (job.update != NULL)
        job.paths[job.count++] = job.update;
    for (size_t i = 0; i < line.word_count; i++)
        job.paths[job.count++] = words[i];
    return run(&job);
}
