/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Questions and right answers of a drill. No answer tells to brake less or to go faster. */
#include "tool/drive/drill_answers.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "talkdown/units.h"
#include "tool/plan/plan_words.h"

/* A bend so near is told of with the speed (ours). */
#define BEND_SOON_M 400.0

/* A question, its answer under way, and room for the words of figures. */
struct asking {
    const struct td_plan_answer *answer;
    const struct td_prompt_line *line;
    const struct td_plan_descent *descent; /* at the truck, or the one ahead */
    char *question, *right;
    char a[TD_PLAN_LINE_MAX], b[TD_PLAN_LINE_MAX], c[TD_PLAN_LINE_MAX], d[TD_PLAN_LINE_MAX];
};

#define ASK(asking, ...)   ((void)snprintf((asking)->question, TD_DRILL_TEXT_MAX, __VA_ARGS__))
#define RIGHT(asking, ...) ((void)snprintf((asking)->right, TD_DRILL_TEXT_MAX, __VA_ARGS__))

static const char *way(const struct asking *asking, double to_m, char *line)
{
    return td_plan_way_words(asking->answer, fmax(to_m - asking->line->along_m, 0), line);
}

static const char *say(const struct asking *asking, char *line)
{
    (void)snprintf(line, TD_PLAN_LINE_MAX, "%d %s",
                   td_plan_say_figure(asking->answer, asking->descent),
                   td_plan_speed_unit(asking->answer));
    return line;
}

/* "third gear, engine brake high" */
static const char *gear_and_stage(const struct asking *asking, char *line)
{
    char gear[TD_PLAN_LINE_MAX], stage[TD_PLAN_LINE_MAX];
    const char *works = td_plan_stage_words(asking->answer, asking->descent->gear,
                                            asking->descent->stage, stage);
    (void)snprintf(line, TD_PLAN_LINE_MAX, "%.60s%s%.60s",
                   td_plan_gear_words(asking->answer, asking->descent->gear, gear),
                   works[0] != '\0' ? ", " : "", works);
    return line;
}

/* The next of its kind ahead of the truck and before `most_m`; NULL none. */
static const struct td_place *next_place(const struct asking *asking, enum td_place_kind kind,
                                         double most_m)
{
    const struct td_hill *hill = asking->answer->hill;
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        if (place->kind == kind && place->at_m > asking->line->along_m && place->at_m < most_m &&
            (place->has & (unsigned)TD_PLACE_CLOSED) == 0)
            return place;
    }
    return NULL;
}

static const char *side_words(enum td_side side)
{
    return side == TD_SIDE_LEFT ? " on the left" : side == TD_SIDE_RIGHT ? " on the right" : "";
}

/* "The next turn-out is 0.6 miles ahead on the right." */
static const char *turn_out(const struct asking *asking, char *line)
{
    char ahead[TD_PLAN_LINE_MAX];
    const struct td_place *place =
        next_place(asking, TD_PLACE_TURN_OUT, asking->answer->hill->foot_m);
    if (place == NULL)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "There is no turn-out left above the foot.");
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "The next turn-out is %.40s ahead%s.",
                       way(asking, place->at_m, ahead), side_words(place->side));
    return line;
}

/* "The next escape lane is ..., " and what it can stop. */
static const char *lane(const struct asking *asking, char *line)
{
    char ahead[TD_PLAN_LINE_MAX], speed[TD_PLAN_LINE_MAX], stops[64] = "";
    const struct td_plan *plan = &asking->answer->plan;
    const struct td_place *place =
        next_place(asking, TD_PLACE_ESCAPE_LANE, asking->answer->hill->length_m);
    if (place == NULL) {
        (void)snprintf(line, TD_PLAN_LINE_MAX, "There is no open escape lane left below.");
        return line;
    }
    for (size_t i = 0; i < plan->escape_count; i++)
        if (plan->escapes[i].at_m == place->at_m && plan->escapes[i].stops_mps > 0)
            (void)snprintf(stops, sizeof stops, "; its bed stops %.30s",
                           td_plan_speed_words(asking->answer, plan->escapes[i].stops_mps, speed));
    (void)snprintf(line, TD_PLAN_LINE_MAX, "The next open escape lane is %.30s ahead%s%s.",
                   way(asking, place->at_m, ahead), side_words(place->side), stops);
    return line;
}

/* --- before the crest --- */

