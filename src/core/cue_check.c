/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cues around the brake check area: its calls, the briefing as the truck rolls again, and going by
 * without a stop. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/units.h"

/* Trucks queue before an area and stand past its sign: this much either side still is the stop. */
#define ZONE_M 150.0
#define STOOD_LEAST_NS (2 * TD_NS_PER_S)
#define ROLLS_MPS 1.5
/* Slower than this it is turning in already. */
#define ARRIVING_MPS 4.0

static double area_end_m(const struct td_place *place)
{
    bool has_length = place->has & TD_PLACE_LENGTH;
    return place->at_m + (has_length ? fmin(fmax(place->length_m, 0.0), 500.0) : 0.0);
}

static bool slowing_into(const struct td_moment *moment, double at_m)
{
    if (!td_cue_slowing(moment))
        return false;
    double stop_m = td_cue_slowing_m(moment->speed_mps, 0.0, -moment->accel_mps2);
    return stop_m <= at_m - moment->along_m + 30.0;
}

/* Metres at which the last call begins: its words, reaction, and a stop without alarm. */
static double last_call_m(const struct td_moment *moment)
{
    return moment->speed_mps *
               (td_cue_say_s(moment, TD_PROMPT_BRAKE_CHECK_AHEAD) + TD_CUE_LEAD_LEAST_S) +
           td_cue_slowing_m(moment->speed_mps, 0.0, 1.0);
}

static void call(const struct td_moment *moment, struct td_wishes *wishes, int32_t place,
                 uint8_t *said, uint8_t bits)
{
    *said |= bits;
    td_cue_wish(wishes, moment, TD_PROMPT_BRAKE_CHECK_AHEAD, place,
                moment->hill->places[place].at_m, TD_WHY_DISTANCE);
}

static void cue_calls(const struct td_moment *moment, int32_t index, uint8_t *said,
                      struct td_wishes *wishes)
{
    const enum td_prompt_id id = TD_PROMPT_BRAKE_CHECK_AHEAD;
    double at_m = moment->hill->places[index].at_m;
    double ahead_m = at_m - moment->along_m;
    double near_m = td_cue_near_m(moment);
    double spacing_m = 10.0 * moment->speed_mps;
    if (ahead_m <= 0.0 || moment->speed_mps < ARRIVING_MPS || !td_cue_sure(moment, ahead_m) ||
        td_cue_left_s(moment, id, at_m) < TD_CUE_LEAD_LEAST_S)
        return;
    bool far_too = moment->setup->talk != TD_TALK_SPARSE;
    uint8_t all = TD_SAID_FAR | TD_SAID_NEAR | TD_SAID_LAST;
    double last_m = last_call_m(moment);
    if (far_too && !(*said & all) &&
        td_cue_mark_due(moment, id, at_m, td_cue_far_m(moment), near_m + spacing_m)) {
        call(moment, wishes, index, said, TD_SAID_FAR);
    } else if (!(*said & (TD_SAID_NEAR | TD_SAID_LAST)) &&
               td_cue_mark_due(moment, id, at_m, near_m, last_m)) {
        /* A fast truck's last call falls together with the one at half a mile. */
        bool is_last = ahead_m - last_m < spacing_m;
        call(moment, wishes, index, said, is_last ? TD_SAID_NEAR | TD_SAID_LAST : TD_SAID_NEAR);
    } else if (!(*said & TD_SAID_LAST) && ahead_m <= last_m && !slowing_into(moment, at_m)) {
        call(moment, wishes, index, said, TD_SAID_LAST);
    }
}

static void cue_stop(const struct td_moment *moment, const struct td_visit *visit, int32_t index,
                     uint8_t *said, struct td_wishes *wishes)
{
    const struct td_place *place = &moment->hill->places[index];
    bool inside = moment->along_m >= place->at_m - ZONE_M &&
                  moment->along_m <= area_end_m(place) + ZONE_M;
    if (inside && visit->stood_since_ns != 0 &&
        moment->now_ns - visit->stood_since_ns >= STOOD_LEAST_NS)
        *said |= TD_PLACE_STOPPED;
    if ((*said & TD_PLACE_STOPPED) && !(*said & TD_PLACE_ROLLED) && moment->speed_fresh &&
        moment->speed_mps > ROLLS_MPS) {
        *said |= TD_PLACE_ROLLED;
        if (td_cue_plan_drivable(moment))
            td_cue_wish(wishes, moment, TD_PROMPT_BRIEFING, index, place->at_m, TD_WHY_STATE);
    }
}

