/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Reasons, margins and places to stop, each as one clause a driver can read aloud. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/plan/plan_words.h"

enum { WORD_MAX = TD_PLAN_LINE_MAX, WHICH_MAX = 48 };

static void ceiling_line(const struct td_plan_answer *answer, const struct td_plan_reason *reason,
                         char *line)
{
    char speed[WORD_MAX], place[WORD_MAX];
    (void)td_plan_speed_words(answer, reason->value, speed);
    (void)td_plan_place_words(answer, reason->at_m, place);
    if (reason->kind == TD_REASON_POSTED)
        (void)snprintf(line, WORD_MAX, "posted for this truck: %.40s, by the sign at %.60s", speed,
                       place);
    else
        (void)snprintf(line, WORD_MAX, "the slowest curve, at %.60s, takes %.40s", place, speed);
}

static void hold_line(const struct td_plan_answer *answer, const struct td_plan_reason *reason,
                      char *line)
{
    char place[WORD_MAX];
    const char *holder = td_plan_reason_holder(answer);
    double percent = floor(reason->value * 100 + 1e-6);
    (void)td_plan_place_words(answer, reason->at_m, place);
    if (reason->kind == TD_REASON_ENGINE_BRAKE_HOLDS)
        (void)snprintf(line, WORD_MAX, "engine and %s hold the hardest part, at %.60s, with "
                       "%.0f %% to spare", holder, place, percent);
    else if (percent >= 100)
        (void)snprintf(line, WORD_MAX, "engine and %s just hold the hardest part, at %.60s: %.0f "
                       "%% to spare, and 10 %% are wanted", holder, place, percent - 100);
    else
        (void)snprintf(line, WORD_MAX, "on the hardest part, at %.60s, engine and %s give only "
                       "%.0f %% of what holds the truck", place, holder, percent);
}

/* " on downgrade 2" where there are several, as each has its own peak; else "". */
static const char *which_downgrade(const struct td_plan_answer *answer, double at_m, char *which)
{
    const struct td_plan_descent *descent = td_plan_descent_at(&answer->plan, at_m - 1);
    which[0] = '\0';
    if (answer->plan.descent_count > 1 && descent != NULL)
        (void)snprintf(which, WHICH_MAX, " on downgrade %td", descent - answer->plan.descents + 1);
    return which;
}

static void heat_line(const struct td_plan_answer *answer, const struct td_plan_reason *reason,
                      char *line)
{
    char temp[WORD_MAX], limit[WORD_MAX], place[WORD_MAX], which[WHICH_MAX];
    (void)td_plan_temp_words(answer, reason->value, temp);
    (void)td_plan_temp_words(answer, answer->limit_c, limit);
    (void)td_plan_place_words(answer, reason->at_m, place);
    if (reason->kind == TD_REASON_FAILURE_STOP)
        (void)snprintf(line, WORD_MAX, "should the %s fail at the worst place, %.60s, stopping "
                       "heats the brakes to %.30s",
                       td_plan_reason_holder(answer), place, temp);
    else if (reason->kind == TD_REASON_MILD)
        (void)snprintf(line, WORD_MAX, "so little to hold that the service brakes alone would "
                       "reach only %.30s", temp);
    else
        (void)snprintf(line, WORD_MAX, "brakes%s are hottest, %.30s, at %.60s; limit %.30s",
                       which_downgrade(answer, reason->at_m, which), temp, place, limit);
}

static void speed_line(const struct td_plan_answer *answer, const struct td_plan_reason *reason,
                       char *line)
{
    static const struct {
        const char *before, *after;
    } words[TD_REASON_KINDS] = {
        [TD_REASON_RPM_MOST] = {"above ", " the engine turns too fast in this gear"},
        [TD_REASON_RPM_LEAST] = {"the lowest gear cannot go slower than ", ""},
        [TD_REASON_CLIMBING] = {"on the service brakes no faster than it would climb here: ", ""},
        [TD_REASON_CRAWL] = {"the service brakes alone would allow no more than a crawl: ", ""},
    };
    char speed[WORD_MAX];
    double unit_mps = answer->query.speak_kmh ? TD_MPS_PER_KMH : TD_MPS_PER_MPH;
    /* "Not slower than" goes up, all others down. */
    double up_mps = reason->kind == TD_REASON_RPM_LEAST ? unit_mps * (1 - 1e-5) : 0;
    (void)td_plan_speed_words(answer, reason->value + up_mps, speed);
    (void)snprintf(line, WORD_MAX, "%s%.40s%s", words[reason->kind].before, speed,
                   words[reason->kind].after);
}

