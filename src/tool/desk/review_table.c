/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Prints what a folder of drive logs tells together: descents, trends, marks. */
#include "tool/desk/review_table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/file.h"
#include "io/problem.h"
#include "io/utc.h"
#include "review/fleet.h"
#include "talkdown/units.h"
#include "tool/cells.h"
#include "tool/progress.h"
#include "tool/tool.h"

static const char *check_word(enum td_review_check check)
{
    static const char *const words[] = {[TD_CHECK_NONE] = "none", [TD_CHECK_MADE] = "made",
                                        [TD_CHECK_PASSED] = "passed",
                                        [TD_CHECK_UNKNOWN] = "not seen"};
    return words[check];
}

static double if_known(bool known, double value)
{
    return known ? value : (double)NAN;
}

/* --- cells --- */

static void add_marks(struct td_cells *cells, const unsigned *marks)
{
    static const char *const names[TD_MARK_KINDS] = {"marks_right", "marks_late", "marks_early",
                                                     "marks_wrong"};
    for (int kind = 0; kind < TD_MARK_KINDS; kind++)
        td_cells_whole(cells, names[kind], marks[kind]);
}

static void row_cells(const struct td_fleet_row *row, char utc[TD_UTC_TEXT],
                      struct td_cells *cells)
{
    (void)td_utc_format(row->start_utc_ms, utc);
    td_cells_text(cells, "log", row->log);
    td_cells_text(cells, "start_utc", row->start_utc_ms != 0 ? utc : NULL);
    td_cells_text(cells, "hill", row->hill);
    td_cells_text(cells, "hill_name", row->hill_name);
    td_cells_text(cells, "rig", row->rig);
    td_cells_text(cells, "load", row->load);
    td_cells_number(cells, "load_kg", if_known(row->load_kg > 0, row->load_kg), 0);
    td_cells_flag(cells, "went_down", row->went_down);
    td_cells_flag(cells, "reached_foot", row->reached_foot);
    td_cells_number(cells, "grade_s", row->grade_s, 0);
    td_cells_number(cells, "fastest_mph", td_mph_from_mps(row->fastest_mps), 1);
    td_cells_text(cells, "brake_check", check_word(row->check));
    td_cells_number(cells, "brake_check_s", if_known(row->check == TD_CHECK_MADE,
                                                     row->check_stood_s), 0);
    td_cells_number(cells, "over_most_mph",
                    if_known(row->judged, td_mph_from_mps(row->over_most_mps)), 1);
    td_cells_number(cells, "over_s", if_known(row->judged, row->over_s), 0);
    td_cells_number(cells, "over_longest_s", if_known(row->judged, row->over_longest_s), 0);
    td_cells_number(cells, "heat_least_f", if_known(row->heat_known, td_f_from_c(row->least_c)), 0);
    td_cells_number(cells, "heat_likely_f", if_known(row->heat_known, td_f_from_c(row->likely_c)),
                    0);
    td_cells_number(cells, "heat_most_f", if_known(row->heat_known, td_f_from_c(row->most_c)), 0);
    td_cells_number(cells, "heat_limit_f", if_known(row->heat_known, td_f_from_c(row->limit_c)), 0);
    td_cells_whole(cells, "slowings", row->snubs);
    td_cells_number(cells, "slowing_drop_mph", td_mph_from_mps(row->snub_drop_mps), 1);
    td_cells_number(cells, "slowing_s", row->snub_s, 1);
    td_cells_whole(cells, "warnings", row->warnings);
    td_cells_whole(cells, "warnings_slowed", row->warnings_slowed);
    td_cells_whole(cells, "warnings_unknown", row->warnings_unknown);
    td_cells_number(cells, "answer_median_s", row->answer_median_s, 1);
    td_cells_number(cells, "answer_longest_s", row->answer_longest_s, 1);
    td_cells_number(cells, "not_seen_s", row->lost_s + row->hole_s, 0);
    td_cells_whole(cells, "lost_steps", row->lost_steps);
    td_cells_number(cells, "silent_s", row->silent_s, 0);
    td_cells_whole(cells, "prompts_said", row->prompts_said);
    add_marks(cells, row->marks);
}

