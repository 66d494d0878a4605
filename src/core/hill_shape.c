/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runs and curves.
 *
 * Runs: the road is cut into cells, and neighbours of most alike grade are joined until every run
 * is long enough and different enough to be worth a word; crest and foot stay boundaries.
 *
 * Curves: the turn between the chords before and after a place. A short chord sees a hairpin, a
 * long one a sweeping curve through the noise of a recorded line: the shortest over which the road
 * turns clearly is believed. */
#include <math.h>

#include "hill_shape.h"
#include "talkdown/units.h"

#define CELL_M          100.0
#define RUN_LEAST_M     250.0
#define JOIN_COST_M     0.05 /* two runs of 400 m join below 1.6 % of difference */
#define LONGEST_REACH_M 50.0
#define CORNER_RAD      0.01
#define CURVE_STEP_M    5.0
#define CURVE_MOST_M    400.0  /* radius of the gentlest curve kept: 0.2 g at 100 km/h */
#define LINE_M          0.75
#define CURVE_TURN_RAD  0.26   /* 15 degrees in all */
#define CLEAR_TURN_RAD  0.30   /* 17 degrees over a chord pair stand clear of noise */

enum { CELLS_MAX = 512, RUNS_KEPT = 40 };

/* What joining two runs loses: Ward's criterion (J. Am. Stat. Assoc. 58, 1963), length as mass. */
static double join_cost(const struct td_run *a, const struct td_run *b)
{
    double la = a->to_m - a->from_m, lb = b->to_m - b->from_m;
    double difference = a->downgrade_ratio - b->downgrade_ratio;
    return la * lb / (la + lb) * difference * difference;
}

static void join_into(struct td_run *runs, size_t *count, size_t at)
{
    struct td_run *a = &runs[at], *b = a + 1;
    double la = a->to_m - a->from_m, lb = b->to_m - b->from_m;
    a->downgrade_ratio = (a->downgrade_ratio * la + b->downgrade_ratio * lb) / (la + lb);
    a->to_m = b->to_m;
    for (size_t i = at + 1; i + 1 < *count; i++)
        runs[i] = runs[i + 1];
    --*count;
}

/* Crest and foot keep their place. */
static bool may_join(const struct td_hill *hill, const struct td_run *a)
{
    return !hill->coached || (fabs(a->to_m - hill->crest_m) > 1e-6 &&
                              fabs(a->to_m - hill->foot_m) > 1e-6);
}

static bool is_short(const struct td_run *run) { return run->to_m - run->from_m < RUN_LEAST_M; }

static bool join_cheapest(const struct td_hill *hill, struct td_run *runs, size_t *count)
{
    size_t best = *count;
    double best_cost = HUGE_VAL;
    for (size_t i = 0; i + 1 < *count; i++) {
        if (!may_join(hill, &runs[i]))
            continue;
        double cost = join_cost(&runs[i], &runs[i + 1]);
        bool wanted = cost < JOIN_COST_M || *count > RUNS_KEPT || is_short(&runs[i]) ||
                      is_short(&runs[i + 1]);
        if (wanted && cost < best_cost) {
            best_cost = cost;
            best = i;
        }
    }
    if (best == *count)
        return false;
    join_into(runs, count, best);
    return true;
}

static void add_cells(const struct td_hill *hill, double from_m, double to_m, double cell_m,
                      struct td_run *cells, size_t *count)
{
    if (to_m - from_m < 1e-6)
        return;
    size_t pieces = (size_t)ceil((to_m - from_m) / cell_m);
    for (size_t i = 0; i < pieces && *count < CELLS_MAX; i++) {
        struct td_run *cell = &cells[*count];
        cell->from_m = from_m + (to_m - from_m) * (double)i / (double)pieces;
        cell->to_m = i + 1 == pieces ? to_m
                                     : from_m + (to_m - from_m) * (double)(i + 1) / (double)pieces;
        double fall = td_hill_smoothed_at(hill, cell->from_m).elevation_m -
                      td_hill_smoothed_at(hill, cell->to_m).elevation_m;
        cell->downgrade_ratio = fall / (cell->to_m - cell->from_m);
        ++*count;
    }
}

