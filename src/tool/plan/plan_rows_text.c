/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A table of plans to be read: a hill and a rig stand over their rows, so that 100 columns do. */
#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/plan/plan_rows.h"
#include "tool/plan/plan_words.h"

enum { LOAD = 10, WEIGHT = 10, PART = 4, SPEED = 4, GEAR = 11, STAGE = 8, BRAKES = 10, LEFT = 5,
       WITHOUT = 7,
       NO_PLAN = PART + SPEED + 1 + GEAR + STAGE + BRAKES + LEFT + WITHOUT + 6 };

/* Letters of UTF-8 begin with bytes that are no 10xxxxxx. A name is cut or filled up to `width` of
 * them. */
static void put_name(FILE *to, const char *text, int width)
{
    int letters = 0;
    size_t bytes = 0;
    while (text[bytes] != '\0') {
        bool begins = ((unsigned char)text[bytes] & 0xc0) != 0x80;
        if (begins && letters == width)
            break;
        letters += begins;
        bytes++;
    }
    (void)fprintf(to, " %.*s%*s", (int)bytes, text, width - letters, "");
}

/* A figure is never cut. */
static void put_figure(FILE *to, const char *text, int width)
{
    (void)fprintf(to, " %*s", width, text);
}

static void put_head(const struct td_plan_rows *rows)
{
    put_name(rows->to, "load", LOAD);
    put_figure(rows->to, "weight", WEIGHT);
    put_figure(rows->to, "part", PART);
    put_figure(rows->to, rows->metric ? "km/h" : "mph", SPEED);
    put_name(rows->to, " gear", GEAR + 1);
    put_name(rows->to, "stage", STAGE);
    put_figure(rows->to, "brakes", BRAKES);
    put_figure(rows->to, "left", LEFT);
    put_figure(rows->to, "without", WITHOUT);
    (void)fputs("  verdict\n", rows->to);
}

void td_plan_text_head(const struct td_plan_rows *rows, const struct td_plan_query *query)
{
    const struct td_plan_answer unit = {.query = *query};
    char air[TD_PLAN_LINE_MAX], brakes[TD_PLAN_LINE_MAX];
    (void)fprintf(rows->to,
                  "Road %s, engine brake credited: %s, air %s, brakes at the crest %s.\n"
                  "part: which downgrade of the hill; brakes: hottest, and how much of the way to "
                  "their limit\nthat is; left: to the limit after an emergency stop; without: "
                  "speed without engine brake\nor retarder.\n\n",
                  td_plan_road_name(query->road), td_plan_credit_name(query->credit),
                  td_plan_temp_words(&unit, query->ambient_c, air),
                  td_plan_temp_words(&unit, query->brakes_from_c, brakes));
    put_head(rows);
}

void td_plan_text_hill(const struct td_plan_rows *rows, const struct td_hill *hill)
{
    const struct td_plan_answer unit = {.hill = hill, .query = {.speak_kmh = rows->metric}};
    char way[TD_PLAN_LINE_MAX];
    (void)fprintf(rows->to, "\n%s  %s: ", hill->id, hill->name);
    if (hill->coached)
        (void)fprintf(rows->to, "%.1f %% for %s, steepest %.1f %%\n",
                      hill->mean_downgrade_ratio * 100,
                      td_plan_way_words(&unit, hill->foot_m - hill->crest_m, way),
                      hill->steepest_downgrade_ratio * 100);
    else
        (void)fputs("gentle, no plan is needed. Posted signs hold.\n", rows->to);
}

/* The straight answer to "what is the heaviest load for this hill". */
static void put_heaviest(FILE *to, const struct td_plan_block *block)
{
    const struct td_plan_answer *first = &block->answers[0];
    char line[TD_PLAN_LINE_MAX];
    double kg = block->heaviest_kg; /* never rounded up */
    kg = first->query.speak_kmh ? floor(kg + 1e-6)
                                : td_kg_from_lb(floor(td_lb_from_kg(kg) + 1e-6));
    (void)fprintf(to, " %s: ", first->rig->name);
    if (kg > 0)
        (void)fprintf(to, "heaviest within limits %s%s\n", td_plan_mass_words(first, kg, line),
                      block->heaviest_is_most ? "; no more was asked" : "");
    else
        (void)fputs("no weight on file is within limits\n", to);
}

static void put_descent(FILE *to, const struct td_plan_answer *answer, size_t at)
{
    const struct td_plan *plan = &answer->plan;
    const struct td_plan_descent *of = &plan->descents[at];
    const char *gear = td_plan_gear_name(answer, of->gear);
    const char *stage = td_plan_stage_name(answer, of->gear, of->stage);
    char text[TD_PLAN_LINE_MAX], peak[TD_PLAN_LINE_MAX];
    (void)snprintf(text, sizeof text, "%zu/%zu", at + 1, plan->descent_count);
    put_figure(to, plan->descent_count > 1 ? text : "", PART);
    (void)snprintf(text, sizeof text, "%d", td_plan_target_figure(answer, of));
    put_figure(to, text, SPEED);
    (void)fputc(' ', to);
    put_name(to, gear != NULL ? gear : "-", GEAR);
    put_name(to, stage != NULL ? stage : "-", STAGE);
    (void)snprintf(text, sizeof text, "%s %3.0f%%", td_plan_temp_words(answer, of->peak_c, peak),
                   td_plan_brake_use_pct(answer, of->peak_c));
    put_figure(to, text, BRAKES);
}

static void put_without(FILE *to, const struct td_plan_answer *answer)
{
    char line[TD_PLAN_LINE_MAX];
    double mph = answer->plan.without_engine_brake_mph;
    put_figure(to, td_plan_warmth_words(answer, answer->plan.margin_c, line), LEFT);
    (void)snprintf(line, sizeof line, "%.0f",
                   floor((answer->query.speak_kmh ? td_kmh_from_mps(td_mps_from_mph(mph)) : mph) +
                         1e-6));
    put_figure(to, mph > 0 ? line : "no", WITHOUT);
}

static void put_weight(const struct td_plan_rows *rows, const struct td_plan_block *block,
                       size_t at)
{
    const struct td_plan_answer *answer = &block->answers[at];
    enum td_plan_verdict verdict = td_plan_verdict(block, at);
    size_t descents = answer->plan.descent_count;
    char line[TD_PLAN_LINE_MAX];
    for (size_t k = 0; k < (descents > 0 ? descents : 1); k++) {
        put_name(rows->to, k == 0 && answer->load != NULL ? answer->load : "", LOAD);
        put_figure(rows->to,
                   k == 0 ? td_plan_mass_words(answer, answer->query.mass_kg, line) : "", WEIGHT);
        if (descents > 0)
            put_descent(rows->to, answer, k);
        if (descents > 0 && k == 0)
            put_without(rows->to, answer);
        if (descents == 0)
            put_name(rows->to, "", NO_PLAN);
        if (k == 0)
            (void)fprintf(rows->to, "  %s", td_plan_verdict_words(verdict, answer, line));
        (void)fputc('\n', rows->to);
    }
    if (td_plan_why_not(answer, line) != NULL)
        (void)fprintf(rows->to, "      %s\n", line);
}

void td_plan_text_block(const struct td_plan_rows *rows, const struct td_plan_block *block)
{
    if (!block->answers[0].plan.coached)
        return;
    put_heaviest(rows->to, block);
    for (size_t i = 0; i < block->count; i++)
        if (!rows->refused_only || td_plan_verdict_refuses(td_plan_verdict(block, i)))
            put_weight(rows, block, i);
}
