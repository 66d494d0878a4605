/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan's stretches: runs of pieces of one target and much the same grade, from the first crest
 * to the last foot, breaks included. */
#include <math.h>

#include "core/plan_parts.h"

#define SAME_MPS   0.01
#define SAME_GRADE 0.01  /* stretches of one speed part where the grade differs by more */
#define SHORT_M    300.0 /* and none is parted for its grade alone before it is this long */

struct pace {
    double mps;
    enum td_plan_limit by;
    size_t part; /* stretches never reach from a descent into a break */
};

/* Leg and break by turns: part 2 k is the k-th descent, 2 k + 1 the break after it. */
static struct pace pace_at(const struct td_plan_legs *legs, size_t at)
{
    const struct td_plan_piece *piece = &legs->leg[0].of.road->pieces[at];
    size_t k = 0;
    while (k + 1 < legs->count && at >= legs->leg[k + 1].of.span.first)
        k++;
    const struct td_plan_leg *leg = &legs->leg[k];
    if (at >= leg->of.span.last)
        return (struct pace){piece->ceiling_mps, piece->limited_by, 2 * k + 1};
    bool ceiled = piece->ceiling_mps <= leg->trial.cruise_mps + 1e-9;
    return (struct pace){td_plan_piece_mps(&leg->of, &leg->trial, at),
                         ceiled ? piece->limited_by : leg->beyond, 2 * k};
}

static double ratio_of(const struct td_plan_piece *piece)
{
    return piece->sine / piece->cosine;
}

/* Cuts the pieces into stretches; false when more than fit at this tolerance of grade. */
static bool cut(const struct td_plan_legs *legs, double same_grade, struct td_plan *plan)
{
    const struct td_plan_work *road = legs->leg[0].of.road;
    struct td_plan_stretch *last = NULL;
    size_t part = 0;
    plan->stretch_count = 0;
    for (size_t i = 0; i < road->count; i++) {
        const struct td_plan_piece *piece = &road->pieces[i];
        struct pace pace = pace_at(legs, i);
        double ratio = ratio_of(piece), to_m = piece->from_m + piece->length_m;
        double known_m = last != NULL ? piece->from_m - last->from_m : 0;
        if (last != NULL && pace.part == part && fabs(pace.mps - last->target_mps) < SAME_MPS &&
            pace.by == last->limited_by &&
            (known_m < SHORT_M || fabs(ratio - last->downgrade_ratio) <= same_grade)) {
            last->downgrade_ratio = (last->downgrade_ratio * known_m + ratio * piece->length_m) /
                                    (known_m + piece->length_m);
            last->to_m = to_m;
            last->target_mps = fmin(last->target_mps, pace.mps);
            continue;
        }
        if (plan->stretch_count == TD_PLAN_STRETCHES_MAX)
            return false;
        last = &plan->stretches[plan->stretch_count++];
        *last = (struct td_plan_stretch){piece->from_m, to_m, ratio, pace.mps, pace.by};
        part = pace.part;
    }
    return true;
}

/* Even shares of the road at the lowest speed in each. Only roads with more changes of speed than
 * stretches come here. */
static void cut_coarsely(const struct td_plan_legs *legs, struct td_plan *plan)
{
    const struct td_plan_work *road = legs->leg[0].of.road;
    plan->stretch_count = 0;
    for (size_t k = 0; k < TD_PLAN_STRETCHES_MAX; k++) {
        size_t from = k * road->count / TD_PLAN_STRETCHES_MAX;
        size_t to = (k + 1) * road->count / TD_PLAN_STRETCHES_MAX;
        if (from == to)
            continue;
        struct pace slowest = pace_at(legs, from);
        double fall_m = 0, length_m = 0;
        for (size_t i = from; i < to; i++) {
            struct pace pace = pace_at(legs, i);
            fall_m += ratio_of(&road->pieces[i]) * road->pieces[i].length_m;
            length_m += road->pieces[i].length_m;
            if (pace.mps < slowest.mps)
                slowest = pace;
        }
        plan->stretches[plan->stretch_count++] = (struct td_plan_stretch){
            road->pieces[from].from_m, road->pieces[to - 1].from_m + road->pieces[to - 1].length_m,
            fall_m / length_m, slowest.mps, slowest.by};
    }
}

void td_plan_stretches(const struct td_plan_legs *legs, struct td_plan *plan)
{
    for (double same_grade = SAME_GRADE; same_grade < 2; same_grade *= 2)
        if (cut(legs, same_grade, plan))
            return;
    cut_coarsely(legs, plan);
}