static void break_line(const struct td_plan_answer *answer, const struct td_plan_reason *reason,
                       char *line)
{
    char way[WORD_MAX], place[WORD_MAX];
    (void)td_plan_way_words(answer, reason->value, way);
    (void)td_plan_place_words(answer, reason->at_m, place);
    (void)snprintf(line, WORD_MAX, "no downgrade to speak of for %.40s from %.60s: brakes cool, "
                   "time for another gear", way, place);
}

const char *td_plan_reason_line(const struct td_plan_answer *answer,
                                const struct td_plan_reason *reason, char *line)
{
    line[0] = '\0';
    switch (reason->kind) {
    case TD_REASON_POSTED:
    case TD_REASON_CURVE:
        ceiling_line(answer, reason, line);
        break;
    case TD_REASON_HEAT:
    case TD_REASON_FAILURE_STOP:
    case TD_REASON_MILD:
        heat_line(answer, reason, line);
        break;
    case TD_REASON_RPM_MOST:
    case TD_REASON_RPM_LEAST:
    case TD_REASON_CLIMBING:
    case TD_REASON_CRAWL:
        speed_line(answer, reason, line);
        break;
    case TD_REASON_ENGINE_BRAKE_HOLDS:
    case TD_REASON_ENGINE_BRAKE_WEAK:
        hold_line(answer, reason, line);
        break;
    case TD_REASON_BREAK:
        break_line(answer, reason, line);
        break;
    case TD_REASON_ICE_NO_CHAINS:
        (void)snprintf(line, WORD_MAX, "ice on a real grade: not without chains");
        break;
    case TD_REASON_NOTHING_ALLOWED:
        (void)snprintf(line, WORD_MAX, "no gear and speed keeps the brakes under their limit with "
                       "a stop in hand");
        break;
    case TD_REASON_KINDS:
        break;
    }
    return line;
}

/* What ends the room above the target: brakes, the band of the engine, how far the plan looked. */
enum room { BRAKES, ENGINE, NOTHING };

static enum room room_above(const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    double fastest_mps = plan->target_mps;
    if (plan->target_mps + plan->spare_mps >= td_mps_from_mph(TD_PLAN_MOST_MPH) - 0.01)
        return NOTHING;
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        const struct td_plan_descent *descent =
            td_plan_descent_at(plan, (stretch->from_m + stretch->to_m) / 2);
        bool is_slowest = descent != NULL && descent->target_mps <= plan->target_mps + 1e-9;
        if (is_slowest && stretch->from_m >= descent->from_m - 1)
            fastest_mps = fmax(fastest_mps, stretch->target_mps);
    }
    double engine_mps =
        plan->gear >= 0 ? td_rig_speed_mps(answer->rig, (size_t)plan->gear, answer->rig->rpm_most)
                        : fastest_mps;
    return fastest_mps + plan->spare_mps >= engine_mps - 0.01 ? ENGINE : BRAKES;
}

/* More weight or speed is told only up to where the plan looked. */
const char *td_plan_margin_line(const struct td_plan_answer *answer, char *line)
{
    const struct td_plan *plan = &answer->plan;
    char mass[WORD_MAX], speed[WORD_MAX], top[WORD_MAX];
    bool any_mass = plan->spare_kg >= answer->query.mass_kg * (1 - 1e-9);
    double step_kg = answer->query.speak_kmh ? 50 : td_kg_from_lb(100);
    enum room room = room_above(answer);
    (void)td_plan_mass_words(answer, floor(plan->spare_kg / step_kg + 1e-6) * step_kg, mass);
    (void)td_plan_speed_words(answer, plan->spare_mps, speed);
    (void)td_plan_speed_words(answer, plan->target_mps + plan->spare_mps, top);
    if (!any_mass && room == BRAKES) {
        (void)snprintf(line, WORD_MAX, "%.40s more or %.40s faster reaches the brakes' limit",
                       mass, speed);
        return line;
    }
    int used = snprintf(line, WORD_MAX, "%.40s %s the brakes' limit; ",
                        any_mass ? "twice the weight" : mass,
                        any_mass ? "does not reach" : "more reaches");
    char *rest = line + used;
    size_t left = (size_t)(WORD_MAX - used);
    if (room == BRAKES)
        (void)snprintf(rest, left, "%.40s faster does", speed);
    else if (room == ENGINE)
        (void)snprintf(rest, left, "past %.40s the engine turns too fast", top);
    else
        (void)snprintf(rest, left, "no speed up to %.40s does", top);
    return line;
}

