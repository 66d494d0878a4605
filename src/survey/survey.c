/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Passes into a road: each is cleaned, the one that covers most gives the first line and its way,
 * all are laid on it, it moves to their mean, heights are averaged, and the descent is cut out. */
#include "survey/survey.h"

#include <math.h>
#include <string.h>

#include "survey/survey_parts.h"
#include "talkdown/text.h"

#define COVER_LEAST        0.25 /* of the first line's descent, for a pass to be of this road */
#define COVER_LEAST_M      400.0
#define COVER_SLACK        1.1  /* so much longer must a later pass be to give the first line */

#define FALL_APPROACH_M  4000.0 /* kept around the greatest fall until the crest is known */
#define FALL_BEYOND_M    2000.0
#define DIRECTION_LEAST_M 30.0  /* a climb smaller than this says nothing about the direction */
#define SUSPECT_RATIO    0.16   /* steeper than any road built for trucks; common practice */
#define WRONG_RATIO      0.25   /* no road at all: the heights jump */
#define SUSPECT_M        50.0

enum { AVERAGE_ROUNDS = 3 };

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

/* Only asked when the way was given: whoever said that it went up may have been wrong. */
static enum td_result check_direction(double falls_m, double climbs_m, struct td_problem *problem)
{
    if (climbs_m < DIRECTION_LEAST_M || climbs_m < 2 * falls_m)
        return TD_OK;
    if (problem == NULL)
        return TD_INVALID;
    memset(problem, 0, sizeof *problem);
    struct td_text text;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, "the track climbs ");
    td_text_add_fixed(&text, climbs_m, 0);
    td_text_add(&text, " m and falls ");
    td_text_add_fixed(&text, falls_m, 0);
    td_text_add(&text, " m when reversed; leave --reverse out");
    return TD_INVALID;
}

