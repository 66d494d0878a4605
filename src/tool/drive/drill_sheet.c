/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sheet of a drill: each prompt that matters, the question to the trainee, and the answer that
 * the plan gives. What to do is common practice (driver's manual); every figure is the plan's, the
 * hill's or the run's. */
#include <ctype.h>
#include <math.h>
#include <string.h>

#include "talkdown/text.h"
#include "talkdown/units.h"
#include "tool/drive/drill.h"
#include "tool/drive/drill_answers.h"
#include "tool/plan/plan_words.h"

/* After so long a driver has done what he was going to do. */
#define LATER_NS (15 * TD_NS_PER_S)

static bool is_asked(const struct td_drill *drill, const struct td_prompt *prompt)
{
    bool asked = prompt->category == TD_DANGER;
    for (unsigned i = 0; i < drill->ask_count; i++)
        asked = asked || drill->ask[i] == prompt->id;
    return asked;
}

/* The same prompt about the same place was asked about before; of speed, whatever the place. */
static bool is_again(const struct td_drill_run *run, size_t line)
{
    const struct td_prompt *prompt = &run->lines[line].prompt;
    for (size_t i = 0; i < line; i++) {
        const struct td_prompt *before = &run->lines[i].prompt;
        if (before->id == prompt->id &&
            (before->about_m == prompt->about_m || before->category >= TD_WARNING ||
             (prompt->place >= 0 && before->place == prompt->place)))
            return true;
    }
    return false;
}

static const struct td_drill_moment *moment_at(const struct td_drill_run *run, int64_t at_ns)
{
    for (size_t i = 0; i < run->moment_count; i++)
        if (run->moments[i].at_ns >= at_ns)
            return &run->moments[i];
    return run->moment_count > 0 ? &run->moments[run->moment_count - 1] : NULL;
}

static void put_what_he_did(FILE *to, const struct td_drill_run *run,
                            const struct td_plan_answer *answer, const struct td_prompt_line *line)
{
    char then[TD_PLAN_LINE_MAX], later[TD_PLAN_LINE_MAX];
    const struct td_drill_moment *at = moment_at(run, line->at_ns);
    const struct td_drill_moment *after = moment_at(run, line->at_ns + LATER_NS);
    if (at == NULL || after == NULL || after->at_ns <= at->at_ns)
        return;
    (void)fprintf(to, "     Here the truck was at %s, and %.0f s later at %s.\n",
                  td_plan_speed_words(answer, at->speed_mps, then),
                  (double)(after->at_ns - at->at_ns) * 1e-9,
                  td_plan_speed_words(answer, after->speed_mps, later));
}

static void put_head(FILE *to, const struct td_drill_run *run,
                     const struct td_plan_answer *answer)
{
    char mass[TD_PLAN_LINE_MAX], gear[TD_PLAN_LINE_MAX], stage[TD_PLAN_LINE_MAX],
        heat[TD_PLAN_LINE_MAX];
    const struct td_plan *plan = &answer->plan;
    (void)fprintf(to, "Drill: %s\n%s with %s, %s, %s\n\n%s\n\nThe plan:\n", run->drill->name,
                  answer->hill->name, answer->rig->name, answer->load,
                  td_plan_mass_words(answer, answer->query.mass_kg, mass), run->drill->wrong);
    for (size_t i = 0; i < plan->descent_count; i++) {
        const struct td_plan_descent *descent = &plan->descents[i];
        const char *works = td_plan_stage_words(answer, descent->gear, descent->stage, stage);
        (void)fprintf(to, "  %s%s%s, %d %s or slower, held down by %s\n",
                      td_plan_gear_words(answer, descent->gear, gear),
                      works[0] != '\0' ? ", " : "", works, td_plan_say_figure(answer, descent),
                      td_plan_speed_unit(answer), td_plan_limit_name(descent->limited_by));
    }
    (void)fprintf(to, "  %s\n\n", td_plan_heat_line(answer, heat));
    (void)fputs("Play voice.wav. At each prompt below stop, ask, and compare. Posted signs, the "
                "law and the\nroad come first; the voice only advises.\n", to);
}

static void put_wrong(FILE *to, const struct td_plan_answer *answer, const struct td_trip *trip,
                      int64_t start_ns)
{
    char place[TD_PLAN_LINE_MAX];
    const struct td_slip *slip = &trip->driver.slip;
    if (slip->slipped)
        (void)fprintf(to, "\nIt goes wrong at %.0f s, %s.\n",
                      td_s_from_ns(slip->from_ns - start_ns),
                      td_plan_place_words(answer, slip->from_m, place));
    else if (trip->truck.brakes_failed)
        (void)fprintf(to, "\nThe service brakes fail at %s.\n",
                      td_plan_place_words(answer, trip->driver.fails_m, place));
    else
        (void)fputs("\nIt never went wrong: this drive gave no occasion.\n", to);
}

static void put_end(FILE *to, const struct td_plan_answer *answer, const struct td_trip *trip)
{
    char line[TD_PLAN_LINE_MAX], other[TD_PLAN_LINE_MAX];
    const struct td_truck *truck = &trip->truck;
    (void)fputs("\nHow it ended: ", to);
    if (trip->seen.lane_mps > 0)
        (void)fprintf(to, "in an escape lane at %s, entered at %s. ",
                      td_plan_place_words(answer, truck->along_m, line),
                      td_plan_speed_words(answer, trip->seen.lane_mps, other));
    else
        (void)fprintf(to, "at the end of the road on file, fastest on the grade %s. ",
                      td_plan_speed_words(answer, trip->seen.fastest_mps, line));
    (void)fprintf(to, "Brakes at most %s; limit %s.\n",
                  td_plan_temp_words(answer, truck->hottest_c, line),
                  td_plan_temp_words(answer, answer->limit_c, other));
}

unsigned td_drill_sheet(FILE *to, const struct td_drill_run *run,
                        const struct td_plan_answer *answer, const struct td_trip *trip,
                        int64_t start_ns)
{
    unsigned asked = 0;
    put_head(to, run, answer);
    put_wrong(to, answer, trip, start_ns);
    if (td_drill_calls_no_curve(run->drill, &answer->plan))
        (void)fputs("\nFor the trainer: " TD_DRILL_NO_CURVE ".\n", to);
    for (size_t i = 0; i < run->line_count; i++) {
        const struct td_prompt_line *line = &run->lines[i];
        char question[TD_DRILL_TEXT_MAX], right[TD_DRILL_TEXT_MAX];
        if (!is_asked(run->drill, &line->prompt))
            continue;
        double at_s = td_s_from_ns(line->at_ns - start_ns);
        if (is_again(run, i)) {
            (void)fprintf(to, "%7.1f s  \"%s\" (again)\n", at_s, line->words);
            continue;
        }
        (void)fprintf(to, "\n%7.1f s  \"%s\"\n", at_s, line->words);
        if (td_drill_ask(answer, line, question, right)) {
            asked++;
            right[0] = (char)toupper((unsigned char)right[0]);
            (void)fprintf(to, "  Q%u. %s\n  A%u. %s\n", asked, question, asked, right);
        }
        put_what_he_did(to, run, answer, line);
    }
    put_end(to, answer, trip);
    return asked;
}
