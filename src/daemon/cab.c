/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drives: when a coach begins, when its log ends, what is carried on. */
#include "daemon/cab.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cab_inner.h"
#include "daemon/journal.h"
#include "io/clock.h"
#include "io/problem.h"
#include "talkdown/text.h"

enum { STEPS_A_RUN = 128 }; /* more at the next wake-up, so that no other duty starves */

static const int64_t standing_ends_drive_ns = 3 * 3600 * TD_NS_PER_S;
static const int64_t load_counts_for_ns = 20 * 60 * TD_NS_PER_S;
static const int64_t moving_for_ns = 10 * TD_NS_PER_S;
/* A standstill is believed this long without another fix. */
static const int64_t standing_for_ns = 5 * TD_NS_PER_S;

static void open_log(struct td_cab *cab, int64_t now_ns)
{
    const struct td_settings *settings = cab->parts.settings;
    cab->logging = settings->logs[0] != '\0';
    if (!cab->logging)
        return;
    const struct td_drive_head head = {
        .program = cab->parts.program,
        .rig_name = cab->setup.rig_is_set ? cab->setup.rig.name : "",
        .language = settings->language,
        .start_utc_ms = td_clock_utc_ms(),
        .start_ns = now_ns,
        .setup = &cab->setup,
    };
    td_logger_open(cab->parts.logger, settings->logs, &head);
}

/* A new coach with the present setup; everything of the old one is gone. */
static bool start_drive(struct td_cab *cab, int64_t now_ns)
{
    struct td_coach *coach = td_coach_init(cab->memory, &cab->setup, now_ns);
    if (coach == NULL)
        return false;
    cab->coach = coach;
    cab->fix_count = cab->report_count = cab->command_count = 0;
    td_cab_drop_answers(cab);
    memset(cab->hills, 0, sizeof cab->hills);
    cab->wants_open = 0;
    cab->stepped = false;
    cab->next_ns = now_ns;
    cab->started_ns = cab->last_moving_ns = now_ns;
    cab->moved = cab->restart_due = cab->quiet = cab->speaking = false;
    cab->louder = true;
    cab->stage_most = (int32_t)cab->setup.rig.stage_count - 1;
    memset(&cab->estimate, 0, sizeof cab->estimate);
    open_log(cab, now_ns);
    return true;
}

enum td_result td_cab_start(const struct td_cab_parts *parts, const struct td_setup *setup,
                            int64_t now_ns, struct td_cab **out, struct td_problem *problem)
{
    struct td_cab *cab = calloc(1, sizeof *cab);
    if (cab != NULL)
        cab->memory = calloc(1, td_coach_size());
    if (cab == NULL || cab->memory == NULL) {
        free(cab);
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the coach");
    }
    cab->parts = *parts;
    cab->setup = *setup;
    if (!start_drive(cab, now_ns)) {
        td_cab_free(&cab);
        return td_problem_set(problem, TD_INVALID, NULL, 0, "the coach does not take this rig");
    }
    *out = cab;
    return TD_OK;
}

enum td_result td_cab_set_rig(struct td_cab *cab, const struct td_rig *rig, int64_t now_ns,
                              struct td_problem *problem)
{
    if (rig != NULL) {
        enum td_result result = td_rig_check(rig, problem);
        if (result != TD_OK)
            return result;
    }
    if (!td_library_restart(cab->parts.library, cab->epoch + 1))
        return td_problem_set(problem, TD_FULL, NULL, 0, "too busy for that now; try again");
    cab->epoch++;
    /* Another truck's brakes are no guide: the coach then begins with the cold figure. */
    cab->setup.brakes_from_c =
        rig == NULL && cab->setup.rig_is_set ? cab->estimate.heat_likely_c : (double)NAN;
    if (rig != NULL) {
        cab->setup.rig = *rig;
        cab->setup.rig_is_set = true;
    }
    cab->setup.load_confirmed = false;
    td_voice_cut(cab->parts.voice, cab->serial_base + cab->last_serial);
    cab->serial_base += cab->last_serial;
    cab->last_serial = 0;
    if (cab->logging)
        td_logger_close(cab->parts.logger, cab->moved);
    if (!start_drive(cab, now_ns)) {
        /* The rig was checked, so this is a bug; the old coach is gone with its hills. */
        td_journal(TD_LEVEL_ERROR, "the coach does not take a sound rig");
        abort();
    }
    /* The voice tells changes only, and this coach has heard of none. */
    struct td_voice_state voice;
    td_voice_state(cab->parts.voice, &voice);
    if (!voice.device_up)
        cab->sound = TD_SOUND_DOWN;
    return TD_OK;
}

