/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Arbitration of prompts: order, pre-emption, spacing, expiry, and a voice that does not answer. */
#include "core/queue.h"

#include "talkdown/units.h"

/* The voice must have begun within this time, measured delay on top. */
#define START_LATEST_NS   (2 * TD_NS_PER_S)
/* It must have ended within this time after its measured length. */
#define END_LATEST_NS     (4 * TD_NS_PER_S)
/* A voice asked to stop is taken as silent after this: longer than its process needs to be found
 * dead and killed, so that it is never spoken over. */
#define STOP_LATEST_NS    (2500 * TD_NS_PER_MS)
/* Pause after an unanswered warning; with the sound's own delay it stays within 3 s. */
#define WARNING_PAUSE_NS  (2500 * TD_NS_PER_MS)
#define BACK_OFF_NS       (500 * TD_NS_PER_MS)
#define TRIES_MOST        6
#define CUTS_MOST         3
/* What is said in that pause must leave the next warning within the 3 s. */
#define PAUSE_STRETCH_NS  (400 * TD_NS_PER_MS)
#define PAUSE_GAP_NS      (200 * TD_NS_PER_MS)
#define PAUSE_BEGINS_NS   (500 * TD_NS_PER_MS)
#define GAINING_FAST_MPS2 0.3
#define FIRST_EXPIRY_NS   (20 * TD_NS_PER_S)

/* Silence kept before a prompt, by its category: what is not urgent must not chatter. */
static int64_t gap_ns(enum td_category category)
{
    static const int64_t gaps_ns[TD_CATEGORIES] = {
        [TD_NOTICE] = 2000 * TD_NS_PER_MS,
        [TD_ADVICE] = 1000 * TD_NS_PER_MS,
        [TD_CAUTION] = 500 * TD_NS_PER_MS,
        [TD_WARNING] = 0,
        [TD_DANGER] = 0,
    };
    return gaps_ns[category];
}

/* Within a category; the first goes first. */
static int rank(enum td_prompt_id id)
{
    static const enum td_prompt_id order[] = {
        TD_PROMPT_TAKE_LANE, TD_PROMPT_RUNAWAY_LANE, TD_PROMPT_NO_LANE_AHEAD,
        TD_PROMPT_SOUND_BACK, TD_PROMPT_STOP_AT, TD_PROMPT_BRAKES_HOT, TD_PROMPT_OVER_SPEED,
        TD_PROMPT_ENGINE_OVER_SPEED, TD_PROMPT_NO_GO, TD_PROMPT_NO_GO_ICE,
        TD_PROMPT_POSITION_LOST, TD_PROMPT_POSITION_BACK, TD_PROMPT_CURVE, TD_PROMPT_LIMIT,
        TD_PROMPT_BRAKES_HEATING, TD_PROMPT_SPEED_BUILDING, TD_PROMPT_BRAKES_STILL_HOT,
        TD_PROMPT_FALSE_BOTTOM, TD_PROMPT_STEEPER, TD_PROMPT_SLOW_FOR_GRADE, TD_PROMPT_GEAR,
        TD_PROMPT_ENGINE_BRAKE, TD_PROMPT_BRAKE_CHECK_AHEAD, TD_PROMPT_BRAKE_CHECK_PASSED,
        TD_PROMPT_CHAIN_AREA, TD_PROMPT_HOT_PARKING, TD_PROMPT_GRADE_NOT_ON_FILE,
        TD_PROMPT_HILL_DAMAGED, TD_PROMPT_LIBRARY_DAMAGED, TD_PROMPT_BRIEFING,
        TD_PROMPT_CEILING, TD_PROMPT_ESCAPE_LANE, TD_PROMPT_FLASHERS_ON,
        TD_PROMPT_FLASHERS_OFF, TD_PROMPT_HILL_AHEAD, TD_PROMPT_BOTTOM,
        TD_PROMPT_BOTTOM_AHEAD, TD_PROMPT_LAST_ESCAPE_LANE, TD_PROMPT_READY,
        TD_PROMPT_RIG_NOT_SET, TD_PROMPT_LOAD_NOT_CONFIRMED, TD_PROMPT_SET_FOR,
        TD_PROMPT_ROAD_SET, TD_PROMPT_ASK_LOAD, TD_PROMPT_ASK_ROAD, TD_PROMPT_ASK_ENGINE_BRAKE,
        TD_PROMPT_ASK_NO_ENGINE_BRAKE, TD_PROMPT_MENU_CLOSED, TD_PROMPT_LIBRARY_REFUSED,
        TD_PROMPT_NOTHING_TO_REPEAT,
    };
    _Static_assert(sizeof order / sizeof *order == TD_PROMPT_IDS, "every prompt has its rank");
    int at = 0;
    while (at < TD_PROMPT_IDS - 1 && order[at] != id)
        at++;
    return at;
}

