/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The descent plan as a driver or dispatcher reads it: few lines, the order to act in first. */
#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/plan_answer.h"

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

const char *td_plan_gear_name(const struct td_plan_answer *answer)
{
    if (answer->rig == NULL || answer->plan.gear < 0)
        return NULL;
    return answer->rig->gears[answer->plan.gear].name;
}

const char *td_plan_stage_name(const struct td_plan_answer *answer)
{
    if (answer->rig == NULL || answer->plan.gear < 0 || answer->rig->stage_count == 0)
        return NULL;
    return answer->plan.stage < 0 ? "off" : answer->rig->stages[answer->plan.stage].name;
}

const char *td_plan_reason_line(const struct td_plan_answer *answer,
                                const struct td_plan_reason *reason, char *line)
{
    double mi = td_mi_from_m(reason->at_m), mph = td_mph_from_mps(reason->value);
    double f = td_f_from_c(reason->value), limit_f = td_f_from_c(answer->limit_c);
    size_t size = TD_PLAN_LINE_MAX;
    line[0] = '\0';
    switch (reason->kind) {
    case TD_REASON_POSTED:
        (void)snprintf(line, size, "posted for this truck: %.0f mph, by the sign at mile %.1f", mph,
                       mi);
        break;
    case TD_REASON_CURVE:
        (void)snprintf(line, size, "the slowest curve, at mile %.1f, takes %.0f mph", mi,
                       floor(mph + 1e-6));
        break;
    case TD_REASON_HEAT:
        (void)snprintf(line, size, "brakes are hottest, %.0f F, at mile %.1f; limit %.0f F",
                       f, mi, limit_f);
        break;
    case TD_REASON_RPM_MOST:
        (void)snprintf(line, size, "the engine leaves its band above %.0f mph in this gear",
                       floor(mph));
        break;
    case TD_REASON_RPM_LEAST:
        (void)snprintf(line, size, "the lowest gear cannot go slower than %.0f mph", ceil(mph));
        break;
    case TD_REASON_ENGINE_BRAKE_HOLDS:
        (void)snprintf(line, size, "engine and engine brake hold the hardest 300 m, at mile %.1f, "
                       "with %.0f %% to spare", mi, floor(reason->value * 100));
        break;
    case TD_REASON_ENGINE_BRAKE_WEAK:
        (void)snprintf(line, size, "engine and engine brake hold only %.0f %% of the hardest "
                       "300 m, at mile %.1f", floor(reason->value * 100), mi);
        break;
    case TD_REASON_FAILURE_STOP:
        (void)snprintf(line, size, "should the engine brake fail at the worst place, mile %.1f, "
                       "stopping heats the brakes to %.0f F", mi, f);
        break;
    case TD_REASON_ICE_NO_CHAINS:
        (void)snprintf(line, size, "ice on a real grade: not without chains");
        break;
    case TD_REASON_CLIMBING:
        (void)snprintf(line, size, "on the service brakes no faster than it would climb here: "
                       "%.0f mph", floor(mph + 1e-6));
        break;
    case TD_REASON_CRAWL:
        (void)snprintf(line, size, "the service brakes alone would allow no more than a crawl: "
                       "%.0f mph", floor(mph + 1e-6));
        break;
    case TD_REASON_MILD:
        (void)snprintf(line, size, "so little to hold that the service brakes alone would reach "
                       "only %.0f F", f);
        break;
    case TD_REASON_BREAK:
        (void)snprintf(line, size, "the road lets go for %.1f miles from mile %.1f: time for "
                       "another gear", td_mi_from_m(reason->value), mi);
        break;
    case TD_REASON_NOTHING_ALLOWED:
        (void)snprintf(line, size, "no gear and speed keeps the brakes under their limit with a "
                       "stop in hand");
        break;
    case TD_REASON_KINDS:
        break;
    }
    return line;
}

/* "79,900" */
static const char *weight(double mass_kg, char *text, size_t size)
{
    long lb = lround(td_lb_from_kg(mass_kg));
    if (lb >= 1000)
        (void)snprintf(text, size, "%ld,%03ld", lb / 1000, lb % 1000);
    else
        (void)snprintf(text, size, "%ld", lb);
    return text;
}

static void print_heading(const struct td_plan_answer *answer)
{
    const struct td_hill *hill = answer->hill;
    char lb[32];
    (void)printf("%s: ", answer->is_plain ? "Plain grade" : hill->name);
    if (answer->plan.coached)
        (void)printf("%.1f %% for %.1f miles, ", hill->mean_downgrade_ratio * 100,
                     td_mi_from_m(hill->foot_m - hill->crest_m));
    (void)printf("%s lb, ", weight(answer->query.mass_kg, lb, sizeof lb));
    if (answer->rig != NULL)
        (void)printf("%s, %s road\n", answer->rig->name, td_plan_road_name(answer->query.road));
    else
        (void)printf("five-axle reference truck (%s)\n", answer->model);
}

static void print_order(const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    const char *gear = td_plan_gear_name(answer), *stage = td_plan_stage_name(answer);
    (void)printf("  %d mph or slower (spoken: %d), limited by %s\n", plan->target_mph,
                 plan->say_mph, td_plan_limit_name(plan->limited_by));
    if (gear != NULL)
        (void)printf("  before the crest: gear %s%s%s; %.0f rpm at the spoken speed\n", gear,
                     stage != NULL ? ", engine brake " : "", stage != NULL ? stage : "",
                     plan->rpm);
    if (gear != NULL && answer->rig->gearbox != TD_GEARBOX_MANUAL)
        (void)puts("  hold that gear: manual mode until the foot");
    (void)printf("  brakes: %.0f F at most, %.0f F at the foot, limit %.0f F; %.0f F left after an "
                 "emergency stop\n", td_f_from_c(plan->peak_c), td_f_from_c(plan->final_c),
                 td_f_from_c(answer->limit_c), floor(plan->margin_c * 1.8));
    if (answer->rig == NULL)
        return;
    (void)printf("  the service brakes do %.0f %% of the work\n", plan->brake_share * 100);
    if (plan->without_engine_brake_mph > 0)
        (void)printf("  without engine brake: %d mph\n", plan->without_engine_brake_mph);
    else
        (void)puts("  without engine brake: do not go down");
}

static void print_stretches(const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    if (plan->stretch_count < 2)
        return;
    (void)puts("  stretches:");
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        (void)printf("    %5.2f to %5.2f  %5.1f %%  %3.0f mph  %s\n", td_mi_from_m(stretch->from_m),
                     td_mi_from_m(stretch->to_m), stretch->downgrade_ratio * 100,
                     floor(td_mph_from_mps(stretch->target_mps) + 1e-6),
                     td_plan_limit_name(stretch->limited_by));
    }
}

bool td_plan_print_text(const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    char line[TD_PLAN_LINE_MAX];
    print_heading(answer);
    if (!plan->coached)
        (void)puts("  gentle: no plan is needed. Posted signs hold.");
    else if (plan->safe)
        print_order(answer);
    else
        (void)puts("  NO: this rig at this weight should not go down here.");
    if (plan->reason_count > 0)
        (void)puts("  why (miles from the start of the road on file):");
    for (size_t i = 0; i < plan->reason_count; i++)
        (void)printf("    %s\n", td_plan_reason_line(answer, &plan->reasons[i], line));
    print_stretches(answer);
    (void)puts("Advice only: posted signs, the law and the driver come first.");
    return fflush(stdout) == 0 && ferror(stdout) == 0;
}
