/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reads a drive log for export. Positions are the inputs as they came, not the coach's place on the
 * road: other programs want to see what the receiver said. */
#include "tool/desk/export_drive.h"

#include <stdlib.h>
#include <string.h>

#include "io/drive_trace.h"
#include "io/problem.h"
#include "io/utc.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

/* Estimates are on file once a second. */
#define THOUGHT_FOR_NS (3 * TD_NS_PER_S / 2)

struct reading {
    struct td_export_drive *drive;
    struct td_drive_reader *reader;
    size_t room;
    struct td_drive_row row; /* the last estimate at or before the step */
    struct td_drive_row ahead;
    bool has_row, has_ahead;
};

static enum td_result no_memory(struct td_problem *problem)
{
    return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the drive");
}

/* Brings `row` up to the step's moment. */
static enum td_result keep_up(struct reading *reading, int64_t now_ns, struct td_problem *problem)
{
    while (!reading->has_ahead || reading->ahead.now_ns <= now_ns) {
        struct td_problem why;
        if (reading->has_ahead) {
            reading->row = reading->ahead;
            reading->has_row = true;
        }
        enum td_result result = td_drive_trace(reading->reader, &reading->ahead, &why);
        if (result == TD_NOT_FOUND) {
            reading->ahead.now_ns = INT64_MAX;
            result = TD_OK;
        }
        if (result != TD_OK) {
            *problem = why;
            return result;
        }
        reading->has_ahead = true;
    }
    return TD_OK;
}

static bool on_hill(const struct td_export_point *point)
{
    return point->thought && point->hill[0] != '\0';
}

static enum td_result add_point(struct reading *reading, const struct td_input *input,
                                struct td_problem *problem)
{
    struct td_export_drive *drive = reading->drive;
    struct td_export_point point = {.at_ns = input->now_ns, .fix = input->fix};
    point.thought = reading->has_row && input->now_ns - reading->row.now_ns <= THOUGHT_FOR_NS;
    if (point.thought) {
        point.estimate = reading->row.estimate;
        if (reading->row.hill >= 0)
            (void)td_text_copy(point.hill, sizeof point.hill,
                               td_drive_hill_id(reading->reader, (size_t)reading->row.hill));
    }
    if (!td_fix_is_sane(&input->fix) || (drive->anonymous && !on_hill(&point)))
        return TD_OK;
    if (drive->point_count == reading->room) {
        size_t room = reading->room == 0 ? 1024 : 2 * reading->room;
        struct td_export_point *points = realloc(drive->points, room * sizeof *points);
        if (points == NULL)
            return no_memory(problem);
        drive->points = points;
        reading->room = room;
    }
    const struct td_export_point *before =
        drive->point_count > 0 ? &drive->points[drive->point_count - 1] : NULL;
    point.breaks = before == NULL ||
                   td_s_from_ns(point.at_ns - before->at_ns) > TD_EXPORT_HOLE_S ||
                   (drive->anonymous && strcmp(point.hill, before->hill) != 0);
    drive->points[drive->point_count++] = point;
    return TD_OK;
}

static enum td_result read_points(struct reading *reading, struct td_problem *problem)
{
    for (;;) {
        struct td_input input;
        struct td_problem why;
        enum td_result result = td_drive_next(reading->reader, &input, &why);
        if (result == TD_NOT_FOUND)
            return TD_OK;
        if (result == TD_OK)
            result = keep_up(reading, input.now_ns, &why);
        if (result == TD_OK && input.has_fix)
            result = add_point(reading, &input, &why);
        if (result != TD_OK) {
            *problem = why;
            return result;
        }
    }
}

/* Index of the last position at or before the moment; the first one for one before all. */
static size_t point_at(const struct td_export_drive *drive, int64_t at_ns)
{
    size_t low = 0, high = drive->point_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (drive->points[middle].at_ns <= at_ns)
            low = middle + 1;
        else
            high = middle;
    }
    return low > 0 ? low - 1 : 0;
}

static bool was_begun(const struct td_spoken *spoken)
{
    return spoken->issued_ns != 0 &&
           (spoken->fate == TD_EVENT_STARTED || spoken->fate == TD_EVENT_SPOKEN ||
            spoken->fate == TD_EVENT_CUT || spoken->fate == TD_EVENT_LOST);
}