static void cue_behind(const struct td_moment *moment, int32_t index, uint8_t *said,
                       struct td_wishes *wishes)
{
    const struct td_place *place = &moment->hill->places[index];
    if (moment->along_m <= place->at_m)
        *said |= TD_PLACE_AHEAD;
    if ((*said & TD_PLACE_BEHIND) ||
        moment->along_m <= area_end_m(place) + ZONE_M + moment->sigma_m)
        return;
    *said |= TD_PLACE_BEHIND;
    if ((*said & TD_PLACE_AHEAD) && !(*said & TD_PLACE_STOPPED))
        td_cue_wish(wishes, moment, TD_PROMPT_BRAKE_CHECK_PASSED, index, place->at_m,
                    TD_WHY_PASSED);
}

static bool inside_check(const struct td_moment *moment)
{
    const struct td_hill *hill = moment->hill;
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++)
        if (hill->places[i].kind == TD_PLACE_BRAKE_CHECK &&
            moment->along_m >= hill->places[i].at_m - ZONE_M &&
            moment->along_m <= area_end_m(&hill->places[i]) + ZONE_M)
            return true;
    return false;
}

/* A stop on the grade, for traffic or to cool: as the truck rolls again, the gear to start in. */
static void cue_stop_on_grade(const struct td_moment *moment, struct td_visit *visit,
                              struct td_wishes *wishes)
{
    if (!td_cue_on_grade(moment) || inside_check(moment)) {
        visit->said &= ~(unsigned)TD_VISIT_STOOD;
        return;
    }
    if (visit->stood_since_ns != 0 &&
        moment->now_ns - visit->stood_since_ns >= STOOD_LEAST_NS)
        visit->said |= TD_VISIT_STOOD;
    if (!(visit->said & TD_VISIT_STOOD) || !moment->speed_fresh || moment->speed_mps <= ROLLS_MPS)
        return;
    visit->said &= ~(unsigned)TD_VISIT_STOOD;
    if (td_cue_plan_drivable(moment))
        td_cue_wish(wishes, moment, TD_PROMPT_BRIEFING, -1, moment->along_m, TD_WHY_STATE);
}

void td_cue_check(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes)
{
    cue_stop_on_grade(moment, visit, wishes);
    const struct td_hill *hill = moment->hill;
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++) {
        if (hill->places[i].kind != TD_PLACE_BRAKE_CHECK)
            continue;
        uint8_t *said = &visit->places[i];
        cue_stop(moment, visit, (int32_t)i, said, wishes);
        if (!(*said & TD_PLACE_STOPPED))
            cue_calls(moment, (int32_t)i, said, wishes);
        cue_behind(moment, (int32_t)i, said, wishes);
    }
}

static enum td_fill fill_ahead(const struct td_moment *moment, const struct td_visit *visit,
                               struct td_prompt *prompt, enum td_why *why)
{
    *why = TD_WHY_CLEARED;
    if ((visit->places[prompt->place] & TD_PLACE_STOPPED) || moment->speed_mps < ARRIVING_MPS)
        return TD_FILL_GONE;
    return td_cue_fill_place(moment, prompt, false, why);
}

/* Only a mandatory stop is worth words; the others are decided and dropped, for the log. */
static enum td_fill fill_passed(const struct td_moment *moment, struct td_prompt *prompt,
                                enum td_why *why)
{
    *why = TD_WHY_PASSED;
    if (!(moment->hill->places[prompt->place].has & TD_PLACE_MANDATORY))
        return TD_FILL_GONE;
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_after(moment, prompt, 20.0);
    return TD_FILL_READY;
}

static enum td_fill fill_briefing(const struct td_moment *moment, struct td_prompt *prompt,
                                  enum td_why *why)
{
    const struct td_plan_descent *descent = td_cue_descent(moment);
    double crest_m = td_cue_crest_m(moment);
    bool at_check = prompt->place >= 0;
    *why = TD_WHY_PASSED;
    if (!descent || descent->gear < 0 || (at_check && moment->along_m > crest_m + 300.0))
        return TD_FILL_GONE;
    double at_m = at_check ? crest_m : fmax(crest_m, moment->along_m);
    int32_t say = td_cue_say_speed(moment, td_plan_target_at(moment->plan, at_m));
    if (say <= 0)
        return TD_FILL_GONE;
    td_cue_args(prompt, 2, (struct td_arg[]){{TD_UNIT_GEAR, descent->gear},
                                             td_cue_speed_arg(moment, say)});
    td_cue_expire_after(moment, prompt, 30.0);
    return TD_FILL_READY;
}

enum td_fill td_fill_check(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why)
{
    if (prompt->id == TD_PROMPT_BRIEFING)
        return fill_briefing(moment, prompt, why);
    if (prompt->place < 0 || (size_t)prompt->place >= moment->hill->place_count)
        return TD_FILL_GONE;
    switch (prompt->id) {
    case TD_PROMPT_BRAKE_CHECK_AHEAD:
        return fill_ahead(moment, visit, prompt, why);
    default:
        return fill_passed(moment, prompt, why);
    }
}
