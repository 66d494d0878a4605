/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Draws a mountain road with a pen (support/road.h), then puts signs and lanes beside it.
 *
 * Grades jump where pieces meet; td_hill_derive smooths them as it would a survey's. */
#include "support/random_hills.h"

#include "support/random_places.h"

#define SPACING_M        12.0
#define HAIRPIN_EDGE_M   5.0
#define STATIONS_KEPT    400    /* for the run-out */
#define DROP_MOST_M      1500.0 /* few truck roads fall further in one go */
#define CROSSING_M       24.0   /* legs nearer than this are one road drawn over itself */
#define CROSSING_APART_M 260.0

struct pen {
    struct road *road;
    struct td_rng *rng;
    enum random_style style;
    double along_m;   /* about: the derived length is summed from coordinates */
    double course_deg; /* where the road as a whole goes, from east, left positive */
    int side;         /* of the next bend: 1 left, -1 right */
    double z_top_m;
};

static bool chance(struct td_rng *rng, double share)
{
    return td_rng_unit(rng) < share;
}

static void draw(struct pen *pen, double length_m, double turn_deg, double downgrade,
                 double spacing_m)
{
    if (pen->road->count + (size_t)(length_m / spacing_m) + STATIONS_KEPT > TD_HILL_STATIONS_MAX)
        return;
    road_add(pen->road, length_m, turn_deg, downgrade, spacing_m);
    pen->along_m += length_m;
}

/* Turns towards the course when it has strayed from it, else either way. */
static int bend_side(const struct pen *pen)
{
    double off = remainder(td_deg_from_rad(pen->road->heading_rad) - pen->course_deg, 360.0);
    if (fabs(off) > 40.0)
        return off > 0 ? -1 : 1;
    return chance(pen->rng, 0.5) ? 1 : -1;
}

static void bend(struct pen *pen, double downgrade, double gentle)
{
    bool sharp = pen->style != RANDOM_OPEN && chance(pen->rng, 0.4);
    double radius_m = gentle * (sharp ? td_rng_between(pen->rng, 55, 160)
                                      : td_rng_between(pen->rng, 220, 900));
    double turn_deg = sharp ? td_rng_between(pen->rng, 25, 75) : td_rng_between(pen->rng, 5, 28);
    draw(pen, td_rad_from_deg(turn_deg) * radius_m, bend_side(pen) * turn_deg, downgrade,
         SPACING_M);
}

/* A hairpin: nearly back on itself, the grade eased as road builders do. */
static void hairpin(struct pen *pen, double downgrade)
{
    double radius_m = td_rng_between(pen->rng, 20, 45);
    double turn_deg = td_rng_between(pen->rng, 148, 168);
    draw(pen, td_rad_from_deg(turn_deg) * radius_m, pen->side * turn_deg, 0.8 * downgrade,
         HAIRPIN_EDGE_M);
    pen->side = -pen->side;
}

/* `length_m` of road at much the same grade. */
static void stretch(struct pen *pen, double length_m, double downgrade, bool bends)
{
    double to_m = pen->along_m + length_m;
    while (pen->along_m < to_m - 1.0) {
        double before_m = pen->along_m;
        double leg_m = fmin(to_m - pen->along_m, td_rng_between(pen->rng, 90, 420));
        double wander = td_rng_between(pen->rng, -0.004, 0.004);
        if (bends && pen->style == RANDOM_HAIRPINS) {
            leg_m = fmin(to_m - pen->along_m, td_rng_between(pen->rng, 280, 700));
            draw(pen, leg_m, pen->side * td_rng_between(pen->rng, -9, 9), downgrade + wander,
                 SPACING_M);
            if (to_m - pen->along_m > 250)
                hairpin(pen, downgrade);
        } else {
            draw(pen, leg_m, 0, downgrade + wander, SPACING_M);
            if (to_m - pen->along_m > 60)
                bend(pen, downgrade + wander, bends ? 1.0 : 3.0);
        }
        if (pen->along_m == before_m)
            return; /* the stations are used up */
    }
}

/* 2 to 3 km towards the crest: rising or near level, and without a bend that slows. */
static void approach(struct pen *pen)
{
    double left_m = td_rng_between(pen->rng, 1700, 2600);
    stretch(pen, left_m, td_rng_between(pen->rng, -0.03, 0.008), false);
    stretch(pen, td_rng_between(pen->rng, 300, 500), td_rng_between(pen->rng, -0.012, 0.002),
            false);
}

