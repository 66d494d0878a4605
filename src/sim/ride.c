/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A coach and its driver in virtual time, with the least of a shell between them. */
#include "sim/ride.h"

#include <math.h>
#include <string.h>

#include "talkdown/units.h"

/* What a shell takes for a hill or a plan; fixed, so that rides repeat. */
#define ANSWER_NS (20 * TD_NS_PER_MS)
#define MINUTE_NS (60 * TD_NS_PER_S)

enum { HANDLE = 1 };

static void step_coach(struct td_ride *ride);

bool td_ride_set_out(struct td_ride *ride, const struct td_hill *hill,
                     const struct td_setup *setup, const struct td_trip_options *options,
                     void *memory, struct td_plan_work *work)
{
    void (*watch)(void *, const struct td_ride *, const struct td_event *) = ride->watch;
    void *who = ride->who;
    memset(ride, 0, sizeof *ride);
    ride->watch = watch;
    ride->who = who;
    ride->setup = *setup;
    ride->work = work;
    ride->coach = td_coach_init(memory, setup, options->start_ns);
    if (!ride->coach)
        return false;
    td_trip_set_out(&ride->trip, hill, &ride->setup.rig, options);
    step_coach(ride);
    return true;
}

static void report(struct td_ride *ride, enum td_report_kind kind)
{
    struct td_input *input = &ride->input;
    if (input->report_count < TD_REPORTS_MAX)
        input->reports[input->report_count++] = (struct td_report){ride->prompt.serial, kind};
    if (kind != TD_REPORT_STARTED)
        ride->speaking = false;
}

static void count_begun(struct td_ride *ride, int64_t now_ns)
{
    struct td_ride_said *said = &ride->said;
    said->recent_ns[said->prompts % TD_RIDE_MINUTE_MAX] = now_ns;
    said->prompts++;
    said->by_id[ride->prompt.id]++;
    said->by_category[ride->prompt.category]++;
    unsigned within = 0;
    for (unsigned i = 0; i < said->prompts && i < TD_RIDE_MINUTE_MAX; i++)
        within += now_ns - said->recent_ns[i] < MINUTE_NS;
    said->minute_most = within > said->minute_most ? within : said->minute_most;
}

/* The voice's reports that fall due now; what was said to its end is heard. */
static void voice(struct td_ride *ride, int64_t now_ns)
{
    if (!ride->speaking)
        return;
    if (!ride->started && now_ns >= ride->starts_ns) {
        ride->started = true;
        count_begun(ride, now_ns);
        report(ride, TD_REPORT_STARTED);
    }
    if (ride->started && now_ns >= ride->ends_ns) {
        report(ride, TD_REPORT_ENDED);
        td_driver_hear(&ride->trip.driver, &ride->prompt, now_ns);
    }
}

/* One answer of a kind a step, as every shell does. */
static void answer(struct td_ride *ride, int64_t now_ns)
{
    struct td_input *input = &ride->input;
    if (ride->want_serial != 0 && now_ns >= ride->offer_ns) {
        input->offer = (struct td_offer){
            .kind = ride->offered ? TD_OFFER_END : TD_OFFER_HILL,
            .want_serial = ride->want_serial,
            .handle = ride->offered ? 0 : HANDLE,
            .hill = ride->offered ? NULL : ride->trip.truck.hill,
        };
        if (ride->offered)
            ride->want_serial = 0;
        ride->offered = !ride->offered;
    }
    if (ride->solving && now_ns >= ride->plan_ns) {
        input->plan_serial = ride->plan_serial;
        input->plan = &ride->plan;
        ride->has_plan = true;
        ride->solving = false;
    }
}

static void take_output(struct td_ride *ride, int64_t now_ns)
{
    const struct td_output *output = &ride->output;
    if (output->want.serial != 0) {
        ride->want_serial = output->want.serial;
        ride->offered = false;
        ride->offer_ns = now_ns + ANSWER_NS;
    }
    if (output->solve.serial != 0) {
        td_plan_solve(ride->trip.truck.hill, &ride->setup.rig, &output->solve.query, ride->work,
                      &ride->plan);
        ride->solving = true;
        ride->plan_serial = output->solve.serial;
        ride->plan_ns = now_ns + ANSWER_NS;
    }
    if (output->cut_serial != 0 && ride->speaking && ride->prompt.serial == output->cut_serial)
        report(ride, TD_REPORT_CUT);
    if (output->has_speak) {
        ride->speaking = true;
        ride->started = false;
        ride->prompt = output->speak;
        ride->starts_ns = now_ns + ride->setup.sound_delay_ms * TD_NS_PER_MS;
        ride->ends_ns =
            ride->starts_ns + ride->setup.speech_ms[output->speak.id] * TD_NS_PER_MS;
    }
    for (unsigned i = 0; ride->watch && i < output->event_count && i < TD_EVENTS_MAX; i++)
        ride->watch(ride->who, ride, &output->events[i]);
}

static void step_coach(struct td_ride *ride)
{
    int64_t now_ns = ride->trip.now_ns;
    ride->input.now_ns = now_ns;
    td_coach_step(ride->coach, &ride->input, &ride->output);
    memset(&ride->input, 0, sizeof ride->input);
    take_output(ride, now_ns);
}

/* On a descent the plan's target is judged; on a break the road's own ceiling is booked apart:
 * there a driver has signs to go by, as before the crest. */
static void judge(struct td_ride *ride)
{
    struct td_trip *trip = &ride->trip;
    double along_m = trip->truck.along_m, ceiling_mps = td_ride_ceiling_mps(ride);
    const struct td_plan_descent *descent =
        ceiling_mps > 0 ? td_plan_descent_at(&ride->plan, along_m) : NULL;
    if (!descent)
        return;
    if (along_m >= descent->from_m)
        td_trip_judge(trip, descent->from_m, ceiling_mps);
    else if (trip->seen.crest_ns != 0)
        ride->break_over_mps =
            fmax(ride->break_over_mps, trip->truck.speed_mps - ceiling_mps);
}

void td_ride_step(struct td_ride *ride)
{
    struct td_fix fix;
    bool has_fix = td_trip_step(&ride->trip, &fix);
    int64_t now_ns = ride->trip.now_ns;
    voice(ride, now_ns);
    answer(ride, now_ns);
    struct td_input *input = &ride->input;
    if (has_fix) {
        input->has_fix = true;
        input->fix = fix;
    }
    if (has_fix || input->report_count > 0 || input->offer.kind != TD_OFFER_NOTHING ||
        input->plan_serial != 0 || now_ns >= ride->output.next_wake_ns)
        step_coach(ride);
    judge(ride);
}

enum td_trip_end td_ride_to_end(struct td_ride *ride)
{
    enum td_trip_end end = TD_TRIP_GOING;
    while (end == TD_TRIP_GOING) {
        td_ride_step(ride);
        end = td_trip_ended(&ride->trip);
    }
    return end;
}

double td_ride_ceiling_mps(const struct td_ride *ride)
{
    if (!ride->has_plan || !ride->plan.coached || !ride->plan.safe)
        return 0;
    return td_plan_target_at(&ride->plan, ride->trip.truck.along_m);
}
