/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a hill goes with a rig over time: medians, first against latest. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "review/fleet_parts.h"

static const char *const figure_names[TD_FLEET_FIGURES] = {
    [TD_FLEET_OVER_MOST_MPS] = "most over the target", [TD_FLEET_OVER_S] = "time over",
    [TD_FLEET_LIKELY_C] = "likely heat",               [TD_FLEET_SNUBS] = "slowings",
    [TD_FLEET_ANSWER_S] = "seconds to slowing",        [TD_FLEET_GRADE_S] = "time on the grade",
};

const char *td_fleet_figure_name(enum td_fleet_figure figure)
{
    return figure_names[figure];
}

double td_fleet_figure(const struct td_fleet_row *row, enum td_fleet_figure figure)
{
    double unknown = (double)NAN;
    switch (figure) {
    case TD_FLEET_OVER_MOST_MPS:
        return row->judged ? row->over_most_mps : unknown;
    case TD_FLEET_OVER_S:
        return row->judged ? row->over_s : unknown;
    case TD_FLEET_LIKELY_C:
        return row->heat_known ? row->likely_c : unknown;
    case TD_FLEET_SNUBS:
        return (double)row->snubs;
    case TD_FLEET_ANSWER_S:
        return row->answer_median_s;
    case TD_FLEET_GRADE_S:
        return row->reached_foot ? row->grade_s : unknown;
    case TD_FLEET_FIGURES:
        break;
    }
    return unknown;
}

static int by_number(const void *one, const void *other)
{
    double a = *(const double *)one, b = *(const double *)other;
    return (a > b) - (a < b);
}

double td_fleet_median(double *numbers, size_t count)
{
    if (count == 0)
        return (double)NAN;
    qsort(numbers, count, sizeof *numbers, by_number);
    return (numbers[(count - 1) / 2] + numbers[count / 2]) / 2;
}

/* Where times are left out, logs stand in the order of their names, which are times. */
static int rows_by_time(const void *one, const void *other)
{
    const struct td_fleet_row *a = one, *b = other;
    if (a->start_utc_ms != b->start_utc_ms)
        return a->start_utc_ms < b->start_utc_ms ? -1 : 1;
    return (a->order > b->order) - (a->order < b->order);
}

static int prompts_by_hill(const void *one, const void *other)
{
    const struct td_fleet_prompt *a = one, *b = other;
    int order = strcmp(a->hill, b->hill);
    return order != 0 ? order : (int)a->id - (int)b->id;
}

void td_fleet_merge_prompts(struct td_fleet *fleet)
{
    size_t kept = 0;
    if (fleet->prompt_count > 0)
        qsort(fleet->prompts, fleet->prompt_count, sizeof *fleet->prompts, prompts_by_hill);
    for (size_t i = 0; i < fleet->prompt_count; i++) {
        const struct td_fleet_prompt *from = &fleet->prompts[i];
        struct td_fleet_prompt *into = kept > 0 ? &fleet->prompts[kept - 1] : NULL;
        if (into == NULL || prompts_by_hill(into, from) != 0) {
            fleet->prompts[kept++] = *from;
            continue;
        }
        into->said += from->said;
        for (int kind = 0; kind < TD_MARK_KINDS; kind++)
            into->marks[kind] += from->marks[kind];
    }
    fleet->prompt_count = kept;
}

static int refused_by_order(const void *one, const void *other)
{
    const struct td_fleet_refused *a = one, *b = other;
    return (a->order > b->order) - (a->order < b->order);
}

static int trends_by_hill(const void *one, const void *other)
{
    const struct td_fleet_trend *a = one, *b = other;
    int order = strcmp(a->hill, b->hill);
    return order != 0 ? order : strcmp(a->rig, b->rig);
}

static bool is_of(const struct td_fleet_trend *trend, const struct td_fleet_row *row)
{
    return row->went_down && strcmp(trend->hill, row->hill) == 0 &&
           strcmp(trend->rig, row->rig) == 0;
}

/* `numbers` has room for all rows. */
static void reckon(const struct td_fleet *fleet, struct td_fleet_trend *trend, double *numbers)
{
    for (size_t i = 0; i < fleet->row_count; i++) {
        const struct td_fleet_row *row = &fleet->rows[i];
        if (!is_of(trend, row))
            continue;
        trend->descents++;
        trend->checks_made += row->check == TD_CHECK_MADE;
        trend->checks_known += row->check == TD_CHECK_MADE || row->check == TD_CHECK_PASSED;
    }
    for (int figure = 0; figure < TD_FLEET_FIGURES; figure++) {
        struct td_fleet_numbers *of = &trend->figures[figure];
        of->first = of->latest = (double)NAN;
        for (size_t i = 0; i < fleet->row_count; i++) {
            const struct td_fleet_row *row = &fleet->rows[i];
            double value = td_fleet_figure(row, (enum td_fleet_figure)figure);
            if (!is_of(trend, row) || isnan(value))
                continue;
            if (of->known == 0)
                of->first = value;
            of->latest = value;
            numbers[of->known++] = value;
        }
        of->median = td_fleet_median(numbers, of->known);
    }
}

/* A trend for each hill and rig that somebody went down with. */
static bool list_trends(struct td_fleet *fleet)
{
    for (size_t i = 0; i < fleet->row_count; i++) {
        const struct td_fleet_row *row = &fleet->rows[i];
        bool there = !row->went_down;
        for (size_t k = 0; k < fleet->trend_count && !there; k++)
            there = is_of(&fleet->trends[k], row);
        if (there)
            continue;
        struct td_fleet_trend *trends =
            realloc(fleet->trends, (fleet->trend_count + 1) * sizeof *trends);
        if (trends == NULL)
            return false;
        fleet->trends = trends;
        trends[fleet->trend_count++] = (struct td_fleet_trend){.hill = row->hill, .rig = row->rig};
    }
    return true;
}

bool td_fleet_sum_up(struct td_fleet *fleet)
{
    if (fleet->row_count > 0)
        qsort(fleet->rows, fleet->row_count, sizeof *fleet->rows, rows_by_time);
    td_fleet_merge_prompts(fleet);
    if (fleet->refused_count > 0)
        qsort(fleet->refused, fleet->refused_count, sizeof *fleet->refused, refused_by_order);
    double *numbers = calloc(fleet->row_count + 1, sizeof *numbers);
    bool listed = numbers != NULL && list_trends(fleet);
    if (listed && fleet->trend_count > 0)
        qsort(fleet->trends, fleet->trend_count, sizeof *fleet->trends, trends_by_hill);
    for (size_t i = 0; listed && i < fleet->trend_count; i++)
        reckon(fleet, &fleet->trends[i], numbers);
    free(numbers);
    return listed;
}