/* "Sound is back" comes before whatever waited for it, warnings excepted. */
static enum td_category weight(const struct td_prompt *prompt)
{
    return prompt->id == TD_PROMPT_SOUND_BACK ? TD_CAUTION : prompt->category;
}

static bool goes_before(const struct td_prompt *a, const struct td_prompt *b)
{
    if (weight(a) != weight(b))
        return weight(a) > weight(b);
    if (rank(a->id) != rank(b->id))
        return rank(a->id) < rank(b->id);
    return a->serial < b->serial;
}

void td_event_add(struct td_output *output, enum td_event_kind kind, enum td_why why,
                  int32_t value, const struct td_prompt *prompt)
{
    if (output->event_count >= TD_EVENTS_MAX) {
        output->events_lost++;
        return;
    }
    struct td_event *event = &output->events[output->event_count++];
    *event = (struct td_event){.kind = kind, .why = why, .value = value};
    if (prompt)
        event->prompt = *prompt;
}

void td_queue_init(struct td_queue *queue)
{
    *queue = (struct td_queue){.free_ns = INT64_MIN, .sound_up = true};
}

static void remove_waiting(struct td_queue *queue, unsigned at)
{
    for (unsigned i = at; i + 1 < queue->count; i++)
        queue->waiting[i] = queue->waiting[i + 1];
    queue->count--;
}

static void drop_waiting(struct td_queue *queue, unsigned at, enum td_event_kind fate,
                         enum td_why why, struct td_output *output)
{
    td_event_add(output, fate, why, 0, &queue->waiting[at].prompt);
    remove_waiting(queue, at);
}

void td_queue_clear(struct td_queue *queue, enum td_prompt_id id, struct td_output *output)
{
    for (unsigned i = queue->count; i-- > 0;)
        if (queue->waiting[i].prompt.id == id)
            drop_waiting(queue, i, TD_EVENT_DROPPED, TD_WHY_CLEARED, output);
}

static void ask_cut(struct td_queue *queue, const struct td_moment *moment, enum td_why why,
                    struct td_output *output)
{
    if (queue->flight.cut_ns != 0 || output->cut_serial != 0)
        return;
    queue->flight.cut_ns = td_cue_stamp(moment->now_ns);
    queue->flight.cut_why = why;
    output->cut_serial = queue->flight.prompt.serial;
}

void td_queue_clear_menu(struct td_queue *queue, const struct td_moment *moment,
                         struct td_output *output)
{
    for (unsigned i = queue->count; i-- > 0;)
        if (td_prompt_is_menu(queue->waiting[i].prompt.id))
            drop_waiting(queue, i, TD_EVENT_DROPPED, TD_WHY_CLEARED, output);
    if (queue->flight.busy && td_prompt_is_menu(queue->flight.prompt.id))
        ask_cut(queue, moment, TD_WHY_CLEARED, output);
}

static bool same_thing(const struct td_prompt *a, const struct td_prompt *b)
{
    return a->id == b->id && a->place == b->place && a->hill_handle == b->hill_handle;
}

static void make_room(struct td_queue *queue, struct td_output *output)
{
    unsigned least = 0;
    for (unsigned i = 1; i < queue->count; i++)
        if (goes_before(&queue->waiting[least].prompt, &queue->waiting[i].prompt))
            least = i;
    drop_waiting(queue, least, TD_EVENT_DROPPED, TD_WHY_OUTRANKED, output);
}

/* `history` carries the losses and cuts of the serial before. */
static void add_anew(struct td_queue *queue, const struct td_moment *moment,
                     const struct td_prompt *prompt, enum td_why why, struct td_waiting history,
                     struct td_output *output)
{
    for (unsigned i = 0; i < queue->count; i++)
        if (same_thing(&queue->waiting[i].prompt, prompt))
            return;
    /* The same warning over itself would only stutter; its repeat comes after its pause. */
    if (prompt->id == TD_PROMPT_OVER_SPEED && queue->flight.busy &&
        same_thing(&queue->flight.prompt, prompt))
        return;
    if (queue->count == TD_QUEUE_MAX)
        make_room(queue, output);
    struct td_waiting *waiting = &queue->waiting[queue->count++];
    *waiting = history;
    waiting->fill = TD_FILL_HOLD;
    waiting->answers = why == TD_WHY_COMMAND && prompt->id != TD_PROMPT_LIBRARY_REFUSED;
    waiting->prompt = *prompt;
    waiting->prompt.serial = ++queue->last_serial;
    waiting->prompt.decided_ns = moment->now_ns;
    waiting->prompt.expires_ns = moment->now_ns + FIRST_EXPIRY_NS;
    td_event_add(output, TD_EVENT_DECIDED, why, 0, &waiting->prompt);
}

