/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The table of hills and rigs: constant grades under each weight, and the demo hills under each rig
 * and load, with the figures of the published reference model beside them. */
#include "support/policy_table.h"

#include <stdlib.h>
#include <string.h>

#include "io/hill_file.h"
#include "io/rig_file.h"
#include "support/hills.h"
#include "talkdown/gsrs.h"
#include "talkdown/plan.h"
#include "talkdown/units.h"

static const double grades[] = {0.04, 0.05, 0.06, 0.07, 0.08, 0.10};
static const double lengths_mi[] = {0.5, 1, 2, 3, 4, 6, 10};
static const double weights_lb[] = {33000, 56000, 79900};
static const char *const rig_names[] = {"five-axle",        "five-axle-no-brake", "box-truck",
                                        "automated-twelve", "heavy-hauler", "tanker-retarder"};
static const char *const hill_names[] = {"ombral-pass", "quorrin-steps", "tavinek-switchbacks",
                                         "vessarin-drop"};
enum {
    GRADES = sizeof grades / sizeof grades[0],
    LENGTHS = sizeof lengths_mi / sizeof lengths_mi[0],
    WEIGHTS = sizeof weights_lb / sizeof weights_lb[0],
    RIGS = sizeof rig_names / sizeof rig_names[0],
    HILLS = sizeof hill_names / sizeof hill_names[0],
};

struct table {
    FILE *to;
    struct td_rig rigs[RIGS];
    struct td_hill_file *hills[HILLS];
    struct td_plan_work work;
    struct test_hill hill;
};

static bool read_all(struct table *table, const char *profiles)
{
    struct td_problem problem = {.text = ""};
    char path[1024];
    for (size_t i = 0; i < RIGS; i++) {
        (void)snprintf(path, sizeof path, "%s/rigs/%s.yaml", profiles, rig_names[i]);
        if (td_rig_file_read(path, &table->rigs[i], &problem) != TD_OK) {
            fprintf(stderr, "%s: %s\n", path, problem.text);
            return false;
        }
    }
    for (size_t i = 0; i < HILLS; i++) {
        (void)snprintf(path, sizeof path, "%s/hills/%s.geojson", profiles, hill_names[i]);
        if (td_hill_file_read(path, &table->hills[i], &problem) != TD_OK) {
            fprintf(stderr, "%s: %s\n", path, problem.text);
            return false;
        }
    }
    return true;
}

/* "17 3h": target, gear by number, first letter of the stage where one is used; "no". One for each
 * descent. */
static void write_plan(FILE *to, const struct td_rig *rig, const struct td_plan *plan)
{
    if (!plan->safe) {
        fputs("no", to);
        return;
    }
    for (size_t i = 0; i < plan->descent_count; i++) {
        const struct td_plan_descent *descent = &plan->descents[i];
        fprintf(to, "%s%d %d", i > 0 ? ", " : "", descent->target_mph, descent->gear + 1);
        if (descent->stage >= 0)
            fputc(rig->stages[descent->stage].name[0], to);
    }
}

static void write_cell(struct table *table, const struct td_hill *hill, const struct td_rig *rig,
                       double mass_kg)
{
    struct td_plan plan;
    struct td_plan_query query = td_plan_query_default(rig);
    query.mass_kg = mass_kg;
    for (int credit = TD_CREDIT_NONE; credit <= TD_CREDIT_FULL; credit++) {
        if (rig->stage_count == 0 && credit != TD_CREDIT_CAUTIOUS)
            continue;
        query.credit = (enum td_credit)credit;
        td_plan_solve(hill, rig, &query, &table->work, &plan);
        fputs(credit > TD_CREDIT_NONE && rig->stage_count > 0 ? "; " : "", table->to);
        write_plan(table->to, rig, &plan);
    }
}

static void write_head(FILE *to, const char *first)
{
    fprintf(to, "| %s |", first);
    for (size_t i = 0; i < LENGTHS; i++)
        fprintf(to, " %g mi |", lengths_mi[i]);
    fputs("\n|---|", to);
    for (size_t i = 0; i < LENGTHS; i++)
        fputs("---|", to);
    fputc('\n', to);
}

static void write_grades(struct table *table, const struct td_rig *rig)
{
    write_head(table->to, "lb, grade");
    for (size_t w = 0; w < WEIGHTS; w++)
        for (size_t g = 0; g < GRADES; g++) {
            fprintf(table->to, "| %.0f, %.0f %% |", weights_lb[w], grades[g] * 100);
            for (size_t l = 0; l < LENGTHS; l++) {
                struct test_run run = {td_m_from_mi(lengths_mi[l]), grades[g]};
                test_hill_make(&table->hill, &run, 1);
                fputc(' ', table->to);
                write_cell(table, &table->hill.hill, rig, td_kg_from_lb(weights_lb[w]));
                fputs(" |", table->to);
            }
            fputc('\n', table->to);
        }
    fputc('\n', table->to);
}

static void write_reference(struct table *table)
{
    write_head(table->to, "lb, grade");
    for (size_t w = 0; w < WEIGHTS; w++)
        for (size_t g = 0; g < GRADES; g++) {
            fprintf(table->to, "| %.0f, %.0f %% |", weights_lb[w], grades[g] * 100);
            for (size_t l = 0; l < LENGTHS; l++) {
                struct td_gsrs_segment segment = {grades[g], lengths_mi[l]};
                fprintf(table->to, " %.0f / %.0f |",
                        floor(td_gsrs_safe_mph(TD_GSRS_1982, weights_lb[w], &segment, 1,
                                               TD_PLAN_MOST_MPH)),
                        floor(td_gsrs_safe_mph(TD_GSRS_1989, weights_lb[w], &segment, 1,
                                               TD_PLAN_MOST_MPH)));
            }
            fputc('\n', table->to);
        }
    fputc('\n', table->to);
}

static void write_hills(struct table *table)
{
    fputs("| rig, load |", table->to);
    for (size_t h = 0; h < HILLS; h++)
        fprintf(table->to, " %s |", hill_names[h]);
    fputs("\n|---|---|---|---|---|\n", table->to);
    for (size_t r = 0; r < RIGS; r++)
        for (size_t l = 0; l < table->rigs[r].load_count; l++) {
            const struct td_rig *rig = &table->rigs[r];
            fprintf(table->to, "| %s, %s |", rig_names[r], rig->loads[l].name);
            for (size_t h = 0; h < HILLS; h++) {
                fputc(' ', table->to);
                write_cell(table, td_hill_file_hill(table->hills[h]), rig, rig->loads[l].mass_kg);
                fputs(" |", table->to);
            }
            fputc('\n', table->to);
        }
}

bool policy_table_write(const char *profiles, FILE *to)
{
    struct table *table = calloc(1, sizeof *table);
    if (table == NULL)
        return false;
    table->to = to;
    bool read = read_all(table, profiles);
    if (read) {
        fputs("**Five axles, two-stage engine brake** (none; cautious; full)\n\n", to);
        write_grades(table, &table->rigs[0]);
        fputs("**Five axles, no engine brake**\n\n", to);
        write_grades(table, &table->rigs[1]);
        fputs("**Reference model** (1982 / 1989)\n\n", to);
        write_reference(table);
        fputs("**Demo hills** (none; cautious; full; with a comma where there are several"
              " descents)\n\n", to);
        write_hills(table);
    }
    for (size_t h = 0; h < HILLS; h++)
        td_hill_file_free(&table->hills[h]);
    free(table);
    return read;
}
