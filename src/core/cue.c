/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What all cues share: leads counted to the end of the speech, spoken figures, and the roads from a
 * prompt's id to the part that knows it. */
#include "core/cue.h"

#include <math.h>
#include <string.h>

#include "talkdown/units.h"

/* Speech length used when the table has none for a prompt: about seven words. */
#define SPEECH_UNKNOWN_MS 3000
/* A truck that creeps still gets a finite lead. */
#define SPEED_LEAST_MPS 0.5
#define EXPIRY_MOST_S 60.0
/* A visit watches a stop once the truck stands; GNSS speed noise stays under the first figure. */
#define STANDING_MPS 0.5
#define ROLLING_MPS 1.5

double td_cue_say_s(const struct td_moment *moment, enum td_prompt_id id)
{
    int32_t speech_ms = moment->setup->speech_ms[id];
    if (speech_ms <= 0)
        speech_ms = SPEECH_UNKNOWN_MS;
    int32_t delay_ms = moment->setup->sound_delay_ms > 0 ? moment->setup->sound_delay_ms : 0;
    return ((double)speech_ms + (double)delay_ms) * 1e-3;
}

double td_cue_left_m(const struct td_moment *moment, enum td_prompt_id id, double at_m)
{
    return at_m - moment->along_m - moment->speed_mps * td_cue_say_s(moment, id);
}

double td_cue_left_s(const struct td_moment *moment, enum td_prompt_id id, double at_m)
{
    return td_cue_left_m(moment, id, at_m) / fmax(moment->speed_mps, SPEED_LEAST_MPS);
}

double td_cue_slowing_m(double from_mps, double to_mps, double rate_mps2)
{
    if (from_mps <= to_mps)
        return 0.0;
    return (from_mps * from_mps - to_mps * to_mps) / (2.0 * fmax(rate_mps2, 0.1));
}

/* A twentieth of the distance, and never less than a receiver's ordinary error. */
bool td_cue_sure(const struct td_moment *moment, double away_m)
{
    return moment->sigma_m <= 20.0 + 0.05 * fabs(away_m);
}

static double spoken_unit_mps(const struct td_moment *moment)
{
    return moment->setup->metric ? TD_MPS_PER_KMH : TD_MPS_PER_MPH;
}

static int32_t round_down(double value)
{
    int32_t whole = (int32_t)floor(value + 1e-6);
    return whole >= 5 ? whole - whole % 5 : whole;
}

int32_t td_cue_say_speed(const struct td_moment *moment, double limit_mps)
{
    if (!(limit_mps > 0.0) || limit_mps > 70.0)
        return 0;
    double unit_mps = spoken_unit_mps(moment);
    int32_t say = round_down(limit_mps / unit_mps);
    const struct td_plan_descent *descent = td_cue_descent(moment);
    if (descent && say == round_down(descent->target_mps / unit_mps)) {
        int own = moment->setup->metric ? descent->say_kmh : descent->say_mph;
        if (own > 0 && own < say)
            say = own;
    }
    return say;
}

double td_cue_mps_from_say(const struct td_moment *moment, int32_t say)
{
    return (double)say * spoken_unit_mps(moment);
}

struct td_arg td_cue_speed_arg(const struct td_moment *moment, int32_t say)
{
    return (struct td_arg){moment->setup->metric ? TD_UNIT_KMH : TD_UNIT_MPH, say};
}

struct td_arg td_cue_distance_arg(const struct td_moment *moment, enum td_prompt_id id, double at_m)
{
    double begin_m = at_m - moment->along_m;
    double end_m = td_cue_left_m(moment, id, at_m);
    return td_distance_arg(fmax(0.0, fmin(begin_m, end_m * 1.1)), moment->setup->metric);
}

/* To the nearest hundred: scales and bills of lading give no more. */
struct td_arg td_cue_weight_arg(const struct td_moment *moment)
{
    bool metric = moment->setup->metric;
    double weight = metric ? moment->mass_kg : td_lb_from_kg(moment->mass_kg);
    return (struct td_arg){metric ? TD_UNIT_KG : TD_UNIT_LB, (int32_t)lround(weight / 100.0) * 100};
}

bool td_cue_plan_drivable(const struct td_moment *moment)
{
    return moment->plan && moment->plan->coached && moment->plan->safe;
}

const struct td_plan_descent *td_cue_descent(const struct td_moment *moment)
{
    return td_cue_plan_drivable(moment) ? td_plan_descent_at(moment->plan, moment->along_m) : NULL;
}

double td_cue_crest_m(const struct td_moment *moment)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    bool first = !descent || descent == moment->plan->descents;
    return first ? moment->hill->crest_m : descent->from_m;
}