/* Three hours standing end the drive; the next begins as the truck moves. */
static void watch_standing(struct td_cab *cab, int64_t now_ns)
{
    bool stood = now_ns - cab->last_moving_ns >= standing_ends_drive_ns;
    if (stood && !cab->restart_due) {
        td_journal(TD_LEVEL_INFO, "three hours standing: the drive has ended");
        if (cab->logging)
            td_logger_close(cab->parts.logger, cab->moved);
        cab->logging = false;
        cab->restart_due = true;
    }
    if (!cab->restart_due || cab->fix_count == 0)
        return;
    const struct td_fix *fix = &cab->fixes[cab->fix_count - 1];
    if ((fix->has & TD_FIX_SPEED) == 0 || fix->speed_mps < TD_CAB_MOVING_MPS)
        return;
    struct td_fix first = *fix;
    struct td_problem problem;
    if (td_cab_set_rig(cab, NULL, now_ns, &problem) != TD_OK)
        td_journal_problem(TD_LEVEL_ERROR, &problem);
    td_cab_fix(cab, &first);
}

void td_cab_run(struct td_cab *cab, int64_t now_ns)
{
    watch_standing(cab, now_ns);
    td_cab_take_voice(cab);
    for (int i = 0; i < STEPS_A_RUN; i++) {
        if (cab->stepped && !td_cab_has_input(cab) && now_ns < cab->next_ns)
            return;
        td_cab_step(cab, now_ns);
        td_cab_take_voice(cab);
        /* A coach that asks to be woken now is woken at the next turn of the loop. */
        if (!td_cab_has_input(cab))
            return;
    }
}

int64_t td_cab_next_ns(const struct td_cab *cab)
{
    return td_cab_has_input(cab) ? 0 : cab->next_ns;
}

void td_cab_state(const struct td_cab *cab, int64_t now_ns, struct td_cab_state *state)
{
    *state = (struct td_cab_state){
        .setup = &cab->setup,
        .estimate = cab->estimate,
        .hill = td_cab_hill(cab, cab->estimate.handle),
        .stage_most = cab->stage_most,
        .quiet = cab->quiet,
        .logging = cab->logging,
        .moving = cab->moved && now_ns - cab->last_moving_ns < moving_for_ns,
        .standing = !cab->had_fix || (cab->last_standing_ns != 0 &&
                                      now_ns - cab->last_standing_ns < standing_for_ns),
        .speaking = cab->speaking,
        .moved = cab->moved,
        .steps = cab->steps,
    };
    (void)td_text_copy(state->words, sizeof state->words, cab->words);
}

bool td_cab_carried(const struct td_cab *cab, int64_t now_ns, struct td_carried *carried)
{
    const struct td_estimate *heat = &cab->estimate;
    if (!cab->setup.rig_is_set || !cab->stepped || !isfinite(heat->heat_least_c) ||
        !isfinite(heat->heat_likely_c) || !isfinite(heat->heat_most_c))
        return false;
    const struct td_rig *rig = &cab->setup.rig;
    *carried = (struct td_carried){
        .saved_ns = now_ns,
        /* A stop of over 20 minutes ends what was confirmed. */
        .load_confirmed = cab->setup.load_confirmed &&
                          now_ns - cab->last_moving_ns <= load_counts_for_ns,
        .least_c = heat->heat_least_c,
        .likely_c = heat->heat_likely_c,
        .most_c = heat->heat_most_c,
    };
    td_clock_boot_id(carried->boot_id);
    (void)td_text_copy(carried->rig, sizeof carried->rig, rig->name);
    (void)td_text_copy(carried->load, sizeof carried->load, rig->loads[rig->load_now].name);
    return true;
}

void td_cab_free(struct td_cab **cab)
{
    if (cab == NULL || *cab == NULL)
        return;
    td_cab_drop_answers(*cab);
    free((*cab)->memory);
    free(*cab);
    *cab = NULL;
}
