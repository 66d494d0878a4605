/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plans as rows of cells; as text they are plan_rows_text.c. */
#include "tool/plan/plan_rows.h"

#include <stdint.h>
#include <string.h>

#include "tool/plan/plan_figures.h"
#include "tool/plan/plan_words.h"

double td_plan_brake_use_pct(const struct td_plan_answer *answer, double peak_c)
{
    double from_c = answer->query.brakes_from_c;
    return fmax(0, 100 * (peak_c - from_c) / (answer->limit_c - from_c));
}

const char *td_plan_why_not(const struct td_plan_answer *answer, char *line)
{
    const struct td_plan *plan = &answer->plan;
    for (size_t i = 0; i < plan->reason_count && !plan->safe; i++)
        if (plan->reasons[i].kind != TD_REASON_NOTHING_ALLOWED)
            return td_plan_reason_line(answer, &plan->reasons[i], line);
    return NULL;
}

/* --- cells --- */

static double if_known(bool known, double value)
{
    return known ? value : (double)NAN;
}

static void whole_if(struct td_cells *cells, const char *name, bool known, int64_t value)
{
    if (known)
        td_cells_whole(cells, name, value);
    else
        td_cells_text(cells, name, NULL);
}

static void add_question(const struct td_plan_answer *answer, const struct td_plan_source *source,
                         struct td_cells *cells)
{
    const struct td_hill *hill = answer->hill;
    td_cells_text(cells, "hill", hill->id);
    td_cells_text(cells, "hill_name", hill->name);
    td_cells_text(cells, "hill_file", source->hill_file);
    td_cells_text(cells, "rig", answer->rig->name);
    td_cells_text(cells, "rig_file", source->rig_file);
    td_cells_text(cells, "load", answer->load);
    td_cells_whole(cells, "weight_lb", lround(td_lb_from_kg(answer->query.mass_kg)));
    td_cells_text(cells, "road", td_plan_road_name(answer->query.road));
    td_cells_text(cells, "credit", td_plan_credit_name(answer->query.credit));
    td_cells_number(cells, "ambient_f", td_temp_f(answer->query.ambient_c), 1);
    td_cells_number(cells, "brakes_from_f", td_temp_f(answer->query.brakes_from_c), 1);
}

static void add_descent(const struct td_plan_answer *answer, size_t at, struct td_cells *cells)
{
    static const struct td_plan_descent none = {.gear = -1, .stage = -1};
    const struct td_plan *plan = &answer->plan;
    bool any = at < plan->descent_count;
    const struct td_plan_descent *of = any ? &plan->descents[at] : &none;
    whole_if(cells, "downgrade", any, (int64_t)at + 1);
    whole_if(cells, "downgrades", any, (int64_t)plan->descent_count);
    td_cells_number(cells, "from_m", if_known(any, td_round_to(of->from_m, 0.1)), 1);
    td_cells_number(cells, "to_m", if_known(any, td_round_to(of->to_m, 0.1)), 1);
    whole_if(cells, "target_mph", any, of->target_mph);
    whole_if(cells, "say_mph", any, of->say_mph);
    whole_if(cells, "say_kmh", any, of->say_kmh);
    td_cells_text(cells, "gear", td_plan_gear_name(answer, of->gear));
    td_cells_text(cells, "engine_brake", td_plan_stage_name(answer, of->gear, of->stage));
    td_cells_text(cells, "limited_by", any ? td_plan_limit_name(of->limited_by) : NULL);
    td_cells_number(cells, "peak_temp_f", if_known(any, td_temp_f(of->peak_c)), 1);
    td_cells_number(cells, "final_temp_f", if_known(any, td_temp_f(of->final_c)), 1);
    td_cells_number(cells, "brake_use_pct",
                    if_known(any, td_plan_brake_use_pct(answer, of->peak_c)), 1);
}