/* Before hairpins the road turns across the slope. */
static void turn_across(struct pen *pen, double downgrade)
{
    pen->side = chance(pen->rng, 0.5) ? 1 : -1;
    if (pen->style == RANDOM_HAIRPINS)
        draw(pen, td_rad_from_deg(78) * 90, -pen->side * 78.0, downgrade, SPACING_M);
}

/* Between two downgrades: a false bottom, or a break long enough to change gear in. */
static void ease(struct pen *pen)
{
    if (chance(pen->rng, 0.3))
        stretch(pen, td_rng_between(pen->rng, 1100, 2400), td_rng_between(pen->rng, -0.02, 0.012),
                false);
    else if (chance(pen->rng, 0.7))
        stretch(pen, td_rng_between(pen->rng, 150, 700), td_rng_between(pen->rng, -0.005, 0.025),
                true);
}

static bool descend(struct pen *pen, double length_m, double base)
{
    double to_m = pen->along_m + length_m;
    turn_across(pen, base);
    while (pen->along_m < to_m) {
        double before_m = pen->along_m;
        double downgrade = fmin(0.115, fmax(0.042, base + td_rng_between(pen->rng, -0.014, 0.014)));
        double part_m = fmin(to_m - pen->along_m + 200, td_rng_between(pen->rng, 500, 4500));
        stretch(pen, part_m, downgrade, true);
        if (pen->z_top_m - pen->road->z_m > DROP_MOST_M || pen->along_m == before_m)
            return false;
        if (pen->along_m < to_m - 600)
            ease(pen);
    }
    return true;
}

/* Two places far apart along the road and close on the ground: no road is built so. */
static bool crosses_itself(const struct road *road)
{
    enum { EVERY = 3 };
    for (size_t i = 0; i < road->count; i += EVERY)
        for (size_t j = i + EVERY; j < road->count; j += EVERY) {
            const struct td_station *a = &road->stations[i], *b = &road->stations[j];
            if (b->along_m - a->along_m < CROSSING_APART_M)
                continue;
            double apart_m = hypot(b->x_m - a->x_m, b->y_m - a->y_m);
            if (apart_m < CROSSING_M)
                return true;
            /* It cannot come nearer faster than it runs. */
            j += (size_t)(apart_m / SPACING_M / EVERY / 2) * EVERY;
        }
    return false;
}

static bool draw_once(struct random_hill *made, uint64_t seed, uint64_t attempt)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x68696c6cU + attempt);
    made->style = (enum random_style)td_rng_below(&rng, RANDOM_STYLES);
    /* Short ones are common, long ones are where brakes burn. */
    double length_m = 1200 * pow(16.5, td_rng_unit(&rng));
    double u = td_rng_unit(&rng);
    made->downgrade = length_m > 9000 ? 0.04 + 0.035 * u : 0.042 + 0.062 * u;
    double heading_deg = td_rng_between(&rng, 0, 360);
    road_begin(&made->road, -52.0 + td_rng_between(&rng, -2, 2), -118.0, 0, 0, 1900, heading_deg);
    struct pen pen = {.road = &made->road, .rng = &rng, .style = made->style,
                      .course_deg = heading_deg, .side = 1};
    approach(&pen);
    pen.z_top_m = made->road.z_m;
    made->is_short = !descend(&pen, length_m, made->downgrade);
    pen.style = RANDOM_OPEN;
    stretch(&pen, td_rng_between(&rng, 700, 1500), td_rng_between(&rng, -0.008, 0.008), false);
    struct td_problem problem;
    if (road_finish(&made->road, &problem) != TD_OK || !made->road.hill.coached ||
        crosses_itself(&made->road))
        return false;
    random_places_put(made, &rng);
    return true;
}

void random_hill_draw(struct random_hill *made, uint64_t seed)
{
    for (uint64_t attempt = 0; !draw_once(made, seed, attempt); attempt++)
        if (attempt > 200) {
            fprintf(stderr, "random hill %llu: no drawing will do\n", (unsigned long long)seed);
            abort();
        }
    snprintf(made->id, sizeof made->id, "random-%llu", (unsigned long long)seed);
    made->road.hill.id = made->road.hill.name = made->id;
}