void td_hill_find_runs(struct td_hill *hill)
{
    struct td_run cells[CELLS_MAX];
    size_t count = 0;
    double cell_m = fmax(CELL_M, hill->length_m / (double)(CELLS_MAX - 4));
    double crest = hill->coached ? hill->crest_m : 0.0;
    double foot = hill->coached ? hill->foot_m : 0.0;
    add_cells(hill, 0.0, crest, cell_m, cells, &count);
    add_cells(hill, crest, foot, cell_m, cells, &count);
    add_cells(hill, foot, hill->length_m, cell_m, cells, &count);
    while (join_cheapest(hill, cells, &count))
        continue;
    hill->run_count = count; /* at most RUNS_KEPT and the two fixed boundaries */
    for (size_t i = 0; i < count; i++)
        hill->runs[i] = cells[i];
}

static double heading_rad(struct td_point from, struct td_point to)
{
    return atan2(to.y_m - from.y_m, to.x_m - from.x_m);
}

/* Turn over the chord pair of this reach, left positive, in (-pi, pi]. */
static double turn_at(const struct td_hill *hill, double along_m, double reach_m)
{
    struct td_point before = td_hill_point_at(hill, along_m - reach_m);
    struct td_point here = td_hill_point_at(hill, along_m);
    struct td_point after = td_hill_point_at(hill, along_m + reach_m);
    double turn = heading_rad(here, after) - heading_rad(before, here);
    if (turn > TD_PI)
        turn -= 2.0 * TD_PI;
    if (turn <= -TD_PI)
        turn += 2.0 * TD_PI;
    return turn;
}

/* Whether the line bends at this station: not where a straight edge was merely split. */
static bool is_corner(const struct td_hill *hill, size_t at)
{
    if (at == 0 || at + 1 >= hill->station_count)
        return true;
    const struct td_station *a = &hill->stations[at - 1], *b = a + 1, *c = a + 2;
    double ux = b->x_m - a->x_m, uy = b->y_m - a->y_m;
    double vx = c->x_m - b->x_m, vy = c->y_m - b->y_m;
    return fabs(ux * vy - uy * vx) > CORNER_RAD * hypot(ux, uy) * hypot(vx, vy);
}

/* Distance from a station to the next corner, forward or back, no farther than is of interest. */
static double to_corner_m(const struct td_hill *hill, size_t from, int step)
{
    size_t at = from;
    double gap_m = 0.0;
    while (gap_m < LONGEST_REACH_M && (step > 0 ? at + 1 < hill->station_count : at > 0)) {
        at = step > 0 ? at + 1 : at - 1;
        gap_m = fabs(hill->stations[at].along_m - hill->stations[from].along_m);
        if (is_corner(hill, at))
            break;
    }
    return gap_m;
}

/* How finely the line is drawn here: the shorter edge at the corner nearest to the place. A line
 * of long edges turns at its corners only, and a short chord would take each for a tight bend. */
static double drawn_m(const struct td_hill *hill, double along_m)
{
    size_t piece = td_hill_station_at(hill, along_m), behind = piece, ahead = piece + 1;
    while (behind > 0 && !is_corner(hill, behind) &&
           along_m - hill->stations[behind].along_m < LONGEST_REACH_M)
        behind--;
    while (ahead + 1 < hill->station_count && !is_corner(hill, ahead) &&
           hill->stations[ahead].along_m - along_m < LONGEST_REACH_M)
        ahead++;
    bool back = along_m - hill->stations[behind].along_m < hill->stations[ahead].along_m - along_m;
    size_t corner = back ? behind : ahead;
    return fmin(to_corner_m(hill, corner, -1), to_corner_m(hill, corner, 1));
}

