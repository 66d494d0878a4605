/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which hypothesis may be told. One that has agreed for long enough, unless a rival lies so close
 * that an error of the receiver could have swapped them: then wait until the roads part.
 *
 * Hills on file may share road: one grade's run-out is the next one's approach. Where both lead on
 * along the same road either is true, and the one whose foot comes first is told; where they fork
 * ahead, neither is until it is seen which way the truck goes. */
#include <math.h>

#include "locate_hypothesis.h"
#include "talkdown/units.h"

#define RECOGNISE_EVIDENCE   6.0
#define FITS_COURSE_DEG      60.0
#define FITS_SIGMAS          3.0
#define AGAIN_EVIDENCE       3.0
#define AGAIN_WITHIN_S       43200.0 /* a night at the brake check */
#define AGAIN_SPEED_MPS      40.0
#define AGAIN_SLACK_M        300.0
#define SAME_ROAD_M          12.0 /* two profiles of one road lie within this of each other */
#define SAME_ROAD_END_M      40.0
#define PAST_FOOT_M          50.0
#define OLD_ENOUGH           0.5
#define RIVAL_COURSE_DEG     30.0
#define CLEARLY_BETTER       6.0
#define LEFT_LOT_M           50.0 /* along another road on file: no way across a lot */

const struct td_hill *td_slot_hill(const struct td_hill_slot slots[TD_HILL_SLOTS],
                                   uint32_t handle)
{
    for (size_t i = 0; i < TD_HILL_SLOTS; i++)
        if (handle != 0 && slots[i].handle == handle)
            return slots[i].hill;
    return NULL;
}

/* The hill last in force, about where it may be by now. */
static bool is_known(const struct td_locator *locator, const struct td_hypothesis *h)
{
    double since_s = td_s_from_ns(locator->at_ns - locator->recent_ns);
    double ahead_m = h->along_m - locator->recent_along_m;
    return h->handle == locator->recent_handle && since_s < AGAIN_WITHIN_S &&
           ahead_m > -AGAIN_SLACK_M && ahead_m < AGAIN_SLACK_M + AGAIN_SPEED_MPS * since_s;
}

/* Evidence lasts a while: to be told newly, a hill must fit the last fix too. */
static bool fits_now(const struct td_locator *locator, const struct td_hill *hill,
                     const struct td_hypothesis *h)
{
    return h->missed_m <= 0.0 && h->opposed_m <= 0.0 && h->course_off_deg < FITS_COURSE_DEG &&
           fabs(h->lateral_m) < FITS_SIGMAS * td_across_sigma_m(hill, locator->sigma_m);
}

static bool is_clear(const struct td_locator *locator, const struct td_hill *hill,
                     const struct td_hypothesis *h)
{
    bool known = is_known(locator, h);
    double need_m = known                             ? TD_LOCATE_AGAIN_M
                    : td_climb_is_doubtful(&h->climb) ? TD_LOCATE_DOUBTFUL_M
                                                      : TD_LOCATE_RECOGNISE_M;
    return h->handle != 0 && h->direction > 0 &&
           h->log_likelihood >= (known ? AGAIN_EVIDENCE : RECOGNISE_EVIDENCE) &&
           h->agreed_m >= need_m && fits_now(locator, hill, h) &&
           !td_climb_contradicts(&h->climb);
}

static double left_m(const struct td_hypothesis *h, const struct td_hill *hill)
{
    return h->direction > 0 ? hill->length_m - h->along_m : h->along_m;
}

/* True when the road that ends first, the way the truck goes, ends on the other one, as far along
 * it. One of them may be a hill that is being climbed. */