static void ask_hill(struct asking *asking)
{
    const struct td_hill *hill = asking->answer->hill;
    ASK(asking, "How steep and how long is it, and what must be done before the crest?");
    RIGHT(asking, "%.0f percent in the mean, %.0f at its steepest, %s from crest to foot. By the "
                  "crest, %s ahead: %s, %s or slower.", hill->mean_downgrade_ratio * 100,
          hill->steepest_downgrade_ratio * 100,
          td_plan_way_words(asking->answer, hill->foot_m - hill->crest_m, asking->a),
          way(asking, hill->crest_m, asking->b), gear_and_stage(asking, asking->c),
          say(asking, asking->d));
}

static void ask_check(struct asking *asking)
{
    const struct td_hill *hill = asking->answer->hill;
    const struct td_prompt *prompt = &asking->line->prompt;
    const struct td_place *place = prompt->place >= 0 && (size_t)prompt->place < hill->place_count
                                       ? &hill->places[prompt->place]
                                       : NULL;
    double at_m = place != NULL ? place->at_m : prompt->about_m;
    bool must = place != NULL && (place->has & (unsigned)TD_PLACE_MANDATORY) != 0;
    ASK(asking, "Do you stop there? What do you look at?");
    RIGHT(asking, "Stop: it is %s ahead%s%s. Look at the brakes and at the sign with the grade; "
                  "then start in %s, %s or slower.", way(asking, at_m, asking->a),
          side_words(place != NULL ? place->side : TD_SIDE_UNKNOWN),
          must ? ", and every truck must" : "", gear_and_stage(asking, asking->b),
          say(asking, asking->c));
}

static void ask_passed(struct asking *asking)
{
    double crest_m = asking->answer->hill->crest_m;
    const struct td_place *next = next_place(asking, TD_PLACE_BRAKE_CHECK, crest_m);
    if (next == NULL)
        next = next_place(asking, TD_PLACE_TURN_OUT, crest_m);
    ASK(asking, "You went by. Where can you still stop, and what if you cannot?");
    if (next != NULL)
        RIGHT(asking, "Stop %s on, %s before the crest%s. Else be in %s at %s or slower by the "
                      "crest.", way(asking, next->at_m, asking->a),
              td_plan_way_words(asking->answer, crest_m - next->at_m, asking->b),
              side_words(next->side), gear_and_stage(asking, asking->c), say(asking, asking->d));
    else
        RIGHT(asking, "Nowhere else before the crest, %s ahead: be in %s at %s or slower by then, "
                      "and never back up.", way(asking, crest_m, asking->a),
              gear_and_stage(asking, asking->b), say(asking, asking->c));
}

static void ask_slow(struct asking *asking)
{
    double lose_mps = asking->line->speed_mps - td_plan_target_at(&asking->answer->plan,
                                                                  asking->descent->from_m);
    ASK(asking, "To what speed, and by where?");
    if (lose_mps > 0)
        RIGHT(asking, "To %s or slower by the crest, %s ahead: some %s less than now.",
              say(asking, asking->a), way(asking, asking->descent->from_m, asking->b),
              td_plan_speed_words(asking->answer, lose_mps, asking->c));
    else
        RIGHT(asking, "To %s or slower by the crest, %s ahead.", say(asking, asking->a),
              way(asking, asking->descent->from_m, asking->b));
}

static void ask_gear(struct asking *asking)
{
    const struct td_rig *rig = asking->answer->rig;
    ASK(asking, "Which gear, taken where, and held how long?");
    RIGHT(asking, "%s%s, taken before the crest and held to the foot of this descent, %s on; "
                  "%.0f rpm at %s. Nobody shifts on the grade.", gear_and_stage(asking, asking->a),
          rig->gearbox == TD_GEARBOX_AUTOMATED ? ", held in manual mode" : "",
          way(asking, asking->descent->to_m, asking->b),
          td_rig_rpm(rig, (size_t)asking->descent->gear,
                     asking->answer->query.speak_kmh
                         ? td_mps_from_kmh(asking->descent->say_kmh)
                         : td_mps_from_mph(asking->descent->say_mph)),
          say(asking, asking->c));
}

static void ask_stage(struct asking *asking)
{
    double left = asking->answer->plan.brake_share * 100;
    ASK(asking, "Which stage, and what does it leave to the service brakes?");
    RIGHT(asking, "%s. The service brakes have some %.0f percent of the pull left to hold, bends "
                  "and signs included.",
          td_plan_stage_words(asking->answer, asking->descent->gear, asking->descent->stage,
                              asking->a), left);
}

/* --- on the grade --- */