/* Signed curvature, 1/m. 0 near the ends, where a chord is missing. */
static double curvature_at(const struct td_hill *hill, double along_m)
{
    static const double reaches_m[] = {10.0, 25.0, LONGEST_REACH_M};
    double curvature = 0.0, least_m = fmin(LONGEST_REACH_M, 0.8 * drawn_m(hill, along_m));
    for (size_t i = 0; i < sizeof reaches_m / sizeof reaches_m[0]; i++) {
        double reach = reaches_m[i];
        if (reach < least_m)
            continue;
        if (along_m < reach || along_m > hill->length_m - reach)
            break;
        double turn = turn_at(hill, along_m, reach);
        curvature = turn / reach;
        if (fabs(turn) >= CLEAR_TURN_RAD)
            return curvature;
    }
    /* Nothing turns clearly: only the longest reach says anything about a gentle curve. */
    return along_m < LONGEST_REACH_M || along_m > hill->length_m - LONGEST_REACH_M ? 0.0
                                                                                  : curvature;
}

struct bend {
    double from_m, to_m, most, turn_rad;
};

/* Long chords feel a tight bend early: what turns under a quarter of its tightest is approach. */
static void trim_bend(const struct td_hill *hill, struct bend *bend)
{
    double least = fabs(bend->most) / 4.0;
    while (bend->from_m < bend->to_m && fabs(curvature_at(hill, bend->from_m)) < least)
        bend->from_m += CURVE_STEP_M;
    while (bend->to_m > bend->from_m && fabs(curvature_at(hill, bend->to_m)) < least)
        bend->to_m -= CURVE_STEP_M;
}

/* The line is known, and a truck keeps to it, within LINE_M at best: a bend that turns little is no
 * tighter than the arc that cuts its corner by as much. A kink of 20 degrees is a curve of 50 m. */
static double bend_radius_m(const struct bend *bend)
{
    double half_turn = fmin(fabs(bend->turn_rad), TD_PI) / 2.0;
    double cut_m = LINE_M * cos(half_turn) / fmax(1e-3, 1.0 - cos(half_turn));
    return 1.0 / fabs(bend->most) + cut_m;
}

static bool keep_bend(struct td_hill *hill, struct bend *bend)
{
    if (fabs(bend->turn_rad) < CURVE_TURN_RAD)
        return true;
    if (hill->curve_count == TD_HILL_CURVES_MAX)
        return false;
    trim_bend(hill, bend);
    struct td_curve curve = {bend->from_m, bend->to_m, bend_radius_m(bend),
                             bend->turn_rad > 0.0 ? TD_SIDE_LEFT : TD_SIDE_RIGHT};
    hill->curves[hill->curve_count++] = curve;
    return true;
}

/* Collects curves tighter than a radius; false when there is no room for all of them. */
static bool collect_curves(struct td_hill *hill, double radius_most_m)
{
    double step = fmax(CURVE_STEP_M, hill->length_m / (2.0 * TD_HILL_STATIONS_MAX));
    struct bend bend = {0.0, 0.0, 0.0, 0.0};
    bool in_bend = false;
    hill->curve_count = 0;
    for (double at = 0.0; at < hill->length_m + step; at += step) {
        double curvature = at <= hill->length_m ? curvature_at(hill, at) : 0.0;
        bool turns = fabs(curvature) >= 1.0 / radius_most_m;
        if (in_bend && (!turns || curvature * bend.most < 0.0)) {
            if (!keep_bend(hill, &bend))
                return false;
            in_bend = false;
        }
        if (!turns)
            continue;
        if (!in_bend) {
            struct bend fresh = {at, at, curvature, 0.0};
            bend = fresh;
            in_bend = true;
        }
        bend.to_m = fmin(at + step, hill->length_m);
        bend.turn_rad += curvature * step;
        if (fabs(curvature) > fabs(bend.most))
            bend.most = curvature;
    }
    return !in_bend || keep_bend(hill, &bend);
}

void td_hill_find_curves(struct td_hill *hill)
{
    double radius_m = CURVE_MOST_M;
    while (!collect_curves(hill, radius_m))
        radius_m *= 0.8; /* room for the tightest is what matters */
}
