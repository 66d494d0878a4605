/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One hypothesis: a Kalman filter on distance along and speed, driven by white acceleration (e.g.
 * Bar-Shalom, Li, Kirubarajan, "Estimation with Applications to Tracking and Navigation", 2001,
 * section 6.2.2), and the evidence for it.
 *
 * Receiver errors wander over minutes, so looks close to each other are one look: evidence counts
 * by distance travelled, not by fixes, and standing still proves nothing. */
#include <math.h>
#include <string.h>

#include "locate_hypothesis.h"
#include "talkdown/units.h"

#define ACCELERATION_PSD     0.4   /* m2/s3: 30 m of doubt after about 20 s */
#define ERROR_LASTS_S        3.0   /* more would trust the length of the profile too much */
#define SPEED_SIGMA_MPS      0.7
#define NEW_EVIDENCE_M       30.0  /* looks nearer than this are one look */
#define ELSEWHERE_WIDTH_M    200.0 /* "not on file": offset anywhere in this, any course */
#define LOOK_LEAST           (-4.0)
#define LOOK_MOST            2.5
#define FAR_OFF              (-10.0) /* no error of the receiver reaches so far */
#define FAR_OFF_SIGMAS       8.0
#define EVIDENCE_LEAST       (-6.0)
#define EVIDENCE_MOST        10.0
#define COURSE_SIGMA_DEG     20.0
#define COURSE_MOST          0.5   /* a parallel road has the right course too: it proves little */
#define BEND_DEG             25.0
#define FOLLOWS_DEG          30.0  /* farther off it may have turned off the road */
#define BEND_REACH_M         40.0
#define OPPOSED_DEG          75.0
#define OPPOSED_MOST_M       40.0
#define MISSED_MOST_M        80.0
#define RULED_OUT_EVIDENCE   (-3.0)
#define RULED_OUT_COURSE_DEG 30.0
#define LOT_AGREED_M         200.0
#define LOT_SPEED_MPS        9.0
#define LOT_NEAR_M           40.0
#define LOT_SLOWER_PER_S     0.1  /* 5 m/s at the farthest */
#define LOT_REACH_M          80.0
#define LOT_LEAST_M          12.0 /* nearer it is on the road, whichever way it goes */
#define LOT_HALF_M           300.0
#define FAR_IN_LOT_MOST      6.0  /* it may as well have stopped on a road beside */
#define PAST_END_M           5.0
#define GATE_SIGMAS          5.0

void td_hypothesis_run_on(struct td_hypothesis *h, double dt_s)
{
    double *p = h->variance;
    h->along_m += h->speed_mps * dt_s;
    p[0] += dt_s * (2.0 * p[1] + dt_s * p[2]) + ACCELERATION_PSD * dt_s * dt_s * dt_s / 3.0;
    p[1] += dt_s * p[2] + ACCELERATION_PSD * dt_s * dt_s / 2.0;
    p[2] += ACCELERATION_PSD * dt_s;
}

/* One scalar measurement: row 0 is distance along, row 1 speed. */
static void measure(struct td_hypothesis *h, int row, double innovation, double noise)
{
    double *p = h->variance;
    double own = row == 0 ? p[0] : p[2];
    double g0 = (row == 0 ? p[0] : p[1]) / (own + noise);
    double g1 = (row == 0 ? p[1] : p[2]) / (own + noise);
    double c0 = row == 0 ? p[0] : p[1], c1 = row == 0 ? p[1] : p[2];
    h->along_m += g0 * innovation;
    h->speed_mps += g1 * innovation;
    p[0] -= g0 * c0;
    p[1] -= g0 * c1;
    p[2] -= g1 * c1;
}

static double course_evidence(double off_deg)
{
    double z = off_deg / COURSE_SIGMA_DEG;
    return fmax(LOOK_LEAST, COURSE_MOST - 0.5 * z * z);
}

/* Log of how much likelier the offset is on this road than anywhere. */
static double offset_evidence(double distance_m, double sigma_m)
{
    double z = distance_m / sigma_m;
    return log(ELSEWHERE_WIDTH_M / (sigma_m * sqrt(2.0 * TD_PI))) - 0.5 * z * z;
}

