/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What looks wrong about the places of a road: signs against its geometry, sides, escape lanes off
 * the grade, the same thing twice. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "talkdown/plan.h"
#include "talkdown/units.h"
#include "tool/hills/hills_found.h"

static const double sign_off_ratio = 0.02, sign_wrong_ratio = 0.05;
static const double side_clear_m = 10; /* a point this far off the line is on its side of it */
static const double curve_reach_m = 300;
/* Sideways pull of a curve driven at its sign's speed. Over 0.30 g a loaded truck is near its
 * rollover threshold of 0.35 g and up (docs/physics.md); under 0.03 g nobody puts up a sign. */
static const double curve_most_g = 0.30, curve_least_g = 0.03;
static const double same_place_m = 15, same_spot_m = 30;

struct look {
    struct td_findings *to;
    const char *name;
    const struct td_hill_file *file;
    const struct td_hill *hill;
    const struct td_place *place;
    size_t index;
    struct td_found_at at;
};

/* Steepest 300 m at or after a place, as the road's own figure is made. */
static double steepest_from(const struct td_hill *hill, double from_m)
{
    double steepest = -1;
    for (double at_m = from_m; at_m + 300 <= hill->length_m; at_m += 50)
        steepest = fmax(steepest, (td_hill_elevation_at(hill, at_m) -
                                   td_hill_elevation_at(hill, at_m + 300)) / 300);
    return steepest;
}

/* A sign with a length tells the mean of it; one without, as a rule, the worst of what comes. */
static void check_grade_sign(const struct look *look)
{
    const struct td_hill *hill = look->hill;
    const struct td_place *place = look->place;
    if (place->grade_ratio <= 0) {
        td_found(look->to, &look->at, true, "grade-sign",
                 "write it as on the sign, 6% for a downgrade",
                 "its grade is %.0f %%, but a downgrade is positive", place->grade_ratio * 100);
        return;
    }
    bool has_length = (place->has & TD_PLACE_LENGTH) != 0;
    double to_m = fmin(hill->length_m, place->at_m + (has_length ? place->length_m : 0));
    double mean = to_m - place->at_m > 300 ? (td_hill_elevation_at(hill, place->at_m) -
                                              td_hill_elevation_at(hill, to_m)) /
                                                 (to_m - place->at_m)
                                           : (double)NAN;
    double steepest = steepest_from(hill, place->at_m);
    double off = fabs(place->grade_ratio - steepest);
    if (isfinite(mean))
        off = fmin(off, fabs(place->grade_ratio - mean));
    if (off <= sign_off_ratio)
        return;
    if (isfinite(mean))
        td_found(look->to, &look->at, off > sign_wrong_ratio, "grade-sign",
                 "look at the sign and at the heights",
                 "it says %.0f %%, but the road falls %.1f %% over its length, and %.1f %% where "
                 "it is steepest",
                 place->grade_ratio * 100, mean * 100, steepest * 100);
    else
        td_found(look->to, &look->at, off > sign_wrong_ratio, "grade-sign",
                 "look at the sign and at the heights",
                 "it says %.0f %%, but the steepest 300 m that follow fall %.1f %%",
                 place->grade_ratio * 100, steepest * 100);
}

/* The tightest curve from shortly before the sign on; of one turn only where a side is given. */
static const struct td_curve *curve_at(const struct look *look, enum td_side side)
{
    const struct td_place *place = look->place;
    double reach_m = (place->has & TD_PLACE_LENGTH) != 0 ? fmax(place->length_m, curve_reach_m)
                                                         : curve_reach_m;
    const struct td_curve *tightest = NULL;
    for (size_t i = 0; i < look->hill->curve_count; i++) {
        const struct td_curve *curve = &look->hill->curves[i];
        bool near = curve->to_m >= place->at_m - 50 && curve->from_m <= place->at_m + reach_m;
        if (near && (side == TD_SIDE_UNKNOWN || curve->turn == side) &&
            (tightest == NULL || curve->radius_m < tightest->radius_m))
            tightest = curve;
    }
    return tightest;
}

static void check_curve_speed(const struct look *look)
{
    const struct td_place *place = look->place;
    const struct td_curve *curve = curve_at(look, TD_SIDE_UNKNOWN);
    if (curve == NULL) {
        td_found(look->to, &look->at, false, "curve-speed", "look at the place and at the line",
                 "the road has no curve of under 400 m radius within %.0f m of it", curve_reach_m);
        return;
    }
    if (place->side != TD_SIDE_UNKNOWN && curve_at(look, place->side) == NULL)
        td_found(look->to, &look->at, true, "side", "left or right as seen going down",
                 "it says that the curve turns %s, but the road turns %s",
                 place->side == TD_SIDE_LEFT ? "left" : "right",
                 curve->turn == TD_SIDE_LEFT ? "left" : "right");
    double pull_g = place->speed_mps * place->speed_mps / (curve->radius_m * TD_GRAVITY_MPS2);
    if (pull_g > curve_most_g || pull_g < curve_least_g)
        td_found(look->to, &look->at, pull_g > curve_most_g, "curve-speed",
                 "look at the sign and at the line",
                 "its %.0f mph pulls %.2f g sideways in the curve of %.0f m radius at %.0f m; %s",
                 td_mph_from_mps(place->speed_mps), pull_g, curve->radius_m, curve->from_m,
                 pull_g > curve_most_g ? "trucks roll over" : "no sign is needed for that");
}

