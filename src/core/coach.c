/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One step of the coach: what came in, where the truck is, what the moment calls for, and at most
 * one thing to say or to cut. */
#include "core/coach_state.h"

#include <math.h>

#include "talkdown/units.h"

/* On a hill the coach looks again this often between fixes, since marks fall between them. */
#define LOOK_EVERY_NS (250 * TD_NS_PER_MS)
#define MOVING_MPS    0.5
/* What it is set for is not repeated on the next hill within this time. */
#define SET_APART_NS  (300 * TD_NS_PER_S)

size_t td_coach_size(void)
{
    return sizeof(struct td_coach);
}

struct td_coach *td_coach_init(void *memory, const struct td_setup *setup, int64_t now_ns)
{
    struct td_coach *coach = memory;
    struct td_problem problem;
    if (setup->rig_is_set && td_rig_check(&setup->rig, &problem) != TD_OK)
        return NULL;
    *coach = (struct td_coach){.setup = *setup, .now_ns = now_ns, .heat_ns = now_ns};
    coach->stage_most = setup->rig_is_set ? (int)setup->rig.stage_count - 1 : -1;
    td_locator_init(&coach->locator);
    td_queue_init(&coach->queue);
    double brakes_from_c = isfinite(setup->brakes_from_c) ? setup->brakes_from_c : 0.0;
    if (!isfinite(setup->brakes_from_c) && setup->rig_is_set)
        brakes_from_c = td_plan_query_default(&setup->rig).brakes_from_c;
    td_heat_live_init(&coach->heat, brakes_from_c);
    return coach;
}

static bool is_setting(enum td_prompt_id id)
{
    return id == TD_PROMPT_SET_FOR || id == TD_PROMPT_LOAD_NOT_CONFIRMED ||
           id == TD_PROMPT_RIG_NOT_SET;
}

static void decide(struct td_coach *coach, const struct td_moment *moment,
                   const struct td_wish *wish, struct td_output *output)
{
    if (is_setting(wish->prompt.id))
        coach->set_ns = td_cue_stamp(moment->now_ns);
    td_queue_add(&coach->queue, moment, &wish->prompt, wish->why, output);
}

void td_coach_say(struct td_coach *coach, const struct td_moment *moment, enum td_prompt_id id,
                  enum td_why why, struct td_output *output)
{
    struct td_wishes wishes = {.count = 0};
    td_cue_wish(&wishes, moment, id, -1, 0.0, why);
    decide(coach, moment, &wishes.list[0], output);
}

static void say_first_words(struct td_coach *coach, const struct td_moment *moment,
                            struct td_output *output)
{
    enum td_prompt_id setting = !coach->setup.rig_is_set       ? TD_PROMPT_RIG_NOT_SET
                                : coach->setup.load_confirmed ? TD_PROMPT_SET_FOR
                                                              : TD_PROMPT_LOAD_NOT_CONFIRMED;
    td_coach_say(coach, moment, TD_PROMPT_READY, TD_WHY_STATE, output);
    td_coach_say(coach, moment, setting, TD_WHY_STATE, output);
}

static void take_time(struct td_coach *coach, const struct td_input *input,
                      struct td_output *output)
{
    if (input->now_ns < coach->now_ns)
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_TIME, NULL);
    else
        coach->now_ns = input->now_ns;
}

static void take_sound(struct td_coach *coach, enum td_sound sound, struct td_output *output)
{
    bool up = sound == TD_SOUND_UP;
    if (sound == TD_SOUND_SAME || up == coach->queue.sound_up)
        return;
    coach->queue.sound_up = up;
    coach->sound_since_ns = coach->now_ns;
    td_event_add(output, TD_EVENT_SOUND, TD_WHY_NONE, (int32_t)sound, NULL);
    struct td_moment moment;
    td_coach_moment(coach, &moment);
    /* Before its first word there is nothing to be back from. */
    if (up && coach->queue.spoke_once)
        td_coach_say(coach, &moment, TD_PROMPT_SOUND_BACK, TD_WHY_SOUND, output);
}