static void add_verdict(const struct td_plan_block *block, size_t weight, struct td_plan_row *row)
{
    struct td_cells *cells = &row->cells;
    const struct td_plan_answer *answer = &block->answers[weight];
    const struct td_plan *plan = &answer->plan;
    bool down = plan->coached && plan->safe;
    enum td_plan_verdict verdict = td_plan_verdict(block, weight);
    td_cells_number(cells, "limit_temp_f", td_temp_f(answer->limit_c), 1);
    td_cells_number(cells, "margin_temp_f",
                    if_known(down, td_round_to(plan->margin_c * 1.8, 0.1)), 1);
    whole_if(cells, "margin_lb", down, td_floor_lb(plan->spare_kg));
    whole_if(cells, "without_engine_brake_mph", plan->coached, plan->without_engine_brake_mph);
    td_cells_flag(cells, "safe", plan->safe);
    td_cells_text(cells, "verdict", td_plan_verdict_key(verdict));
    td_cells_text(cells, "verdict_words", td_plan_verdict_words(verdict, answer, row->words));
    td_cells_text(cells, "why_not", td_plan_why_not(answer, row->why));
    whole_if(cells, "heaviest_lb", plan->coached, td_floor_lb(block->heaviest_kg));
    td_cells_flag(cells, "heaviest_is_most", block->heaviest_is_most);
}

void td_plan_row_make(const struct td_plan_block *block, size_t weight, size_t at,
                      const struct td_plan_source *source, struct td_plan_row *row)
{
    const struct td_plan_answer *answer = &block->answers[weight];
    struct td_cells *cells = &row->cells;
    cells->count = 0;
    add_question(answer, source, cells);
    td_cells_flag(cells, "coached", answer->plan.coached);
    td_cells_number(cells, "mean_grade_pct",
                    td_round_to(answer->hill->mean_downgrade_ratio * 100, 0.01), 2);
    add_descent(answer, at, cells);
    add_verdict(block, weight, row);
}

static void put(const struct td_plan_rows *rows, const struct td_plan_row *row)
{
    (rows->form == TD_PLAN_JSON ? td_cells_json : td_cells_csv)(rows->to, &row->cells);
}

/* All cells by their names, none with a value. */
static void make_empty(struct td_plan_row *row)
{
    static const struct td_rig rig;
    static const struct td_hill hill;
    static const struct td_plan_source source;
    static const struct td_plan_block block = {
        .answers = {{.hill = &hill, .rig = &rig}}, .count = 1};
    td_plan_row_make(&block, 0, 0, &source, row);
    for (size_t i = 0; i < row->cells.count; i++)
        row->cells.items[i] =
            (struct td_cell){.name = row->cells.items[i].name, .kind = TD_CELL_TEXT};
}

static void set_text(struct td_cells *cells, const char *name, const char *text)
{
    for (size_t i = 0; i < cells->count; i++)
        if (strcmp(cells->items[i].name, name) == 0)
            cells->items[i].text = text;
}

void td_plan_rows_head(const struct td_plan_rows *rows, const struct td_plan_query *query)
{
    struct td_plan_row row;
    if (rows->form == TD_PLAN_TEXT) {
        td_plan_text_head(rows, query);
    } else if (rows->form == TD_PLAN_CSV) {
        make_empty(&row);
        td_cells_csv_head(rows->to, &row.cells);
    }
}

size_t td_plan_rows_block(const struct td_plan_rows *rows, const struct td_plan_block *block,
                          const struct td_plan_source *source)
{
    size_t refused = 0;
    struct td_plan_row row;
    for (size_t i = 0; i < block->count; i++) {
        bool no = td_plan_verdict_refuses(td_plan_verdict(block, i));
        size_t descents = block->answers[i].plan.descent_count;
        refused += no;
        for (size_t k = 0; k < (descents > 0 ? descents : 1); k++) {
            if (rows->form == TD_PLAN_TEXT || (rows->refused_only && !no))
                continue;
            td_plan_row_make(block, i, k, source, &row);
            put(rows, &row);
        }
    }
    if (rows->form == TD_PLAN_TEXT && (refused > 0 || !rows->refused_only))
        td_plan_text_block(rows, block);
    return refused;
}

void td_plan_rows_unread(const struct td_plan_rows *rows, const char *hill_file,
                         const struct td_problem *problem)
{
    struct td_plan_row row;
    if (rows->form == TD_PLAN_TEXT) {
        (void)fprintf(rows->to, "\n%s: could not be read, so nothing is known: %s\n", hill_file,
                      problem->text);
        return;
    }
    make_empty(&row);
    set_text(&row.cells, "hill_file", hill_file);
    set_text(&row.cells, "verdict", td_plan_verdict_key(TD_VERDICT_UNREAD));
    set_text(&row.cells, "verdict_words",
             td_plan_verdict_words(TD_VERDICT_UNREAD, NULL, row.words));
    set_text(&row.cells, "why_not", problem->text);
    put(rows, &row);
}
