/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of a descent that come from its samples: brake check, target, heat, slowings, stands,
 * and what was not seen. docs/review.md defines each; a sample's state holds until the next. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/problem.h"
#include "review/facts_parts.h"
#include "talkdown/units.h"

struct figuring {
    const struct td_review_drive *drive;
    struct td_review_descent *descent;
    const struct td_hill *hill;
    size_t grade_first, grade_end; /* samples between crest and foot; equal: none */
};

static const struct td_review_sample *sample_at(const struct figuring *f, size_t i)
{
    return &f->drive->samples[i];
}

/* On this hill, its place and speed told by a fix. */
static bool is_seen(const struct figuring *f, size_t i)
{
    return sample_at(f, i)->seen && sample_at(f, i)->hill == f->descent->hill;
}

static void find_grade(struct figuring *f)
{
    struct td_review_descent *descent = f->descent;
    f->grade_first = f->grade_end = descent->last + 1;
    for (size_t i = descent->first; i <= descent->last; i++) {
        const struct td_review_sample *sample = sample_at(f, i);
        if (sample->hill != descent->hill || sample->along_m < f->hill->crest_m ||
            sample->along_m > f->hill->foot_m)
            continue;
        if (f->grade_first > descent->last)
            f->grade_first = i;
        f->grade_end = i + 1;
    }
    double down_m = fmin(TD_REVIEW_DOWN_M, 0.5 * (f->hill->foot_m - f->hill->crest_m));
    descent->went_down = descent->to_m >= f->hill->crest_m + down_m;
    descent->reached_foot = descent->to_m >= f->hill->foot_m;
    if (f->grade_end > f->grade_first) {
        size_t end = descent->reached_foot && f->grade_end <= descent->last ? f->grade_end
                                                                            : f->grade_end - 1;
        descent->grade_s =
            td_s_from_ns(sample_at(f, end)->at_ns - sample_at(f, f->grade_first)->at_ns);
    }
}

/* --- stands and brake check --- */

static double area_end_m(const struct td_place *place)
{
    bool has_length = (place->has & TD_PLACE_LENGTH) != 0;
    return place->at_m + (has_length ? fmin(fmax(place->length_m, 0.0), 500.0) : 0.0);
}

static bool is_at(const struct td_place *place, double along_m)
{
    return along_m >= place->at_m - TD_REVIEW_CHECK_M &&
           along_m <= area_end_m(place) + TD_REVIEW_CHECK_M;
}

/* A brake check before anything else that a truck stands at. */
static int place_of_stand(const struct td_hill *hill, double along_m)
{
    int best = -1;
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool check = place->kind == TD_PLACE_BRAKE_CHECK;
        bool stops = check || place->kind == TD_PLACE_TURN_OUT || place->kind == TD_PLACE_STOP ||
                     place->kind == TD_PLACE_SIGNAL || place->kind == TD_PLACE_RAIL_CROSSING ||
                     place->kind == TD_PLACE_CHAIN_AREA;
        if (stops && is_at(place, along_m) && (best < 0 || check))
            best = (int)i;
        if (best == (int)i && check)
            break;
    }
    return best;
}

static bool stands(const struct figuring *f, size_t i)
{
    return is_seen(f, i) && sample_at(f, i)->speed_mps < TD_REVIEW_STANDS_MPS;
}

static bool add_stand(struct figuring *f, size_t from, double seconds)
{
    struct td_review_descent *descent = f->descent;
    if (seconds < TD_REVIEW_STOP_S)
        return true;
    struct td_review_stand *all = td_facts_grown(descent->stands,
                                                 descent->stand_count, sizeof *all);
    if (all == NULL)
        return false;
    const struct td_review_sample *sample = sample_at(f, from);
    all[descent->stand_count++] = (struct td_review_stand){
        .from_ns = sample->at_ns, .at_m = sample->along_m, .seconds = seconds,
        .place = place_of_stand(f->hill, sample->along_m),
    };
    descent->stands = all;
    return true;
}

static bool find_stands(struct figuring *f)
{
    for (size_t i = f->descent->first; i <= f->descent->last; i++) {
        if (!stands(f, i))
            continue;
        size_t from = i;
        double seconds = td_facts_step_s(f->drive, i);
        while (i < f->descent->last && stands(f, i + 1) && td_facts_step_s(f->drive, i) > 0) {
            i++;
            seconds += td_facts_step_s(f->drive, i);
        }
        if (!add_stand(f, from, seconds))
            return false;
    }
    return true;
}

