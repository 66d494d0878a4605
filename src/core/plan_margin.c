/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How far the plan is from its limits: more weight, more speed, the last place to stop, and the
 * speed at which a runaway would come into each escape lane. */
#include <math.h>
#include <string.h>

#include "core/plan_parts.h"
#include "talkdown/units.h"

/* Perception, reaction and air lag of the driver's manual (2.6, 5.4.4): 1 3/4, 3/4 to 1 and 0.4 to
 * 0.5 s. */
#define BEFORE_BRAKING_S (1.75 + 1.0 + 0.5)
#define MASS_HALVINGS 12
#define SPEED_STEP_MPS 0.25

/* Whether all stops stay under the limit with the legs as they now are. */
static bool is_cool(const struct td_plan_legs *legs)
{
    struct td_plan_outcome each[TD_PLAN_DESCENTS_MAX];
    double limit_c = legs->leg[0].of.rig->brakes.limit_c;
    return td_plan_drive(legs, TD_PLAN_EXACT, each) <= limit_c &&
           td_plan_drive(legs, legs->leg[0].of.spoken, each) <= limit_c;
}

static double spare_kg(const struct td_plan_legs *legs)
{
    struct td_plan_legs heavier = *legs;
    struct td_plan_query query = *legs->leg[0].of.query;
    double mass_kg = query.mass_kg, least = 0, most = mass_kg;
    for (size_t i = 0; i < heavier.count; i++)
        heavier.leg[i].of.query = &query;
    for (int i = 0; i < MASS_HALVINGS; i++) {
        double spare = i == 0 ? most : 0.5 * (least + most);
        query.mass_kg = mass_kg + spare;
        bool cool = is_cool(&heavier);
        if (cool && i == 0)
            return most;
        if (cool)
            least = spare;
        else
            most = spare;
    }
    return least;
}

/* Upwards to the first speed that fails: past it drag may cool the figures again. No further than
 * the engine turns. */
static double spare_mps(const struct td_plan_legs *legs, size_t slowest)
{
    struct td_plan_legs faster = *legs;
    struct td_plan_case *of = &faster.leg[slowest].of;
    const struct td_plan_trial *trial = &faster.leg[slowest].trial;
    double target_mps = fmin(trial->cruise_mps, of->slowest_mps);
    double most = fmin(td_mps_from_mph(TD_PLAN_MOST_MPH) - target_mps,
                       td_rig_speed_mps(of->rig, (size_t)trial->gear, of->rig->rpm_most) -
                           td_plan_fastest_mps(of, trial));
    double spare = 0;
    while (spare < most) {
        of->over_mps = fmin(spare + SPEED_STEP_MPS, most);
        if (!is_cool(&faster))
            break;
        spare = of->over_mps;
    }
    return fmax(0, spare);
}

/* From the speed on the steepest piece of the slowest descent. */
static double stop_m(const struct td_plan_leg *leg)
{
    const struct td_plan_piece *pieces = leg->of.road->pieces;
    size_t steepest = leg->of.span.first;
    for (size_t i = steepest; i < leg->of.span.last; i++)
        if (pieces[i].sine > pieces[steepest].sine)
            steepest = i;
    double v = td_plan_piece_mps(&leg->of, &leg->trial, steepest);
    return v * BEFORE_BRAKING_S + v * v / (2 * leg->of.stop_mps2);
}

static double last_stop_m(const struct td_plan_legs *legs)
{
    struct td_plan_legs lost = *legs;
    struct td_plan_outcome each[TD_PLAN_DESCENTS_MAX];
    double at_m = legs->leg[0].of.hill->foot_m;
    for (size_t i = 0; i < lost.count; i++)
        lost.leg[i].trial.stage = -1;
    (void)td_plan_drive(&lost, TD_PLAN_EXACT, each);
    for (size_t i = 0; i < lost.count; i++)
        at_m = fmin(at_m, each[i].hopeless_at_m);
    return at_m;
}

static double likely_peak_c(const struct td_plan_legs *legs, size_t slowest)
{
    struct td_plan_legs filed = *legs;
    struct td_plan_outcome exact[TD_PLAN_DESCENTS_MAX], spoken[TD_PLAN_DESCENTS_MAX];
    for (size_t i = 0; i < filed.count; i++)
        filed.leg[i].of.filed = true;
    (void)td_plan_drive(&filed, TD_PLAN_EXACT, exact);
    (void)td_plan_drive(&filed, legs->leg[0].of.spoken, spoken);
    return fmax(exact[slowest].peak_c, spoken[slowest].peak_c);
}

