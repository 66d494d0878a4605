/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The judge of runaways: the truth of each simulation step, and what was said in it. */
#include "support/runaway_drive.h"

#include "core/coach_state.h"

#define GAINS_MPS2     0.2
#define OVER_MPH       10.0
#define STEEP_RATIO    0.06
#define FOOT_M         400.0
#define BLIND_S        3.0
/* A plan that says no has no ceiling: that of the core stands for one. */
#define REFUSED_MPH    20.0

/* The ceiling as the coach has it at the true place; 0 none. */
static double ceiling_mps(const struct td_ride *ride)
{
    const struct td_truck *truck = &ride->trip.truck;
    bool on_grade = truck->along_m >= truck->hill->crest_m && truck->along_m < truck->hill->foot_m;
    if (!on_grade || !ride->has_plan || !ride->plan.coached)
        return 0;
    return ride->plan.safe ? td_ride_ceiling_mps(ride) : td_mps_from_mph(REFUSED_MPH);
}

/* What it would gain with all that is left of its brakes. */
static double gains_braked_mps2(const struct td_truck *truck)
{
    return (td_truck_pull_n(truck, truck->gear, truck->stage) - td_truck_brake_most_n(truck)) /
           td_truck_inertia_kg(truck, truck->gear);
}

static bool runs_away(const struct td_truck *truck, double ceiling)
{
    return ceiling > 0 && truck->speed_mps >= ceiling + td_mps_from_mph(OVER_MPH) &&
           td_truck_downgrade(truck) >= STEEP_RATIO && gains_braked_mps2(truck) >= GAINS_MPS2;
}

static void watch_step(void *who, const struct td_ride *ride)
{
    struct runaway_seen *seen = who;
    const struct td_truck *truck = &ride->trip.truck;
    int64_t now_ns = ride->trip.now_ns;
    seen->ceiling_mps = ceiling_mps(ride);
    if (truck->speed_mps <= seen->ceiling_mps)
        seen->warned_ns = 0;
    if (!runs_away(truck, seen->ceiling_mps)) {
        seen->held_not_ns = 0;
    } else if (seen->held_not_ns == 0) {
        seen->held_not_ns = now_ns;
        seen->held_not_downgrade = td_truck_downgrade(truck);
    }
    if (!ride->coach->visit.runaway.on)
        seen->silent_ns = 0;
    seen->fix_ns = ride->coach->speeds.count > 0 ? ride->coach->speeds.at_ns[0] : 0;
    if (seen->held_not_ns != 0 && !seen->called && td_s_from_ns(now_ns - seen->fix_ns) > BLIND_S)
        seen->blind = true;
    if (!seen->ran_away && seen->held_not_ns != 0 &&
        td_s_from_ns(now_ns - seen->held_not_ns) >= RUNAWAY_LASTS_S &&
        truck->along_m < truck->hill->foot_m - FOOT_M) {
        seen->ran_away = true;
        seen->from_ns = seen->held_not_ns;
        seen->downgrade = seen->held_not_downgrade;
    }
    for (unsigned i = 0; i < seen->call_count; i++)
        if (seen->calls[i].lead_s < 0 && truck->along_m >= seen->calls[i].at_m)
            seen->calls[i].lead_s = td_s_from_ns(now_ns - seen->calls[i].end_ns);
}

static void hear(struct runaway_seen *seen, const struct td_ride *ride,
                 const struct td_prompt *prompt)
{
    if (prompt->id == TD_PROMPT_OVER_SPEED && seen->warned_ns == 0)
        seen->warned_ns = ride->trip.now_ns;
    if ((prompt->id == TD_PROMPT_NO_GO || prompt->id == TD_PROMPT_NO_GO_ICE) &&
        seen->refused_ns == 0)
        seen->refused_ns = ride->trip.now_ns;
}

int64_t runaway_free_ns(const struct runaway_seen *seen)
{
    int64_t acts_ns = seen->told_ns + (int64_t)(RUNAWAY_REACTS_S * 1e9);
    return seen->told_ns != 0 && acts_ns > seen->from_ns ? acts_ns : seen->from_ns;
}

static void danger_begins(struct runaway_seen *seen, const struct td_ride *ride,
                          const struct td_prompt *prompt)
{
    const struct td_truck *truck = &ride->trip.truck;
    if (!seen->called) {
        seen->called = true;
        seen->called_ns = ride->trip.now_ns;
        seen->told_ns = ride->plan.safe ? seen->warned_ns : seen->refused_ns;
        seen->called_m = truck->along_m;
        seen->called_over_mph = td_mph_from_mps(truck->speed_mps - seen->ceiling_mps);
        seen->false_call = gains_braked_mps2(truck) <= 0;
    }
    if (seen->silent_ns != 0 && prompt->id != TD_PROMPT_TAKE_LANE)
        seen->pause_most_s =
            fmax(seen->pause_most_s, td_s_from_ns(ride->trip.now_ns - seen->silent_ns));
    if (prompt->place >= 0) {
        const struct td_place *place = &truck->hill->places[prompt->place];
        seen->closed += (place->has & TD_PLACE_CLOSED) != 0;
        seen->behind += place->at_m <= truck->along_m;
    }
}

static void last_call_ends(struct runaway_seen *seen, const struct td_ride *ride,
                           const struct td_prompt *prompt)
{
    const struct td_truck *truck = &ride->trip.truck;
    if (seen->call_count < RUNAWAY_CALLS_MAX)
        seen->calls[seen->call_count++] = (struct runaway_last_call){
            truck->along_m, truck->hill->places[prompt->place].at_m, -1, ride->trip.now_ns};
}

static void watch_event(void *who, const struct td_ride *ride, const struct td_event *event)
{
    struct runaway_seen *seen = who;
    const struct td_prompt *prompt = &event->prompt;
    if (event->kind == TD_EVENT_STARTED && prompt->category == TD_DANGER)
        danger_begins(seen, ride, prompt);
    if (event->kind == TD_EVENT_STARTED && prompt->category < TD_DANGER &&
        prompt->hill_handle != 0)
        seen->lesser += ride->coach->visit.runaway.on;
    if (event->kind == TD_EVENT_SPOKEN)
        hear(seen, ride, prompt);
    if (event->kind != TD_EVENT_SPOKEN || prompt->category != TD_DANGER)
        return;
    seen->silent_ns = prompt->id == TD_PROMPT_TAKE_LANE ? 0 : ride->trip.now_ns;
    if (prompt->id == TD_PROMPT_TAKE_LANE)
        last_call_ends(seen, ride, prompt);
}

struct loop_outcome runaway_drive(struct loop *loop, uint64_t seed,
                                  const struct loop_choice *choice, struct runaway_seen *seen)
{
    *seen = (struct runaway_seen){0};
    loop->step = watch_step;
    loop->event = watch_event;
    loop->who = seen;
    struct loop_outcome outcome = loop_drive(loop, seed, choice);
    loop->step = NULL;
    loop->event = NULL;
    return outcome;
}