/* Which side of the line the point lies on, where it lies clear of it. */
static void check_side(const struct look *look)
{
    double left_m = td_hill_file_left_m(look->file, look->index);
    enum td_side side = look->place->side;
    if (side == TD_SIDE_UNKNOWN || look->place->kind == TD_PLACE_CURVE_SPEED)
        return;
    bool is_left = left_m > 0;
    if (fabs(left_m) > side_clear_m && is_left != (side == TD_SIDE_LEFT))
        td_found(look->to, &look->at, true, "side", "left or right as seen going down",
                 "it says %s, but its point lies %.0f m to the %s of the road",
                 side == TD_SIDE_LEFT ? "left" : "right", fabs(left_m),
                 is_left ? "left" : "right");
}

static void check_escape_lane(const struct look *look)
{
    const struct td_hill *hill = look->hill;
    const struct td_place *place = look->place;
    if ((place->has & TD_PLACE_CLOSED) != 0)
        return;
    if (place->side == TD_SIDE_UNKNOWN)
        td_found(look->to, &look->at, false, "side", "left or right helps the driver",
                 "it has no side");
    if (hill->coached && place->at_m > hill->foot_m)
        td_found(look->to, &look->at, false, "escape-lane", "look at the place and at the line",
                 "it lies %.0f m past the foot at %.0f m", place->at_m - hill->foot_m,
                 hill->foot_m);
    if (hill->coached && place->at_m < hill->crest_m)
        td_found(look->to, &look->at, false, "escape-lane", "look at the place and at the line",
                 "it lies %.0f m before the crest at %.0f m", hill->crest_m - place->at_m,
                 hill->crest_m);
    if ((place->has & TD_PLACE_GRADE) != 0 && place->grade_ratio < 0)
        td_found(look->to, &look->at, false, "escape-lane", "its grade is positive where it climbs",
                 "its bed falls %.0f %%", -place->grade_ratio * 100);
}

/* On the level between two downgrades it stands before a crest of its own. */
static void check_brake_check(const struct look *look)
{
    const struct td_hill *hill = look->hill;
    double at_m = look->place->at_m;
    if (hill->coached && at_m > hill->crest_m &&
        td_hill_downgrade_at(hill, at_m) >= TD_PLAN_BREAK_RATIO)
        td_found(look->to, &look->at, false, "brake-check", "look at the place and at the line",
                 "it lies on the downgrade, past the crest at %.0f m", hill->crest_m);
}

/* A heavier truck may go no faster than a lighter one at the same spot. */
static void check_weights(const struct look *look, const struct td_place *other)
{
    const struct td_place *place = look->place;
    double over_kg = (place->has & TD_PLACE_OVER_MASS) != 0 ? place->over_kg : 0;
    double other_kg = (other->has & TD_PLACE_OVER_MASS) != 0 ? other->over_kg : 0;
    if (fabs(over_kg - other_kg) < 1 ||
        (over_kg > other_kg) != (place->speed_mps > other->speed_mps) ||
        fabs(place->speed_mps - other->speed_mps) < 0.01)
        return;
    const struct td_place *heavy = over_kg > other_kg ? place : other;
    const struct td_place *light = heavy == place ? other : place;
    char over[48] = "for all";
    if ((light->has & TD_PLACE_OVER_MASS) != 0)
        (void)snprintf(over, sizeof over, "over %.0f lb", td_lb_from_kg(light->over_kg));
    td_found(look->to, &look->at, true, "weights", "the heavier the truck, the slower",
             "of the signs here the one for heavier trucks allows more: %.0f mph over %.0f lb, "
             "%.0f mph %s",
             td_mph_from_mps(heavy->speed_mps), td_lb_from_kg(heavy->over_kg),
             td_mph_from_mps(light->speed_mps), over);
}

static bool is_same(const struct td_place *a, const struct td_place *b)
{
    const double pairs[][2] = {{a->speed_mps, b->speed_mps},
                               {a->over_kg, b->over_kg},
                               {a->grade_ratio, b->grade_ratio}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        if (fabs(pairs[i][0] - pairs[i][1]) > 1e-9)
            return false;
    return a->kind == b->kind && a->side == b->side && strcmp(a->name, b->name) == 0 &&
           strcmp(a->say, b->say) == 0;
}

/* Places are in the order of their distance along: only those before it are looked at. */
static void check_others(const struct look *look)
{
    for (size_t i = look->index; i-- > 0;) {
        const struct td_place *other = &look->hill->places[i];
        double apart_m = look->place->at_m - other->at_m;
        if (apart_m > same_spot_m)
            return;
        if (apart_m < same_place_m && is_same(look->place, other))
            td_found(look->to, &look->at, false, "twice", "leave one of them out",
                     "the same is there at %.0f m already", other->at_m);
        if (look->place->kind == TD_PLACE_TRUCK_SPEED && other->kind == TD_PLACE_TRUCK_SPEED)
            check_weights(look, other);
    }
}

void td_hills_sense_places(struct td_findings *to, const char *name,
                           const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        const struct look look = {to,    name, file, hill,
                                  place, i,    td_found_place(name, file, i)};
        if (place->kind == TD_PLACE_GRADE_SIGN)
            check_grade_sign(&look);
        if (place->kind == TD_PLACE_CURVE_SPEED)
            check_curve_speed(&look);
        if (place->kind == TD_PLACE_ESCAPE_LANE)
            check_escape_lane(&look);
        if (place->kind == TD_PLACE_BRAKE_CHECK)
            check_brake_check(&look);
        check_side(&look);
        check_others(&look);
    }
}
