/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Steps of the coach. A hill stays pinned in the I/O thread until the coach let go of it and no
 * answer is under way that could offer it again; only then the release is passed on. */
#include <stdlib.h>
#include <string.h>

#include "daemon/cab_inner.h"
#include "daemon/journal.h"
#include "talkdown/text.h"
#include "voice/volume.h"

static const int64_t spin_guard_ns = 10 * TD_NS_PER_MS;

/* --- what waits for the next step --- */

void td_cab_fix(struct td_cab *cab, const struct td_fix *fix)
{
    if (cab->fix_count == TD_CAB_FIXES_MAX) {
        memmove(cab->fixes, cab->fixes + 1, sizeof cab->fixes - sizeof cab->fixes[0]);
        cab->fix_count--;
    }
    cab->fixes[cab->fix_count++] = *fix;
}

bool td_cab_command(struct td_cab *cab, enum td_command_kind kind, int32_t value)
{
    if (cab->command_count == TD_CAB_COMMANDS_MAX)
        return false;
    cab->commands[cab->command_count++] = (struct td_command){.kind = kind, .value = value};
    return true;
}

static void add_report(struct td_cab *cab, uint32_t serial, enum td_report_kind kind)
{
    if (cab->report_count < TD_CAB_REPORTS_MAX)
        cab->reports[cab->report_count++] = (struct td_report){.serial = serial, .kind = kind};
    else
        td_journal(TD_LEVEL_ERROR, "too many reports of the voice; one was lost");
}

void td_cab_drop_answers(struct td_cab *cab)
{
    for (unsigned i = 0; i < cab->answer_count; i++)
        free(cab->answers[i].plan);
    cab->answer_count = 0;
}

/* One place is kept for the refusal of a question. */
bool td_cab_has_room(const struct td_cab *cab)
{
    return cab->answer_count + 1 < TD_CAB_ANSWERS_MAX;
}

void td_cab_answer(struct td_cab *cab, struct td_answer *answer)
{
    if (answer->result != TD_OK)
        td_journal_problem(TD_LEVEL_WARN, &answer->problem);
    bool useful = answer->epoch == cab->epoch &&
                  (answer->kind == TD_ANSWER_OFFER || answer->plan != NULL);
    if (!useful) {
        free(answer->plan);
        return;
    }
    if (cab->answer_count < TD_CAB_ANSWERS_MAX) {
        cab->answers[cab->answer_count++] = *answer;
        return;
    }
    /* The coach asks for one thing at a time, nine offers at most. */
    td_journal(TD_LEVEL_ERROR, "too many answers of the I/O thread; one was lost");
    free(answer->plan);
}

void td_cab_take_voice(struct td_cab *cab)
{
    struct td_report report;
    while (cab->report_count < TD_CAB_REPORTS_MAX && td_voice_report(cab->parts.voice, &report)) {
        if (report.serial <= cab->serial_base)
            continue;
        uint32_t serial = report.serial - cab->serial_base;
        add_report(cab, serial, report.kind);
        if (report.kind != TD_REPORT_STARTED && serial == cab->last_serial)
            cab->speaking = false;
    }
    enum td_sound sound = td_voice_sound_change(cab->parts.voice);
    if (sound == TD_SOUND_SAME)
        return;
    cab->sound = sound;
    td_journal(sound == TD_SOUND_UP ? TD_LEVEL_INFO : TD_LEVEL_WARN, "sound is %s",
               sound == TD_SOUND_UP ? "up" : "away");
}

bool td_cab_has_input(const struct td_cab *cab)
{
    return cab->fix_count > 0 || cab->report_count > 0 || cab->command_count > 0 ||
           cab->answer_count > 0 || cab->sound != TD_SOUND_SAME;
}

/* --- hills in hand --- */

static struct td_held_hill *find_hill(struct td_cab *cab, uint32_t handle)
{
    for (size_t i = 0; i < TD_PINNED_MAX; i++)
        if (cab->hills[i].handle == handle)
            return &cab->hills[i];
    return NULL;
}

const struct td_hill *td_cab_hill(const struct td_cab *cab, uint32_t handle)
{
    for (size_t i = 0; handle != 0 && i < TD_PINNED_MAX; i++)
        if (cab->hills[i].handle == handle)
            return cab->hills[i].hill;
    return NULL;
}

static void hold_hill(struct td_cab *cab, const struct td_answer *answer)
{
    struct td_held_hill *held = find_hill(cab, answer->offer.handle);
    if (held == NULL)
        held = find_hill(cab, 0);
    /* The I/O thread pins no more than this table holds. */
    if (held != NULL)
        *held = (struct td_held_hill){.handle = answer->offer.handle, .hill = answer->offer.hill};
    if (cab->logging)
        td_logger_hill(cab->parts.logger, answer->file);
}

