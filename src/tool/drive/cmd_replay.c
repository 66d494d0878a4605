/* SPDX-License-Identifier: GPL-3.0-or-later */
/* talkdown replay: a recorded track through the coach; or a drive log, to see whether this core
 * says the same, or what it would say with another truck, road or hills. */
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "io/problem.h"
#include "io/track.h"
#include "talkdown/units.h"
#include "tool/commands.h"
#include "tool/drive/drive_options.h"
#include "tool/drive/exact.h"
#include "tool/drive/what_if.h"

static const char usage[] =
    "replay TRACK... --hills PATH --rig RIG --out DIR [...], or replay DRIVE.db --exact|--what-if";
static const char more[] =
    "  TRACK            GPX or gpsd JSON with times; several are parts of one drive, in order\n"
    "  DRIVE.db --exact feeds the inputs of a drive log to this core instead and compares: exit 0\n"
    "                   when it says the same, 1 and the first difference when not\n"
    "  DRIVE.db --what-if\n"
    "                   feeds only positions and the driver's commands, and models the voice:\n"
    "                   what would be said now, beside what was said then. --rig, --load, --road,\n"
    "                   --talk and --hills change what they name; the rest is as in the log\n"
    "  --realtime       as fast as it was driven\n"
    TD_DRIVE_HELP
    "Writes drive.db, prompts.txt, voice.wav and review.html into DIR and prints each prompt when\n"
    "its fate is known. --exact writes nothing; --what-if only with --out, and no sound.\n";

enum { TRACKS_MAX = 64 };

#define START_NS TD_NS_PER_S
/* Time the last words get after the last fix. */
#define AFTER_NS (8 * TD_NS_PER_S)

struct drive {
    struct td_track tracks[TRACKS_MAX];
    size_t count;
    int64_t first_utc_ms;
    size_t fixes, refused;
};

static const struct td_fix *last_of(const struct td_track *track)
{
    return &track->fixes[track->count - 1];
}

static enum td_result read_track(struct drive *drive, const char *path, struct td_problem *problem)
{
    struct td_track *track = &drive->tracks[drive->count];
    enum td_result result = td_track_read(path, true, track, problem);
    if (result != TD_OK)
        return result;
    drive->count++;
    if (track->count == 0)
        return td_problem_set(problem, TD_INVALID, path, 0, "holds no position that can be used");
    if (!track->timed)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "its points have no times, or times that run backwards; a replay "
                              "needs the time of each");
    if (drive->count == 1)
        drive->first_utc_ms = track->fixes[0].utc_ms;
    else if (track->fixes[0].utc_ms < last_of(track - 1)->utc_ms)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "begins before the track before it ends; name the parts of one "
                              "drive in order");
    drive->fixes += track->count;
    drive->refused += track->refused;
    return TD_OK;
}

static void free_drive(struct drive *drive)
{
    for (size_t i = 0; i < drive->count; i++)
        td_track_free(&drive->tracks[i]);
}

/* Waits until `at_ns` of the drive has come by the wall clock. */
static void keep_pace(const struct timespec *began, int64_t at_ns)
{
    int64_t due_ns = began->tv_sec * TD_NS_PER_S + began->tv_nsec + (at_ns - START_NS);
    struct timespec due = {.tv_sec = (time_t)(due_ns / TD_NS_PER_S),
                           .tv_nsec = (long)(due_ns % TD_NS_PER_S)};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL) == EINTR)
        ;
}

static enum td_result play(struct td_cab *cab, const struct drive *drive, bool realtime,
                           int64_t *end_ns, struct td_problem *problem)
{
    struct timespec began = {.tv_sec = 0};
    (void)clock_gettime(CLOCK_MONOTONIC, &began);
    enum td_result result = td_cab_run_to(cab, START_NS, problem);
    for (size_t i = 0; i < drive->count; i++) {
        for (size_t k = 0; k < drive->tracks[i].count && result == TD_OK; k++) {
            struct td_fix fix = drive->tracks[i].fixes[k];
            /* Only the recording knows when its fixes came: when they were taken. */
            int64_t at_ns = START_NS + (fix.utc_ms - drive->first_utc_ms) * TD_NS_PER_MS;
            fix.received_ns = at_ns;
            if (realtime)
                keep_pace(&began, at_ns);
            result = td_cab_fix(cab, &fix, at_ns, problem);
            *end_ns = at_ns;
        }
    }
    *end_ns += AFTER_NS;
    return result == TD_OK ? td_cab_run_to(cab, *end_ns, problem) : result;
}

