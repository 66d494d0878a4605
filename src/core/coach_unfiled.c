/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Heights along the road driven, and whether they tell of a descent nobody has on file. */
#include "core/coach_unfiled.h"

#include <math.h>

#include "talkdown/units.h"

#define GRADE_RATIO     0.04
/* Two and a half times the change of a receiver's height error in the time a kilometre takes: 6 m
 * that wander within a minute (assumed; no two receivers agree). */
#define ERROR_M         15.0
/* An easing is not the same descent. */
#define QUARTER_RATIO   0.02
/* Shortest, and how much longer each next try is, in pieces. */
#define LEAST_PIECES    20u
#define STEP_PIECES     10u
/* Without a height for longer, anything may lie between: a tunnel, a viaduct. */
#define GAP_NS          (8 * TD_NS_PER_S)
#define GAP_M           150.0
/* Standing so long, heights wander as far as a grade falls. */
#define PIECE_NS        (120 * TD_NS_PER_S)
/* Steeper between two fixes than any road: the receiver has thought again. */
#define STEP_M          4.0
#define STEP_RATIO      0.25

void td_unfiled_restart(struct td_unfiled *unfiled)
{
    *unfiled = (struct td_unfiled){0};
}

static void put_piece(struct td_unfiled *unfiled, int64_t now_ns)
{
    for (unsigned i = TD_UNFILED_PIECES - 1; i > 0; i--)
        unfiled->height_m[i] = unfiled->height_m[i - 1];
    unfiled->height_m[0] = unfiled->sum_m / (double)unfiled->told;
    if (unfiled->count < TD_UNFILED_PIECES)
        unfiled->count++;
    unfiled->sum_m = 0.0;
    unfiled->told = 0;
    unfiled->piece_ns = now_ns;
}

/* Pieces that no fix fell into get the height between their neighbours. */
static void advance(struct td_unfiled *unfiled, double odometer_m, double height_m, int64_t now_ns)
{
    while (odometer_m - unfiled->piece_m >= TD_UNFILED_PIECE_M) {
        if (unfiled->told == 0) {
            double way_m = odometer_m - unfiled->told_at_m;
            double share = (unfiled->piece_m + 0.5 * TD_UNFILED_PIECE_M - unfiled->told_at_m) /
                           fmax(way_m, 1.0);
            unfiled->sum_m = unfiled->told_m +
                             fmin(1.0, fmax(0.0, share)) * (height_m - unfiled->told_m);
            unfiled->told = 1;
        }
        put_piece(unfiled, now_ns);
        unfiled->piece_m += TD_UNFILED_PIECE_M;
    }
}

void td_unfiled_fix(struct td_unfiled *unfiled, double odometer_m, double height_m,
                    int64_t now_ns)
{
    double way_m = odometer_m - unfiled->told_at_m;
    bool gap = now_ns - unfiled->told_ns > GAP_NS || way_m > GAP_M || way_m < 0.0 ||
               now_ns - unfiled->piece_ns > PIECE_NS;
    bool step = fabs(height_m - unfiled->told_m) > STEP_M + STEP_RATIO * way_m;
    if (!unfiled->set || gap || step) {
        *unfiled = (struct td_unfiled){
            .set = true, .piece_m = odometer_m, .piece_ns = now_ns};
    } else {
        advance(unfiled, odometer_m, height_m, now_ns);
    }
    unfiled->told_m = height_m;
    unfiled->told_at_m = odometer_m;
    unfiled->told_ns = now_ns;
    unfiled->sum_m += height_m;
    unfiled->told++;
}

/* Fall a metre over the newest `pieces`, by least squares: a single height weighs little. */
static double slope(const struct td_unfiled *unfiled, unsigned from, unsigned pieces)
{
    double sum_h = 0.0, sum_xh = 0.0, sum_xx = 0.0, middle = 0.5 * ((double)pieces - 1.0);
    for (unsigned i = 0; i < pieces; i++) {
        double x = (double)i - middle;
        sum_h += unfiled->height_m[from + i];
        sum_xh += x * unfiled->height_m[from + i];
        sum_xx += x * x;
    }
    return sum_xx > 0.0 && isfinite(sum_h) ? sum_xh / (sum_xx * TD_UNFILED_PIECE_M) : 0.0;
}

static bool falls(const struct td_unfiled *unfiled, unsigned pieces)
{
    double length_m = (double)pieces * TD_UNFILED_PIECE_M;
    if (slope(unfiled, 0, pieces) < GRADE_RATIO + ERROR_M / length_m)
        return false;
    for (unsigned quarter = 0; quarter < 4; quarter++)
        if (slope(unfiled, quarter * pieces / 4, pieces / 4) < QUARTER_RATIO)
            return false;
    return true;
}

bool td_unfiled_grade(const struct td_unfiled *unfiled)
{
    for (unsigned pieces = LEAST_PIECES; pieces <= unfiled->count; pieces += STEP_PIECES)
        if (falls(unfiled, pieces))
            return true;
    return false;
}
