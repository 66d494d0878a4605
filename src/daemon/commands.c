/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Requests into commands of the coach, and their answers. */
#include "daemon/commands.h"

#include <stdlib.h>
#include <string.h>
#include <systemd/sd-daemon.h>

#include "daemon/cab.h"
#include "daemon/control.h"
#include "daemon/journal.h"
#include "daemon/status.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

static void reply_status(struct td_daemon *daemon, uint32_t client)
{
    struct td_status status = {
        .version = daemon->options->version,
        .up_s = td_s_from_ns(daemon->now_ns - daemon->started_ns),
        .settings = &daemon->options->settings,
        .library = daemon->on_board,
        .button_up = td_button_up(daemon->button),
    };
    td_cab_state(daemon->cab, daemon->now_ns, &status.cab);
    td_gpsd_state(daemon->gpsd, &status.gpsd);
    td_voice_state(daemon->voice, &status.voice);
    td_logger_state(daemon->logger, &status.log);
    char *text = td_status_text(&status);
    td_control_reply(daemon->control, client, text);
    free(text);
}

static enum td_result command(struct td_daemon *daemon, enum td_command_kind kind, int32_t value,
                              struct td_problem *problem)
{
    if (td_cab_command(daemon->cab, kind, value))
        return TD_OK;
    return td_problem_set(problem, TD_FULL, NULL, 0, "too many commands at once; try again");
}

static enum td_result set_road(struct td_daemon *daemon, const char *word,
                               struct td_problem *problem)
{
    static const char *const roads[] = {"dry", "wet", "ice"};
    for (int32_t i = 0; i < 3; i++)
        if (strcmp(word, roads[i]) == 0)
            return command(daemon, TD_COMMAND_ROAD, i, problem);
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "no such state of the road: \"%.40s\"; dry, wet or ice", word);
}

static enum td_result rig_not_set(struct td_problem *problem)
{
    return td_problem_set(problem, TD_INVALID, NULL, 0,
                          "no rig is set; name one in the settings or tell one: rig FILE");
}

static enum td_result set_load(struct td_daemon *daemon, const struct td_setup *setup,
                               const char *word, struct td_problem *problem)
{
    if (!setup->rig_is_set)
        return rig_not_set(problem);
    const struct td_rig *rig = &setup->rig;
    for (size_t i = 0; i < rig->load_count; i++)
        if (strcmp(word, rig->loads[i].name) == 0)
            return command(daemon, TD_COMMAND_LOAD, (int32_t)i, problem);
    char names[TD_RIG_LOADS_MAX * (TD_RIG_WORD_MAX + 2)];
    struct td_text text;
    td_text_init(&text, names, sizeof names);
    for (size_t i = 0; i < rig->load_count; i++) {
        td_text_add(&text, i > 0 ? ", " : "");
        td_text_add(&text, rig->loads[i].name);
    }
    return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                          "the rig has no load \"%.40s\"; it has %s", word, names);
}

static enum td_result set_engine_brake(struct td_daemon *daemon, const struct td_setup *setup,
                                       const char *word, struct td_problem *problem)
{
    if (!setup->rig_is_set)
        return rig_not_set(problem);
    const struct td_rig *rig = &setup->rig;
    if (strcmp(word, "off") == 0)
        return command(daemon, TD_COMMAND_ENGINE_BRAKE, -1, problem);
    if (rig->stage_count == 0)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "the rig has no engine brake; off");
    for (size_t i = 0; i < rig->stage_count; i++)
        if (strcmp(word, rig->stages[i].name) == 0)
            return command(daemon, TD_COMMAND_ENGINE_BRAKE, (int32_t)i, problem);
    if (strcmp(word, "full") == 0)
        return command(daemon, TD_COMMAND_ENGINE_BRAKE, (int32_t)rig->stage_count - 1, problem);
    return td_problem_set(problem, TD_NOT_FOUND, NULL, 0,
                          "the rig's engine brake has no stage \"%.40s\"; off, %s or full", word,
                          rig->stages[0].name);
}

static const char moving_words[] =
    "the truck is moving; the rig is changed standing, since the coach then begins anew";

