/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a receiver's claim of its error is worth. Its speed and course come of the carriers' shift
 * and hardly wander; added up over a minute they tell the way made to a metre or two. By as much as
 * two places told part from that way, the error has changed between them: for an error of sigma in
 * each axis that wanders with the correlation r over the minute, by 2 sigma^2 (1 - r) in the mean
 * of squares. As r is not known and not below 0, that is a lower bound: it can show that a claim is
 * too small, never that it is too large. */
#include <math.h>

#include "locate_parts.h"
#include "talkdown/units.h"

/* All ours. */
#define MARK_EVERY_S  15.0
#define GAP_MOST_S    3.0  /* in a longer one a bend could be driven that nobody saw */
#define BELIEVED      4.0  /* the claim counts as so many independent looks */
#define LOOK_WEIGHT   0.5  /* looks share three quarters of their minute */
#define REMEMBERED    12.0 /* looks; then older ones fade */
#define RATIO_MOST    2.0  /* a worse one is a broken receiver, and no claim mends that */
#define TURNED_M      2.0  /* what the sum is off by itself */

static double seconds(int64_t from_ns, int64_t to_ns) { return td_s_from_ns(to_ns - from_ns); }

static void put_mark(struct td_claim *claim, const struct td_claim_mark *mark)
{
    if (claim->count == TD_CLAIM_MARKS) {
        for (unsigned i = 1; i < TD_CLAIM_MARKS; i++)
            claim->marks[i - 1] = claim->marks[i];
        claim->count--;
    }
    claim->marks[claim->count++] = *mark;
}

/* Adds the way since the last fix; false when it is not known. */
static bool add_way(struct td_claim *claim, const struct td_motion *motion, double dt_s)
{
    bool stands = motion->speed_told && motion->speed_mps < 0.5;
    bool known = motion->speed_told && (stands || (motion->has_heading && motion->chord_m <= 0.0));
    double course = known && !stands ? td_rad_from_deg(motion->heading_deg) : 0.0;
    double east_mps = stands || !known ? 0.0 : motion->speed_mps * sin(course);
    double north_mps = stands || !known ? 0.0 : motion->speed_mps * cos(course);
    claim->east_m += 0.5 * (claim->east_mps + east_mps) * dt_s;
    claim->north_m += 0.5 * (claim->north_mps + north_mps) * dt_s;
    claim->east_mps = east_mps;
    claim->north_mps = north_mps;
    return known;
}

/* Mean square by which the error has changed since the mark, per axis and halved, over the claim's
 * square. */
static double look_ratio2(const struct td_claim_mark *from, const struct td_claim_mark *to)
{
    double moved_m = td_geo_distance_m(from->lat_deg, from->lon_deg, to->lat_deg, to->lon_deg);
    double course = td_rad_from_deg(td_geo_bearing_deg(from->lat_deg, from->lon_deg, to->lat_deg,
                                                       to->lon_deg));
    double east_m = moved_m * sin(course) - (to->east_m - from->east_m);
    double north_m = moved_m * cos(course) - (to->north_m - from->north_m);
    double told_m = fmax(from->told_m, to->told_m);
    double square_m2 = east_m * east_m + north_m * north_m - 2.0 * TURNED_M * TURNED_M;
    return fmax(0.0, square_m2) / 4.0 / (told_m * told_m);
}

double td_locate_claim_ratio(struct td_claim *claim, const struct td_fix *fix,
                             const struct td_motion *motion, double told_m, int64_t place_ns)
{
    double dt_s = seconds(claim->at_ns, place_ns);
    bool went_on = claim->at_ns != 0 && dt_s >= 0.0 && dt_s < GAP_MOST_S;
    if (!add_way(claim, motion, went_on ? dt_s : 0.0) || !went_on)
        claim->count = 0;
    claim->at_ns = place_ns;
    const struct td_claim_mark here = {place_ns, fix->lat_deg, fix->lon_deg, claim->east_m,
                                       claim->north_m, told_m};
    if (claim->count == 0 ||
        seconds(claim->marks[claim->count - 1].at_ns, place_ns) >= MARK_EVERY_S) {
        if (claim->count == TD_CLAIM_MARKS) {
            claim->looks = fmin(REMEMBERED, claim->looks + LOOK_WEIGHT);
            claim->excess += (look_ratio2(&claim->marks[0], &here) - 1.0 - claim->excess) *
                             LOOK_WEIGHT / (BELIEVED + claim->looks);
        }
        put_mark(claim, &here);
    }
    return fmin(RATIO_MOST, sqrt(fmax(1.0, 1.0 + claim->excess)));
}