/* How a figure is told: names with units, and the number in them. */
static const struct {
    const char *count, *median, *first, *latest, *unit;
    int decimals;
} tells[TD_FLEET_FIGURES] = {
    [TD_FLEET_OVER_MOST_MPS] = {"over_most_known", "over_most_median_mph", "over_most_first_mph",
                                "over_most_latest_mph", "mph", 1},
    [TD_FLEET_OVER_S] = {"over_known", "over_median_s", "over_first_s", "over_latest_s", "s", 0},
    [TD_FLEET_LIKELY_C] = {"heat_likely_known", "heat_likely_median_f", "heat_likely_first_f",
                           "heat_likely_latest_f", "F", 0},
    [TD_FLEET_SNUBS] = {"slowings_known", "slowings_median", "slowings_first", "slowings_latest",
                        "", 0},
    [TD_FLEET_ANSWER_S] = {"answer_known", "answer_median_s", "answer_first_s", "answer_latest_s",
                           "s", 1},
    [TD_FLEET_GRADE_S] = {"grade_known", "grade_median_s", "grade_first_s", "grade_latest_s", "s",
                          0},
};

static double told(enum td_fleet_figure figure, double value)
{
    if (figure == TD_FLEET_OVER_MOST_MPS)
        return td_mph_from_mps(value);
    return figure == TD_FLEET_LIKELY_C ? td_f_from_c(value) : value;
}

static void trend_cells(const struct td_fleet_trend *trend, struct td_cells *cells)
{
    td_cells_text(cells, "hill", trend->hill);
    td_cells_text(cells, "rig", trend->rig);
    td_cells_whole(cells, "descents", trend->descents);
    td_cells_whole(cells, "brake_checks_made", trend->checks_made);
    td_cells_whole(cells, "brake_checks_known", trend->checks_known);
    for (int i = 0; i < TD_FLEET_FIGURES; i++) {
        enum td_fleet_figure figure = (enum td_fleet_figure)i;
        const struct td_fleet_numbers *of = &trend->figures[i];
        td_cells_whole(cells, tells[i].count, of->known);
        td_cells_number(cells, tells[i].median, told(figure, of->median), tells[i].decimals);
        td_cells_number(cells, tells[i].first, told(figure, of->first), tells[i].decimals);
        td_cells_number(cells, tells[i].latest, told(figure, of->latest), tells[i].decimals);
    }
}

static void prompt_cells(const struct td_fleet_prompt *prompt, struct td_cells *cells)
{
    td_cells_text(cells, "hill", prompt->hill[0] != '\0' ? prompt->hill : NULL);
    td_cells_text(cells, "id", td_prompt_key(prompt->id));
    td_cells_whole(cells, "said", prompt->said);
    add_marks(cells, prompt->marks);
}

/* --- CSV and JSON --- */

static void start(struct td_cells *cells, bool json, const char *kind)
{
    cells->count = 0;
    if (json)
        td_cells_text(cells, "kind", kind);
}

static void put_rows(FILE *to, const struct td_fleet *fleet, bool json)
{
    struct td_cells cells;
    char utc[TD_UTC_TEXT];
    static const struct td_fleet_row none;
    start(&cells, json, "descent");
    row_cells(&none, utc, &cells);
    if (!json)
        td_cells_csv_head(to, &cells);
    for (size_t i = 0; i < fleet->row_count; i++) {
        start(&cells, json, "descent");
        row_cells(&fleet->rows[i], utc, &cells);
        (json ? td_cells_json : td_cells_csv)(to, &cells);
    }
}

static void put_trends(FILE *to, const struct td_fleet *fleet, bool json)
{
    struct td_cells cells;
    static const struct td_fleet_trend none = {.hill = "", .rig = ""};
    start(&cells, json, "trend");
    trend_cells(&none, &cells);
    if (!json)
        td_cells_csv_head(to, &cells);
    for (size_t i = 0; i < fleet->trend_count; i++) {
        start(&cells, json, "trend");
        trend_cells(&fleet->trends[i], &cells);
        (json ? td_cells_json : td_cells_csv)(to, &cells);
    }
}

