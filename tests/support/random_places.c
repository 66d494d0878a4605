/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Signs, brake checks, turn-outs, escape lanes and the stop below, as a road authority might have
 * put them. Numbers of signs and spacing of lanes: common practice, no source. */
#include "support/random_places.h"

static bool chance(struct td_rng *rng, double share)
{
    return td_rng_unit(rng) < share;
}

static struct td_place *put(struct random_hill *made, enum td_place_kind kind, double at_m)
{
    struct td_hill *hill = &made->road.hill;
    struct td_place *place = &made->lost;
    if (hill->place_count < TD_HILL_PLACES_MAX && at_m > 0 && at_m < hill->length_m)
        place = &made->places[hill->place_count++];
    *place = (struct td_place){.kind = kind, .at_m = at_m, .material = "", .say = "", .name = ""};
    return place;
}

static struct td_place *put_speed(struct random_hill *made, enum td_place_kind kind, double at_m,
                                  double mph)
{
    struct td_place *place = put(made, kind, at_m);
    place->has |= TD_PLACE_SPEED;
    place->speed_mps = td_mps_from_mph(mph);
    return place;
}

/* Before the crest: brake check and grade sign. */
static void before_crest(struct random_hill *made, struct td_rng *rng)
{
    const struct td_hill *hill = &made->road.hill;
    if (chance(rng, 0.65)) {
        struct td_place *check =
            put(made, TD_PLACE_BRAKE_CHECK, hill->crest_m - td_rng_between(rng, 120, 450));
        check->side = TD_SIDE_RIGHT;
        if (chance(rng, 0.4))
            check->has |= TD_PLACE_MANDATORY;
    }
    if (chance(rng, 0.8)) {
        struct td_place *sign = put(made, TD_PLACE_GRADE_SIGN, hill->crest_m - 60);
        sign->has |= TD_PLACE_GRADE;
        sign->grade_ratio = 0.01 * floor(100 * hill->mean_downgrade_ratio + 0.5);
    }
}

/* Truck speed where the downgrade begins: slower the steeper it is, and slower still by weight. */
static void truck_speeds(struct random_hill *made, struct td_rng *rng)
{
    const struct td_hill *hill = &made->road.hill;
    if (!chance(rng, 0.6))
        return;
    double steep = fmin(1, fmax(0, (hill->steepest_downgrade_ratio - 0.04) / 0.06));
    double mph = 5 * floor((50 - 25 * steep + td_rng_between(rng, -8, 8)) / 5);
    double at_m = hill->crest_m + td_rng_between(rng, -150, 60);
    put_speed(made, TD_PLACE_TRUCK_SPEED, at_m, mph);
    if (chance(rng, 0.4) && mph >= 25) {
        struct td_place *heavy = put_speed(made, TD_PLACE_TRUCK_SPEED, at_m + 12,
                                           mph - 5 * (double)(1 + td_rng_below(rng, 2)));
        heavy->has |= TD_PLACE_OVER_MASS;
        heavy->over_kg = (40000 + 5000 * (double)td_rng_below(rng, 6)) * TD_KG_PER_LB;
    }
    if (chance(rng, 0.3) && hill->foot_m - hill->crest_m > 4000)
        put_speed(made, TD_PLACE_TRUCK_SPEED,
                  td_rng_between(rng, hill->crest_m + 1500, hill->foot_m - 1500),
                  fmax(15, mph + 5 * (double)((int)td_rng_below(rng, 3) - 1)));
}

/* Advisory speeds at the sharp curves: what a car is driven at, not a truck. */
static void curve_speeds(struct random_hill *made, struct td_rng *rng)
{
    const struct td_hill *hill = &made->road.hill;
    for (size_t i = 0; i < hill->curve_count; i++) {
        const struct td_curve *curve = &hill->curves[i];
        if (curve->radius_m > 140 || !chance(rng, 0.8))
            continue;
        double mph = curve->radius_m < 40 ? 15 : curve->radius_m < 80 ? 25 : 35;
        struct td_place *sign =
            put_speed(made, TD_PLACE_CURVE_SPEED, fmax(1, curve->from_m - 10), mph);
        sign->has |= TD_PLACE_LENGTH;
        sign->length_m = curve->to_m - curve->from_m + 10;
    }
}

static void escape_lanes(struct random_hill *made, struct td_rng *rng)
{
    static const char *const materials[] = {"pea gravel", "loose gravel", "sand"};
    const struct td_hill *hill = &made->road.hill;
    if (hill->foot_m - hill->crest_m < 2500 || hill->steepest_downgrade_ratio < 0.05 ||
        !chance(rng, 0.75))
        return;
    for (double at_m = hill->crest_m + td_rng_between(rng, 1200, 3500); at_m < hill->foot_m - 150;
         at_m += td_rng_between(rng, 1800, 5000)) {
        struct td_place *lane = put(made, TD_PLACE_ESCAPE_LANE, at_m);
        lane->side = chance(rng, 0.85) ? TD_SIDE_RIGHT : TD_SIDE_LEFT;
        lane->has |= TD_PLACE_LENGTH | TD_PLACE_GRADE;
        lane->length_m = td_rng_between(rng, 120, 420);
        lane->grade_ratio = td_rng_between(rng, 0.0, 0.12);
        lane->material = materials[td_rng_below(rng, 3)];
        if (chance(rng, 0.15))
            lane->has |= TD_PLACE_CLOSED;
    }
}

static void on_grade(struct random_hill *made, struct td_rng *rng)
{
    const struct td_hill *hill = &made->road.hill;
    double descent_m = hill->foot_m - hill->crest_m;
    for (double at_m = hill->crest_m + td_rng_between(rng, 1500, 4000);
         descent_m > 3000 && at_m < hill->foot_m - 300; at_m += td_rng_between(rng, 2500, 6000))
        put(made, TD_PLACE_TURN_OUT, at_m)->side = TD_SIDE_RIGHT;
    if (chance(rng, 0.06)) {
        struct td_place *ban =
            put(made, TD_PLACE_ENGINE_BRAKE_BAN,
                td_rng_between(rng, hill->crest_m, hill->foot_m - 0.2 * descent_m));
        ban->has |= TD_PLACE_LENGTH;
        ban->length_m = td_rng_between(rng, 300, 900);
    }
}

static void below(struct random_hill *made, struct td_rng *rng)
{
    const struct td_hill *hill = &made->road.hill;
    double at_m = hill->foot_m + td_rng_between(rng, 250, 600);
    if (chance(rng, 0.35))
        put(made, chance(rng, 0.6) ? TD_PLACE_STOP : TD_PLACE_SIGNAL, at_m)->side = TD_SIDE_RIGHT;
}

static int by_place(const void *a, const void *b)
{
    const struct td_place *x = a, *y = b;
    return (x->at_m > y->at_m) - (x->at_m < y->at_m);
}

void random_places_put(struct random_hill *made, struct td_rng *rng)
{
    struct td_hill *hill = &made->road.hill;
    hill->places = made->places;
    hill->place_count = 0;
    before_crest(made, rng);
    truck_speeds(made, rng);
    escape_lanes(made, rng);
    on_grade(made, rng);
    below(made, rng);
    curve_speeds(made, rng);
    qsort(made->places, hill->place_count, sizeof *made->places, by_place);
}
