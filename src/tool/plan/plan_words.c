/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names and figures of a plan as people read them. */
#include "tool/plan/plan_words.h"

#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"

const char *td_plan_limit_name(enum td_plan_limit limit)
{
    static const char *const names[] = {"posted", "heat", "curve", "gear", "none"};
    return names[limit];
}

const char *td_plan_road_name(enum td_road road)
{
    static const char *const names[] = {"dry", "wet", "ice"};
    return names[road];
}

const char *td_plan_credit_name(enum td_credit credit)
{
    static const char *const names[] = {"none", "cautious", "full"};
    return names[credit];
}

const char *td_plan_reason_name(enum td_plan_reason_kind kind)
{
    static const char *const names[TD_REASON_KINDS] = {
        [TD_REASON_POSTED] = "posted",
        [TD_REASON_CURVE] = "curve",
        [TD_REASON_HEAT] = "heat",
        [TD_REASON_RPM_MOST] = "rpm_most",
        [TD_REASON_RPM_LEAST] = "rpm_least",
        [TD_REASON_ENGINE_BRAKE_HOLDS] = "engine_brake_holds",
        [TD_REASON_ENGINE_BRAKE_WEAK] = "engine_brake_weak",
        [TD_REASON_FAILURE_STOP] = "failure_stop",
        [TD_REASON_ICE_NO_CHAINS] = "ice_no_chains",
        [TD_REASON_CLIMBING] = "climbing",
        [TD_REASON_CRAWL] = "crawl",
        [TD_REASON_MILD] = "mild",
        [TD_REASON_BREAK] = "break",
        [TD_REASON_NOTHING_ALLOWED] = "nothing_allowed",
    };
    return names[kind];
}

const char *td_plan_gear_name(const struct td_plan_answer *answer, int gear)
{
    return answer->rig != NULL && gear >= 0 ? answer->rig->gears[gear].name : NULL;
}

const char *td_plan_stage_name(const struct td_plan_answer *answer, int gear, int stage)
{
    if (answer->rig == NULL || gear < 0 || answer->rig->stage_count == 0)
        return NULL;
    return stage < 0 ? "off" : answer->rig->stages[stage].name;
}

const char *td_plan_holder_name(const struct td_plan_answer *answer, int stage)
{
    static const char *const names[] = {"engine brake", "exhaust brake", "retarder"};
    if (answer->rig == NULL || answer->rig->stage_count == 0)
        return names[TD_HOLDER_ENGINE_BRAKE];
    return names[answer->rig->stages[stage < 0 ? 0 : stage].kind];
}

const char *td_plan_reason_holder(const struct td_plan_answer *answer)
{
    int stage = answer->plan.stage;
    if (answer->rig != NULL && answer->plan.coached && !answer->plan.safe) {
        int last = (int)answer->rig->stage_count - 1;
        stage = answer->query.stage_most < last ? answer->query.stage_most : last;
    }
    return td_plan_holder_name(answer, stage);
}

static bool metric(const struct td_plan_answer *answer)
{
    return answer->query.speak_kmh;
}

const char *td_plan_speed_unit(const struct td_plan_answer *answer)
{
    return metric(answer) ? "km/h" : "mph";
}

const char *td_plan_speed_words(const struct td_plan_answer *answer, double mps, char *line)
{
    double figure = metric(answer) ? td_kmh_from_mps(mps) : td_mph_from_mps(mps);
    (void)snprintf(line, TD_PLAN_LINE_MAX, "%.0f %s", floor(figure + 1e-6),
                   td_plan_speed_unit(answer));
    return line;
}

int td_plan_target_figure(const struct td_plan_answer *answer,
                          const struct td_plan_descent *descent)
{
    return metric(answer) ? (int)floor(td_kmh_from_mps(descent->target_mps) + 1e-6)
                          : descent->target_mph;
}

int td_plan_say_figure(const struct td_plan_answer *answer, const struct td_plan_descent *descent)
{
    return metric(answer) ? descent->say_kmh : descent->say_mph;
}

const char *td_plan_place_words(const struct td_plan_answer *answer, double at_m, char *line)
{
    double from_crest_m = at_m - answer->hill->crest_m;
    double figure = metric(answer) ? from_crest_m / 1000 : td_mi_from_m(from_crest_m);
    const char *unit = metric(answer) ? "km" : "mile";
    if (figure > -0.05)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%s %.1f", unit, fabs(figure));
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%.1f %s%s before the crest", -figure, unit,
                       metric(answer) ? "" : "s");
    return line;
}

const char *td_plan_way_words(const struct td_plan_answer *answer, double m, char *line)
{
    (void)snprintf(line, TD_PLAN_LINE_MAX, metric(answer) ? "%.1f km" : "%.1f miles",
                   metric(answer) ? m / 1000 : td_mi_from_m(m));
    return line;
}

/* "1,234" with what follows. */
static const char *grouped(double figure, const char *unit, char *line)
{
    long whole = lround(figure);
    if (whole >= 1000)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%ld,%03ld %s", whole / 1000, whole % 1000, unit);
    else
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%ld %s", whole, unit);
    return line;
}

const char *td_plan_reach_words(const struct td_plan_answer *answer, double m, char *line)
{
    double figure = metric(answer) ? m : td_ft_from_m(m);
    double step = metric(answer) ? 5 : 10;
    return grouped(ceil(figure / step - 1e-6) * step, metric(answer) ? "m" : "ft", line);
}

const char *td_plan_mass_words(const struct td_plan_answer *answer, double kg, char *line)
{
    return metric(answer) ? grouped(kg, "kg", line) : grouped(td_lb_from_kg(kg), "lb", line);
}

const char *td_plan_temp_words(const struct td_plan_answer *answer, double c, char *line)
{
    (void)snprintf(line, TD_PLAN_LINE_MAX, "%.0f %s", metric(answer) ? c : td_f_from_c(c),
                   metric(answer) ? "C" : "F");
    return line;
}

const char *td_plan_warmth_words(const struct td_plan_answer *answer, double c_more, char *line)
{
    (void)snprintf(line, TD_PLAN_LINE_MAX, "%.0f %s", floor(metric(answer) ? c_more : c_more * 1.8),
                   metric(answer) ? "C" : "F");
    return line;
}

static bool is_number(const char *word)
{
    for (size_t i = 0; word[i] != '\0'; i++)
        if (word[i] < '0' || word[i] > '9')
            return false;
    return true;
}

const char *td_plan_gear_words(const struct td_plan_answer *answer, int gear, char *line)
{
    const char *name = td_plan_gear_name(answer, gear);
    line[0] = '\0';
    if (name != NULL)
        (void)snprintf(line, TD_PLAN_LINE_MAX, is_number(name) ? "gear %s" : "%s gear", name);
    return line;
}

const char *td_plan_stage_words(const struct td_plan_answer *answer, int gear, int stage,
                                char *line)
{
    const char *name = td_plan_stage_name(answer, gear, stage);
    line[0] = '\0';
    if (name != NULL)
        (void)snprintf(line, TD_PLAN_LINE_MAX, "%s %s", td_plan_holder_name(answer, stage), name);
    return line;
}