static enum td_result replay(const struct td_drive_options *options, const struct drive *drive,
                             bool realtime, struct td_problem *problem)
{
    struct td_drive_parts parts;
    struct td_cab *cab = NULL;
    struct td_cab_summary summary = {.steps = 0};
    int64_t end_ns = START_NS;
    if (options->hills == NULL)
        return td_problem_set(problem, TD_INVALID, NULL, 0,
                              "--hills is missing; name a hill file, a folder of them or a "
                              "library");
    enum td_result result = td_drive_parts_open(options, options->hills, &parts, problem);
    if (result != TD_OK)
        return result;
    struct td_cab_options open = td_drive_cab_options(options, &parts);
    open.program = "talkdown replay";
    open.start_ns = START_NS;
    open.start_utc_ms = drive->first_utc_ms;
    result = td_cab_open(&open, &cab, problem);
    if (result == TD_OK)
        result = play(cab, drive, realtime, &end_ns, problem);
    enum td_result closed = td_cab_close(&cab, end_ns, &summary,
                                         result == TD_OK ? problem : NULL);
    result = result == TD_OK ? closed : result;
    if (result == TD_OK)
        result = td_drive_review(options, problem);
    if (result == TD_OK) {
        FILE *to = td_drive_summary_to(options);
        (void)fprintf(to, "%zu fixes in %.0f s", drive->fixes,
                      td_s_from_ns(end_ns - AFTER_NS - START_NS));
        if (drive->refused > 0)
            (void)fprintf(to, "; %zu points of the recording make no sense and were left out",
                          drive->refused);
        (void)fprintf(to, "\n");
        td_drive_summary_print(options, &summary);
    }
    td_drive_parts_close(&parts);
    return result;
}

static int exact(const char *path)
{
    struct td_exact exact;
    struct td_problem problem;
    if (td_exact_run(path, &exact, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (exact.lost > 0)
        (void)printf("the log itself lost %" PRIu32 " steps: no replay of it can be exact\n",
                     exact.lost);
    if (!exact.same) {
        (void)printf("not the same: %s\n", exact.difference);
        return TD_EXIT_NO;
    }
    (void)printf("same: %u steps, %u prompts\n", exact.steps, exact.prompts);
    return TD_EXIT_DONE;
}

static int what_if(const char *path, const struct td_drive_options *options)
{
    struct td_what_if run;
    struct td_problem problem;
    struct td_said_pair *pairs = NULL;
    size_t count = 0;
    enum td_result result = td_what_if_run(path, options, &run, &problem);
    if (result == TD_OK)
        result = td_said_pair_up(&run.then, &run.now, &pairs, &count, &problem);
    FILE *to = td_drive_summary_to(options);
    if (result == TD_OK && options->json)
        td_said_print_json(stdout, pairs, count);
    else if (result == TD_OK)
        td_said_print(stdout, pairs, count);
    if (result == TD_OK && run.lost > 0)
        (void)fprintf(to, "the log itself lost %" PRIu32 " steps: positions and commands in them "
                          "are missing\n", run.lost);
    if (result == TD_OK && run.left_out > 0)
        (void)fprintf(to, "commands left out, since the command line says otherwise or this truck "
                          "has no such load or stage: %u\n", run.left_out);
    if (result == TD_OK && run.failed_answers > 0)
        (void)fprintf(to, "hill files that could not be read: %u times\n", run.failed_answers);
    free(pairs);
    td_said_free(&run.then);
    td_said_free(&run.now);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}

static int play_tracks(const struct td_drive_options *options, const struct td_tool_line *line,
                       bool realtime)
{
    struct td_problem problem;
    struct drive drive = {.count = 0};
    enum td_result result = TD_OK;
    for (size_t i = 0; i < line->word_count && result == TD_OK; i++)
        result = read_track(&drive, line->words[i], &problem);
    if (result == TD_OK)
        result = replay(options, &drive, realtime, &problem);
    free_drive(&drive);
    return result == TD_OK ? TD_EXIT_DONE : td_tool_fail(&problem);
}

int td_cmd_replay(int argc, char **argv)
{
    struct td_drive_options options = {.hills = NULL};
    bool realtime = false, is_exact = false, is_what_if = false;
    struct td_tool_option table[TD_DRIVE_OPTIONS + 3] = {
        {"exact", NULL, &is_exact},
        {"what-if", NULL, &is_what_if},
        {"realtime", NULL, &realtime},
    };
    td_drive_option_table(&options, table + 3);
    const char *tracks[TRACKS_MAX];
    struct td_tool_line line = {.usage = usage, .more = more, .options = table,
                                .option_count = TD_DRIVE_OPTIONS + 3, .words = tracks,
                                .word_most = TRACKS_MAX};
    struct td_problem problem;
    if (td_tool_options(argc, argv, &line, &problem) != TD_OK)
        return td_tool_fail(&problem);
    if (line.help)
        return TD_EXIT_DONE;
    if (line.word_count == 0)
        return td_tool_fail_words("replay needs tracks, or a drive log with --exact or --what-if; "
                                  "usage: talkdown %s", usage);
    if (!is_exact && !is_what_if)
        return play_tracks(&options, &line, realtime);
    if (is_exact == is_what_if || line.word_count != 1 || realtime || options.speed != NULL)
        return td_tool_fail_words("--exact and --what-if each take one drive log and neither the "
                                  "other nor --realtime or --speed; usage: talkdown %s", usage);
    return is_exact ? exact(tracks[0]) : what_if(tracks[0], &options);
}