static void put_prompts(FILE *to, const struct td_fleet *fleet, bool json)
{
    struct td_cells cells;
    static const struct td_fleet_prompt none;
    start(&cells, json, "prompt");
    prompt_cells(&none, &cells);
    if (!json)
        td_cells_csv_head(to, &cells);
    for (size_t i = 0; i < fleet->prompt_count; i++) {
        start(&cells, json, "prompt");
        prompt_cells(&fleet->prompts[i], &cells);
        (json ? td_cells_json : td_cells_csv)(to, &cells);
    }
}

/* --- text --- */

static void text_number(FILE *to, int width, double value, int decimals, const char *unit)
{
    char text[32];
    if (isfinite(value))
        (void)snprintf(text, sizeof text, "%.*f%s%s", decimals, value, unit[0] != '\0' ? " " : "",
                       unit);
    else
        (void)snprintf(text, sizeof text, "-");
    (void)fprintf(to, " %*s", width, text);
}

static void text_row(FILE *to, const struct td_fleet_row *row)
{
    char utc[TD_UTC_TEXT], heat[40] = "-", answers[40] = "-";
    (void)td_utc_format(row->start_utc_ms, utc);
    if (row->heat_known)
        (void)snprintf(heat, sizeof heat, "%.0f-%.0f-%.0f F", td_f_from_c(row->least_c),
                       td_f_from_c(row->likely_c), td_f_from_c(row->most_c));
    if (row->warnings > 0)
        (void)snprintf(answers, sizeof answers, "%u of %u", row->warnings_slowed, row->warnings);
    (void)fprintf(to, "%-16.16s %-22.22s %-22.22s %-8.8s", row->start_utc_ms != 0 ? utc : "-",
                  row->hill, row->rig, check_word(row->check));
    text_number(to, 6, if_known(row->check == TD_CHECK_MADE, row->check_stood_s), 0, "s");
    text_number(to, 9, if_known(row->judged, td_mph_from_mps(row->over_most_mps)), 1, "mph");
    text_number(to, 6, if_known(row->judged, row->over_s), 0, "s");
    (void)fprintf(to, " %15s %8u %8s", heat, row->snubs, answers);
    text_number(to, 7, row->answer_median_s, 1, "s");
    (void)fprintf(to, "  %s%s\n", row->log,
                  row->went_down ? "" : " (did not go down)");
}

static void text_trend(FILE *to, const struct td_fleet_trend *trend)
{
    (void)fprintf(to, "\n%s with %s: %u descent%s", trend->hill, trend->rig, trend->descents,
                  trend->descents == 1 ? "" : "s");
    if (trend->checks_known > 0)
        (void)fprintf(to, ", brake check made at %u of %u", trend->checks_made,
                      trend->checks_known);
    (void)fprintf(to, "\n  %-22s %10s %10s %10s\n", "", "median", "first", "latest");
    for (int i = 0; i < TD_FLEET_FIGURES; i++) {
        enum td_fleet_figure figure = (enum td_fleet_figure)i;
        const struct td_fleet_numbers *of = &trend->figures[i];
        if (of->known == 0)
            continue;
        (void)fprintf(to, "  %-22s", td_fleet_figure_name(figure));
        text_number(to, 10, told(figure, of->median), tells[i].decimals, tells[i].unit);
        text_number(to, 10, told(figure, of->first), tells[i].decimals, tells[i].unit);
        text_number(to, 10, told(figure, of->latest), tells[i].decimals, tells[i].unit);
        (void)fprintf(to, "   known of %u\n", of->known);
    }
}

static unsigned marked(const struct td_fleet_prompt *prompt)
{
    unsigned sum = 0;
    for (int kind = 0; kind < TD_MARK_KINDS; kind++)
        sum += prompt->marks[kind];
    return sum;
}

static void text_marks(FILE *to, const struct td_fleet *fleet)
{
    bool any = false;
    for (size_t i = 0; i < fleet->prompt_count; i++) {
        const struct td_fleet_prompt *prompt = &fleet->prompts[i];
        if (marked(prompt) == 0)
            continue;
        if (!any)
            (void)fprintf(to, "\n%-22s %-20s %6s %6s %6s %6s %6s\n", "marked by trainers", "",
                          "said", "right", "late", "early", "wrong");
        any = true;
        (void)fprintf(to, "%-22.22s %-20s %6u %6u %6u %6u %6u\n",
                      prompt->hill[0] != '\0' ? prompt->hill : "-", td_prompt_key(prompt->id),
                      prompt->said, prompt->marks[TD_MARK_RIGHT], prompt->marks[TD_MARK_LATE],
                      prompt->marks[TD_MARK_EARLY], prompt->marks[TD_MARK_WRONG]);
    }
}

