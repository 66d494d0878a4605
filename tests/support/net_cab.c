/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A small shell around the coach: what it asks is answered at the next step. */
#include "support/net_cab.h"

#include <stdlib.h>
#include <string.h>

#include "support/rigs.h"
#include "talkdown/geo.h"
#include "talkdown/units.h"

#define ANSWER_NS (20 * TD_NS_PER_MS)
#define SPEECH_MS 2000
#define DELAY_MS  100

static void set_up(struct net_cab *cab)
{
    cab->setup = (struct td_setup){.rig = test_rig(),
                                   .rig_is_set = true,
                                   .load_confirmed = true,
                                   .credit = TD_CREDIT_CAUTIOUS,
                                   .ambient_c = 20,
                                   .brakes_from_c = 60,
                                   .sound_delay_ms = DELAY_MS};
    for (int i = 0; i < TD_PROMPT_IDS; i++)
        cab->setup.speech_ms[i] = SPEECH_MS;
}

void net_cab_begin(struct net_cab *cab, const struct net *net, int64_t now_ns)
{
    if (cab->memory == NULL) {
        cab->memory = malloc(td_coach_size());
        cab->work = calloc(1, sizeof *cab->work);
        set_up(cab);
    }
    if (cab->memory == NULL || cab->work == NULL)
        abort();
    cab->net = net;
    cab->setup.hills_on_board = (uint32_t)net->hill_count;
    cab->coach = td_coach_init(cab->memory, &cab->setup, now_ns);
    if (cab->coach == NULL)
        abort();
    memset(&cab->input, 0, sizeof cab->input);
    cab->now_ns = now_ns;
    cab->output.next_wake_ns = now_ns;
    cab->want.serial = cab->solve.serial = 0;
    cab->speaking = cab->cut = false;
}

/* The next hill of the want in hand whose road comes within its radius, or the end. */
static void offer(struct net_cab *cab)
{
    struct td_offer *offer = &cab->input.offer;
    offer->want_serial = cab->want.serial;
    offer->kind = TD_OFFER_END;
    for (; cab->offer_next < cab->net->hill_count; cab->offer_next++) {
        const struct td_hill *hill = &cab->net->hills[cab->offer_next].hill;
        for (size_t i = 0; i < hill->station_count; i += 10) {
            if (td_geo_distance_m(hill->stations[i].lat_deg, hill->stations[i].lon_deg,
                                  cab->want.lat_deg, cab->want.lon_deg) > cab->want.radius_m)
                continue;
            *offer = (struct td_offer){TD_OFFER_HILL, cab->want.serial,
                                       (uint32_t)++cab->offer_next, hill};
            return;
        }
    }
    cab->want.serial = 0;
}

static void solve(struct net_cab *cab)
{
    const struct td_hill *hill = &cab->net->hills[cab->solve.handle - 1].hill;
    td_plan_solve(hill, &cab->setup.rig, &cab->solve.query, cab->work, &cab->plan);
    cab->input.plan_serial = cab->solve.serial;
    cab->input.plan = &cab->plan;
    cab->solve.serial = 0;
}

static void report(struct net_cab *cab, enum td_report_kind kind)
{
    cab->input.reports[cab->input.report_count++] = (struct td_report){cab->serial, kind};
}

static void voice(struct net_cab *cab)
{
    if (!cab->speaking)
        return;
    if (cab->cut) {
        report(cab, TD_REPORT_CUT);
        cab->speaking = cab->cut = false;
        return;
    }
    if (!cab->started && cab->now_ns >= cab->start_ns) {
        cab->started = true;
        report(cab, TD_REPORT_STARTED);
    }
    if (cab->now_ns >= cab->end_ns) {
        cab->speaking = false;
        report(cab, TD_REPORT_ENDED);
    }
}

static void take_output(struct net_cab *cab, int64_t now_ns)
{
    memset(&cab->input, 0, sizeof cab->input);
    const struct td_output *output = &cab->output;
    if (output->want.serial != 0) {
        cab->want = output->want;
        cab->offer_next = 0;
    }
    if (output->solve.serial != 0)
        cab->solve = output->solve;
    if (output->cut_serial != 0 && cab->speaking && output->cut_serial == cab->serial)
        cab->cut = true;
    if (output->has_speak) {
        cab->speaking = true;
        cab->started = false;
        cab->serial = output->speak.serial;
        cab->start_ns = now_ns + DELAY_MS * TD_NS_PER_MS;
        cab->end_ns = cab->start_ns + SPEECH_MS * TD_NS_PER_MS;
    }
}

static void step(struct net_cab *cab, int64_t now_ns)
{
    cab->now_ns = now_ns;
    cab->input.now_ns = now_ns;
    if (cab->want.serial != 0)
        offer(cab);
    if (cab->solve.serial != 0)
        solve(cab);
    voice(cab);
    if (cab->stepping != NULL)
        cab->stepping(cab->who, cab);
    td_coach_step(cab->coach, &cab->input, &cab->output);
    if (cab->stepped != NULL)
        cab->stepped(cab->who, cab);
    take_output(cab, now_ns);
}

static int64_t next_ns(const struct net_cab *cab)
{
    int64_t next = cab->output.next_wake_ns;
    int64_t soon = cab->now_ns + ANSWER_NS;
    if ((cab->want.serial != 0 || cab->solve.serial != 0 || cab->cut) && soon < next)
        next = soon;
    if (cab->speaking) {
        int64_t due = cab->started ? cab->end_ns : cab->start_ns;
        next = due < next ? due : next;
    }
    return next > cab->now_ns ? next : cab->now_ns + TD_NS_PER_MS;
}

void net_cab_run_to(struct net_cab *cab, int64_t until_ns)
{
    for (int64_t at_ns = next_ns(cab); at_ns <= until_ns; at_ns = next_ns(cab))
        step(cab, at_ns);
}

void net_cab_fix(struct net_cab *cab, const struct td_fix *fix, int64_t now_ns)
{
    net_cab_run_to(cab, now_ns - 1);
    cab->input.has_fix = true;
    cab->input.fix = *fix;
    cab->input.fix.received_ns = now_ns;
    step(cab, now_ns);
}

void net_cab_free(struct net_cab *cab)
{
    free(cab->memory);
    free(cab->work);
    memset(cab, 0, sizeof *cab);
}
