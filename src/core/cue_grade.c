/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cues on the grade: escape lanes and the last of them, and the bottom with what comes after it. */
#include "core/cue.h"

#include <math.h>

#include "talkdown/units.h"

/* Next stop, signal or grade is named within this distance of the foot. */
#define NEXT_WITHIN_M (5.0 * TD_M_PER_MI)
#define LANE_PASSED_M 30.0
/* Noticed later than this the news is old. */
#define LANE_NEWS_M   500.0
#define BOTTOM_NEWS_M 300.0

static bool open_lane(const struct td_place *place)
{
    return place->kind == TD_PLACE_ESCAPE_LANE && !(place->has & TD_PLACE_CLOSED);
}

static void cue_lane(const struct td_moment *moment, struct td_visit *visit, int32_t index,
                     bool first, struct td_wishes *wishes)
{
    const enum td_prompt_id id = TD_PROMPT_ESCAPE_LANE;
    double at_m = moment->hill->places[index].at_m;
    double near_m = td_cue_near_m(moment);
    uint8_t *said = &visit->places[index];
    bool far_too = moment->setup->talk == TD_TALK_TRAINEE ||
                   (first && moment->setup->talk != TD_TALK_SPARSE);
    uint8_t due = 0;
    if (!td_cue_sure(moment, at_m - moment->along_m) ||
        td_cue_left_s(moment, id, at_m) < TD_CUE_LEAD_LEAST_S)
        return;
    if (far_too && !(*said & (TD_SAID_FAR | TD_SAID_NEAR)) &&
        td_cue_mark_due(moment, id, at_m, td_cue_far_m(moment),
                        near_m + 10.0 * moment->speed_mps))
        due = TD_SAID_FAR;
    else if (!(*said & TD_SAID_NEAR) && td_cue_mark_due(moment, id, at_m, near_m, 0.0))
        due = TD_SAID_NEAR;
    if (due == 0)
        return;
    *said |= due;
    td_cue_wish(wishes, moment, id, index, at_m, TD_WHY_DISTANCE);
}

static void cue_last_lane(const struct td_moment *moment, struct td_visit *visit, int32_t last,
                          struct td_wishes *wishes)
{
    if (last < 0 || (visit->said & TD_SAID_LAST_LANE) ||
        moment->speed_mps < TD_CUE_ROLLING_MPS) /* in the lane, perhaps */
        return;
    double behind_m = moment->along_m - moment->hill->places[last].at_m;
    if (behind_m < LANE_PASSED_M + moment->sigma_m)
        return;
    visit->said |= TD_SAID_LAST_LANE;
    if (behind_m <= LANE_NEWS_M &&
        moment->hill->foot_m - moment->along_m > td_cue_quarter_m(moment))
        td_cue_wish(wishes, moment, TD_PROMPT_LAST_ESCAPE_LANE, -1,
                    moment->hill->places[last].at_m, TD_WHY_PASSED);
}

static void cue_lanes(const struct td_moment *moment, struct td_visit *visit,
                      struct td_wishes *wishes)
{
    const struct td_hill *hill = moment->hill;
    int32_t last = -1;
    for (size_t i = 0; i < hill->place_count && i < TD_HILL_PLACES_MAX; i++) {
        if (!open_lane(&hill->places[i]))
            continue;
        cue_lane(moment, visit, (int32_t)i, last < 0, wishes);
        last = (int32_t)i;
    }
    cue_last_lane(moment, visit, last, wishes);
}

static enum td_fill fill_last_lane(const struct td_moment *moment, struct td_prompt *prompt,
                                   enum td_why *why)
{
    *why = TD_WHY_PASSED;
    if (moment->along_m >= moment->hill->foot_m)
        return TD_FILL_GONE;
    td_cue_args(prompt, 0, NULL);
    td_cue_expire_after(moment, prompt, 30.0);
    return TD_FILL_READY;
}

/* The descent of the same hill that begins below a foot; NULL at the last. */
static const struct td_plan_descent *descent_below(const struct td_moment *moment, double foot_m)
{
    const struct td_plan *plan = moment->plan;
    for (size_t i = 0; td_cue_plan_drivable(moment) && i < plan->descent_count; i++)
        if (i > 0 && plan->descents[i].from_m > foot_m)
            return &plan->descents[i];
    return NULL;
}

