/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cues on the way to the crest: the grade ahead, the answer "no", and what must be done before the
 * truck starts to gain by itself: slow down, take the gear, set the engine brake, in this order. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/units.h"

/* Two "no" within this time are one. */
#define NO_GO_APART_NS (20 * TD_NS_PER_S)
#define SLOW_AGAIN_NS  (10 * TD_NS_PER_S)
/* A briefing this fresh has named the gear. */
#define BRIEFED_NS     (45 * TD_NS_PER_S)
/* Less grade than this ahead is not worth its length. */
#define HILL_LEFT_LEAST_M 800.0
/* Room for the prompts that share the mile before the brake check with this one. */
#define HILL_AHEAD_ROOM_S 8.0

/* The grade on the sign at the crest where there is one; else the mean of what is really steep, so
 * that a false bottom does not make the hill sound gentle. */
static int32_t grade_percent(const struct td_moment *moment)
{
    const struct td_hill *hill = moment->hill;
    double crest_m = td_cue_crest_m(moment), foot_m = td_cue_foot_m(moment);
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool here = place->at_m <= crest_m + 500.0 &&
                    (crest_m <= hill->crest_m || place->at_m >= crest_m - 500.0);
        if (place->kind == TD_PLACE_GRADE_SIGN && (place->has & TD_PLACE_GRADE) && here)
            return (int32_t)lround(fabs(place->grade_ratio) * 100.0);
    }
    double length_m = 0.0, fall_m = 0.0;
    for (size_t i = 0; i < hill->run_count; i++) {
        double from_m = fmax(hill->runs[i].from_m, crest_m);
        double to_m = fmin(hill->runs[i].to_m, foot_m);
        if (to_m <= from_m || hill->runs[i].downgrade_ratio < 0.5 * hill->steepest_downgrade_ratio)
            continue;
        length_m += to_m - from_m;
        fall_m += (to_m - from_m) * hill->runs[i].downgrade_ratio;
    }
    double ratio = length_m > 0.0 ? fall_m / length_m : hill->mean_downgrade_ratio;
    return (int32_t)lround(ratio * 100.0);
}

static enum td_fill fill_hill_ahead(const struct td_moment *moment, struct td_prompt *prompt,
                                    enum td_why *why)
{
    double crest_m = td_cue_crest_m(moment), foot_m = td_cue_foot_m(moment);
    double from_m = fmax(crest_m, moment->along_m);
    if (foot_m - from_m < HILL_LEFT_LEAST_M && moment->along_m > crest_m) {
        *why = TD_WHY_PASSED;
        return TD_FILL_GONE;
    }
    td_cue_args(prompt, 2,
                (struct td_arg[]){{TD_UNIT_PERCENT, grade_percent(moment)},
                                  td_length_arg(foot_m - from_m, moment->setup->metric)});
    td_cue_expire_after(moment, prompt, 60.0);
    /* Over the crest in mid-word helps nobody: then it is said from the grade. */
    bool ahead = moment->along_m < crest_m;
    if (ahead && td_cue_left_s(moment, prompt->id, crest_m) < TD_CUE_LEAD_LEAST_S)
        return TD_FILL_HOLD;
    return TD_FILL_READY;
}

static void cue_hill_ahead(const struct td_moment *moment, struct td_visit *visit,
                           struct td_wishes *wishes)
{
    const struct td_hill *hill = moment->hill;
    double crest_m = td_cue_crest_m(moment);
    if (visit->said & TD_SAID_HILL)
        return;
    if (moment->along_m > crest_m && td_cue_foot_m(moment) - moment->along_m < HILL_LEFT_LEAST_M)
        return;
    int32_t check = crest_m > hill->crest_m ? -1 : td_cue_first_check(hill);
    double to_m = check >= 0 ? fmin(hill->places[check].at_m, crest_m) : crest_m;
    double lead_m = td_cue_far_m(moment) + moment->speed_mps * HILL_AHEAD_ROOM_S;
    if (td_cue_left_m(moment, TD_PROMPT_HILL_AHEAD, to_m) > lead_m ||
        !td_cue_sure(moment, to_m - moment->along_m))
        return;
    visit->said |= TD_SAID_HILL;
    td_cue_wish(wishes, moment, TD_PROMPT_HILL_AHEAD, -1, crest_m, TD_WHY_DISTANCE);
}