double td_cue_foot_m(const struct td_moment *moment)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    bool last = !descent || descent == &moment->plan->descents[moment->plan->descent_count - 1];
    return last ? moment->hill->foot_m : descent->to_m;
}

bool td_cue_on_grade(const struct td_moment *moment)
{
    return moment->on_hill && moment->along_m >= moment->hill->crest_m &&
           moment->along_m < moment->hill->foot_m;
}

bool td_cue_on_descent(const struct td_moment *moment)
{
    return td_cue_plan_drivable(moment) && td_cue_on_grade(moment) &&
           moment->along_m >= td_cue_crest_m(moment);
}

bool td_cue_engine_brake_banned(const struct td_hill *hill, double at_m)
{
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        double to_m = (place->has & TD_PLACE_LENGTH) ? place->at_m + place->length_m : hill->foot_m;
        if (place->kind == TD_PLACE_ENGINE_BRAKE_BAN && at_m >= place->at_m && at_m <= to_m)
            return true;
    }
    return false;
}

void td_cue_wish(struct td_wishes *wishes, const struct td_moment *moment, enum td_prompt_id id,
                 int32_t place, double about_m, enum td_why why)
{
    if (wishes->count >= TD_WISHES_MAX)
        return;
    struct td_wish *wish = &wishes->list[wishes->count++];
    *wish = (struct td_wish){.why = why};
    wish->prompt.id = id;
    wish->prompt.category = td_prompt_category(id);
    wish->prompt.place = place;
    wish->prompt.about_m = about_m;
    wish->prompt.decided_ns = moment->now_ns;
}

void td_cue_args(struct td_prompt *prompt, unsigned count, const struct td_arg *args)
{
    prompt->arg_count = count;
    for (unsigned i = 0; i < TD_PROMPT_ARGS_MAX; i++)
        prompt->args[i] = i < count ? args[i] : (struct td_arg){TD_UNIT_NONE, 0};
}

void td_cue_expire_before(const struct td_moment *moment, struct td_prompt *prompt, double at_m)
{
    double left_s = td_cue_left_s(moment, prompt->id, at_m) - TD_CUE_LEAD_LEAST_S;
    left_s = fmax(0.0, fmin(left_s, EXPIRY_MOST_S));
    prompt->expires_ns = moment->now_ns + (int64_t)(left_s * 1e9);
}

/* The first second covers one interval between fixes, so that the mark itself can still be said. */
bool td_cue_mark_due(const struct td_moment *moment, enum td_prompt_id id, double at_m,
                     double mark_m, double floor_m)
{
    double left_m = td_cue_left_m(moment, id, at_m);
    double start_m = at_m - moment->along_m;
    return left_m <= mark_m + moment->speed_mps && start_m <= mark_m * 1.09 && left_m > floor_m;
}

double td_cue_far_m(const struct td_moment *moment)
{
    return moment->setup->metric ? 2000.0 : TD_M_PER_MI;
}

double td_cue_near_m(const struct td_moment *moment)
{
    return moment->setup->metric ? 1000.0 : TD_M_PER_MI / 2.0;
}

double td_cue_quarter_m(const struct td_moment *moment)
{
    return moment->setup->metric ? 400.0 : TD_M_PER_MI / 4.0;
}

bool td_cue_slowing(const struct td_moment *moment)
{
    return moment->accel_mps2 < -0.15;
}

void td_cue_expire_after(const struct td_moment *moment, struct td_prompt *prompt, double after_s)
{
    int64_t from_ns = prompt->decided_ns;
    if (!moment->sound_up)
        from_ns = moment->now_ns;
    else if (moment->sound_since_ns > from_ns)
        from_ns = moment->sound_since_ns;
    prompt->expires_ns = from_ns + (int64_t)(after_s * 1e9);
}

enum td_fill td_cue_fill_place(const struct td_moment *moment, struct td_prompt *prompt,
                               bool named, enum td_why *why)
{
    *why = TD_WHY_STALE;
    if (prompt->place < 0 || (size_t)prompt->place >= moment->hill->place_count)
        return TD_FILL_GONE;
    const struct td_place *place = &moment->hill->places[prompt->place];
    if (td_cue_left_s(moment, prompt->id, place->at_m) < TD_CUE_LEAD_LEAST_S)
        return TD_FILL_GONE;
    const struct td_arg args[] = {{TD_UNIT_PLACE, prompt->place},
                                  td_cue_distance_arg(moment, prompt->id, place->at_m),
                                  {TD_UNIT_SIDE, (int32_t)place->side}};
    td_cue_args(prompt, named ? 3 : 2, named ? args : args + 1);
    td_cue_expire_before(moment, prompt, place->at_m);
    return TD_FILL_READY;
}

int32_t td_cue_first_check(const struct td_hill *hill)
{
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++)
        if (hill->places[i].kind == TD_PLACE_BRAKE_CHECK)
            return hill->places[i].at_m <= hill->crest_m ? (int32_t)i : -1;
    return -1;
}

