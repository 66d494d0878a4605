/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills in hand: asking for those near, keeping at most eight, letting the farthest go, never the
 * one in force. A hill is let go only while no question is out, so that the shell cannot offer what
 * it has just freed. */
#include "core/coach_state.h"

#include <math.h>
#include <string.h>

#include "talkdown/geo.h"
#include "talkdown/units.h"

#define WANT_RADIUS_M   6000.0
#define WANT_EVERY_M    1000.0
/* Beyond this a hill in hand is let go. */
#define KEEP_WITHIN_M   9000.0
#define ANSWER_LATEST_NS (30 * TD_NS_PER_S)
#define RETRY_NS        (2 * TD_NS_PER_S)
#define RETRIES_DOUBLED 5
/* Vertices looked at for a hill's distance: its shape is coarser than the radius. */
#define LOOK_EVERY      16
/* Two roads with ends this close are driven one after the other. */
#define ROADS_MEET_M    300.0

int td_coach_slot(const struct td_coach *coach, uint32_t handle)
{
    for (int i = 0; handle != 0 && i < TD_HILL_SLOTS; i++)
        if (coach->slots[i].handle == handle)
            return i;
    return -1;
}

const struct td_hill *td_coach_hill(const struct td_coach *coach, uint32_t handle)
{
    int slot = td_coach_slot(coach, handle);
    return slot < 0 ? NULL : coach->slots[slot].hill;
}

static double distance_m(const struct td_coach *coach, const struct td_hill *hill)
{
    double nearest_m = HUGE_VAL;
    for (size_t i = 0; i < hill->station_count; i += LOOK_EVERY)
        nearest_m = fmin(nearest_m, td_geo_distance_m(coach->lat_deg, coach->lon_deg,
                                                      hill->stations[i].lat_deg,
                                                      hill->stations[i].lon_deg));
    const struct td_station *last = &hill->stations[hill->station_count - 1];
    return fmin(nearest_m, td_geo_distance_m(coach->lat_deg, coach->lon_deg, last->lat_deg,
                                             last->lon_deg));
}

/* In force: the truck is on it, or was lost on it. */
static bool in_force(const struct td_coach *coach, uint32_t handle)
{
    return handle == coach->located.handle || handle == coach->visit.handle;
}

static bool release(struct td_coach *coach, uint32_t handle)
{
    struct td_asking *asking = &coach->asking;
    for (unsigned i = 0; i < asking->release_count; i++)
        if (asking->releases[i] == handle)
            return true;
    if (asking->release_count == TD_RELEASES_MAX)
        return false;
    asking->releases[asking->release_count++] = handle;
    return true;
}

static void unrelease(struct td_asking *asking, uint32_t handle)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < asking->release_count; i++)
        if (asking->releases[i] != handle)
            asking->releases[kept++] = asking->releases[i];
    asking->release_count = kept;
}

static bool empty_slot(struct td_coach *coach, int slot)
{
    if (!release(coach, coach->slots[slot].handle))
        return false;
    td_locate_forget(&coach->locator, coach->slots[slot].handle);
    coach->slots[slot] = (struct td_hill_slot){0};
    coach->plans[slot] = (struct td_slot_plan){0};
    return true;
}

/* A free slot, or that of the farthest hill when it lies farther than `within_m`; -1 none. */
static int slot_for(struct td_coach *coach, double within_m)
{
    int farthest = -1;
    for (int i = 0; i < TD_HILL_SLOTS; i++) {
        if (coach->slots[i].handle == 0)
            return i;
        if (in_force(coach, coach->slots[i].handle))
            continue;
        double away_m = distance_m(coach, coach->slots[i].hill);
        if (away_m > within_m) {
            within_m = away_m;
            farthest = i;
        }
    }
    return farthest >= 0 && empty_slot(coach, farthest) ? farthest : -1;
}

static bool makes_sense(const struct td_offer *offer)
{
    const struct td_hill *hill = offer->hill;
    return offer->handle != 0 && hill && hill->stations && hill->station_count >= 2 &&
           hill->station_count <= TD_HILL_STATIONS_MAX && hill->place_count <= TD_HILL_PLACES_MAX &&
           (hill->places || hill->place_count == 0) && isfinite(hill->crest_m) &&
           isfinite(hill->foot_m);
}

/* The same road in an older edition, or the same bytes under another handle: two of them would
 * compete for the truck. The one in force stays; else the newer edition takes its place. */
static bool takes_place_of_twin(struct td_coach *coach, const struct td_hill *hill)
{
    for (int i = 0; i < TD_HILL_SLOTS; i++) {
        const struct td_hill_slot *slot = &coach->slots[i];
        if (slot->handle == 0 || !slot->hill->id || !hill->id ||
            strcmp(slot->hill->id, hill->id) != 0)
            continue;
        if (in_force(coach, slot->handle) ||
            memcmp(slot->hill->hash, hill->hash, TD_HASH_BYTES) == 0)
            return false;
        return empty_slot(coach, i);
    }
    return true;
}