static void cue_set_for(const struct td_moment *moment, struct td_visit *visit,
                        struct td_wishes *wishes)
{
    if (!(visit->said & TD_SAID_HILL) || (visit->said & TD_SAID_SET))
        return;
    visit->said |= TD_SAID_SET;
    if (moment->setup->talk == TD_TALK_SPARSE && moment->setup->load_confirmed)
        return;
    if (moment->along_m > moment->hill->crest_m)
        return;
    enum td_prompt_id id = !moment->setup->rig_is_set       ? TD_PROMPT_RIG_NOT_SET
                           : moment->setup->load_confirmed ? TD_PROMPT_SET_FOR
                                                           : TD_PROMPT_LOAD_NOT_CONFIRMED;
    td_cue_wish(wishes, moment, id, -1, 0.0, TD_WHY_DISTANCE);
}

static bool plan_says_no(const struct td_moment *moment)
{
    return moment->plan && moment->plan->coached && !moment->plan->safe;
}

/* The refusal with its true reason: told "too heavy" on ice, a driver would unload and go. */
static enum td_prompt_id no_go_id(const struct td_plan *plan)
{
    for (size_t i = 0; i < plan->reason_count; i++)
        if (plan->reasons[i].kind == TD_REASON_ICE_NO_CHAINS)
            return TD_PROMPT_NO_GO_ICE;
    return TD_PROMPT_NO_GO;
}

static enum td_fill fill_no_go(const struct td_moment *moment, struct td_prompt *prompt,
                               enum td_why *why)
{
    if (!plan_says_no(moment) || no_go_id(moment->plan) != prompt->id) {
        *why = TD_WHY_CLEARED;
        return TD_FILL_GONE;
    }
    const struct td_hill *hill = moment->hill;
    bool for_approach = prompt->about_m <= hill->crest_m;
    double until_m = for_approach ? hill->crest_m : hill->foot_m;
    if (td_cue_left_s(moment, prompt->id, until_m) < TD_CUE_LEAD_LEAST_S) {
        *why = TD_WHY_STALE;
        return TD_FILL_GONE;
    }
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_before(moment, prompt, until_m);
    return TD_FILL_READY;
}

/* At the brake check area: as the truck should turn in, or rolls again after its stop. */
static bool no_go_at_check(const struct td_moment *moment, const struct td_visit *visit,
                           int32_t check)
{
    double speed = moment->speed_mps;
    double left_m = td_cue_left_m(moment, TD_PROMPT_NO_GO, moment->hill->places[check].at_m);
    double turn_in_m = td_cue_slowing_m(speed, 0.0, 1.0) + speed * TD_CUE_LEAD_ACT_S;
    return (visit->places[check] & TD_PLACE_ROLLED) || (left_m > 0.0 && left_m <= turn_in_m);
}

/* Which "no" this moment calls for; 0 none. */
static unsigned no_go_due(const struct td_moment *moment, const struct td_visit *visit)
{
    const struct td_hill *hill = moment->hill;
    double speed = moment->speed_mps;
    if (moment->along_m >= hill->foot_m)
        return 0;
    if (moment->along_m >= hill->crest_m)
        return visit->no_go_ns == 0 ? TD_SAID_NO_GO_GRADE : 0;
    int32_t check = td_cue_first_check(hill);
    bool check_said = visit->said & TD_SAID_NO_GO_CHECK;
    if (check >= 0 && !check_said && no_go_at_check(moment, visit, check))
        return TD_SAID_NO_GO_CHECK;
    double stop_m = td_cue_slowing_m(speed, 0.0, moment->setup->rig.comfortable_mps2) +
                    speed * TD_CUE_LEAD_JUDGE_S;
    bool check_ahead = check >= 0 && !check_said && moment->along_m < hill->places[check].at_m;
    if (!check_ahead && td_cue_left_m(moment, TD_PROMPT_NO_GO, hill->crest_m) <= stop_m)
        return TD_SAID_NO_GO_CREST;
    return (visit->said & TD_SAID_HILL) ? TD_SAID_NO_GO_FAR : 0;
}