void td_visit_begin(struct td_visit *visit, uint32_t handle, const struct td_moment *moment)
{
    *visit = (struct td_visit){.handle = handle, .off_ns = moment->now_ns};
    visit->first_along_m = moment->along_m;
}

static void watch_standing(const struct td_moment *moment, struct td_visit *visit)
{
    if (!moment->speed_fresh)
        return;
    if (moment->speed_mps < STANDING_MPS) {
        if (visit->stood_since_ns == 0)
            visit->stood_since_ns = td_cue_stamp(moment->now_ns);
    } else if (moment->speed_mps > ROLLING_MPS) {
        visit->stood_since_ns = 0;
    }
}

/* The next descent has its own crest, gear and ceiling: what was said for the last one is over. A
 * new plan may have fewer descents; what was said then stays said. */
static void watch_descent(const struct td_moment *moment, struct td_visit *visit)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    size_t at = descent ? (size_t)(descent - moment->plan->descents) : 0;
    if (at <= visit->descent)
        return;
    visit->descent = at;
    visit->ceiling = 0;
    visit->hot.ceiling = 0;
    visit->gain.since_ns = visit->gain.in_band_ns = 0;
    visit->gain.in_gear = visit->gain.over_rpm = false;
    visit->slow_ns = 0;
    visit->said &= ~(unsigned)(TD_SAID_HILL | TD_SAID_SLOW | TD_SAID_SLOW_AGAIN | TD_SAID_GEAR |
                               TD_SAID_ENGINE_BRAKE | TD_SAID_BOTTOM_AHEAD | TD_SAID_BOTTOM |
                               TD_VISIT_BAN_HELD);
}

enum part { PART_NOTICE, PART_APPROACH, PART_CHECK, PART_CEILING, PART_GRADE, PART_ROAD,
            PART_SPEED, PART_HEAT, PART_AFTER, PART_OVER, PART_RUNAWAY };

static enum part part_of(enum td_prompt_id id)
{
    switch (id) {
    case TD_PROMPT_HILL_AHEAD:
    case TD_PROMPT_NO_GO:
    case TD_PROMPT_NO_GO_ICE:
    case TD_PROMPT_SLOW_FOR_GRADE:
    case TD_PROMPT_GEAR:
    case TD_PROMPT_ENGINE_BRAKE:
        return PART_APPROACH;
    case TD_PROMPT_BRAKE_CHECK_AHEAD:
    case TD_PROMPT_BRAKE_CHECK_PASSED:
    case TD_PROMPT_BRIEFING:
        return PART_CHECK;
    case TD_PROMPT_CEILING:
    case TD_PROMPT_CURVE:
    case TD_PROMPT_LIMIT:
        return PART_CEILING;
    case TD_PROMPT_ESCAPE_LANE:
    case TD_PROMPT_LAST_ESCAPE_LANE:
    case TD_PROMPT_BOTTOM_AHEAD:
    case TD_PROMPT_BOTTOM:
        return PART_GRADE;
    case TD_PROMPT_STEEPER:
    case TD_PROMPT_FALSE_BOTTOM:
    case TD_PROMPT_FLASHERS_ON:
    case TD_PROMPT_FLASHERS_OFF:
    case TD_PROMPT_CHAIN_AREA:
        return PART_ROAD;
    case TD_PROMPT_SPEED_BUILDING:
    case TD_PROMPT_ENGINE_OVER_SPEED:
        return PART_SPEED;
    case TD_PROMPT_BRAKES_HEATING:
    case TD_PROMPT_BRAKES_HOT:
    case TD_PROMPT_STOP_AT:
        return PART_HEAT;
    case TD_PROMPT_HOT_PARKING:
    case TD_PROMPT_BRAKES_STILL_HOT:
        return PART_AFTER;
    case TD_PROMPT_OVER_SPEED:
        return PART_OVER;
    case TD_PROMPT_RUNAWAY_LANE:
    case TD_PROMPT_TAKE_LANE:
    case TD_PROMPT_NO_LANE_AHEAD:
        return PART_RUNAWAY;
    default:
        return PART_NOTICE;
    }
}

/* Notices are about the coach and name no hill. */
static void name_hill(const struct td_moment *moment, struct td_wishes *wishes)
{
    for (unsigned i = 0; i < wishes->count; i++)
        if (part_of(wishes->list[i].prompt.id) != PART_NOTICE)
            wishes->list[i].prompt.hill_handle = moment->handle;
}