void td_plan_margins(const struct td_plan_legs *legs, size_t slowest, struct td_plan *plan)
{
    plan->likely_peak_c = likely_peak_c(legs, slowest);
    plan->spare_kg = spare_kg(legs);
    plan->spare_mps = spare_mps(legs, slowest);
    plan->stop_m = stop_m(&legs->leg[slowest]);
    plan->last_stop_m = last_stop_m(legs);
}

static char lower_case(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool has_word(const char *text, const char *word)
{
    for (; *text != '\0'; text++) {
        size_t i = 0;
        while (word[i] != '\0' && lower_case(text[i]) == word[i])
            i++;
        if (word[i] == '\0')
            return true;
    }
    return false;
}

/* Rolling resistance of roadway surfacing materials, Green Book (from memory; the value of pea
 * gravel is also quoted second-hand). The first word that is in the material's counts; 0: not
 * known. */
static double rolling_of(const char *material)
{
    static const struct {
        const char *word;
        double ratio;
    } table[] = {
        {"pea gravel", 0.25}, {"compacted gravel", 0.015}, {"gravel, compacted", 0.015},
        {"gravel", 0.10},     {"sandy", 0.037},            {"earth", 0.037},
        {"sand", 0.15},       {"crushed", 0.05},           {"aggregate", 0.05},
        {"asphalt", 0.012},   {"concrete", 0.010},
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        if (has_word(material, table[i].word))
            return table[i].ratio;
    return 0;
}

/* Rolls freely, no engine and no brakes, from one place to another. */
static double roll_mps(const struct td_plan_case *plan_case, double mps, double from_m, double to_m)
{
    struct td_plan_trial roll = {-1, -1, 0, TD_PLAN_EXACT};
    struct td_plan_body body;
    const struct td_plan_work *road = plan_case->road;
    td_plan_body_begin(plan_case, &roll, &body);
    for (size_t i = 0; i < road->count; i++) {
        struct td_plan_piece piece = road->pieces[i];
        double begin_m = fmax(from_m, piece.from_m);
        double end_m = fmin(to_m, piece.from_m + piece.length_m);
        if (end_m <= begin_m)
            continue;
        td_plan_body_enter(&body, &piece, mps);
        double accel_mps2 = (body.pull_n - body.air_n) / body.moving_kg;
        mps = sqrt(fmax(1, mps * mps + 2 * accel_mps2 * (end_m - begin_m)));
    }
    return mps;
}

static void fill_lane(const struct td_place *place, double runaway_mps,
                      struct td_plan_escape *escape)
{
    double grade = (place->has & TD_PLACE_GRADE) != 0 ? place->grade_ratio : 0;
    double rolling = rolling_of(place->material), holds = rolling + grade;
    *escape = (struct td_plan_escape){.at_m = place->at_m, .runaway_mps = runaway_mps};
    if ((place->has & TD_PLACE_LENGTH) != 0)
        escape->length_m = place->length_m;
    if (rolling <= 0 || holds <= 0)
        return;
    escape->stops_mps = sqrt(2 * TD_GRAVITY_MPS2 * escape->length_m * holds);
    escape->needs_m = runaway_mps * runaway_mps / (2 * TD_GRAVITY_MPS2 * holds);
}

/* The descent a place belongs to: the one it lies on, or the last above it. */
static const struct td_plan_leg *leg_above(const struct td_plan_legs *legs, double at_m)
{
    size_t k = 0;
    while (k + 1 < legs->count &&
           at_m >= legs->leg[k + 1].of.road->pieces[legs->leg[k + 1].of.span.first].from_m)
        k++;
    return &legs->leg[k];
}

void td_plan_escapes(const struct td_plan_legs *legs, struct td_plan *plan)
{
    const struct td_hill *hill = legs->leg[0].of.hill;
    double before_m = -1;
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool open = place->kind == TD_PLACE_ESCAPE_LANE && (place->has & TD_PLACE_CLOSED) == 0;
        if (!open || place->at_m <= hill->crest_m || plan->escape_count == TD_PLAN_ESCAPES_MAX)
            continue;
        const struct td_plan_leg *leg = leg_above(legs, place->at_m);
        double from_m = fmax(before_m, leg->of.road->pieces[leg->of.span.first].from_m);
        double mps = roll_mps(&leg->of, td_plan_target_at(plan, from_m), from_m, place->at_m);
        fill_lane(place, mps, &plan->escapes[plan->escape_count++]);
        before_m = place->at_m;
    }
}
