/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which hills are unsafe for which load: one hill in memory at a time, its rows written before the
 * next is read, so that thousands take no more memory than one. */
#include "tool/plan/plan_table.h"

#include "io/problem.h"
#include "tool/hills/hills.h"
#include "tool/out_file.h"
#include "tool/plan/plan_crew.h"
#include "tool/plan/plan_rows.h"
#include "tool/progress.h"
#include "tool/tool.h"

struct table {
    const struct td_plan_table_options *options;
    struct td_plan_rigs rigs;
    struct td_plan_crew *crew;
    struct td_plan_rows rows;
    struct td_progress progress;
    size_t hills, unread, plans, refused, refused_hills;
};

static void tell_unread(struct table *table, const char *name, const struct td_problem *problem)
{
    table->unread++;
    td_progress_end(&table->progress);
    (void)td_tool_fail(problem);
    td_plan_rows_unread(&table->rows, name, problem);
}

static bool any_refused(const struct td_plan_block *block)
{
    for (size_t i = 0; i < block->count; i++)
        if (td_plan_verdict_refuses(td_plan_verdict(block, i)))
            return true;
    return false;
}

static void plan_hill(struct table *table, const char *name, const struct td_hill *hill)
{
    const struct td_plan_rigs *rigs = &table->rigs;
    size_t refused = 0;
    bool headed = table->rows.form != TD_PLAN_TEXT;
    for (size_t from = 0; from < rigs->count; from += TD_PLAN_CREW_BLOCKS) {
        size_t left = rigs->count - from;
        size_t count = left < TD_PLAN_CREW_BLOCKS ? left : TD_PLAN_CREW_BLOCKS;
        const struct td_plan_block *blocks =
            td_plan_crew_solve(table->crew, hill, rigs->items + from, count);
        for (size_t i = 0; i < count; i++) {
            const struct td_plan_source source = {name, rigs->items[from + i]->path};
            if (!headed && (any_refused(&blocks[i]) || !table->rows.refused_only)) {
                td_plan_text_hill(&table->rows, hill);
                headed = true;
            }
            refused += td_plan_rows_block(&table->rows, &blocks[i], &source);
            table->plans += blocks[i].count;
        }
    }
    table->refused += refused;
    table->refused_hills += refused > 0;
}

static enum td_result visit(void *context, const struct td_hill_visit *visit,
                            struct td_problem *problem)
{
    struct table *table = context;
    if (visit->result == TD_NO_MEMORY) {
        *problem = *visit->problem;
        return visit->result;
    }
    td_progress_at(&table->progress, ++table->hills, 0);
    if (visit->result != TD_OK)
        tell_unread(table, visit->name, visit->problem);
    else
        plan_hill(table, visit->name, td_hill_file_hill(visit->file));
    return ferror(table->rows.to) == 0
               ? TD_OK
               : td_problem_set(problem, TD_IO, table->options->out, 0,
                                "the table could not be written");
}

static enum td_result plan_all(struct table *table, struct td_problem *problem)
{
    const struct td_plan_table_options *options = table->options;
    td_plan_rows_head(&table->rows, &table->rigs.items[0]->weights.query);
    td_progress_begin(&table->progress, "hills planned:");
    enum td_result result = TD_OK;
    for (size_t i = 0; result == TD_OK && i < options->hill_count; i++) {
        struct td_problem wrong = {0};
        result = td_hills_visit(options->hills[i], visit, table, &wrong);
        if (result == TD_NO_MEMORY || ferror(table->rows.to) != 0) {
            *problem = wrong;
        } else if (result != TD_OK) {
            tell_unread(table, options->hills[i], &wrong);
            result = TD_OK;
        }
    }
    td_progress_end(&table->progress);
    return result;
}

static void sum_up(const struct table *table)
{
    if (table->rows.form != TD_PLAN_TEXT)
        return;
    (void)fprintf(table->rows.to, "\n%zu hills, %zu rigs, %zu plans: %zu not within limits, on %zu "
                                  "hills", table->hills, table->rigs.count, table->plans,
                  table->refused, table->refused_hills);
    if (table->unread + table->rigs.unread > 0)
        (void)fprintf(table->rows.to, "; %zu could not be read and are not counted",
                      table->unread + table->rigs.unread);
    (void)fputs(".\nAdvice only: posted signs, the law and the driver come first.\n",
                table->rows.to);
}

static enum td_result make(struct table *table, struct td_problem *problem)
{
    enum td_result result = td_plan_rigs_read(table->options, &table->rigs, problem);
    if (result != TD_OK)
        return result;
    table->crew = td_plan_crew_new(table->rigs.count);
    if (table->crew == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the plans");
    const struct td_plan_table_options *options = table->options;
    struct td_out_file out;
    result = td_out_file_open(&out, options->out, options->force, problem);
    table->rows.to = out.to;
    if (result == TD_OK)
        result = plan_all(table, problem);
    if (result == TD_OK)
        sum_up(table);
    return td_out_file_close(&out, result, problem);
}

int td_plan_table(const struct td_plan_table_options *options)
{
    struct table table = {
        .options = options,
        .rows = {.form = options->json ? TD_PLAN_JSON : options->csv ? TD_PLAN_CSV : TD_PLAN_TEXT,
                 .refused_only = options->refused, .metric = options->conditions.metric}};
    struct td_problem problem = {0};
    enum td_result result = make(&table, &problem);
    bool unread = table.unread + table.rigs.unread > 0;
    td_plan_crew_free(&table.crew);
    td_plan_rigs_free(&table.rigs);
    if (result != TD_OK)
        return td_tool_fail(&problem);
    if (unread)
        return TD_EXIT_ERROR;
    return table.refused > 0 ? TD_EXIT_NO : TD_EXIT_DONE;
}