static void take_reports(struct td_coach *coach, const struct td_input *input,
                         const struct td_moment *moment, struct td_output *output)
{
    unsigned count = input->report_count;
    if (count > TD_REPORTS_MAX) {
        count = TD_REPORTS_MAX;
        td_event_add(output, TD_EVENT_REFUSED, TD_WHY_NONE, TD_REFUSED_REPORT, NULL);
    }
    for (unsigned i = 0; i < count; i++)
        td_queue_report(&coach->queue, moment, &coach->visit, &input->reports[i], output);
}

static void call_cues(struct td_coach *coach, const struct td_moment *moment,
                      struct td_output *output)
{
    struct td_wishes wishes = {.count = 0};
    td_cue_hill(moment, &coach->visit, &wishes);
    for (unsigned i = 0; i < wishes.count; i++) {
        bool said_lately = is_setting(wishes.list[i].prompt.id) && coach->set_ns != 0 &&
                           moment->now_ns - coach->set_ns < SET_APART_NS;
        if (!said_lately)
            decide(coach, moment, &wishes.list[i], output);
    }
    td_coach_notices(coach, moment, output);
}

static void fill_estimate(const struct td_coach *coach, const struct td_moment *moment,
                          struct td_estimate *estimate)
{
    *estimate = (struct td_estimate){
        .where = coach->located.where,
        .handle = coach->located.handle,
        .along_m = coach->located.along_m,
        .sigma_m = coach->located.sigma_m,
        .speed_mps = coach->located.speed_mps,
        .heat_least_c = coach->heat.least_c,
        .heat_likely_c = coach->heat.likely_c,
        .heat_most_c = coach->heat.most_c,
    };
    if (td_cue_on_grade(moment) && td_cue_plan_drivable(moment))
        estimate->target_mps = td_plan_target_at(moment->plan, moment->along_m);
}

static int64_t earlier(int64_t a_ns, int64_t b_ns)
{
    return a_ns < b_ns ? a_ns : b_ns;
}

static int64_t next_wake_ns(const struct td_coach *coach, const struct td_moment *moment)
{
    int64_t next_ns = td_queue_next_ns(&coach->queue, moment, &coach->visit);
    next_ns = earlier(next_ns, td_locate_next_ns(&coach->locator));
    next_ns = earlier(next_ns, td_cue_next_ns(moment, &coach->visit));
    next_ns = earlier(next_ns, td_coach_want_next_ns(coach));
    next_ns = earlier(next_ns, td_coach_solve_next_ns(coach));
    if (moment->on_hill && moment->speed_mps > MOVING_MPS)
        next_ns = earlier(next_ns, moment->now_ns + LOOK_EVERY_NS);
    int64_t soonest_ns = moment->now_ns + 10 * TD_NS_PER_MS;
    return next_ns < soonest_ns ? soonest_ns : next_ns;
}

void td_coach_step(struct td_coach *coach, const struct td_input *input, struct td_output *output)
{
    *output = (struct td_output){0};
    struct td_moment moment;
    take_time(coach, input, output);
    take_sound(coach, input->sound, output);
    td_coach_offer(coach, &input->offer, output);
    td_coach_move(coach, input, output);
    td_coach_plan_input(coach, input->plan_serial, input->plan, output);
    td_coach_moment(coach, &moment);
    td_coach_visit(coach, &moment, output);
    if (!coach->stepped)
        say_first_words(coach, &moment, output);
    coach->stepped = true;
    take_reports(coach, input, &moment, output);
    td_coach_command(coach, &input->command, &moment, output);
    /* A command may have taken the plan away. */
    td_coach_moment(coach, &moment);
    call_cues(coach, &moment, output);
    td_coach_heat(coach);
    td_queue_step(&coach->queue, &moment, &coach->visit, output);
    if (output->has_speak && output->speak.id == TD_PROMPT_POSITION_LOST)
        coach->lost_said = true;
    if (output->has_speak && output->speak.id == TD_PROMPT_POSITION_BACK)
        coach->lost_said = false;
    if (output->has_speak)
        td_damaged_issued(&coach->damaged, output->speak.id);
    td_coach_want(coach, output);
    td_coach_solve(coach, output);
    fill_estimate(coach, &moment, &output->estimate);
    output->next_wake_ns = next_wake_ns(coach, &moment);
}