static void ask_ceiling(struct asking *asking)
{
    double say_mps = asking->answer->query.speak_kmh ? td_mps_from_kmh(asking->descent->say_kmh)
                                                     : td_mps_from_mph(asking->descent->say_mph);
    double low_mps = fmax(say_mps - td_mps_from_mph(5), 0);
    ASK(asking, "How is that speed held to the foot?");
    RIGHT(asking, "In %s. Whenever it comes to %s: brake to %s in about three seconds, let go, and "
                  "again.", gear_and_stage(asking, asking->a), say(asking, asking->b),
          td_plan_speed_words(asking->answer, low_mps, asking->c));
}

/* "A bend to the left is 300 ft ahead: 15 mph or slower. ", or "" */
static const char *bend(const struct asking *asking, char *line)
{
    char ahead[TD_PLAN_LINE_MAX], speed[TD_PLAN_LINE_MAX];
    const struct td_hill *hill = asking->answer->hill;
    line[0] = '\0';
    for (size_t i = 0; i < hill->curve_count; i++) {
        const struct td_curve *curve = &hill->curves[i];
        if (curve->from_m < asking->line->along_m ||
            curve->from_m > asking->line->along_m + BEND_SOON_M)
            continue;
        double most_mps = td_plan_curve_mps(asking->answer->rig, asking->answer->query.road,
                                            curve->radius_m);
        (void)snprintf(line, TD_PLAN_LINE_MAX, "A bend to the %s is %.40s ahead; over %.30s it is "
                       "not safe. ", curve->turn == TD_SIDE_LEFT ? "left" : "right",
                       way(asking, curve->from_m, ahead),
                       td_plan_speed_words(asking->answer, most_mps, speed));
        break;
    }
    return line;
}

static void ask_over(struct asking *asking)
{
    char before[TD_PLAN_LINE_MAX];
    double target_mps = td_plan_target_at(&asking->answer->plan, asking->line->along_m);
    ASK(asking, "What do you do now, and what not?");
    RIGHT(asking, "Brake at once and firmly, to %s or slower: it runs %s where the plan has %s. %s"
                  "Do not shift and do not wait for the engine brake. If it does not slow: %s",
          say(asking, asking->a),
          td_plan_speed_words(asking->answer, asking->line->speed_mps, asking->b),
          td_plan_speed_words(asking->answer, target_mps, asking->c), bend(asking, before),
          lane(asking, asking->d));
}

static void ask_building(struct asking *asking)
{
    ASK(asking, "It gains more than it should. What may be wrong, and what do you do?");
    RIGHT(asking, "Gear or engine brake are not as planned (%s). Brake now, to %s or slower, while "
                  "the brakes are cool; do not shift. %s", gear_and_stage(asking, asking->a),
          say(asking, asking->b), turn_out(asking, asking->c));
}

static void ask_engine(struct asking *asking)
{
    const struct td_rig *rig = asking->answer->rig;
    ASK(asking, "What does the engine tell you, and what do you do?");
    RIGHT(asking, "It turns faster than its %.0f rpm. Brake to %s or slower, where %s turns at "
                  "%.0f; do not declutch and do not go into neutral.", rig->rpm_most,
          say(asking, asking->a), gear_and_stage(asking, asking->b), asking->descent->rpm);
}

static void ask_curve(struct asking *asking)
{
    const struct td_plan *plan = &asking->answer->plan;
    double about_m = asking->line->prompt.about_m;
    const char *turns = "Round it";
    for (unsigned i = 0; i < asking->line->prompt.arg_count; i++)
        if (asking->line->prompt.args[i].unit == TD_UNIT_SIDE)
            turns = asking->line->prompt.args[i].value == TD_SIDE_LEFT ? "Left" : "Right";
    ASK(asking, "Which way does it turn, how fast may it be taken, and where must you be that "
                "slow?");
    RIGHT(asking, "%s, at %s or slower by its beginning, %s ahead: brake before it, not in it.",
          turns, td_plan_speed_words(asking->answer, td_plan_target_at(plan, about_m), asking->a),
          way(asking, about_m, asking->b));
}

static void ask_limit(struct asking *asking)
{
    const struct td_plan *plan = &asking->answer->plan;
    ASK(asking, "How fast from the sign on?");
    RIGHT(asking, "%s or slower, from %s ahead on.",
          td_plan_speed_words(asking->answer,
                              td_plan_target_at(plan, asking->line->prompt.about_m), asking->a),
          way(asking, asking->line->prompt.about_m, asking->b));
}