static bool lead_on_together(const struct td_hypothesis *a, const struct td_hill *hill_a,
                             const struct td_hypothesis *b, const struct td_hill *hill_b)
{
    double left_a = left_m(a, hill_a), left_b = left_m(b, hill_b);
    bool a_is_shorter = left_a < left_b;
    const struct td_hill *shorter = a_is_shorter ? hill_a : hill_b;
    const struct td_hill *longer = a_is_shorter ? hill_b : hill_a;
    const struct td_hypothesis *ends = a_is_shorter ? a : b, *goes_on = a_is_shorter ? b : a;
    double least_m = fmin(left_a, left_b);
    double at_m = goes_on->along_m + goes_on->direction * least_m;
    const struct td_station *end =
        &shorter->stations[ends->direction > 0 ? shorter->station_count - 1 : 0];
    struct td_frame frame;
    struct td_point point;
    if (!td_frame_init(&frame, longer->origin_lat_deg, longer->origin_lon_deg) ||
        !td_frame_point(&frame, end->lat_deg, end->lon_deg, &point))
        return false;
    double slack_m = 100.0 + 0.02 * fabs(least_m); /* two surveys differ in length */
    struct td_expected expected = {at_m, slack_m, slack_m, SAME_ROAD_END_M, 1, NULL};
    struct td_leg leg = td_road_nearest(longer, point, &expected);
    return leg.distance_m < SAME_ROAD_END_M;
}

static bool has_descent_ahead(const struct td_hypothesis *h, const struct td_hill *hill)
{
    return hill->coached && h->along_m < hill->foot_m + PAST_FOOT_M;
}

/* Of two profiles of the road under the truck, whether b is to be told rather than a. */
static bool comes_first(const struct td_hypothesis *a, const struct td_hill *hill_a,
                        const struct td_hypothesis *b, const struct td_hill *hill_b)
{
    bool ahead_a = has_descent_ahead(a, hill_a), ahead_b = has_descent_ahead(b, hill_b);
    if (ahead_a != ahead_b)
        return ahead_b;
    double to_a = (ahead_a ? hill_a->foot_m : hill_a->length_m) - a->along_m;
    double to_b = (ahead_b ? hill_b->foot_m : hill_b->length_m) - b->along_m;
    return to_b < to_a;
}

/* Whether the rival keeps the candidate from being told. */
static bool holds_back(const struct td_locator *locator, const struct td_hill_slot *slots,
                       const struct td_hypothesis *h, const struct td_hypothesis *rival)
{
    const struct td_hill *hill = td_slot_hill(slots, h->handle);
    const struct td_hill *other = td_slot_hill(slots, rival->handle);
    if (rival->handle == 0 || other == NULL)
        return false;
    /* Another place of the same road, thought of late, does not explain how the truck came here.
     * Another road may: by the part of it that is not on file, or as it was thought of anew. */
    if (rival->handle == h->handle && rival->age_m < OLD_ENOUGH * h->age_m)
        return false;
    bool side_by_side =
        rival->handle != h->handle &&
        fabs(rival->direction * rival->lateral_m - h->lateral_m) < SAME_ROAD_M;
    if (side_by_side && lead_on_together(h, hill, rival, other))
        return rival->direction > 0 && is_clear(locator, other, rival) &&
               comes_first(h, hill, rival, other);
    return rival->offset_m - h->offset_m < TD_LOCATE_APART_SIGMAS * locator->sigma_m;
}

/* Whether a road on file that is not thought of keeps the candidate from being told: the fix is too
 * far off it for that, but not farther than an error that favours the candidate would put it. */