/* The first 50 m steeper than `most`; -1 none. */
static double steeper_at_m(const struct td_hill *hill, double most)
{
    size_t j = 0;
    for (size_t i = 0; i < hill->station_count; i++) {
        const struct td_station *a = &hill->stations[i];
        while (j + 1 < hill->station_count && hill->stations[j].along_m < a->along_m + SUSPECT_M)
            j++;
        const struct td_station *b = &hill->stations[j];
        double span_m = b->along_m - a->along_m;
        if (span_m >= SUSPECT_M && fabs(a->elevation_m - b->elevation_m) > most * span_m)
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

/* The pass's own line, the way down by its heights (or as told), cut to its greatest fall. */
struct first_line {
    double falls_m, climbs_m, cut_before_m, cut_after_m;
    double descent_m; /* length from the top of the fall to its bottom */
    size_t count;
};

static struct first_line draw(struct td_survey_pass *pass, bool reverse, bool whole,
                              struct td_station *stations)
{
    struct first_line line = {0};
    td_survey_smooth_line(pass->points, pass->point_count);
    line.count = td_survey_space(pass->points, pass->point_count, stations);
    struct fall fall = greatest_fall(stations, line.count);
    if (reverse || (!whole && fall.climbs_m > fall.falls_m)) {
        td_survey_turn_round(pass->points, pass->point_count);
        pass->turned = !pass->turned;
        td_survey_smooth_line(pass->points, pass->point_count);
        line.count = td_survey_space(pass->points, pass->point_count, stations);
        fall = greatest_fall(stations, line.count);
    }
    line.falls_m = fall.falls_m;
    line.climbs_m = fall.climbs_m;
    line.descent_m = stations[fall.to].along_m - stations[fall.from].along_m;
    if (whole)
        return line;
    struct td_survey_report cut = {0};
    line.count = trim(stations, line.count, stations[fall.from].along_m - FALL_APPROACH_M,
                      stations[fall.to].along_m + FALL_BEYOND_M, &cut);
    line.cut_before_m = cut.cut_before_m;
    line.cut_after_m = cut.cut_after_m;
    return line;
}

static double length_m(const struct td_station *stations, size_t count)
{
    return stations[count - 1].along_m - stations[0].along_m;
}

/* Draws the line of the pass that has most of the descent, with its approach and foot. */
static enum td_result choose(struct td_survey_pass *passes, size_t pass_count,
                             const struct td_survey_options *options,
                             struct td_station *stations, struct first_line *line,
                             struct td_survey_report *report, struct td_problem *problem)
{
    double most_m = 0;
    for (size_t p = 0; p < pass_count && !options->keep_extent; p++) {
        struct first_line tried = draw(&passes[p], false, false, stations);
        double covers_m = length_m(stations, tried.count);
        if (most_m > 0 && covers_m < COVER_SLACK * most_m)
            continue;
        most_m = covers_m;
        report->reference = p;
    }
    struct td_survey_pass *first = &passes[report->reference];
    /* Drawing turns a pass round where it climbs; told to, the way is the recorded one turned. */
    if (options->reverse) {
        enum td_result result = td_survey_clean(first, options->cut_ends_m, problem);
        if (result != TD_OK)
            return result;
    }
    *line = draw(first, options->reverse, options->keep_extent, stations);
    report->falls_m = line->falls_m;
    report->climbs_m = line->climbs_m;
    report->cut_before_m = line->cut_before_m;
    report->cut_after_m = line->cut_after_m;
    for (size_t p = 0; p < pass_count; p++)
        if (options->keep_extent && p != report->reference)
            td_survey_smooth_line(passes[p].points, passes[p].point_count);
    return options->reverse ? check_direction(line->falls_m, line->climbs_m, problem) : TD_OK;
}

static enum td_result another_road(const struct td_survey_pass *pass, double road_m,
                                   struct td_problem *problem)
{
    if (problem == NULL)
        return TD_INVALID;
    memset(problem, 0, sizeof *problem);
    struct td_text text;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, "runs on ");
    td_text_add_fixed(&text, pass->report.covers_m, 0);
    td_text_add(&text, " m of the ");
    td_text_add_fixed(&text, road_m, 0);
    td_text_add(&text, " m that the longest pass has, so it is another road; survey each road by "
                       "itself");
    return TD_INVALID;
}

static enum td_result align_all(struct td_survey_pass *passes, size_t pass_count,
                                const struct td_frame *frame, const struct td_station *stations,
                                const struct first_line *line, struct td_survey_report *report,
                                struct td_problem *problem)
{
    double road_m = length_m(stations, line->count);
    double least_m = fmin(road_m, fmax(COVER_LEAST_M, COVER_LEAST * line->descent_m));
    for (size_t p = 0; p < pass_count; p++) {
        td_survey_into_frame(frame, &passes[p]);
        td_survey_align(&passes[p], stations, line->count);
        if (p != report->reference && passes[p].report.covers_m < least_m) {
            report->culprit = p;
            return another_road(&passes[p], road_m, problem);
        }
    }
    return TD_OK;
}

/* Where the last trimming left the bridges. */
static void shift_bridges(struct td_survey_report *report, double cut_m, double road_m)
{
    size_t kept = 0;
    for (size_t i = 0; i < report->bridge_count; i++) {
        struct td_survey_bridge bridge = report->bridges[i];
        bridge.from_m = fmax(0, bridge.from_m - cut_m);
        bridge.to_m = fmin(road_m, bridge.to_m - cut_m);
        if (bridge.to_m > bridge.from_m)
            report->bridges[kept++] = bridge;
    }
    report->bridge_count = kept;
}

/* The longest piece of the kept road that no pass speaks of; bridges are told apart. */
static double gap_m(const struct td_survey_work *work, size_t from, size_t count, double step_m)
{
    size_t hole = 0, most = 0;
    for (size_t i = from; i < from + count; i++) {
        hole = work->b[i] > 0 || work->bridged[i] ? 0 : hole + 1;
        most = hole > most ? hole : most;
    }
    return most == 0 ? 0 : step_m * (double)(most + 1);
}

static enum td_result cut_out(const struct td_survey_work *work, struct td_station *stations,
                              size_t count, bool keep_extent, struct td_hill *hill,
                              struct td_survey_report *report, struct td_problem *problem)
{
    double step_m = length_m(stations, count) / (double)(count - 1);
    double before_m = report->cut_before_m;
    enum td_result result = derive(hill, stations, count, problem);
    if (result == TD_OK && hill->coached && !keep_extent) {
        count = trim(stations, count, hill->crest_m - TD_SURVEY_APPROACH_M,
                     hill->foot_m + TD_SURVEY_BEYOND_M, report);
        result = derive(hill, stations, count, problem);
        shift_bridges(report, report->cut_before_m - before_m, hill->length_m);
    }
    if (result != TD_OK)
        return result;
    report->longest_gap_m =
        fmax(report->longest_gap_m,
             gap_m(work, (size_t)round((report->cut_before_m - before_m) / step_m),
                   hill->station_count, step_m));
    double jump_m = steeper_at_m(hill, WRONG_RATIO);
    report->suspect_at_m = steeper_at_m(hill, SUSPECT_RATIO);
    if (jump_m < 0 || problem == NULL)
        return jump_m < 0 ? TD_OK : TD_INVALID;
    memset(problem, 0, sizeof *problem);
    struct td_text text;
    td_text_init(&text, problem->text, sizeof problem->text);
    td_text_add(&text, "heights jump by more than 25 % of the way at ");
    td_text_add_fixed(&text, jump_m, 0);
    td_text_add(&text, " m along and do not come back; record that part again");
    return TD_INVALID;
}

/* The frame's origin is the line's middle; every vertex gets its place in it. */
static bool lay_in_frame(struct td_frame *frame, struct td_station *stations, size_t count)
{
    const struct td_station *middle = &stations[count / 2];
    if (!td_frame_init(frame, middle->lat_deg, middle->lon_deg))
        return false;
    double start_m = stations[0].along_m;
    for (size_t i = 0; i < count; i++) {
        struct td_point point;
        if (!td_frame_point(frame, stations[i].lat_deg, stations[i].lon_deg, &point))
            return false;
        stations[i].x_m = point.x_m;
        stations[i].y_m = point.y_m;
        stations[i].along_m -= start_m;
    }
    return true;
}

static enum td_result average(struct td_survey_pass *passes, size_t pass_count,
                              struct td_survey_work *work, struct td_station *stations,
                              struct first_line *line, struct td_survey_report *report,
                              struct td_problem *problem)
{
    struct td_frame frame;
    if (!lay_in_frame(&frame, stations, line->count))
        return td_survey_wrong(problem, "the road reaches over 100 km from its middle; survey it "
                                        "in parts");
    enum td_result result =
        align_all(passes, pass_count, &frame, stations, line, report, problem);
    for (int round = 0; result == TD_OK && round < AVERAGE_ROUNDS; round++) {
        line->count = td_survey_average_line(passes, pass_count, work, stations, line->count,
                                             report);
        for (size_t p = 0; p < pass_count; p++)
            td_survey_realign(&passes[p], stations, line->count);
    }
    if (result != TD_OK)
        return result;
    line->count = td_survey_finish_line(&frame, work, stations, line->count);
    for (size_t p = 0; p < pass_count; p++)
        td_survey_realign(&passes[p], stations, line->count);
    return td_survey_heights(passes, pass_count, work, stations, line->count, report, problem);
}

enum td_result td_survey_make(struct td_survey_pass *passes, size_t pass_count,
                              const struct td_survey_options *options,
                              struct td_survey_work *work, struct td_station *stations,
                              struct td_hill *hill, struct td_survey_report *report,
                              struct td_problem *problem)
{
    *report = (struct td_survey_report){.suspect_at_m = -1, .position_sigma_m = -1,
                                        .grade_sigma_200 = -1, .grade_sigma_1000 = -1,
                                        .culprit = pass_count};
    if (pass_count == 0 || pass_count > TD_SURVEY_PASSES_MAX)
        return td_survey_wrong(problem, "1 to 64 passes make a profile");
    for (size_t p = 0; p < pass_count; p++) {
        /* A road on file has no ends to hide. */
        bool on_file = options->keep_extent && p == 0;
        enum td_result result =
            td_survey_clean(&passes[p], on_file ? 0 : options->cut_ends_m, problem);
        if (result != TD_OK) {
            report->culprit = p;
            return result;
        }
    }
    struct first_line line = {0};
    enum td_result result = choose(passes, pass_count, options, stations, &line, report, problem);
    if (result != TD_OK) {
        report->culprit = report->reference;
        return result;
    }
    if (passes[report->reference].report.longest_gap_m > report->longest_gap_m && pass_count == 1)
        report->longest_gap_m = passes[0].report.longest_gap_m;
    result = average(passes, pass_count, work, stations, &line, report, problem);
    if (result == TD_OK)
        result = cut_out(work, stations, line.count, options->keep_extent, hill, report, problem);
    return result;
}
