/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The descent plan as a driver or dispatcher reads it: few lines, the order to act in first. */
#include <math.h>
#include <stdio.h>

#include "talkdown/units.h"
#include "tool/plan/plan_words.h"

static void print_heading(const struct td_plan_answer *answer)
{
    const struct td_hill *hill = answer->hill;
    char way[TD_PLAN_LINE_MAX], mass[TD_PLAN_LINE_MAX];
    (void)printf("%s: ", answer->is_plain ? "Plain grade" : hill->name);
    if (answer->plan.coached)
        (void)printf("%.1f %% for %s, ", hill->mean_downgrade_ratio * 100,
                     td_plan_way_words(answer, hill->foot_m - hill->crest_m, way));
    (void)printf("%s, ", td_plan_mass_words(answer, answer->query.mass_kg, mass));
    if (answer->rig != NULL)
        (void)printf("%s, %s road\n", answer->rig->name, td_plan_road_name(answer->query.road));
    else
        (void)printf("five-axle reference truck (%s)\n", answer->model);
}

/* One descent: where when there are several, then speed, gear and engine brake. */
static void print_descent(const struct td_plan_answer *answer, size_t at)
{
    const struct td_plan_descent *descent = &answer->plan.descents[at];
    const char *gear = td_plan_gear_name(answer, descent->gear);
    char line[TD_PLAN_LINE_MAX], to[TD_PLAN_LINE_MAX];
    if (answer->plan.descent_count > 1)
        (void)printf("  downgrade %zu of %zu, %s to %s:\n", at + 1, answer->plan.descent_count,
                     td_plan_place_words(answer, descent->from_m, line),
                     td_plan_place_words(answer, descent->to_m, to));
    (void)printf("  %d %s or slower (spoken: %d), limited by %s\n",
                 td_plan_target_figure(answer, descent), td_plan_speed_unit(answer),
                 td_plan_say_figure(answer, descent), td_plan_limit_name(descent->limited_by));
    if (gear == NULL)
        return;
    (void)printf("  before the crest: gear %s", gear);
    (void)td_plan_stage_words(answer, descent->gear, descent->stage, line);
    (void)printf("%s%s; %.0f rpm at the spoken speed\n", line[0] != '\0' ? ", " : "", line,
                 descent->rpm);
}

static void print_without(const struct td_plan_answer *answer)
{
    char line[TD_PLAN_LINE_MAX];
    const char *holder = td_plan_holder_name(answer, answer->plan.stage);
    int mph = answer->plan.without_engine_brake_mph;
    if (mph > 0)
        (void)printf("  without %s: %s\n", holder,
                     td_plan_speed_words(answer, td_mps_from_mph(mph), line));
    else
        (void)printf("  without %s: do not go down\n", holder);
}

static void print_margins(const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    char line[TD_PLAN_LINE_MAX], foot[TD_PLAN_LINE_MAX], warmth[TD_PLAN_LINE_MAX];
    (void)printf("  %s; %s at the foot, %s left after an emergency stop\n",
                 td_plan_heat_line(answer, line), td_plan_temp_words(answer, plan->final_c, foot),
                 td_plan_warmth_words(answer, plan->margin_c, warmth));
    if (answer->rig == NULL)
        return;
    (void)printf("  %s\n", td_plan_margin_line(answer, line));
    (void)printf("  %s\n", td_plan_stop_line(answer, line));
    (void)printf("  %s\n", td_plan_last_stop_line(answer, line));
    (void)printf("  the service brakes do %.0f %% of the work\n", plan->brake_share * 100);
    print_without(answer);
    for (size_t i = 0; i < plan->escape_count; i++)
        (void)printf("  %s\n", td_plan_escape_line(answer, &plan->escapes[i], line));
}

static void print_order(const struct td_plan_answer *answer)
{
    for (size_t i = 0; i < answer->plan.descent_count; i++)
        print_descent(answer, i);
    if (answer->rig != NULL && answer->rig->gearbox != TD_GEARBOX_MANUAL)
        (void)puts("  hold that gear: manual mode until the foot");
    print_margins(answer);
}

static void print_stretches(const struct td_plan_answer *answer)
{
    const struct td_plan *plan = &answer->plan;
    char speed[TD_PLAN_LINE_MAX];
    if (plan->stretch_count < 2)
        return;
    (void)puts("  stretches:");
    for (size_t i = 0; i < plan->stretch_count; i++) {
        const struct td_plan_stretch *stretch = &plan->stretches[i];
        double unit_m = answer->query.speak_kmh ? 1000 : TD_M_PER_MI;
        (void)printf("    %5.2f to %5.2f  %5.1f %%  %8s  %s\n",
                     (stretch->from_m - answer->hill->crest_m) / unit_m,
                     (stretch->to_m - answer->hill->crest_m) / unit_m,
                     stretch->downgrade_ratio * 100,
                     td_plan_speed_words(answer, stretch->target_mps, speed),
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
        (void)printf("  why (%s count from the crest):\n",
                     answer->query.speak_kmh ? "km" : "miles");
    for (size_t i = 0; i < plan->reason_count; i++)
        (void)printf("    %s\n", td_plan_reason_line(answer, &plan->reasons[i], line));
    print_stretches(answer);
    (void)puts("Advice only: posted signs, the law and the driver come first.");
    return fflush(stdout) == 0 && ferror(stdout) == 0;
}