static void cue_no_go(const struct td_moment *moment, struct td_visit *visit,
                      struct td_wishes *wishes)
{
    if (!plan_says_no(moment))
        return;
    unsigned due = no_go_due(moment, visit);
    if (due == 0 || (visit->said & due))
        return;
    if (visit->no_go_ns != 0 && moment->now_ns - visit->no_go_ns < NO_GO_APART_NS)
        return;
    visit->said |= due;
    double about_m = due == TD_SAID_NO_GO_GRADE ? moment->along_m : moment->hill->crest_m;
    td_cue_wish(wishes, moment, no_go_id(moment->plan), -1, about_m, TD_WHY_DISTANCE);
}

/* The speed to have at the crest, as spoken; 0 none. */
static int32_t crest_say(const struct td_moment *moment)
{
    if (!td_cue_plan_drivable(moment))
        return 0;
    return td_cue_say_speed(moment, td_plan_target_at(moment->plan, td_cue_crest_m(moment)));
}

static enum td_fill stale(enum td_why *why)
{
    *why = TD_WHY_STALE;
    return TD_FILL_GONE;
}

static enum td_fill fill_slow(const struct td_moment *moment, struct td_prompt *prompt,
                              enum td_why *why)
{
    int32_t say = crest_say(moment);
    *why = TD_WHY_CLEARED;
    if (say <= 0 || moment->speed_mps <= td_cue_mps_from_say(moment, say) + 0.3)
        return TD_FILL_GONE;
    if (td_cue_left_s(moment, prompt->id, td_cue_crest_m(moment)) < TD_CUE_LEAD_LEAST_S)
        return stale(why);
    td_cue_args(prompt, 1, (struct td_arg[]){td_cue_speed_arg(moment, say)});
    td_cue_expire_before(moment, prompt, td_cue_crest_m(moment));
    return TD_FILL_READY;
}

/* Seconds before the crest at which the gear is called: room for it and for the engine brake, each
 * heard, and the time to choose. */
static double gear_lead_s(const struct td_moment *moment)
{
    return td_cue_say_s(moment, TD_PROMPT_GEAR) + td_cue_say_s(moment, TD_PROMPT_ENGINE_BRAKE) +
           TD_CUE_LEAD_JUDGE_S + 8.0;
}

/* Metres before the crest at which the call to slow down begins: its speech, the time to decide,
 * slowing at the rig's comfortable rate, and at the lower speed the two prompts that follow. A
 * truck that must lose little still hears it before the gear. */
static double slow_lead_m(const struct td_moment *moment, double crest_mps)
{
    double say_s = td_cue_say_s(moment, TD_PROMPT_SLOW_FOR_GRADE);
    double before_gear_m = moment->speed_mps * (gear_lead_s(moment) + say_s);
    double after_s = td_cue_say_s(moment, TD_PROMPT_GEAR) +
                     td_cue_say_s(moment, TD_PROMPT_ENGINE_BRAKE) + TD_CUE_LEAD_LEAST_S;
    double slowing_m = td_cue_slowing_m(moment->speed_mps, crest_mps,
                                        moment->setup->rig.comfortable_mps2);
    return fmax(before_gear_m, moment->speed_mps * (say_s + TD_CUE_LEAD_JUDGE_S) + slowing_m +
                                   crest_mps * after_s);
}

static bool slow_again_due(const struct td_moment *moment, const struct td_visit *visit,
                           double crest_mps)
{
    double left_m = td_cue_crest_m(moment) - moment->along_m;
    double comfortable_mps2 = moment->setup->rig.comfortable_mps2;
    return visit->slow_ns != 0 && moment->now_ns - visit->slow_ns >= SLOW_AGAIN_NS &&
           !td_cue_slowing(moment) &&
           td_cue_slowing_m(moment->speed_mps, crest_mps, 1.3 * comfortable_mps2) > left_m;
}