void td_queue_add(struct td_queue *queue, const struct td_moment *moment,
                  const struct td_prompt *prompt, enum td_why why, struct td_output *output)
{
    add_anew(queue, moment, prompt, why, (struct td_waiting){0}, output);
}

bool td_queue_has(const struct td_queue *queue, enum td_prompt_id id)
{
    for (unsigned i = 0; i < queue->count; i++)
        if (queue->waiting[i].prompt.id == id)
            return true;
    return queue->flight.busy && queue->flight.prompt.id == id;
}

static void remember_spoken(struct td_queue *queue, const struct td_prompt *prompt)
{
    unsigned keep = queue->spoken_count < TD_SPOKEN_MAX ? queue->spoken_count : TD_SPOKEN_MAX - 1;
    for (unsigned i = keep; i > 0; i--)
        queue->spoken[i] = queue->spoken[i - 1];
    queue->spoken[0] = *prompt;
    queue->spoken_count = keep + 1;
}

/* The voice is silent again: the prompt's last fate, and the same thing anew if it was robbed. */
static void land(struct td_queue *queue, const struct td_moment *moment, struct td_visit *visit,
                 enum td_event_kind fate, enum td_why why, struct td_output *output)
{
    struct td_flight flight = queue->flight;
    queue->flight = (struct td_flight){0};
    queue->free_ns = moment->now_ns;
    td_event_add(output, fate, why, 0, &flight.prompt);
    if (fate == TD_EVENT_SPOKEN)
        td_cue_spoken(moment, visit, &flight.prompt);
    bool robbed = fate == TD_EVENT_LOST || (fate == TD_EVENT_CUT && why == TD_WHY_LATE);
    bool lost = robbed && !(flight.started && why == TD_WHY_LATE); /* cut late: never begun */
    bool outranked = fate == TD_EVENT_CUT && why == TD_WHY_OUTRANKED;
    struct td_waiting history = {.tries = flight.tries + (lost ? 1u : 0u),
                                 .cuts = flight.cuts + (outranked ? 1u : 0u)};
    if (lost)
        history.not_before_ns = moment->now_ns + (BACK_OFF_NS << flight.tries);
    enum td_why gone;
    if ((lost || outranked) && history.tries < TRIES_MOST && history.cuts < CUTS_MOST &&
        td_cue_fill(moment, visit, &flight.prompt, &gone) != TD_FILL_GONE)
        add_anew(queue, moment, &flight.prompt, why, history, output);
    else if (flight.prompt.id == TD_PROMPT_OVER_SPEED)
        visit->over.next_ns = moment->now_ns + WARNING_PAUSE_NS;
}

void td_queue_report(struct td_queue *queue, const struct td_moment *moment,
                     struct td_visit *visit, const struct td_report *report,
                     struct td_output *output)
{
    struct td_flight *flight = &queue->flight;
    if (!flight->busy || flight->prompt.serial != report->serial) {
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_REPORT, NULL);
        return;
    }
    switch (report->kind) {
    case TD_REPORT_STARTED:
        if (flight->started)
            return;
        flight->started = true;
        flight->started_ns = moment->now_ns;
        queue->spoke_once = true;
        remember_spoken(queue, &flight->prompt);
        td_event_add(output, TD_EVENT_STARTED, TD_WHY_NONE, 0, &flight->prompt);
        return;
    case TD_REPORT_ENDED:
        if (!flight->started)
            remember_spoken(queue, &flight->prompt);
        queue->spoke_once = true;
        land(queue, moment, visit, TD_EVENT_SPOKEN, TD_WHY_NONE, output);
        return;
    case TD_REPORT_CUT:
        /* Nobody here asked for it: the sound went away. */
        if (flight->cut_ns == 0)
            land(queue, moment, visit, TD_EVENT_LOST, TD_WHY_SOUND, output);
        else
            land(queue, moment, visit, TD_EVENT_CUT, flight->cut_why, output);
        return;
    case TD_REPORT_LOST:
        land(queue, moment, visit, TD_EVENT_LOST, TD_WHY_SOUND, output);
        return;
    case TD_REPORT_DROPPED:
        land(queue, moment, visit, TD_EVENT_DROPPED, TD_WHY_LATE, output);
        return;
    }
    td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_REPORT, NULL);
}