/* Seen before the area and, without a hole, on to beyond it. */
static bool seen_past(const struct figuring *f, const struct td_place *place)
{
    bool before = false, beyond = false, hidden = false;
    for (size_t i = f->descent->first; i <= f->descent->last && !beyond; i++) {
        if (!is_seen(f, i)) {
            hidden = true;
            continue;
        }
        const struct td_review_sample *sample = sample_at(f, i);
        bool past = sample->along_m > area_end_m(place) + TD_REVIEW_CHECK_M;
        bool near = past || is_at(place, sample->along_m);
        if (before && near && (hidden || sample->after_hole))
            return false;
        hidden = false;
        before = before || sample->along_m <= place->at_m;
        beyond = past;
    }
    return before && beyond;
}

static void figure_check(struct figuring *f)
{
    struct td_review_descent *descent = f->descent;
    bool any = false, unseen = false, passed = false;
    for (size_t i = 0; i < f->hill->place_count; i++) {
        const struct td_place *place = &f->hill->places[i];
        if (place->kind != TD_PLACE_BRAKE_CHECK)
            continue;
        any = true;
        bool seen = seen_past(f, place);
        passed = passed || seen;
        unseen = unseen || !seen;
    }
    for (size_t i = 0; i < descent->stand_count; i++) {
        int place = descent->stands[i].place;
        if (place >= 0 && f->hill->places[place].kind == TD_PLACE_BRAKE_CHECK)
            descent->check_stood_s += descent->stands[i].seconds;
    }
    if (descent->check_stood_s > 0)
        descent->check = TD_CHECK_MADE;
    else if (!any)
        descent->check = TD_CHECK_NONE;
    else
        descent->check = unseen || !passed ? TD_CHECK_UNKNOWN : TD_CHECK_PASSED;
}

/* --- target, heat --- */

static void figure_over(struct figuring *f)
{
    struct td_review_descent *descent = f->descent;
    double piece_s = 0.0;
    for (size_t i = f->grade_first; i < f->grade_end; i++) {
        const struct td_review_sample *sample = sample_at(f, i);
        if (!is_seen(f, i) || sample->after_hole)
            piece_s = 0.0;
        if (!is_seen(f, i))
            continue;
        descent->fastest_mps = fmax(descent->fastest_mps, sample->speed_mps);
        if (sample->target_mps <= 0.0) {
            piece_s = 0.0;
            continue;
        }
        double over_mps = sample->speed_mps - sample->target_mps;
        if (!descent->judged || over_mps > descent->over_most_mps) {
            descent->over_most_mps = over_mps;
            descent->over_most_at_m = sample->along_m;
        }
        descent->judged = true;
        double step_s = over_mps > TD_REVIEW_OVER_MPS ? td_facts_step_s(f->drive, i) : 0.0;
        piece_s = over_mps > TD_REVIEW_OVER_MPS ? piece_s + step_s : 0.0;
        descent->over_s += step_s;
        descent->over_longest_s = fmax(descent->over_longest_s, piece_s);
    }
}

static void figure_heat(struct figuring *f)
{
    struct td_review_descent *descent = f->descent;
    descent->limit_c = f->drive->setup->rig.brakes.limit_c;
    if (!f->drive->setup->rig_is_set)
        return;
    for (size_t i = f->grade_first; i <= descent->last; i++) {
        const struct td_review_sample *sample = sample_at(f, i);
        if (sample->hill != descent->hill)
            continue;
        bool first = !descent->heat_known;
        if (first)
            descent->first_c = sample->likely_c;
        descent->heat_known = true;
        if (first || sample->likely_c > descent->likely_c) {
            descent->likely_c = sample->likely_c;
            descent->hottest_at_m = sample->along_m;
        }
        descent->least_c = first ? sample->least_c : fmax(descent->least_c, sample->least_c);
        descent->most_c = first ? sample->most_c : fmax(descent->most_c, sample->most_c);
    }
}

/* --- slowings --- */

static bool slows(const struct figuring *f, size_t i)
{
    double step_s = td_facts_step_s(f->drive, i);
    return i + 1 < f->grade_end && step_s > 0 && is_seen(f, i) && is_seen(f, i + 1) &&
           sample_at(f, i)->speed_mps - sample_at(f, i + 1)->speed_mps >=
               TD_REVIEW_SNUB_MPS2 * step_s;
}