static void pass_releases_on(struct td_cab *cab)
{
    if (cab->wants_open > 0)
        return;
    for (size_t i = 0; i < TD_PINNED_MAX; i++) {
        struct td_held_hill *held = &cab->hills[i];
        if (held->handle != 0 && held->let_go &&
            td_library_release(cab->parts.library, cab->epoch, held->handle))
            *held = (struct td_held_hill){0};
    }
}

/* --- one step --- */

static void fill_answer(struct td_cab *cab, struct td_input *input, struct td_plan *plan)
{
    if (cab->answer_count == 0)
        return;
    struct td_answer *answer = &cab->answers[0];
    if (answer->kind == TD_ANSWER_PLAN) {
        *plan = *answer->plan;
        free(answer->plan);
        input->plan = plan;
        input->plan_serial = answer->plan_serial;
    } else {
        input->offer = answer->offer;
        if (answer->offer.kind == TD_OFFER_HILL)
            hold_hill(cab, answer);
        else if (answer->offer.kind != TD_OFFER_DAMAGED && cab->wants_open > 0)
            cab->wants_open--;
    }
    cab->answer_count--;
    memmove(answer, answer + 1, cab->answer_count * sizeof *answer);
}

static void fill_fix(struct td_cab *cab, struct td_input *input)
{
    if (cab->fix_count == 0)
        return;
    input->has_fix = true;
    input->fix = cab->fixes[0];
    cab->fix_count--;
    memmove(cab->fixes, cab->fixes + 1, cab->fix_count * sizeof cab->fixes[0]);
    cab->had_fix = true;
    if ((input->fix.has & TD_FIX_SPEED) == 0)
        return;
    cab->last_standing_ns = input->fix.speed_mps < TD_CAB_STANDING_MPS ? input->now_ns : 0;
    if (input->fix.speed_mps >= TD_CAB_MOVING_MPS)
        cab->last_moving_ns = input->now_ns;
    if (input->fix.speed_mps >= TD_CAB_MOVED_MPS)
        cab->moved = true;
}

static void fill(struct td_cab *cab, int64_t now_ns, struct td_input *input, struct td_plan *plan)
{
    memset(input, 0, sizeof *input);
    input->now_ns = now_ns;
    input->sound = cab->sound;
    cab->sound = TD_SOUND_SAME;
    while (cab->report_count > 0 && input->report_count < TD_REPORTS_MAX) {
        input->reports[input->report_count++] = cab->reports[0];
        cab->report_count--;
        memmove(cab->reports, cab->reports + 1, cab->report_count * sizeof cab->reports[0]);
    }
    fill_answer(cab, input, plan);
    fill_fix(cab, input);
    if (cab->command_count > 0) {
        input->command = cab->commands[0];
        cab->command_count--;
        memmove(cab->commands, cab->commands + 1, cab->command_count * sizeof cab->commands[0]);
    }
}

/* Keeps the setup as the coach has it by now, for whoever asks and for the next drive. */
static void follow_command(struct td_cab *cab, const struct td_command *command)
{
    switch (command->kind) {
    case TD_COMMAND_LOAD:
        cab->setup.rig.load_now = (size_t)command->value;
        cab->setup.load_confirmed = true;
        break;
    case TD_COMMAND_ROAD:
        cab->setup.road = (enum td_road)command->value;
        break;
    case TD_COMMAND_ENGINE_BRAKE:
        cab->stage_most = command->value;
        break;
    case TD_COMMAND_HILLS_CHANGED:
        cab->setup.hills_on_board = (uint32_t)command->value;
        break;
    case TD_COMMAND_QUIET:
        cab->quiet = true;
        break;
    case TD_COMMAND_LOUD:
        cab->quiet = false;
        break;
    case TD_COMMAND_NOTHING:
    case TD_COMMAND_AGAIN:
    case TD_COMMAND_LIBRARY_REFUSED:
    case TD_COMMAND_LIBRARY_DAMAGED:
    case TD_COMMAND_ASK_LOAD:
    case TD_COMMAND_ASK_ROAD:
    case TD_COMMAND_ASK_ENGINE_BRAKE:
    case TD_COMMAND_MENU_CLOSED:
    case TD_COMMAND_KINDS:
        break;
    }
}