static void ask_bottom(struct asking *asking)
{
    const struct td_hill *hill = asking->answer->hill;
    double steepest = 0;
    for (size_t i = 0; i < hill->run_count; i++)
        if (hill->runs[i].to_m > asking->line->along_m && hill->runs[i].from_m < hill->foot_m)
            steepest = fmax(steepest, hill->runs[i].downgrade_ratio);
    ASK(asking, "Is this the bottom? What stays as it is?");
    RIGHT(asking, "No: the foot is %s ahead, and it falls %.0f percent again before it. Stay in "
                  "%s, %s or slower.", way(asking, hill->foot_m, asking->a), steepest * 100,
          gear_and_stage(asking, asking->b), say(asking, asking->c));
}

static void ask_steeper(struct asking *asking)
{
    ASK(asking, "What changes?");
    RIGHT(asking, "Nothing in gear and speed: %s at %s or slower were chosen for it.",
          gear_and_stage(asking, asking->a), say(asking, asking->b));
}

static void ask_lane(struct asking *asking)
{
    ASK(asking, "Where is it, and when is it taken?");
    RIGHT(asking, "%s It is taken as soon as the truck cannot be held at %s.",
          lane(asking, asking->a), say(asking, asking->b));
}

static void ask_no_lane(struct asking *asking)
{
    ASK(asking, "What is left below?");
    RIGHT(asking, "%s %s The foot is %s ahead. Keep to %s or slower, and stop while it still can.",
          lane(asking, asking->a), turn_out(asking, asking->b),
          way(asking, asking->answer->hill->foot_m, asking->c), say(asking, asking->d));
}

static void ask_heat(struct asking *asking)
{
    ASK(asking, "What do you do while there still is time?");
    RIGHT(asking, "Stop before the brakes are at their limit of %s, or fade. %s %s",
          td_plan_temp_words(asking->answer, asking->answer->limit_c, asking->a),
          turn_out(asking, asking->b), lane(asking, asking->c));
}

static void ask_end(struct asking *asking)
{
    ASK(asking, "When may gear and engine brake be let go?");
    RIGHT(asking, "Past the foot, %s ahead, and not before; until then %s, %s or slower.",
          way(asking, asking->answer->hill->foot_m, asking->a), gear_and_stage(asking, asking->b),
          say(asking, asking->c));
}

static void (*asks(enum td_prompt_id id))(struct asking *asking)
{
    switch (id) {
    case TD_PROMPT_HILL_AHEAD: return ask_hill;
    case TD_PROMPT_BRAKE_CHECK_AHEAD: return ask_check;
    case TD_PROMPT_BRAKE_CHECK_PASSED: return ask_passed;
    case TD_PROMPT_SLOW_FOR_GRADE: return ask_slow;
    case TD_PROMPT_BRIEFING:
    case TD_PROMPT_GEAR: return ask_gear;
    case TD_PROMPT_ENGINE_BRAKE: return ask_stage;
    case TD_PROMPT_CEILING: return ask_ceiling;
    case TD_PROMPT_OVER_SPEED: return ask_over;
    case TD_PROMPT_SPEED_BUILDING: return ask_building;
    case TD_PROMPT_ENGINE_OVER_SPEED: return ask_engine;
    case TD_PROMPT_CURVE: return ask_curve;
    case TD_PROMPT_LIMIT: return ask_limit;
    case TD_PROMPT_FALSE_BOTTOM: return ask_bottom;
    case TD_PROMPT_STEEPER: return ask_steeper;
    case TD_PROMPT_ESCAPE_LANE:
    case TD_PROMPT_RUNAWAY_LANE:
    case TD_PROMPT_TAKE_LANE: return ask_lane;
    case TD_PROMPT_LAST_ESCAPE_LANE:
    case TD_PROMPT_NO_LANE_AHEAD: return ask_no_lane;
    case TD_PROMPT_BRAKES_HEATING:
    case TD_PROMPT_BRAKES_HOT:
    case TD_PROMPT_STOP_AT: return ask_heat;
    case TD_PROMPT_BOTTOM_AHEAD: return ask_end;
    default: return NULL;
    }
}

bool td_drill_ask(const struct td_plan_answer *answer, const struct td_prompt_line *line,
                  char question[TD_DRILL_TEXT_MAX], char right[TD_DRILL_TEXT_MAX])
{
    struct asking asking = {.answer = answer, .line = line, .question = question, .right = right};
    void (*ask)(struct asking *asking) = asks(line->prompt.id);
    asking.descent = td_plan_descent_at(&answer->plan, line->along_m);
    if (ask == NULL || asking.descent == NULL)
        return false;
    ask(&asking);
    return true;
}
