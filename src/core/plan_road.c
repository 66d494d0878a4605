/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The plan's road: crest to foot in pieces of equal length, each with its mean slope and the lowest
 * of all ceilings that touch it. Pieces do not depend on grade or weight, so that a steeper or
 * longer road never changes how the rest of it is cut. */
#include <math.h>

#include "core/plan_parts.h"
#include "talkdown/units.h"

#define PIECE_M         50.0
/* No speeding up for less: it only heats the brakes again, and a driver at 25 mph does not go for
 * 50 between two bends of a grade. */
#define SHORT_FAST_M    1600.0
#define DYNAMIC_RATIO   0.75  /* SAE 2003-01-3385: dynamic threshold about a quarter lower */
#define ROLLOVER_MARGIN 0.7   /* share of what is left that a plan may use; ours */
#define WET_SPEED_RATIO (2.0 / 3.0) /* CDL manual 2.6: on wet roads about a third slower */
#define ADVISORY_M      100.0
#define SIGN_TO_CURVE_M 60.0

/* Side friction of AASHTO's point-mass curves: 20, 30, 40, 50, 55, 60, 65, 70 mph as in the Highway
 * Engineering Handbook's Table 2.6; 15, 25, 35, 45, 75 and 80 from memory. */
static double side_friction(double mph)
{
    static const double at[] = {15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80};
    static const double f[] = {.32, .27, .23, .20, .18, .16, .15,
                               .14, .13, .12, .11, .10, .09, .08};
    enum { COUNT = sizeof at / sizeof at[0] };
    if (mph <= at[0])
        return f[0];
    for (int i = 1; i < COUNT; i++)
        if (mph <= at[i])
            return f[i - 1] + (f[i] - f[i - 1]) * (mph - at[i - 1]) / (at[i] - at[i - 1]);
    return f[COUNT - 1];
}

double td_plan_curve_mps(const struct td_rig *rig, enum td_road road, double radius_m)
{
    double slow = 0, fast = td_mps_from_mph(TD_PLAN_MOST_MPH);
    double rollover_g = rig->rollover_g * DYNAMIC_RATIO * ROLLOVER_MARGIN;
    for (int i = 0; i < 40; i++) { /* v2/(g r) rises and f falls with v: one crossing */
        double mps = 0.5 * (slow + fast);
        double lateral_g = mps * mps / (TD_GRAVITY_MPS2 * radius_m);
        if (lateral_g <= fmin(rollover_g, side_friction(td_mph_from_mps(mps))))
            slow = mps;
        else
            fast = mps;
    }
    return road == TD_ROAD_DRY ? slow : slow * WET_SPEED_RATIO;
}

static void lower(struct td_plan_piece *piece, double mps, enum td_plan_limit by, double at_m)
{
    if (mps >= piece->ceiling_mps)
        return;
    piece->ceiling_mps = mps;
    piece->limited_by = by;
    piece->reason_at_m = at_m;
}

static bool is_truck_speed(const struct td_place *place)
{
    return place->kind == TD_PLACE_TRUCK_SPEED && (place->has & TD_PLACE_SPEED) != 0;
}

static bool is_by_weight(const struct td_place *place)
{
    return (place->has & TD_PLACE_OVER_MASS) != 0;
}

/* A sign by weight is taken back by a later one of the same class, or by one for all trucks (signs
 * within 30 m of each other stand together and add up). */
static bool is_replaced(const struct td_hill *hill, size_t at, double along_m)
{
    const struct td_place *sign = &hill->places[at];
    for (size_t i = at + 1; i < hill->place_count && hill->places[i].at_m <= along_m; i++) {
        const struct td_place *later = &hill->places[i];
        if (!is_truck_speed(later))
            continue;
        if (!is_by_weight(later) && (!is_by_weight(sign) || later->at_m > sign->at_m + 30.0))
            return true;
        if (is_by_weight(later) && is_by_weight(sign) && later->over_kg == sign->over_kg)
            return true;
    }
    return false;
}

/* Lowers the piece to every truck speed in force at `along_m`. */
static void lower_to_posted(const struct td_hill *hill, double mass_kg, double along_m,
                            struct td_plan_piece *piece)
{
    for (size_t i = 0; i < hill->place_count && hill->places[i].at_m <= along_m; i++) {
        const struct td_place *sign = &hill->places[i];
        if (is_truck_speed(sign) && (!is_by_weight(sign) || mass_kg > sign->over_kg) &&
            !is_replaced(hill, i, along_m))
            lower(piece, sign->speed_mps, TD_LIMIT_POSTED, sign->at_m);
    }
}