/* Before each prompt, never during one. */
static void set_volume(struct td_cab *cab)
{
    const struct td_settings *settings = cab->parts.settings;
    if (settings->louder_above_mps > 0)
        td_voice_volume(cab->parts.voice,
                        td_voice_volume_at(settings->volume_percent, settings->louder_above_mps,
                                           cab->estimate.speed_mps, &cab->louder));
}

static void dispatch(struct td_cab *cab, const struct td_prompt *prompt, int64_t now_ns)
{
    const struct td_hill *hill = td_cab_hill(cab, prompt->hill_handle);
    bool known = prompt->hill_handle == 0 || hill != NULL;
    char words[TD_WORDS_MAX];
    cab->last_serial = prompt->serial;
    if (!known || td_phrase_words(cab->parts.book, prompt, hill, &cab->setup.rig, words) != TD_OK) {
        td_journal(TD_LEVEL_ERROR, "%s cannot be put into words; not said",
                   td_prompt_key(prompt->id));
        add_report(cab, prompt->serial, TD_REPORT_DROPPED);
        return;
    }
    cab->speaking = true;
    (void)td_text_copy(cab->words, sizeof cab->words, words);
    td_journal(TD_LEVEL_INFO, "%s: %s", td_category_name(prompt->category), words);
    if (cab->logging)
        td_logger_words(cab->parts.logger, now_ns, prompt->serial, words);
    set_volume(cab);
    td_voice_speak(cab->parts.voice, now_ns, cab->serial_base + prompt->serial, prompt->category,
                   prompt->expires_ns, words);
}

static void ask_for_hills(struct td_cab *cab, const struct td_want *want)
{
    if (want->serial == 0)
        return;
    if (td_library_want(cab->parts.library, cab->epoch, want)) {
        cab->wants_open++;
        return;
    }
    struct td_answer failed = {.kind = TD_ANSWER_OFFER, .epoch = cab->epoch};
    failed.offer = (struct td_offer){.kind = TD_OFFER_FAILED, .want_serial = want->serial};
    td_journal(TD_LEVEL_ERROR, "the I/O thread does not keep up; hills were not looked for");
    if (cab->answer_count == TD_CAB_ANSWERS_MAX)
        return;
    cab->answers[cab->answer_count++] = failed;
    /* Its refusal closes this question, not one that the I/O thread still has in hand. */
    cab->wants_open++;
}

static void pass_on(struct td_cab *cab, const struct td_output *output, int64_t now_ns)
{
    if (output->cut_serial != 0)
        td_voice_cut(cab->parts.voice, cab->serial_base + output->cut_serial);
    if (output->has_speak)
        dispatch(cab, &output->speak, now_ns);
    ask_for_hills(cab, &output->want);
    if (output->solve.serial != 0 &&
        !td_library_solve(cab->parts.library, cab->epoch, &output->solve, &cab->setup.rig))
        td_journal(TD_LEVEL_ERROR, "the I/O thread does not keep up; a plan was not solved");
    struct td_held_hill *held =
        output->release_handle != 0 ? find_hill(cab, output->release_handle) : NULL;
    if (held != NULL)
        held->let_go = true;
    pass_releases_on(cab);
}

static void tell_events(const struct td_cab *cab, const struct td_output *output)
{
    for (unsigned i = 0; i < output->event_count; i++) {
        const struct td_event *event = &output->events[i];
        const struct td_hill *hill = td_cab_hill(cab, output->estimate.handle);
        if (event->kind == TD_EVENT_HILL_ON && hill != NULL)
            td_journal(TD_LEVEL_INFO, "on %s", hill->id);
        else if (event->kind == TD_EVENT_HILL_OFF || event->kind == TD_EVENT_WHERE)
            td_journal(TD_LEVEL_DEBUG, "%s", td_where_name(output->estimate.where));
        else if (event->prompt.serial != 0)
            td_journal(TD_LEVEL_DEBUG, "%s %s (%s)", td_prompt_key(event->prompt.id),
                       td_event_name(event->kind), td_why_word(event->why));
    }
}

void td_cab_step(struct td_cab *cab, int64_t now_ns)
{
    struct td_input input;
    static struct td_plan plan;
    static struct td_output output;
    fill(cab, now_ns, &input, &plan);
    td_coach_step(cab->coach, &input, &output);
    cab->stepped = true;
    cab->steps++;
    /* A coach that asks for a time gone by must not spin the loop. */
    cab->next_ns = output.next_wake_ns > now_ns ? output.next_wake_ns : now_ns + spin_guard_ns;
    cab->estimate = output.estimate;
    follow_command(cab, &input.command);
    if (cab->logging)
        td_logger_step(cab->parts.logger, &input, &output);
    tell_events(cab, &output);
    pass_on(cab, &output, now_ns);
}