enum td_next td_cue_next_after(const struct td_moment *moment, double foot_m, double *at_m)
{
    const struct td_hill *hill = moment->hill;
    const struct td_plan_descent *below = descent_below(moment, foot_m);
    if (below) {
        *at_m = below->from_m;
        return TD_NEXT_GRADE;
    }
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        *at_m = place->at_m;
        if (place->at_m < hill->foot_m - 50.0 || place->at_m > hill->foot_m + NEXT_WITHIN_M)
            continue;
        if (place->kind == TD_PLACE_STOP)
            return TD_NEXT_STOP;
        if (place->kind == TD_PLACE_SIGNAL)
            return TD_NEXT_SIGNAL;
        if (place->kind == TD_PLACE_RAIL_CROSSING)
            return TD_NEXT_RAIL_CROSSING;
    }
    *at_m = hill->foot_m + moment->next_grade_m;
    bool grade_near = moment->next_grade_m > 0.0 && moment->next_grade_m <= NEXT_WITHIN_M;
    return grade_near ? TD_NEXT_GRADE : TD_NEXT_UNKNOWN;
}

static enum td_fill fill_bottom_ahead(const struct td_moment *moment, struct td_prompt *prompt,
                                      enum td_why *why)
{
    double foot_m = prompt->about_m, next_m;
    *why = TD_WHY_STALE;
    if (td_cue_left_s(moment, prompt->id, foot_m) < TD_CUE_LEAD_LEAST_S)
        return TD_FILL_GONE;
    struct td_arg distance = td_cue_distance_arg(moment, prompt->id, foot_m);
    /* Without a distance it would sound like the bottom itself. */
    if (distance.unit == TD_UNIT_NONE)
        return TD_FILL_GONE;
    enum td_next next = td_cue_next_after(moment, foot_m, &next_m);
    td_cue_args(prompt, 2, (struct td_arg[]){distance, {TD_UNIT_NEXT, (int32_t)next}});
    td_cue_expire_before(moment, prompt, foot_m);
    return TD_FILL_READY;
}

static enum td_fill fill_bottom(const struct td_moment *moment, struct td_prompt *prompt,
                                enum td_why *why)
{
    double next_m;
    *why = TD_WHY_PASSED;
    if (moment->along_m > prompt->about_m + BOTTOM_NEWS_M)
        return TD_FILL_GONE;
    enum td_next next = td_cue_next_after(moment, prompt->about_m, &next_m);
    struct td_arg distance = {TD_UNIT_NONE, 0};
    if (next != TD_NEXT_UNKNOWN)
        distance = td_cue_distance_arg(moment, prompt->id, next_m);
    td_cue_args(prompt, 2, (struct td_arg[]){{TD_UNIT_NEXT, (int32_t)next}, distance});
    td_cue_expire_after(moment, prompt, 20.0);
    return TD_FILL_READY;
}

static void cue_bottom(const struct td_moment *moment, struct td_visit *visit,
                       struct td_wishes *wishes)
{
    double foot_m = td_cue_foot_m(moment);
    if (visit->first_along_m > foot_m - 100.0 || !td_cue_sure(moment, foot_m - moment->along_m))
        return;
    if (!(visit->said & TD_SAID_BOTTOM_AHEAD) &&
        td_cue_mark_due(moment, TD_PROMPT_BOTTOM_AHEAD, foot_m, td_cue_quarter_m(moment),
                        moment->speed_mps * TD_CUE_LEAD_LEAST_S)) {
        visit->said |= TD_SAID_BOTTOM_AHEAD;
        td_cue_wish(wishes, moment, TD_PROMPT_BOTTOM_AHEAD, -1, foot_m, TD_WHY_DISTANCE);
    }
    /* The speech ends at the foot. */
    if (!(visit->said & TD_SAID_BOTTOM) &&
        td_cue_left_m(moment, TD_PROMPT_BOTTOM, foot_m) <= 0.0) {
        visit->said |= TD_SAID_BOTTOM | TD_SAID_BOTTOM_AHEAD;
        td_cue_wish(wishes, moment, TD_PROMPT_BOTTOM, -1, foot_m, TD_WHY_DISTANCE);
    }
}

void td_cue_grade(const struct td_moment *moment, struct td_visit *visit,
                  struct td_wishes *wishes)
{
    cue_lanes(moment, visit, wishes);
    cue_bottom(moment, visit, wishes);
}

enum td_fill td_fill_grade(const struct td_moment *moment, const struct td_visit *visit,
                           struct td_prompt *prompt, enum td_why *why)
{
    (void)visit;
    switch (prompt->id) {
    case TD_PROMPT_ESCAPE_LANE:
        return td_cue_fill_place(moment, prompt, true, why);
    case TD_PROMPT_LAST_ESCAPE_LANE:
        return fill_last_lane(moment, prompt, why);
    case TD_PROMPT_BOTTOM_AHEAD:
        return fill_bottom_ahead(moment, prompt, why);
    default:
        return fill_bottom(moment, prompt, why);
    }
}