/* A line that is known well narrows the look only where the receiver is good: many claim half of
 * their error, and the 5 m for the line have made up for that. */
double td_across_sigma_m(const struct td_hill *hill, double sigma_m)
{
    double line_m = hill->position_sigma_m > 0.0
                        ? fmin(TD_LOCATE_LINE_MOST_M, hill->position_sigma_m)
                        : TD_LOCATE_LINE_SIGMA_M;
    double flatters_m =
        fmin(TD_LOCATE_LINE_SIGMA_M, 2.0 * fmax(0.0, sigma_m - TD_LOCATE_SIGMA_LEAST_M));
    return hypot(sigma_m, fmax(line_m, flatters_m));
}

/* Off the road beside a place where trucks pull off, slowly, by one that came down it: neither for
 * nor against. Else the stop at a brake check would end the hill that it is for. */
static bool is_in_a_lot(const struct td_hypothesis *h, const struct td_hill *hill,
                        const struct td_leg *leg, const struct td_motion *motion)
{
    /* Far off trucks creep about; one that drives off by a side road gathers speed there. */
    double most_mps = LOT_SPEED_MPS - LOT_SLOWER_PER_S * fmax(0.0, leg->distance_m - LOT_NEAR_M);
    if (h->direction < 0 || h->agreed_m < LOT_AGREED_M || motion->speed_mps > most_mps ||
        leg->distance_m > LOT_REACH_M || leg->distance_m < LOT_LEAST_M)
        return false;
    for (size_t i = 0; i < hill->place_count; i++) {
        enum td_place_kind kind = hill->places[i].kind;
        if ((kind == TD_PLACE_BRAKE_CHECK || kind == TD_PLACE_TURN_OUT ||
             kind == TD_PLACE_CHAIN_AREA) &&
            fabs(hill->places[i].at_m - leg->along_m) < LOT_HALF_M)
            return true;
    }
    return false;
}

static void add_evidence(struct td_hypothesis *h, double evidence, double travelled_m)
{
    double look = fmin(LOOK_MOST, evidence);
    double total = h->log_likelihood + look * fmin(1.0, travelled_m / NEW_EVIDENCE_M);
    h->log_likelihood = fmin(EVIDENCE_MOST, fmax(EVIDENCE_LEAST, total));
    if (look > 0.0 && h->opposed_m <= 0.0)
        h->agreed_m += travelled_m;
    if (look < 0.0)
        h->agreed_m = fmax(0.0, h->agreed_m - travelled_m);
}

/* Share of the speed told that leads along the road. What follows a road drives along it with all
 * of it, though a place taken wrong in a bend makes its course look otherwise; not so in a lot, nor
 * what turns off. Never backwards: a truck that turns round is another hypothesis. */
static double along_share(const struct td_hypothesis *h, const struct td_motion *motion,
                          double course_off_deg)
{
    bool follows = !h->in_lot && course_off_deg < FOLLOWS_DEG;
    return follows || !motion->has_heading ? 1.0
                                           : fmax(0.0, cos(td_rad_from_deg(course_off_deg)));
}

static void take_speed(struct td_hypothesis *h, const struct td_motion *motion, double cosine)
{
    measure(h, 1, h->direction * motion->speed_mps * cosine - h->speed_mps,
            SPEED_SIGMA_MPS * SPEED_SIGMA_MPS);
}

static void follow(struct td_hypothesis *h, const struct td_leg *leg, const struct td_look *look,
                   double course_off_deg)
{
    const struct td_motion *motion = look->motion;
    /* The receiver's error wanders over minutes: looks seconds apart repeat it. In a hairpin the
     * nearest place then dwells on the inside, and the speed told must carry the truck round. */
    double repeats = (motion->speed_told ? ERROR_LASTS_S : 1.0) / fmax(0.05, look->dt_s);
    double noise = look->sigma_m * look->sigma_m * fmax(1.0, repeats) +
                   look->late_s * look->late_s;
    if (!look->standing || h->variance[0] > noise)
        measure(h, 0, leg->along_m - h->along_m, noise);
    if (look->standing) { /* the receiver's wandering is not the truck's: hold the place */
        measure(h, 1, -h->speed_mps, 0.01);
        h->variance[0] = fmin(h->variance[0], noise);
        return;
    }
    if (!motion->speed_told)
        return; /* taken from the same places: it says nothing new */
    take_speed(h, motion, along_share(h, motion, course_off_deg));
}