/* Off the hill: it speaks of none, or the truck was on none. */
static bool is_left_out(const struct td_export_drive *drive, const struct td_spoken *spoken)
{
    if (!drive->anonymous)
        return false;
    const struct td_export_point *point = &drive->points[point_at(drive, spoken->issued_ns)];
    double apart_s = td_s_from_ns(spoken->issued_ns - point->at_ns);
    return spoken->hill_id[0] == '\0' || apart_s < 0 || apart_s > TD_EXPORT_HOLE_S;
}

static int by_time(const void *one, const void *other)
{
    const struct td_export_prompt *a = one, *b = other;
    return (a->t_s > b->t_s) - (a->t_s < b->t_s);
}

static enum td_result read_prompts(struct reading *reading, struct td_problem *problem)
{
    struct td_export_drive *drive = reading->drive;
    struct td_spoken *spoken = NULL;
    size_t count = 0;
    enum td_result result = td_drive_prompts(reading->reader, &spoken, &count, problem);
    if (result != TD_OK)
        return result;
    drive->prompts = calloc(count + 1, sizeof *drive->prompts);
    for (size_t i = 0; drive->prompts != NULL && i < count; i++) {
        const struct td_spoken *one = &spoken[i];
        if (!was_begun(one) || is_left_out(drive, one))
            continue;
        struct td_export_prompt *prompt = &drive->prompts[drive->prompt_count++];
        prompt->prompt = one->prompt;
        prompt->fate = one->fate;
        prompt->t_s = td_s_from_ns(one->issued_ns - drive->start_ns);
        prompt->along_m = one->along_m;
        prompt->speed_mps = one->speed_mps;
        prompt->point = point_at(drive, one->issued_ns);
        (void)td_text_copy(prompt->words, sizeof prompt->words, one->words);
        (void)td_text_copy(prompt->hill, sizeof prompt->hill, one->hill_id);
    }
    free(spoken);
    if (drive->prompt_count > 0)
        qsort(drive->prompts, drive->prompt_count, sizeof *drive->prompts, by_time);
    return drive->prompts != NULL ? TD_OK : no_memory(problem);
}

static enum td_result read_all(struct reading *reading, const char *path,
                               struct td_problem *problem)
{
    struct td_export_drive *drive = reading->drive;
    drive->start_ns = td_drive_start_ns(reading->reader);
    drive->start_utc_ms = td_drive_start_utc_ms(reading->reader);
    (void)td_drive_head_text(reading->reader, "rig_name", drive->rig_name, sizeof drive->rig_name);
    (void)td_drive_head_text(reading->reader, "program", drive->program, sizeof drive->program);
    enum td_result result = read_points(reading, problem);
    if (result != TD_OK)
        return result;
    if (drive->point_count == 0)
        return td_problem_set(problem, TD_INVALID, path, 0,
                              drive->anonymous
                                  ? "holds no position on a hill on file, and --anonymous leaves "
                                    "out all others"
                                  : "holds no position");
    if (drive->anonymous) {
        drive->start_ns = drive->points[0].at_ns;
        drive->start_utc_ms = 0;
    }
    for (size_t i = 0; i < drive->point_count; i++)
        drive->points[i].t_s = td_s_from_ns(drive->points[i].at_ns - drive->start_ns);
    return read_prompts(reading, problem);
}

enum td_result td_export_read(const char *path, bool anonymous, struct td_export_drive *drive,
                              struct td_problem *problem)
{
    *drive = (struct td_export_drive){.anonymous = anonymous};
    struct reading reading = {.drive = drive};
    enum td_result result = td_drive_open(path, &reading.reader, problem);
    if (result == TD_OK)
        result = read_all(&reading, path, problem);
    td_drive_close(&reading.reader);
    return result;
}

void td_export_free(struct td_export_drive *drive)
{
    free(drive->points);
    free(drive->prompts);
    *drive = (struct td_export_drive){.anonymous = false};
}

const char *td_export_utc(const struct td_export_drive *drive, int64_t at_ns, char *text)
{
    text[0] = '\0';
    if (!drive->anonymous)
        (void)td_utc_format(drive->start_utc_ms + (at_ns - drive->start_ns) / TD_NS_PER_MS, text);
    return text;
}
