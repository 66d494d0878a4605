/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The brakes along the road of a plan: what a picture of it shows.
 *
 * Drives the plan once more from crest to foot, apart from the solver: by its targets, gears and
 * stages, with all doubts of the query at once and again without any. The peaks come out as the
 * plan's own within a few degrees (a test holds them together); where they part, the plan's figures
 * count. Pure. */
#ifndef TD_PLAN_TRACE_H
#define TD_PLAN_TRACE_H

#include <stddef.h>

#include "talkdown/plan.h"

enum { TD_PLAN_TRACE_MAX = 400 };

struct td_plan_point {
    double along_m;
    double target_mps;  /* least since the point before */
    double ceiling_mps; /* least of signs and curves since then; TD_PLAN_MOST_MPH where none is */
    double worst_c, likely_c; /* hottest brakes since then, at the exact and at the spoken speed;
                                 with the query's doubt, and without */
};

/* Fills at most `most` (2 and up) points, the first at the crest; returns how many. 0 for a plan
 * that is not safe or not coached. `work` is scratch; hill, rig, query and plan belong together. */
size_t td_plan_trace(const struct td_hill *hill, const struct td_rig *rig,
                     const struct td_plan_query *query, const struct td_plan *plan,
                     struct td_plan_work *work, struct td_plan_point *points, size_t most);

#endif