/* A fix that fell elsewhere on the road: the place is known less well than was thought, and so much
 * less by each new look. The way made is not in doubt. */
static void doubt(struct td_hypothesis *h, const struct td_look *look, double course_off_deg)
{
    h->variance[0] += look->sigma_m * look->sigma_m *
                      fmin(1.0, look->motion->travelled_m / NEW_EVIDENCE_M);
    if (look->motion->speed_told && !look->standing)
        take_speed(h, look->motion, along_share(h, look->motion, course_off_deg));
}

/* How far the truck's course is off the road for the speed along it. In a bend an error of the
 * receiver's size puts the nearest place where the road runs otherwise, and a truck that goes round
 * would seem to stand: a piece of the road a little before or behind may be the one it is on. */
static double turning_deg(const struct td_hill *hill, const struct td_leg *leg, int direction,
                          const struct td_look *look, double off_deg)
{
    if (off_deg < BEND_DEG)
        return off_deg;
    double reach_m = 2.0 * look->sigma_m + BEND_REACH_M;
    return fmin(off_deg, td_road_course_off_deg(hill, leg->along_m, direction, reach_m,
                                                look->motion));
}

static void weigh(struct td_hypothesis *h, const struct td_hill *hill, const struct td_look *look)
{
    double travelled = look->motion->travelled_m;
    double along_sigma = sqrt(h->variance[0] + look->sigma_m * look->sigma_m);
    double window = fmin(300.0, GATE_SIGMAS * along_sigma + 20.0);
    /* A loose pull toward the expected place picks the leg without bending what is measured. */
    double across_sigma = td_across_sigma_m(hill, look->sigma_m);
    struct td_expected expected = {h->along_m,   window,       window / 2.0,
                                   across_sigma, h->direction, look->motion};
    struct td_leg leg = td_road_nearest(hill, look->point, &expected);
    bool missed = fabs(leg.along_m - h->along_m) > GATE_SIGMAS * along_sigma;
    double evidence = offset_evidence(leg.distance_m, across_sigma);
    bool far_off = leg.distance_m > FAR_OFF_SIGMAS * across_sigma;
    double off = 0.0, opposed_m = h->opposed_m;
    if (look->motion->has_heading) {
        off = td_road_course_off_deg(hill, leg.along_m, h->direction, look->sigma_m,
                                     look->motion);
        evidence += course_evidence(off);
        h->opposed_m = off > OPPOSED_DEG ? h->opposed_m + travelled : 0.0;
        h->course_off_deg = off;
    }
    h->age_m += travelled;
    evidence += td_climb_weigh(&h->climb, h->age_m, travelled, look->motion->has_height,
                               look->motion->height_m, td_hill_elevation_at(hill, leg.along_m));
    evidence = far_off ? FAR_OFF : fmax(LOOK_LEAST, missed ? LOOK_LEAST : evidence);
    h->in_lot = is_in_a_lot(h, hill, &leg, look->motion);
    if (h->in_lot) {
        evidence = fmax(0.0, evidence);
        missed = false;
        if (leg.distance_m > LOT_NEAR_M)
            h->log_likelihood = fmin(FAR_IN_LOT_MOST, h->log_likelihood);
        h->course_off_deg = 0.0;
        /* Room to turn round in; farther back it is on its way elsewhere. */
        h->opposed_m = off > OPPOSED_DEG ? opposed_m + travelled / 3.0 : 0.0;
    }
    h->lateral_m = leg.lateral_m;
    h->offset_m += (leg.distance_m - h->offset_m) * fmin(1.0, travelled / 100.0);
    add_evidence(h, evidence, travelled);
    h->missed_m = missed ? h->missed_m + travelled : 0.0;
    double turned = turning_deg(hill, &leg, h->direction, look, off);
    if (!missed && (!far_off || h->in_lot)) /* far off the road it tells no place on it */
        follow(h, &leg, look, turned);
    else
        doubt(h, look, turned);
}