static void refresh(struct td_queue *queue, const struct td_moment *moment,
                    const struct td_visit *visit, struct td_output *output)
{
    unsigned at = 0;
    while (at < queue->count) {
        struct td_waiting *waiting = &queue->waiting[at];
        enum td_why why;
        waiting->fill = td_cue_fill(moment, visit, &waiting->prompt, &why);
        if (waiting->fill == TD_FILL_GONE)
            drop_waiting(queue, at, why == TD_WHY_STALE ? TD_EVENT_EXPIRED : TD_EVENT_DROPPED, why,
                         output);
        else if (waiting->prompt.expires_ns <= moment->now_ns)
            drop_waiting(queue, at, TD_EVENT_EXPIRED, TD_WHY_LATE, output);
        else
            at++;
    }
}

static int64_t flight_limit_ns(const struct td_flight *flight, const struct td_moment *moment)
{
    double say_s = td_cue_say_s(moment, flight->prompt.id);
    int64_t delay_ns = (int64_t)moment->setup->sound_delay_ms * TD_NS_PER_MS;
    if (flight->cut_ns != 0)
        return flight->cut_ns + STOP_LATEST_NS;
    if (!flight->started)
        return flight->issued_ns + START_LATEST_NS + (delay_ns > 0 ? delay_ns : 0);
    return flight->started_ns + (int64_t)(say_s * 1e9) + END_LATEST_NS;
}

/* A voice past its limit is told to stop; one that does not answer that either counts as silent. */
static void watch_flight(struct td_queue *queue, const struct td_moment *moment,
                         struct td_visit *visit, struct td_output *output)
{
    struct td_flight *flight = &queue->flight;
    if (moment->now_ns >= flight_limit_ns(flight, moment)) {
        if (flight->cut_ns == 0) {
            ask_cut(queue, moment, TD_WHY_LATE, output);
        } else {
            bool asked_late = flight->cut_why == TD_WHY_LATE;
            land(queue, moment, visit, asked_late ? TD_EVENT_LOST : TD_EVENT_CUT, flight->cut_why,
                 output);
            return;
        }
    }
    if (td_cue_answered(moment, visit, &flight->prompt))
        ask_cut(queue, moment, TD_WHY_CLEARED, output);
}

static void issue(struct td_queue *queue, const struct td_moment *moment, struct td_visit *visit,
                  unsigned at, struct td_output *output)
{
    struct td_waiting waiting = queue->waiting[at];
    remove_waiting(queue, at);
    td_cue_issued(moment, visit, &waiting.prompt);
    queue->flight = (struct td_flight){.busy = true,
                                       .prompt = waiting.prompt,
                                       .tries = waiting.tries, .cuts = waiting.cuts,
                                       .issued_ns = moment->now_ns};
    output->has_speak = true;
    output->speak = waiting.prompt;
    td_event_add(output, TD_EVENT_ISSUED, TD_WHY_NONE, 0, &waiting.prompt);
}

/* The pause between two warnings of the same excursion is running. */
static bool warning_pauses(const struct td_moment *moment, const struct td_visit *visit)
{
    const struct td_over *over = &visit->over;
    return over->over && over->warned && !over->muted && moment->now_ns < over->next_ns;
}

static int64_t gap_ends_ns(const struct td_queue *queue, const struct td_moment *moment,
                           const struct td_visit *visit, const struct td_waiting *waiting)
{
    if (queue->free_ns == INT64_MIN)
        return INT64_MIN;
    int64_t silence_ns = waiting->answers ? 0 : gap_ns(waiting->prompt.category);
    if (silence_ns > PAUSE_GAP_NS && warning_pauses(moment, visit))
        silence_ns = PAUSE_GAP_NS;
    return queue->free_ns + silence_ns;
}

/* Lesser prompts begin at the start of the pause between warnings or fit into what is left of it.
 * Else each would be cut off in mid-word by the next warning, and start again in the next pause. */
static bool fits_pause(const struct td_queue *queue, const struct td_moment *moment,
                       const struct td_visit *visit, const struct td_prompt *prompt)
{
    if (prompt->category >= TD_WARNING || !warning_pauses(moment, visit))
        return true;
    int64_t say_ns = (int64_t)(td_cue_say_s(moment, prompt->id) * 1e9);
    return moment->now_ns <= queue->free_ns + PAUSE_BEGINS_NS ||
           moment->now_ns + say_ns <= visit->over.next_ns + PAUSE_STRETCH_NS;
}

