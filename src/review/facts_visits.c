/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cuts a drive into visits of hills: samples on one hill that belong together, through moments in
 * which the place was not known. */
#include <math.h>
#include <stdlib.h>

#include "io/problem.h"
#include "review/facts_parts.h"
#include "talkdown/units.h"

void *td_facts_grown(void *array, size_t count, size_t size)
{
    bool full = (count & (count - 1)) == 0; /* 0 and powers of two */
    return full ? realloc(array, (count == 0 ? 1 : 2 * count) * size) : array;
}

void td_facts_mark_holes(struct td_review_sample *samples, size_t count,
                         const struct td_review_loss *losses, size_t loss_count)
{
    size_t loss = 0;
    for (size_t i = 0; i < count; i++) {
        struct td_review_sample *sample = &samples[i];
        sample->seen = sample->where == TD_WHERE_ON_HILL || sample->where == TD_WHERE_OFF_FILE ||
                       sample->where == TD_WHERE_WEIGHING;
        bool lost = false;
        for (; loss < loss_count && losses[loss].at_ns <= sample->at_ns; loss++)
            lost = true;
        sample->after_hole =
            i == 0 || lost || !samples[i - 1].seen ||
            td_s_from_ns(sample->at_ns - samples[i - 1].at_ns) > TD_REVIEW_HOLE_S;
    }
}

double td_facts_step_s(const struct td_review_drive *drive, size_t i)
{
    if (i + 1 >= drive->sample_count)
        return 0.0;
    const struct td_review_sample *here = &drive->samples[i], *next = here + 1;
    return here->seen && next->seen && !next->after_hole ? td_s_from_ns(next->at_ns - here->at_ns)
                                                         : 0.0;
}

/* The visit that this sample goes on with; NULL: a new one. */
static struct td_review_descent *visit_of(const struct td_review_drive *drive,
                                          const struct td_review_sample *sample)
{
    for (size_t i = drive->descent_count; i > 0; i--) {
        struct td_review_descent *visit = &drive->descents[i - 1];
        if (visit->hill != sample->hill)
            continue;
        bool again = td_s_from_ns(sample->at_ns - visit->to_ns) > TD_REVIEW_AGAIN_S ||
                     sample->along_m < visit->to_m - TD_REVIEW_BACK_M;
        return again ? NULL : visit;
    }
    return NULL;
}

static struct td_review_descent *begin_visit(struct td_review_drive *drive, size_t at)
{
    struct td_review_descent *visits =
        td_facts_grown(drive->descents, drive->descent_count, sizeof *visits);
    if (visits == NULL)
        return NULL;
    drive->descents = visits;
    const struct td_review_sample *sample = &drive->samples[at];
    struct td_review_descent *visit = &visits[drive->descent_count++];
    *visit = (struct td_review_descent){
        .hill = sample->hill, .from_ns = sample->at_ns, .to_ns = sample->at_ns,
        .first = at, .last = at, .from_m = sample->along_m, .to_m = sample->along_m,
        .load_name = "",
    };
    return visit;
}

static void drop_short_visits(struct td_review_drive *drive)
{
    size_t kept = 0;
    for (size_t i = 0; i < drive->descent_count; i++)
        if (drive->descents[i].to_m - drive->descents[i].from_m >= TD_REVIEW_LEAST_M)
            drive->descents[kept++] = drive->descents[i];
    drive->descent_count = kept;
}

enum td_result td_facts_visits(struct td_review_drive *drive, struct td_problem *problem)
{
    for (size_t i = 0; i < drive->sample_count; i++) {
        const struct td_review_sample *sample = &drive->samples[i];
        if (sample->hill < 0 || !drive->hills[sample->hill].hill->coached)
            continue;
        struct td_review_descent *visit = visit_of(drive, sample);
        if (visit == NULL)
            visit = begin_visit(drive, i);
        if (visit == NULL)
            return td_problem_set(problem, TD_NO_MEMORY, drive->path, 0,
                                  "no memory for its descents");
        visit->last = i;
        visit->to_ns = sample->at_ns;
        visit->to_m = fmax(visit->to_m, sample->along_m);
    }
    drop_short_visits(drive);
    return TD_OK;
}
