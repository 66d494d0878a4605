/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a hill's geometry tells; inside the core, behind td_hill_derive. */
#ifndef TD_CORE_HILL_SHAPE_H
#define TD_CORE_HILL_SHAPE_H

#include "talkdown/geo.h"
#include "talkdown/hill.h"

/* The elevation profile seen through an Epanechnikov kernel of this half width, whose slope is the
 * least-squares slope over the window. It depends on the road's line only: where a straight edge is
 * split changes nothing. */
#define TD_HILL_SMOOTH_HALF_M 120.0

struct td_smoothed {
    double elevation_m;
    double downgrade_ratio;
};
struct td_smoothed td_hill_smoothed_at(const struct td_hill *hill, double along_m);

/* Fills coached, crest, foot, means, steepest and easings; needs along_m and elevation_m. */
void td_hill_find_descent(struct td_hill *hill);
/* Fills runs; needs the descent. */
void td_hill_find_runs(struct td_hill *hill);
/* Fills curves; needs x_m, y_m. */
void td_hill_find_curves(struct td_hill *hill);

/* The road's point at a distance along, clamped to the road. */
struct td_point td_hill_point_at(const struct td_hill *hill, double along_m);

#endif