static int best_waiting(const struct td_queue *queue, const struct td_moment *moment,
                        const struct td_visit *visit)
{
    int best = -1;
    for (unsigned i = 0; i < queue->count; i++) {
        const struct td_waiting *waiting = &queue->waiting[i];
        if (waiting->fill != TD_FILL_READY || waiting->not_before_ns > moment->now_ns ||
            !fits_pause(queue, moment, visit, &waiting->prompt))
            continue;
        if (best < 0 || goes_before(&waiting->prompt, &queue->waiting[best].prompt))
            best = (int)i;
    }
    return best;
}

static int64_t finish_ns(const struct td_flight *flight, const struct td_moment *moment)
{
    double say_s = td_cue_say_s(moment, flight->prompt.id);
    return flight->issued_ns + (int64_t)(say_s * 1e9) + PAUSE_STRETCH_NS;
}

/* A warning said before in this excursion lets a lesser prompt come to its end (an escape lane
 * matters most to one who is over speed), unless the truck gains fast. The first one cuts. */
static bool lets_finish(const struct td_moment *moment, const struct td_visit *visit,
                        const struct td_prompt *next, const struct td_flight *flight)
{
    return next->id == TD_PROMPT_OVER_SPEED && visit->over.next_ns != 0 &&
           moment->accel_mps2 < GAINING_FAST_MPS2 && moment->now_ns < finish_ns(flight, moment);
}

void td_queue_step(struct td_queue *queue, const struct td_moment *moment,
                   struct td_visit *visit, struct td_output *output)
{
    if (queue->flight.busy)
        watch_flight(queue, moment, visit, output);
    refresh(queue, moment, visit, output);
    int best = best_waiting(queue, moment, visit);
    if (best < 0 || !queue->sound_up)
        return;
    const struct td_prompt *next = &queue->waiting[best].prompt;
    if (queue->flight.busy) {
        if (weight(next) > weight(&queue->flight.prompt) &&
            !lets_finish(moment, visit, next, &queue->flight))
            ask_cut(queue, moment, TD_WHY_OUTRANKED, output);
    } else if (output->cut_serial == 0 &&
               moment->now_ns >= gap_ends_ns(queue, moment, visit, &queue->waiting[best])) {
        issue(queue, moment, visit, (unsigned)best, output);
    }
}

void td_queue_quiet(struct td_queue *queue, const struct td_moment *moment,
                    struct td_visit *visit, struct td_output *output)
{
    struct td_flight *flight = &queue->flight;
    if (visit->over.over && visit->over.warned)
        visit->over.muted = true;
    if (!flight->busy || flight->prompt.category == TD_DANGER)
        return;
    if (flight->prompt.id == TD_PROMPT_SLOW_FOR_GRADE)
        visit->said |= TD_SAID_SLOW_AGAIN;
    for (unsigned i = queue->count; i-- > 0;)
        if (same_thing(&queue->waiting[i].prompt, &flight->prompt))
            drop_waiting(queue, i, TD_EVENT_DROPPED, TD_WHY_QUIET, output);
    if (flight->cut_ns != 0)
        flight->cut_why = TD_WHY_QUIET;
    ask_cut(queue, moment, TD_WHY_QUIET, output);
}

int64_t td_queue_next_ns(const struct td_queue *queue, const struct td_moment *moment,
                         const struct td_visit *visit)
{
    int64_t next_ns = INT64_MAX;
    if (queue->flight.busy)
        next_ns = flight_limit_ns(&queue->flight, moment);
    for (unsigned i = 0; i < queue->count; i++) {
        const struct td_waiting *waiting = &queue->waiting[i];
        int64_t at_ns = waiting->prompt.expires_ns;
        int64_t gap_end_ns = gap_ends_ns(queue, moment, visit, waiting);
        if (waiting->not_before_ns > gap_end_ns)
            gap_end_ns = waiting->not_before_ns;
        if (!queue->flight.busy && waiting->fill == TD_FILL_READY && queue->sound_up &&
            gap_end_ns < at_ns)
            at_ns = gap_end_ns;
        if (at_ns < next_ns)
            next_ns = at_ns;
    }
    /* A warning may have to cut what it let finish, and lesser ones wait for its pause to end. */
    if (queue->flight.busy && finish_ns(&queue->flight, moment) > moment->now_ns &&
        finish_ns(&queue->flight, moment) < next_ns)
        next_ns = finish_ns(&queue->flight, moment);
    if (visit->over.over && visit->over.next_ns > moment->now_ns && visit->over.next_ns < next_ns)
        next_ns = visit->over.next_ns;
    return next_ns;
}