/* Answered by td_daemon_answered when it went on its way. */
static enum td_result read_rig(struct td_daemon *daemon, const struct td_cab_state *state,
                               const char *path, uint32_t client, struct td_problem *problem)
{
    if (path[0] != '/')
        return td_problem_set(problem, TD_INVALID, path, 0,
                              "an absolute path is needed: the daemon runs elsewhere");
    if (state->moving)
        return td_problem_set(problem, TD_INVALID, NULL, 0, "%s", moving_words);
    if (!td_library_rig(daemon->library, path, client))
        return td_problem_set(problem, TD_FULL, NULL, 0, "too busy for that now; try again");
    return TD_OK;
}

void td_daemon_reload(struct td_daemon *daemon, uint32_t client)
{
    struct td_problem problem;
    td_journal(TD_LEVEL_INFO, "looking at the hills anew");
    if (td_library_reload(daemon->library, daemon->options->settings.hills, client))
        return;
    enum td_result result =
        td_problem_set(&problem, TD_FULL, NULL, 0, "too busy for that now; try again");
    td_journal_problem(TD_LEVEL_ERROR, &problem);
    td_control_result(daemon->control, client, result, &problem);
}

/* False when the answer comes later. */
static bool answer_now(struct td_daemon *daemon, const struct td_request *request, uint32_t client,
                       enum td_result *result, struct td_problem *problem)
{
    struct td_cab_state state;
    td_cab_state(daemon->cab, daemon->now_ns, &state);
    *result = TD_OK;
    switch (request->kind) {
    case TD_REQUEST_STATUS:
        reply_status(daemon, client);
        return false;
    case TD_REQUEST_AGAIN:
        *result = command(daemon, TD_COMMAND_AGAIN, 0, problem);
        return true;
    case TD_REQUEST_QUIET:
        *result = command(daemon, TD_COMMAND_QUIET, 0, problem);
        return true;
    case TD_REQUEST_LOUD:
        *result = command(daemon, TD_COMMAND_LOUD, 0, problem);
        return true;
    case TD_REQUEST_ROAD:
        *result = set_road(daemon, request->word, problem);
        return true;
    case TD_REQUEST_LOAD:
        *result = set_load(daemon, state.setup, request->word, problem);
        return true;
    case TD_REQUEST_ENGINE_BRAKE:
        *result = set_engine_brake(daemon, state.setup, request->word, problem);
        return true;
    case TD_REQUEST_RIG:
        *result = read_rig(daemon, &state, request->word, client, problem);
        return *result != TD_OK;
    case TD_REQUEST_RELOAD:
        td_daemon_reload(daemon, client);
        return false;
    case TD_REQUEST_KINDS:
        break;
    }
    *result = td_problem_set(problem, TD_UNSUPPORTED, NULL, 0, "no such command");
    return true;
}

void td_daemon_requests(struct td_daemon *daemon)
{
    struct td_request request;
    uint32_t client;
    while (td_control_request(daemon->control, &request, &client)) {
        struct td_problem problem = {0};
        enum td_result result;
        if (request.kind != TD_REQUEST_STATUS)
            td_journal(TD_LEVEL_INFO, "told: %s %s", td_request_command(request.kind),
                       request.word);
        if (answer_now(daemon, &request, client, &result, &problem))
            td_control_result(daemon->control, client, result, &problem);
    }
}

static void tell_cab(struct td_daemon *daemon, const struct td_command *commands, unsigned count)
{
    struct td_problem problem;
    for (unsigned i = 0; i < count; i++)
        if (command(daemon, commands[i].kind, commands[i].value, &problem) != TD_OK)
            td_journal_problem(TD_LEVEL_ERROR, &problem);
}