void td_cue_hill(const struct td_moment *moment, struct td_visit *visit, struct td_wishes *wishes)
{
    if (!moment->on_hill || (moment->plan && !moment->plan->coached))
        return;
    watch_standing(moment, visit);
    watch_descent(moment, visit);
    if (moment->along_m < moment->hill->crest_m)
        visit->said |= TD_VISIT_BEFORE_CREST;
    td_cue_runaway(moment, visit, wishes);
    if (visit->runaway.on) {
        name_hill(moment, wishes);
        return; /* nothing below danger is said beside it */
    }
    td_cue_check(moment, visit, wishes);
    td_cue_approach(moment, visit, wishes);
    td_cue_ceiling(moment, visit, wishes);
    td_cue_grade(moment, visit, wishes);
    td_cue_road(moment, visit, wishes);
    td_cue_over(moment, visit, wishes);
    td_cue_speed(moment, visit, wishes);
    td_cue_heat(moment, visit, wishes);
    td_cue_after(moment, visit, wishes);
    name_hill(moment, wishes);
}

enum td_fill td_cue_fill(const struct td_moment *moment, const struct td_visit *visit,
                         struct td_prompt *prompt, enum td_why *why)
{
    enum part part = part_of(prompt->id);
    *why = TD_WHY_NONE;
    if (part == PART_NOTICE)
        return td_fill_notice(moment, prompt, why);
    *why = TD_WHY_STATE;
    if (visit->handle != prompt->hill_handle || moment->handle != prompt->hill_handle)
        return TD_FILL_GONE;
    if (!moment->on_hill)
        return TD_FILL_HOLD;
    if (moment->plan && !moment->plan->coached)
        return TD_FILL_GONE;
    if (visit->runaway.on && part != PART_RUNAWAY) {
        *why = TD_WHY_OUTRANKED;
        return TD_FILL_GONE;
    }
    switch (part) {
    case PART_APPROACH:
        return td_fill_approach(moment, visit, prompt, why);
    case PART_CHECK:
        return td_fill_check(moment, visit, prompt, why);
    case PART_GRADE:
        return td_fill_grade(moment, visit, prompt, why);
    case PART_CEILING:
        return td_fill_ceiling(moment, visit, prompt, why);
    case PART_ROAD:
        return td_fill_road(moment, prompt, why);
    case PART_SPEED:
        return td_fill_speed(moment, visit, prompt, why);
    case PART_HEAT:
        return td_fill_heat(moment, visit, prompt, why);
    case PART_AFTER:
        return td_fill_after(moment, visit, prompt, why);
    case PART_RUNAWAY:
        return td_fill_runaway(moment, visit, prompt, why);
    default:
        return td_fill_over(moment, visit, prompt, why);
    }
}

void td_cue_issued(const struct td_moment *moment, struct td_visit *visit,
                   const struct td_prompt *prompt)
{
    if (prompt->hill_handle == 0 || prompt->hill_handle != visit->handle)
        return;
    /* A call at a mile that came late is the one at half a mile. */
    bool call = prompt->id == TD_PROMPT_BRAKE_CHECK_AHEAD || prompt->id == TD_PROMPT_ESCAPE_LANE;
    if (call && prompt->place >= 0 && prompt->place < TD_HILL_PLACES_MAX &&
        td_cue_left_m(moment, prompt->id, prompt->about_m) <= td_cue_near_m(moment) * 1.2)
        visit->places[prompt->place] |= TD_SAID_NEAR;
    /* A briefing names the ceiling too, but the first stretch calls it again. */
    bool on_break = visit->ceiling == 0 && visit->break_ceiling > 0;
    if (prompt->id == TD_PROMPT_CEILING || (prompt->id == TD_PROMPT_LIMIT && !on_break))
        visit->ceiling = prompt->args[0].value;
    if (prompt->id == TD_PROMPT_CURVE && !on_break)
        visit->ceiling = prompt->args[1].value;
    if (prompt->id == TD_PROMPT_BRIEFING)
        visit->briefed_ns = td_cue_stamp(moment->now_ns);
    if (prompt->id == TD_PROMPT_NO_GO || prompt->id == TD_PROMPT_NO_GO_ICE)
        visit->no_go_ns = td_cue_stamp(moment->now_ns);
    if (prompt->id == TD_PROMPT_SLOW_FOR_GRADE)
        visit->slow_ns = td_cue_stamp(moment->now_ns);
    if (prompt->id == TD_PROMPT_OVER_SPEED)
        td_cue_over_issued(moment, &visit->over);
    if (prompt->category == TD_DANGER)
        td_cue_runaway_issued(moment, &visit->runaway, prompt);
}

void td_cue_spoken(const struct td_moment *moment, struct td_visit *visit,
                   const struct td_prompt *prompt)
{
    if (prompt->id == TD_PROMPT_OVER_SPEED && prompt->hill_handle == visit->handle &&
        visit->over.over && visit->over.heard_ns == 0)
        visit->over.heard_ns = td_cue_stamp(moment->now_ns);
}