static bool add_snub(struct figuring *f, size_t from, size_t to)
{
    struct td_review_descent *descent = f->descent;
    const struct td_review_sample *a = sample_at(f, from), *b = sample_at(f, to);
    if (a->speed_mps - b->speed_mps < TD_REVIEW_SNUB_MPS || b->speed_mps < TD_REVIEW_STANDS_MPS)
        return true;
    struct td_review_snub *all =
        td_facts_grown(descent->snubs, descent->snub_count, sizeof *all);
    if (all == NULL)
        return false;
    all[descent->snub_count++] = (struct td_review_snub){
        .from_ns = a->at_ns, .from_m = a->along_m, .to_m = b->along_m, .from_mps = a->speed_mps,
        .to_mps = b->speed_mps, .seconds = td_s_from_ns(b->at_ns - a->at_ns),
    };
    descent->snubs = all;
    return true;
}

static bool find_snubs(struct figuring *f)
{
    for (size_t i = f->grade_first; i < f->grade_end; i++) {
        if (!slows(f, i))
            continue;
        size_t from = i, to = i + 1;
        while (slows(f, to) ||
               (td_facts_step_s(f->drive, to) > 0 && slows(f, to + 1)))
            to++;
        if (!add_snub(f, from, to))
            return false;
        i = to - 1;
    }
    return true;
}

static bool figure_snubs(struct figuring *f)
{
    struct td_review_descent *descent = f->descent;
    descent->snub_drop_mps = descent->snub_seconds = (double)NAN;
    if (!find_snubs(f))
        return false;
    if (descent->snub_count == 0)
        return true;
    double *values = malloc(descent->snub_count * sizeof *values);
    if (values == NULL)
        return false;
    for (size_t i = 0; i < descent->snub_count; i++)
        values[i] = descent->snubs[i].from_mps - descent->snubs[i].to_mps;
    descent->snub_drop_mps = td_facts_median(values, descent->snub_count);
    for (size_t i = 0; i < descent->snub_count; i++)
        values[i] = descent->snubs[i].seconds;
    descent->snub_seconds = td_facts_median(values, descent->snub_count);
    free(values);
    return true;
}

/* --- what was not seen --- */

static void figure_losses(struct figuring *f)
{
    struct td_review_descent *descent = f->descent;
    const struct td_review_drive *drive = f->drive;
    for (size_t i = descent->first; i < descent->last; i++) {
        double step_s = td_s_from_ns(sample_at(f, i + 1)->at_ns - sample_at(f, i)->at_ns);
        if (step_s > TD_REVIEW_HOLE_S)
            descent->hole_s += step_s;
        else if (sample_at(f, i)->hill != descent->hill)
            descent->lost_s += step_s;
    }
    for (size_t i = 0; i < drive->loss_count; i++)
        if (drive->losses[i].at_ns >= descent->from_ns && drive->losses[i].at_ns <= descent->to_ns)
            descent->lost_steps += drive->losses[i].count;
    for (size_t i = 0; i < drive->silence_count; i++) {
        int64_t from_ns = drive->silences[i].from_ns, to_ns = drive->silences[i].to_ns;
        from_ns = from_ns > descent->from_ns ? from_ns : descent->from_ns;
        to_ns = to_ns < descent->to_ns ? to_ns : descent->to_ns;
        if (to_ns > from_ns)
            descent->silent_s += td_s_from_ns(to_ns - from_ns);
    }
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double td_facts_median(double *values, size_t count)
{
    if (count == 0)
        return (double)NAN;
    qsort(values, count, sizeof *values, compare);
    return count % 2 == 1 ? values[count / 2]
                          : 0.5 * (values[count / 2 - 1] + values[count / 2]);
}

enum td_result td_facts_figures(const struct td_review_drive *drive,
                                struct td_review_descent *descent, struct td_problem *problem)
{
    struct figuring f = {.drive = drive, .descent = descent,
                         .hill = drive->hills[descent->hill].hill};
    find_grade(&f);
    if (!find_stands(&f) || !figure_snubs(&f))
        return td_problem_set(problem, TD_NO_MEMORY, drive->path, 0, "no memory for its figures");
    figure_check(&f);
    figure_over(&f);
    figure_heat(&f);
    figure_losses(&f);
    return TD_OK;
}