static bool touches(const struct td_plan_piece *piece, double from_m, double to_m)
{
    return from_m < piece->from_m + piece->length_m && to_m > piece->from_m;
}

/* Where an advisory curve speed ends: as stated, else with the curve it stands at. */
static double advisory_end_m(const struct td_hill *hill, const struct td_place *sign)
{
    if ((sign->has & TD_PLACE_LENGTH) != 0)
        return sign->at_m + sign->length_m;
    for (size_t i = 0; i < hill->curve_count; i++)
        if (hill->curves[i].to_m > sign->at_m &&
            hill->curves[i].from_m < sign->at_m + SIGN_TO_CURVE_M)
            return hill->curves[i].to_m;
    return sign->at_m + ADVISORY_M;
}

static void lower_to_places(const struct td_hill *hill, struct td_plan_piece *piece)
{
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool has_speed = (place->has & TD_PLACE_SPEED) != 0;
        double end_m = (place->has & TD_PLACE_LENGTH) != 0 ? place->at_m + place->length_m
                                                           : hill->length_m;
        if (place->kind == TD_PLACE_CURVE_SPEED && has_speed &&
            touches(piece, place->at_m, advisory_end_m(hill, place)))
            lower(piece, place->speed_mps, TD_LIMIT_CURVE, place->at_m);
        if (place->kind == TD_PLACE_WORK_ZONE && has_speed && touches(piece, place->at_m, end_m))
            lower(piece, place->speed_mps, TD_LIMIT_POSTED, place->at_m);
        if (place->kind == TD_PLACE_ENGINE_BRAKE_BAN && touches(piece, place->at_m, end_m))
            piece->engine_brake_banned = true;
    }
}

static void set_ceiling(const struct td_hill *hill, const struct td_rig *rig,
                        const struct td_plan_query *query, struct td_plan_piece *piece)
{
    double to_m = piece->from_m + piece->length_m;
    piece->ceiling_mps = td_mps_from_mph(TD_PLAN_MOST_MPH);
    piece->limited_by = TD_LIMIT_NONE;
    piece->reason_at_m = piece->from_m;
    piece->engine_brake_banned = false;
    lower_to_posted(hill, query->mass_kg, piece->from_m, piece);
    for (size_t i = 0; i < hill->place_count; i++)
        if (hill->places[i].at_m > piece->from_m && hill->places[i].at_m < to_m)
            lower_to_posted(hill, query->mass_kg, hill->places[i].at_m, piece);
    lower_to_places(hill, piece);
    for (size_t i = 0; i < hill->curve_count; i++)
        if (touches(piece, hill->curves[i].from_m, hill->curves[i].to_m))
            lower(piece, td_plan_curve_mps(rig, query->road, hill->curves[i].radius_m),
                  TD_LIMIT_CURVE, hill->curves[i].from_m);
}

/* Mean slope of a piece: length-weighted over the stations' edges it covers. */
static void set_slope(const struct td_hill *hill, double doubt_ratio, size_t *station,
                      struct td_plan_piece *piece)
{
    double to_m = piece->from_m + piece->length_m, fall_m = 0;
    while (*station + 2 < hill->station_count &&
           hill->stations[*station + 1].along_m <= piece->from_m)
        (*station)++;
    for (size_t i = *station; i + 1 < hill->station_count; i++) {
        double from = fmax(piece->from_m, hill->stations[i].along_m);
        double to = fmin(to_m, hill->stations[i + 1].along_m);
        if (hill->stations[i].along_m >= to_m)
            break;
        if (to > from)
            fall_m += (to - from) * hill->stations[i].downgrade_ratio;
    }
    double ratio = fall_m / piece->length_m, hot_ratio = ratio + doubt_ratio;
    piece->cosine = 1 / sqrt(1 + ratio * ratio);
    piece->sine = ratio * piece->cosine;
    piece->hot_cosine = 1 / sqrt(1 + hot_ratio * hot_ratio);
    piece->hot_sine = hot_ratio * piece->hot_cosine;
}