static bool is_held_by_road(const struct td_locator *locator, const struct td_hill_slot *slots,
                            const struct td_hypothesis *h, const struct td_hill_slot *slot)
{
    struct td_hypothesis here = *h;
    struct td_leg legs[TD_LEGS_MAX];
    struct td_frame frame;
    struct td_point point;
    if (!locator->motion.has_heading ||
        !td_frame_init(&frame, slot->hill->origin_lat_deg, slot->hill->origin_lon_deg) ||
        !td_frame_point(&frame, locator->last.lat_deg, locator->last.lon_deg, &point))
        return false;
    here.offset_m = fabs(h->lateral_m);
    double reach_m = here.offset_m + TD_LOCATE_APART_SIGMAS * locator->sigma_m;
    size_t count = td_road_legs(slot->hill, point, reach_m, legs);
    for (size_t i = 0; i < count; i++)
        for (int direction = -1; direction <= 1; direction += 2) {
            struct td_hypothesis rival = {.handle = slot->handle, .direction = direction,
                                          .along_m = legs[i].along_m,
                                          .lateral_m = legs[i].lateral_m,
                                          .offset_m = legs[i].distance_m};
            if (td_road_course_off_deg(slot->hill, legs[i].along_m, direction, locator->sigma_m,
                                       &locator->motion) < RIVAL_COURSE_DEG &&
                !td_hypothesis_is_thought_of(locator, &rival) &&
                holds_back(locator, slots, &here, &rival))
                return true;
        }
    return false;
}

static bool is_free_of_rivals(const struct td_locator *locator, const struct td_hill_slot *slots,
                              size_t at)
{
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++)
        if (i != at && holds_back(locator, slots, &locator->hypotheses[at],
                                  &locator->hypotheses[i]))
            return false;
    const struct td_hypothesis *h = &locator->hypotheses[at];
    for (size_t i = 0; i < TD_HILL_SLOTS; i++)
        if (slots[i].handle != 0 && slots[i].handle != h->handle &&
            is_held_by_road(locator, slots, h, &slots[i]))
            return false;
    return true;
}

/* What is told stays told unless the newcomer is clearly better, or is the next grade of the same
 * road once this one's foot is behind, or fits the last fix while the one told only waits for the
 * truck to come out of a lot. */
static bool may_take_over(const struct td_locator *locator, const struct td_hill_slot *slots,
                          const struct td_hypothesis *h)
{
    const struct td_hypothesis *told = &locator->hypotheses[locator->in_force];
    const struct td_hill *hill = td_slot_hill(slots, h->handle);
    const struct td_hill *old = td_slot_hill(slots, told->handle);
    if (h->log_likelihood > told->log_likelihood + CLEARLY_BETTER ||
        (fits_now(locator, hill, h) && !fits_now(locator, old, told) &&
         h->handle != told->handle))
        return true;
    return h->handle != told->handle && !has_descent_ahead(told, old) &&
           has_descent_ahead(h, hill);
}

bool td_hypothesis_left_a_lot(const struct td_locator *locator,
                              const struct td_hill_slot slots[TD_HILL_SLOTS])
{
    const struct td_hypothesis *told = &locator->hypotheses[locator->in_force];
    const struct td_hill *old = td_slot_hill(slots, told->handle);
    if (old == NULL || !told->in_lot || fits_now(locator, old, told))
        return false;
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        const struct td_hypothesis *h = &locator->hypotheses[i];
        const struct td_hill *hill = td_slot_hill(slots, h->handle);
        if (hill != NULL && h->handle != told->handle && h->agreed_m >= LEFT_LOT_M &&
            h->log_likelihood >= AGAIN_EVIDENCE && fits_now(locator, hill, h))
            return true;
    }
    return false;
}

int td_hypotheses_choose(const struct td_locator *locator,
                         const struct td_hill_slot slots[TD_HILL_SLOTS])
{
    int best = locator->in_force;
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        const struct td_hypothesis *h = &locator->hypotheses[i];
        const struct td_hill *hill = td_slot_hill(slots, h->handle);
        if ((int)i == locator->in_force || hill == NULL || !is_clear(locator, hill, h))
            continue;
        if (locator->in_force >= 0 && !may_take_over(locator, slots, h))
            continue;
        if (best >= 0 && best != locator->in_force &&
            locator->hypotheses[best].log_likelihood >= h->log_likelihood)
            continue;
        if (is_free_of_rivals(locator, slots, i))
            best = (int)i;
    }
    return best;
}