static void cue_slow(const struct td_moment *moment, struct td_visit *visit,
                     struct td_wishes *wishes)
{
    int32_t say = crest_say(moment);
    double crest_mps = td_cue_mps_from_say(moment, say);
    double ahead_m = td_cue_crest_m(moment) - moment->along_m;
    if (say <= 0 || moment->speed_mps <= crest_mps + 0.5 || !moment->speed_fresh ||
        (visit->said & TD_SAID_SLOW_AGAIN) || !td_cue_sure(moment, ahead_m))
        return;
    if (td_cue_left_s(moment, TD_PROMPT_SLOW_FOR_GRADE, td_cue_crest_m(moment)) <
        TD_CUE_LEAD_LEAST_S)
        return;
    bool first = !(visit->said & TD_SAID_SLOW);
    if (first ? ahead_m > slow_lead_m(moment, crest_mps)
              : !slow_again_due(moment, visit, crest_mps))
        return;
    visit->said |= first ? TD_SAID_SLOW : TD_SAID_SLOW_AGAIN;
    td_cue_wish(wishes, moment, TD_PROMPT_SLOW_FOR_GRADE, -1, td_cue_crest_m(moment),
                TD_WHY_DISTANCE);
}

/* No gear is advised whose governed speed lies below the present speed. */
static bool gear_fits(const struct td_moment *moment)
{
    const struct td_rig *rig = &moment->setup->rig;
    size_t gear = (size_t)td_cue_descent(moment)->gear;
    return td_rig_rpm(rig, gear, moment->speed_mps) <= rig->rpm_most;
}

/* A briefing does not tell how an automated gearbox is held in its gear: there the call for the
 * gear is still needed. */
static bool briefed_lately(const struct td_moment *moment, const struct td_visit *visit)
{
    return moment->setup->rig.gearbox == TD_GEARBOX_MANUAL && visit->briefed_ns != 0 &&
           moment->now_ns - visit->briefed_ns < BRIEFED_NS;
}

static enum td_fill fill_gear(const struct td_moment *moment, const struct td_visit *visit,
                              struct td_prompt *prompt, enum td_why *why)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    *why = TD_WHY_CLEARED;
    if (!descent || descent->gear < 0 || briefed_lately(moment, visit))
        return TD_FILL_GONE;
    if (td_cue_left_s(moment, prompt->id, td_cue_crest_m(moment)) < TD_CUE_LEAD_LEAST_S)
        return stale(why);
    td_cue_args(prompt, 1, (struct td_arg[]){{TD_UNIT_GEAR, descent->gear}});
    td_cue_expire_before(moment, prompt, td_cue_crest_m(moment));
    return gear_fits(moment) ? TD_FILL_READY : TD_FILL_HOLD;
}

static void cue_gear(const struct td_moment *moment, struct td_visit *visit,
                     struct td_wishes *wishes)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    if ((visit->said & TD_SAID_GEAR) || !descent || descent->gear < 0 ||
        descent->limited_by == TD_LIMIT_NONE)
        return;
    double ahead_m = td_cue_crest_m(moment) - moment->along_m;
    if (ahead_m > moment->speed_mps * gear_lead_s(moment) || !td_cue_sure(moment, ahead_m) ||
        td_cue_left_s(moment, TD_PROMPT_GEAR, td_cue_crest_m(moment)) < TD_CUE_LEAD_LEAST_S)
        return;
    if (briefed_lately(moment, visit)) {
        visit->said |= TD_SAID_GEAR;
        return;
    }
    if (!gear_fits(moment))
        return;
    visit->said |= TD_SAID_GEAR;
    td_cue_wish(wishes, moment, TD_PROMPT_GEAR, -1, td_cue_crest_m(moment), TD_WHY_DISTANCE);
}