void td_hypothesis_weigh(struct td_hypothesis *h, const struct td_hill *hill,
                         const struct td_look *look)
{
    /* A fix that came late is held against the place of its time. */
    h->along_m -= h->speed_mps * look->late_s;
    weigh(h, hill, look);
    h->along_m += h->speed_mps * look->late_s;
}

/* Unlikely by its offset alone it lives on while the receiver could be that wrong: it may be what
 * keeps a neighbour from being told too soon. */
bool td_hypothesis_is_ruled_out(const struct td_hypothesis *h, double sigma_m)
{
    return h->log_likelihood <= RULED_OUT_EVIDENCE &&
           (h->offset_m > 2.0 * TD_LOCATE_APART_SIGMAS * sigma_m || h->missed_m > 0.0 ||
            h->course_off_deg > RULED_OUT_COURSE_DEG);
}

bool td_hypothesis_is_dead(const struct td_hypothesis *h, const struct td_hill *hill)
{
    return h->opposed_m > OPPOSED_MOST_M ||
           h->missed_m > MISSED_MOST_M ||
           (h->direction > 0 && h->along_m > hill->length_m + PAST_END_M) ||
           (h->direction < 0 && h->along_m < -PAST_END_M) || h->along_m < -100.0 ||
           h->along_m > hill->length_m + 100.0;
}

bool td_hypothesis_is_thought_of(const struct td_locator *locator,
                                 const struct td_hypothesis *newcomer)
{
    double sigma_m = locator->sigma_m;
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        const struct td_hypothesis *h = &locator->hypotheses[i];
        double doubt = 3.0 * sqrt(h->variance[0] + sigma_m * sigma_m) + 20.0;
        if (h->handle == newcomer->handle && h->direction == newcomer->direction &&
            fabs(h->along_m - newcomer->along_m) < doubt)
            return true;
    }
    return false;
}

/* A free place, or the least likely one's if the newcomer (which stands at 0) is likelier. */
static struct td_hypothesis *make_room(struct td_locator *locator)
{
    size_t least = TD_HYPOTHESES_MAX;
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        if (locator->hypotheses[i].handle == 0)
            return &locator->hypotheses[i];
        if ((int)i != locator->in_force &&
            (least == TD_HYPOTHESES_MAX || locator->hypotheses[i].log_likelihood <
                                               locator->hypotheses[least].log_likelihood))
            least = i;
    }
    return locator->hypotheses[least].log_likelihood < 0.0 ? &locator->hypotheses[least] : NULL;
}

void td_hypotheses_seed(struct td_locator *locator, uint32_t handle, const struct td_hill *hill,
                        const struct td_look *look)
{
    struct td_leg legs[TD_LEGS_MAX];
    size_t count = td_road_legs(hill, look->point,
                                3.0 * td_across_sigma_m(hill, look->sigma_m), legs);
    for (size_t i = 0; i < count; i++) {
        for (int direction = -1; direction <= 1; direction += 2) {
            struct td_hypothesis newcomer = {.handle = handle, .direction = direction,
                                             .along_m = legs[i].along_m,
                                             .lateral_m = legs[i].lateral_m,
                                             .offset_m = legs[i].distance_m};
            if (td_road_course_off_deg(hill, legs[i].along_m, direction, look->sigma_m,
                                       look->motion) > 50.0 ||
                td_hypothesis_is_thought_of(locator, &newcomer))
                continue;
            struct td_hypothesis *h = make_room(locator);
            if (h == NULL)
                return;
            newcomer.speed_mps = direction * fmax(0.0, look->motion->speed_mps);
            newcomer.variance[0] = look->sigma_m * look->sigma_m;
            newcomer.variance[2] = 4.0;
            *h = newcomer;
        }
    }
}