static void take_hill(struct td_coach *coach, const struct td_offer *offer,
                      struct td_output *output)
{
    if (!makes_sense(offer)) {
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_OFFER, NULL);
        return;
    }
    if (td_coach_slot(coach, offer->handle) >= 0)
        return;
    unrelease(&coach->asking, offer->handle);
    int slot = -1;
    if (takes_place_of_twin(coach, offer->hill))
        slot = slot_for(coach, distance_m(coach, offer->hill));
    if (slot < 0) {
        (void)release(coach, offer->handle);
        return;
    }
    coach->slots[slot] = (struct td_hill_slot){offer->handle, offer->hill};
    coach->plans[slot] = (struct td_slot_plan){0};
}

static void release_far(struct td_coach *coach)
{
    for (int i = 0; i < TD_HILL_SLOTS; i++)
        if (coach->slots[i].handle != 0 && !in_force(coach, coach->slots[i].handle) &&
            distance_m(coach, coach->slots[i].hill) > KEEP_WITHIN_M)
            (void)empty_slot(coach, i);
}

static void asking_failed(struct td_coach *coach)
{
    struct td_asking *asking = &coach->asking;
    unsigned doubled = asking->failures < RETRIES_DOUBLED ? asking->failures : RETRIES_DOUBLED;
    asking->failures++;
    asking->pending = false;
    asking->due = true;
    asking->not_before_ns = coach->now_ns + (RETRY_NS << doubled);
    td_damaged_failed(&coach->damaged, asking->failures);
}

void td_coach_offer(struct td_coach *coach, const struct td_offer *offer,
                    struct td_output *output)
{
    struct td_asking *asking = &coach->asking;
    if (offer->kind == TD_OFFER_NOTHING)
        return;
    bool of_ours = asking->pending && offer->want_serial == asking->last_serial;
    if (offer->kind == TD_OFFER_HILL) {
        /* Late, but pinned by the shell all the same: taken or let go like any other. */
        take_hill(coach, offer, output);
        return;
    }
    if (offer->kind == TD_OFFER_DAMAGED && offer->handle != 0) {
        td_damaged_offered(&coach->damaged, offer->handle);
        return;
    }
    if (!of_ours || (offer->kind != TD_OFFER_END && offer->kind != TD_OFFER_FAILED)) {
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_OFFER, NULL);
        return;
    }
    if (offer->kind == TD_OFFER_FAILED) {
        asking_failed(coach);
        return;
    }
    asking->pending = false;
    asking->failures = 0;
    td_damaged_answered(&coach->damaged);
    release_far(coach);
}

static bool want_due(const struct td_coach *coach)
{
    const struct td_asking *asking = &coach->asking;
    if (!coach->has_position || asking->pending || coach->now_ns < asking->not_before_ns)
        return false;
    return asking->due || !asking->asked_once ||
           td_geo_distance_m(asking->lat_deg, asking->lon_deg, coach->lat_deg, coach->lon_deg) >
               WANT_EVERY_M;
}

void td_coach_want(struct td_coach *coach, struct td_output *output)
{
    struct td_asking *asking = &coach->asking;
    if (asking->pending && coach->now_ns - asking->asked_ns >= ANSWER_LATEST_NS)
        asking_failed(coach);
    if (!asking->pending && asking->release_count > 0) {
        output->release_handle = asking->releases[0];
        unrelease(asking, asking->releases[0]);
    }
    /* One at a time: a question goes out only when nothing is left to let go. */
    if (asking->release_count > 0 || output->release_handle != 0 || !want_due(coach))
        return;
    asking->pending = true;
    asking->due = false;
    asking->asked_once = true;
    asking->asked_ns = coach->now_ns;
    asking->lat_deg = coach->lat_deg;
    asking->lon_deg = coach->lon_deg;
    asking->last_serial++;
    output->want = (struct td_want){asking->last_serial, coach->lat_deg, coach->lon_deg,
                                    WANT_RADIUS_M};
}

int64_t td_coach_want_next_ns(const struct td_coach *coach)
{
    const struct td_asking *asking = &coach->asking;
    if (asking->pending)
        return asking->asked_ns + ANSWER_LATEST_NS;
    if (asking->release_count > 0)
        return coach->now_ns;
    if (asking->due && coach->has_position)
        return asking->not_before_ns;
    return INT64_MAX;
}

double td_coach_next_grade_m(const struct td_coach *coach, const struct td_hill *hill)
{
    const struct td_station *end = &hill->stations[hill->station_count - 1];
    for (int i = 0; i < TD_HILL_SLOTS; i++) {
        const struct td_hill *next = coach->slots[i].hill;
        if (coach->slots[i].handle == 0 || next == hill || !next->coached)
            continue;
        const struct td_station *begin = &next->stations[0];
        if (td_geo_distance_m(end->lat_deg, end->lon_deg, begin->lat_deg, begin->lon_deg) <=
            ROADS_MEET_M)
            return end->along_m - hill->foot_m + next->crest_m;
    }
    return 0.0;
}