/* Takes out fast spells shorter than `window` pieces (a morphological opening: each piece gets the
 * best of the windows it lies in, a window the slowest of its pieces). */
static void open_ceilings(struct td_plan_work *work, size_t window)
{
    if (window > work->count)
        window = work->count;
    size_t windows = work->count - window + 1;
    for (size_t w = 0; w < windows; w++) {
        size_t slowest = w;
        for (size_t i = w + 1; i < w + window; i++)
            if (work->pieces[i].ceiling_mps < work->pieces[slowest].ceiling_mps)
                slowest = i;
        work->slowest_of_window[w] = (uint32_t)slowest;
    }
    /* In place: a piece that is the slowest of some window keeps its own ceiling. */
    for (size_t i = 0; i < work->count; i++) {
        size_t first = i + 1 > window ? i + 1 - window : 0;
        size_t best = work->slowest_of_window[first];
        for (size_t w = first + 1; w <= i && w < windows; w++)
            if (work->pieces[work->slowest_of_window[w]].ceiling_mps >
                work->pieces[best].ceiling_mps)
                best = work->slowest_of_window[w];
        lower(&work->pieces[i], work->pieces[best].ceiling_mps, work->pieces[best].limited_by,
              work->pieces[best].reason_at_m);
    }
}

static bool is_flat(const struct td_plan_piece *piece)
{
    return piece->sine <= TD_PLAN_BREAK_RATIO * piece->cosine;
}

/* First piece from `at` on where a whole break begins; count when there is none. */
static size_t find_break(const struct td_plan_work *work, size_t at, size_t *end)
{
    for (size_t first = at; first < work->count; first = *end + 1) {
        double length_m = 0;
        for (*end = first; *end < work->count && is_flat(&work->pieces[*end]); ++*end)
            length_m += work->pieces[*end].length_m;
        if (length_m >= TD_PLAN_BREAK_M - 1e-6)
            return first;
    }
    return *end = work->count;
}

/* Drops the shortest break; only roads with more descents than fit come here. */
static void drop_shortest(struct td_plan_span *descents, size_t *count)
{
    size_t shortest = 1;
    for (size_t i = 2; i < *count; i++)
        if (descents[i].first - descents[i - 1].last <
            descents[shortest].first - descents[shortest - 1].last)
            shortest = i;
    descents[shortest - 1].last = descents[shortest].last;
    --*count;
    for (size_t i = shortest; i < *count; i++)
        descents[i] = descents[i + 1];
}

/* Descents between breaks. What is flat before the first and after the last belongs to them. */
static void part(struct td_plan_work *work)
{
    struct td_plan_span found[TD_PLAN_DESCENTS_MAX + 1];
    size_t count = 0, end = 0, from = 0;
    while (from < work->count) {
        size_t first = find_break(work, from, &end);
        if (first == from && count == 0 && end < work->count)
            first = find_break(work, end, &end); /* flat before the first */
        bool last = first == work->count || end == work->count;
        found[count++] = (struct td_plan_span){from, last ? work->count : first};
        if (count > TD_PLAN_DESCENTS_MAX)
            drop_shortest(found, &count);
        from = last ? work->count : end;
    }
    for (size_t i = 0; i < count; i++)
        work->descents[i] = found[i];
    work->descent_count = count;
}

void td_plan_road(const struct td_hill *hill, const struct td_rig *rig,
                  const struct td_plan_query *query, struct td_plan_work *work)
{
    double length_m = hill->foot_m - hill->crest_m;
    double piece_m = fmax(PIECE_M, length_m / (TD_PLAN_PIECES_MAX - 1));
    size_t station = 0;
    work->count = 0;
    while (work->count < TD_PLAN_PIECES_MAX) {
        double from_m = hill->crest_m + (double)work->count * piece_m;
        double left_m = hill->foot_m - from_m;
        if (left_m < 1e-6)
            break;
        struct td_plan_piece *piece = &work->pieces[work->count++];
        piece->from_m = from_m;
        piece->length_m = fmin(piece_m, left_m);
        set_slope(hill, query->doubt.downgrade_add, &station, piece);
        set_ceiling(hill, rig, query, piece);
    }
    if (work->count > 0)
        open_ceilings(work, (size_t)fmax(1, floor(SHORT_FAST_M / piece_m)));
    part(work);
}