const char *td_plan_stop_line(const struct td_plan_answer *answer, char *line)
{
    char speed[WORD_MAX], reach[WORD_MAX];
    (void)td_plan_speed_words(answer, answer->plan.target_mps, speed);
    (void)td_plan_reach_words(answer, answer->plan.stop_m, reach);
    (void)snprintf(line, WORD_MAX, "stopping from %.40s takes %.40s where it is steepest", speed,
                   reach);
    return line;
}

const char *td_plan_last_stop_line(const struct td_plan_answer *answer, char *line)
{
    char place[WORD_MAX];
    char brake[40] = "";
    if (answer->plan.stage >= 0)
        (void)snprintf(brake, sizeof brake, "without the %s ",
                       td_plan_holder_name(answer, answer->plan.stage));
    (void)td_plan_place_words(answer, answer->plan.last_stop_m, place);
    if (answer->plan.last_stop_m >= answer->hill->foot_m - 1e-6)
        (void)snprintf(line, WORD_MAX, "%sit can be stopped anywhere down to the foot", brake);
    else
        (void)snprintf(line, WORD_MAX, "%sthe last place where it can be stopped is %.60s", brake,
                       place);
    return line;
}

const struct td_place *td_plan_escape_place(const struct td_plan_answer *answer,
                                            const struct td_plan_escape *escape)
{
    for (size_t i = 0; i < answer->hill->place_count; i++) {
        const struct td_place *place = &answer->hill->places[i];
        if (place->kind == TD_PLACE_ESCAPE_LANE && fabs(place->at_m - escape->at_m) < 0.5 &&
            (place->has & TD_PLACE_CLOSED) == 0)
            return place;
    }
    return NULL;
}

const char *td_plan_escape_line(const struct td_plan_answer *answer,
                                const struct td_plan_escape *escape, char *line)
{
    static const char *const sides[] = {"", ", left", ", right"};
    const struct td_place *place = td_plan_escape_place(answer, escape);
    char at[WORD_MAX], runaway[WORD_MAX], stops[WORD_MAX], length[WORD_MAX], needs[WORD_MAX];
    (void)td_plan_place_words(answer, escape->at_m, at);
    (void)td_plan_speed_words(answer, escape->runaway_mps, runaway);
    (void)td_plan_speed_words(answer, escape->stops_mps, stops);
    (void)td_plan_reach_words(answer, escape->length_m, length);
    (void)td_plan_reach_words(answer, escape->needs_m, needs);
    int used = snprintf(line, WORD_MAX, "escape lane%s, %.40s: a runaway comes in at up to %.20s; ",
                        sides[place != NULL ? place->side : TD_SIDE_UNKNOWN], at, runaway);
    char *rest = line + used;
    size_t room = (size_t)(WORD_MAX - used);
    if (escape->stops_mps <= 0)
        (void)snprintf(rest, room, "what the lane stops is not on file");
    else if (escape->stops_mps >= escape->runaway_mps)
        (void)snprintf(rest, room, "its %.20s stop that", length);
    else
        (void)snprintf(rest, room, "its %.20s stop %.20s, %.20s would be needed", length, stops,
                       needs);
    return line;
}

const char *td_plan_heat_line(const struct td_plan_answer *answer, char *line)
{
    const struct td_plan *plan = &answer->plan;
    double peak_c, peak_at_m;
    char likely[WORD_MAX], peak[WORD_MAX], place[WORD_MAX], limit[WORD_MAX];
    td_plan_hottest(answer, &peak_c, &peak_at_m);
    (void)td_plan_temp_words(answer, plan->likely_peak_c, likely);
    (void)td_plan_temp_words(answer, peak_c, peak);
    (void)td_plan_place_words(answer, peak_at_m, place);
    (void)td_plan_temp_words(answer, answer->limit_c, limit);
    if (answer->rig != NULL && plan->safe && peak_c <= plan->peak_c)
        (void)snprintf(line, WORD_MAX, "brakes: likely %.20s, at worst %.20s at %.60s; limit %.20s",
                       likely, peak, place, limit);
    else
        (void)snprintf(line, WORD_MAX, "brakes: %.20s at most, at %.60s; limit %.20s", peak, place,
                       limit);
    return line;
}

void td_plan_hottest(const struct td_plan_answer *answer, double *peak_c, double *peak_at_m)
{
    *peak_c = answer->plan.peak_c;
    *peak_at_m = answer->plan.peak_at_m;
    for (size_t i = 0; i < answer->plan.descent_count; i++)
        if (answer->plan.descents[i].peak_c > *peak_c) {
            *peak_c = answer->plan.descents[i].peak_c;
            *peak_at_m = answer->plan.descents[i].peak_at_m;
        }
}