static enum td_fill fill_engine_brake(const struct td_moment *moment, struct td_prompt *prompt,
                                      enum td_why *why)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    *why = TD_WHY_CLEARED;
    if (!descent || descent->stage < 0)
        return TD_FILL_GONE;
    bool for_crest = prompt->about_m <= td_cue_crest_m(moment);
    double until_m = for_crest ? td_cue_crest_m(moment) : td_cue_foot_m(moment);
    if (td_cue_left_s(moment, prompt->id, until_m) < TD_CUE_LEAD_LEAST_S)
        return stale(why);
    td_cue_args(prompt, 1, (struct td_arg[]){{TD_UNIT_STAGE, descent->stage}});
    td_cue_expire_before(moment, prompt, until_m);
    return td_cue_engine_brake_banned(moment->hill, moment->along_m) ? TD_FILL_HOLD : TD_FILL_READY;
}

/* Held back by a ban at the crest, it is called where the ban ends. */
static bool ban_ends(const struct td_moment *moment, const struct td_visit *visit)
{
    return (visit->said & TD_VISIT_BAN_HELD) && td_cue_on_grade(moment) &&
           td_cue_foot_m(moment) - moment->along_m > 500.0 &&
           !td_cue_engine_brake_banned(moment->hill, moment->along_m);
}

static void cue_engine_brake(const struct td_moment *moment, struct td_visit *visit,
                             struct td_wishes *wishes)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    double crest_m = td_cue_crest_m(moment);
    if ((visit->said & TD_SAID_ENGINE_BRAKE) || !descent || descent->stage < 0)
        return;
    if (ban_ends(moment, visit)) {
        visit->said |= TD_SAID_ENGINE_BRAKE;
        td_cue_wish(wishes, moment, TD_PROMPT_ENGINE_BRAKE, -1, moment->along_m, TD_WHY_STATE);
        return;
    }
    /* In its order: after the gear, unless the gear cannot be taken any more. */
    double say_s = td_cue_say_s(moment, TD_PROMPT_ENGINE_BRAKE);
    double lead_s = say_s + ((visit->said & TD_SAID_GEAR) ? TD_CUE_LEAD_JUDGE_S + 5.0
                                                          : TD_CUE_LEAD_ACT_S + 4.0);
    double ahead_m = crest_m - moment->along_m;
    if (ahead_m > moment->speed_mps * lead_s || !td_cue_sure(moment, ahead_m) ||
        td_cue_left_s(moment, TD_PROMPT_ENGINE_BRAKE, crest_m) < TD_CUE_LEAD_LEAST_S)
        return;
    if (td_cue_engine_brake_banned(moment->hill, crest_m)) {
        visit->said |= TD_VISIT_BAN_HELD;
        return;
    }
    visit->said |= TD_SAID_ENGINE_BRAKE;
    td_cue_wish(wishes, moment, TD_PROMPT_ENGINE_BRAKE, -1, crest_m, TD_WHY_DISTANCE);
}

void td_cue_approach(const struct td_moment *moment, struct td_visit *visit,
                     struct td_wishes *wishes)
{
    cue_hill_ahead(moment, visit, wishes);
    cue_set_for(moment, visit, wishes);
    cue_no_go(moment, visit, wishes);
    cue_slow(moment, visit, wishes);
    cue_gear(moment, visit, wishes);
    cue_engine_brake(moment, visit, wishes);
}

enum td_fill td_fill_approach(const struct td_moment *moment, const struct td_visit *visit,
                              struct td_prompt *prompt, enum td_why *why)
{
    switch (prompt->id) {
    case TD_PROMPT_HILL_AHEAD:
        return fill_hill_ahead(moment, prompt, why);
    case TD_PROMPT_NO_GO:
    case TD_PROMPT_NO_GO_ICE:
        return fill_no_go(moment, prompt, why);
    case TD_PROMPT_SLOW_FOR_GRADE:
        return fill_slow(moment, prompt, why);
    case TD_PROMPT_GEAR:
        return fill_gear(moment, visit, prompt, why);
    default:
        return fill_engine_brake(moment, prompt, why);
    }
}