void td_daemon_button(struct td_daemon *daemon)
{
    struct td_cab_state state;
    struct td_command commands[TD_MENU_COMMANDS_MAX];
    enum td_press press;
    bool was_up = td_button_up(daemon->button);
    td_button_tick(daemon->button, daemon->now_ns);
    bool up = td_button_up(daemon->button);
    if (up != was_up)
        td_journal(up ? TD_LEVEL_INFO : TD_LEVEL_WARN, "button: %s", up ? "found" : "gone");
    td_cab_state(daemon->cab, daemon->now_ns, &state);
    struct td_menu_around around = {.setup = state.setup,
                                    .stage_most = state.stage_most,
                                    .standing = state.standing,
                                    .speaking = state.speaking};
    tell_cab(daemon, commands,
             td_menu_tick(&daemon->menu, &around, daemon->now_ns, commands));
    while (td_button_take(daemon->button, &press)) {
        td_journal(TD_LEVEL_INFO, "button: %s press", press == TD_PRESS_LONG ? "long" : "short");
        tell_cab(daemon, commands,
                 td_menu_press(&daemon->menu, &around, press, daemon->now_ns, commands));
    }
}

static void shelf_answered(struct td_daemon *daemon, const struct td_answer *answer)
{
    struct td_problem problem = answer->problem;
    enum td_result result = answer->result;
    if (result == TD_OK) {
        uint32_t hills = answer->on_board.hills;
        daemon->on_board = (struct td_status_library){.now = answer->on_board};
        td_journal(TD_LEVEL_INFO, "%u hills on board", hills);
        (void)sd_notifyf(0, "STATUS=%u hills on board", hills);
        result = command(daemon, TD_COMMAND_HILLS_CHANGED, (int32_t)hills, &problem);
    } else {
        daemon->on_board.refused = answer->problem;
        td_journal(TD_LEVEL_ERROR, "the new hills were not taken; the old ones stay in use");
        td_journal_problem(TD_LEVEL_ERROR, &answer->problem);
        struct td_problem ignored;
        if (command(daemon, TD_COMMAND_LIBRARY_REFUSED, 0, &ignored) != TD_OK)
            td_journal_problem(TD_LEVEL_ERROR, &ignored);
    }
    td_control_result(daemon->control, answer->client, result, &problem);
}

/* The library in use was looked through. */
static void verified_answered(struct td_daemon *daemon, const struct td_answer *answer)
{
    struct td_problem problem;
    uint32_t hills = answer->on_board.hills;
    daemon->on_board.now = answer->on_board;
    if (answer->result == TD_OK) {
        td_journal(TD_LEVEL_INFO, "the library is verified: %u hills and the index", hills);
        return;
    }
    daemon->on_board.refused = answer->problem;
    td_journal(TD_LEVEL_ERROR, "the library in use is damaged; %s",
               answer->fell_back ? "the last good library takes its place"
                                 : "it stays in use, and what is damaged in it is left out");
    td_journal_problem(TD_LEVEL_ERROR, &answer->problem);
    enum td_result result =
        answer->fell_back ? command(daemon, TD_COMMAND_HILLS_CHANGED, (int32_t)hills, &problem)
                          : TD_OK;
    if (result == TD_OK)
        result = command(daemon,
                         answer->fell_back ? TD_COMMAND_LIBRARY_REFUSED
                                           : TD_COMMAND_LIBRARY_DAMAGED,
                         0, &problem);
    if (result != TD_OK)
        td_journal_problem(TD_LEVEL_ERROR, &problem);
}

static void rig_answered(struct td_daemon *daemon, const struct td_answer *answer)
{
    struct td_problem problem = answer->problem;
    enum td_result result = answer->result;
    struct td_cab_state state;
    td_cab_state(daemon->cab, daemon->now_ns, &state);
    if (result == TD_OK && state.moving)
        result = td_problem_set(&problem, TD_INVALID, NULL, 0, "%s", moving_words);
    if (result == TD_OK)
        result = td_cab_set_rig(daemon->cab, answer->rig, daemon->now_ns, &problem);
    if (result == TD_OK)
        td_journal(TD_LEVEL_INFO, "rig: %s; a new drive begins", answer->rig->name);
    td_control_result(daemon->control, answer->client, result, &problem);
}

void td_daemon_answered(struct td_daemon *daemon, struct td_answer *answer)
{
    if (answer->kind == TD_ANSWER_SHELF)
        shelf_answered(daemon, answer);
    else if (answer->kind == TD_ANSWER_RIG)
        rig_answered(daemon, answer);
    else if (answer->kind == TD_ANSWER_VERIFIED)
        verified_answered(daemon, answer);
    free(answer->rig);
    free(answer->plan);
}