static void put_text(FILE *to, const struct td_fleet *fleet)
{
    (void)fprintf(to, "%-16s %-22s %-22s %-15s %9s %6s %15s %8s %8s %7s  %s\n", "start (UTC)",
                  "hill", "rig", "brake check", "over most", "over", "least-lik.-most", "slowings",
                  "answered", "after", "log");
    for (size_t i = 0; i < fleet->row_count; i++)
        text_row(to, &fleet->rows[i]);
    for (size_t i = 0; i < fleet->trend_count; i++)
        text_trend(to, &fleet->trends[i]);
    text_marks(to, fleet);
    (void)fprintf(to, "\n%zu logs, %zu descents%s\n", fleet->logs, fleet->row_count,
                  fleet->row_count > 0
                      ? "; heat is an estimate: the truth lies between least and most"
                      : "");
}

static void put(FILE *to, const struct td_fleet *fleet,
                const struct td_review_table_options *options)
{
    if (options->json) {
        put_rows(to, fleet, true);
        put_trends(to, fleet, true);
        put_prompts(to, fleet, true);
    } else if (!options->csv) {
        put_text(to, fleet);
    } else if (options->trends) {
        put_trends(to, fleet, false);
    } else if (options->marks) {
        put_prompts(to, fleet, false);
    } else {
        put_rows(to, fleet, false);
    }
}

static enum td_result write_out(const struct td_fleet *fleet,
                                const struct td_review_table_options *options,
                                struct td_problem *problem)
{
    if (options->out == NULL) {
        put(stdout, fleet, options);
        return TD_OK;
    }
    char *text = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&text, &length);
    if (to != NULL)
        put(to, fleet, options);
    if (to == NULL || fclose(to) != 0) {
        free(text);
        return td_problem_set(problem, TD_NO_MEMORY, options->out, 0, "no memory for the table");
    }
    enum td_result result =
        td_file_write_private(options->out, text, length, options->replace, problem);
    free(text);
    return result;
}

static void show_progress(void *who, size_t done, size_t all)
{
    td_progress_at(who, done, all);
}

static unsigned processors(void)
{
    long count = sysconf(_SC_NPROCESSORS_ONLN);
    return count > 1 ? (unsigned)count : 1;
}

/* A log's name tells when it was driven, so an anonymous table names none. */
static void tell_refused(const struct td_fleet *fleet, bool anonymous)
{
    for (size_t i = 0; i < fleet->refused_count; i++) {
        struct td_problem problem = fleet->refused[i].problem;
        if (anonymous)
            (void)snprintf(problem.file, sizeof problem.file, "drive %zu",
                           fleet->refused[i].order + 1);
        (void)td_tool_fail(&problem);
    }
}

int td_review_table(const struct td_review_table_options *options)
{
    struct td_progress progress;
    struct td_problem problem;
    struct td_fleet *fleet = NULL;
    if ((options->csv && options->json) || (options->trends && options->marks) ||
        ((options->trends || options->marks) && !options->csv))
        return td_tool_fail_words("--csv or --json, and of --trends and --marks one with --csv");
    if (options->out != NULL &&
        td_file_may_write(options->out, options->replace, &problem) != TD_OK)
        return td_tool_fail(&problem);
    td_progress_begin(&progress, "reading");
    const struct td_fleet_options reading = {.anonymous = options->anonymous,
                                             .threads = processors(),
                                             .progress = show_progress,
                                             .who = &progress};
    enum td_result result = td_fleet_read(options->folder, &reading, &fleet, &problem);
    td_progress_end(&progress);
    if (result == TD_OK)
        result = write_out(fleet, options, &problem);
    if (result != TD_OK) {
        td_fleet_free(&fleet);
        return td_tool_fail(&problem);
    }
    tell_refused(fleet, options->anonymous);
    int code = fleet->refused_count > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
    td_fleet_free(&fleet);
    return code;
}
