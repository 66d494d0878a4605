/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Start, poll loop, end. Time is read once a wake-up and handed to everybody. */
#include "daemon/daemon.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <sys/timerfd.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

#include "daemon/cab.h"
#include "daemon/commands.h"
#include "daemon/control.h"
#include "daemon/journal.h"
#include "daemon/library.h"
#include "daemon/logger.h"
#include "daemon/parts.h"
#include "daemon/prepare.h"
#include "io/clock.h"
#include "io/gpsd.h"
#include "io/library_file.h"
#include "io/problem.h"
#include "talkdown/text.h"
#include "talkdown/units.h"
#include "voice/voice.h"

enum { POLL_GPSD = 0, POLL_VOICE, POLL_LIBRARY, POLL_SIGNAL, POLL_TIMER, POLL_BUTTON,
       POLL_CONTROL,
       POLLS_MAX = POLL_CONTROL + TD_CONTROL_POLLS_MAX };

static const int64_t save_every_ns = 10 * TD_NS_PER_S;

enum td_result td_daemon_check(const struct td_daemon_options *options, struct td_problem *problem)
{
    const struct td_settings *settings = &options->settings;
    struct td_phrase_file *phrases = NULL;
    struct td_shelf *shelf = NULL;
    struct td_gpsd *gpsd = NULL;
    struct td_trust trust;
    struct td_setup *setup = calloc(1, sizeof *setup);
    enum td_result result = setup != NULL ? TD_OK : TD_NO_MEMORY;
    if (result == TD_OK)
        result = td_gpsd_open(settings->gpsd_host, settings->gpsd_port, 0, &gpsd, problem);
    if (result == TD_OK)
        result = td_prepare_phrases(settings, &phrases, problem);
    if (result == TD_OK)
        result = td_prepare_setup(settings, phrases, td_clock_now_ns(), setup, problem);
    if (result == TD_OK)
        result = td_trust_read(settings->trusted_key, &trust, problem);
    if (result == TD_OK)
        result = td_shelf_open_trusted(settings->hills, &trust, &shelf, problem);
    td_shelf_close(&shelf);
    td_phrase_file_free(&phrases);
    td_gpsd_close(&gpsd);
    free(setup);
    return result;
}

/* --- start --- */

static enum td_result open_signals(struct td_daemon *daemon, struct td_problem *problem)
{
    sigset_t set;
    (void)sigemptyset(&set);
    (void)sigaddset(&set, SIGTERM);
    (void)sigaddset(&set, SIGINT);
    (void)sigaddset(&set, SIGHUP);
    struct sigaction ignore = {.sa_handler = SIG_IGN};
    (void)sigaction(SIGPIPE, &ignore, NULL);
    /* A drive log that reaches a limit of size fails as on a full disk, and is told as such. */
    (void)sigaction(SIGXFSZ, &ignore, NULL);
    /* Before the threads start, so that they inherit it. */
    (void)sigprocmask(SIG_BLOCK, &set, NULL);
    daemon->signal_fd = signalfd(-1, &set, SFD_CLOEXEC | SFD_NONBLOCK);
    daemon->timer_fd = timerfd_create(CLOCK_BOOTTIME, TFD_CLOEXEC | TFD_NONBLOCK);
    if (daemon->signal_fd >= 0 && daemon->timer_fd >= 0)
        return TD_OK;
    return td_problem_set(problem, TD_IO, NULL, 0, "cannot watch signals and time: %s",
                          strerror(errno));
}

static enum td_result open_voice(struct td_daemon *daemon, struct td_problem *problem)
{
    const struct td_settings *settings = &daemon->options->settings;
    const struct td_voice_options voice = {
        .program = daemon->options->program,
        .voice = td_phrase_file_voice(daemon->phrases),
        .rate_wpm = td_phrase_file_rate_wpm(daemon->phrases),
        .device = settings->device,
        .stream_latency_ms = settings->stream_latency_ms,
        .volume_percent = settings->volume_percent,
    };
    return td_voice_start(&voice, daemon->now_ns, &daemon->voice, problem);
}

static enum td_result open_library(struct td_daemon *daemon, struct td_problem *problem)
{
    const struct td_settings *settings = &daemon->options->settings;
    struct td_library_source source = {.hills = settings->hills};
    struct td_library_begun begun;
    char last_good[TD_PATH_MAX];
    struct td_text path;
    td_text_init(&path, last_good, sizeof last_good);
    td_text_add(&path, settings->state);
    td_text_add(&path, TD_LIBRARY_SUFFIX);
    source.last_good = path.cut ? "" : last_good;
    enum td_result result = td_trust_read(settings->trusted_key, &source.trust, problem);
    if (result == TD_OK)
        result = td_library_start(&source, &daemon->library, &begun, problem);
    if (result != TD_OK)
        return result;
    daemon->on_board.now = begun.on_board;
    if (!begun.refused)
        return TD_OK;
    daemon->on_board.refused = begun.why;
    td_journal(TD_LEVEL_ERROR, "the hills of the settings were not taken; %s",
               begun.on_board.hills > 0 ? "the last good library takes their place"
                                        : "there are none in their place");
    td_journal_problem(TD_LEVEL_ERROR, &begun.why);
    return TD_OK;
}

static enum td_result open_cab(struct td_daemon *daemon, struct td_problem *problem)
{
    const struct td_settings *settings = &daemon->options->settings;
    struct td_setup *setup = calloc(1, sizeof *setup);
    if (setup == NULL)
        return td_problem_set(problem, TD_NO_MEMORY, NULL, 0, "no memory for the setup");
    enum td_result result =
        td_prepare_setup(settings, daemon->phrases, daemon->now_ns, setup, problem);
    if (result == TD_OK)
        result = open_library(daemon, problem);
    if (result == TD_OK)
        result = td_logger_start(&daemon->logger, problem);
    if (result == TD_OK)
        td_logger_keep(daemon->logger, &(struct td_keep){.days = settings->keep_days,
                                                         .mb = settings->keep_mb});
    if (result == TD_OK)
        result = open_voice(daemon, problem);
    setup->hills_on_board = daemon->on_board.now.hills;
    const struct td_cab_parts parts = {
        .program = daemon->name,
        .settings = settings,
        .book = td_phrase_file_book(daemon->phrases),
        .library = daemon->library,
        .logger = daemon->logger,
        .voice = daemon->voice,
    };
    if (result == TD_OK)
        result = td_cab_start(&parts, setup, daemon->now_ns, &daemon->cab, problem);
    /* Without any hills "ready, no hills" says it all. */
    if (result == TD_OK && daemon->on_board.refused.text[0] != '\0' &&
        daemon->on_board.now.hills > 0)
        (void)td_cab_command(daemon->cab, TD_COMMAND_LIBRARY_REFUSED, 0);
    free(setup);
    return result;
}

static enum td_result start(struct td_daemon *daemon, struct td_problem *problem)
{
    const struct td_settings *settings = &daemon->options->settings;
    enum td_result result = open_signals(daemon, problem);
    daemon->now_ns = daemon->started_ns = td_clock_now_ns();
    if (result == TD_OK)
        result = td_gpsd_open(settings->gpsd_host, settings->gpsd_port, daemon->now_ns,
                              &daemon->gpsd, problem);
    if (result == TD_OK)
        result = td_prepare_phrases(settings, &daemon->phrases, problem);
    if (result == TD_OK)
        result = td_control_open(settings->control, &daemon->control, problem);
    if (result == TD_OK)
        result = td_button_open(settings->button, settings->button_key, daemon->now_ns,
                                &daemon->button, problem);
    if (result == TD_OK && settings->button[0] != '\0' && !td_button_up(daemon->button))
        td_journal(TD_LEVEL_WARN, "button: no device at %s yet", settings->button);
    if (result == TD_OK)
        result = open_cab(daemon, problem);
    return result;
}

/* --- the loop --- */

static void save_state(struct td_daemon *daemon)
{
    struct td_carried carried;
    if (!td_cab_carried(daemon->cab, daemon->now_ns, &carried))
        return;
    char *text = td_carried_text(&carried);
    if (text != NULL)
        td_logger_state_file(daemon->logger, daemon->options->settings.state, text);
    free(text);
}

static void take_signals(struct td_daemon *daemon)
{
    struct signalfd_siginfo got;
    while (read(daemon->signal_fd, &got, sizeof got) == (ssize_t)sizeof got) {
        if (got.ssi_signo == SIGHUP)
            td_daemon_reload(daemon, 0);
        else
            daemon->stopping = true;
    }
}

static void take_gpsd(struct td_daemon *daemon, short ready)
{
    struct td_gpsd_state before, after;
    struct td_fix fix;
    td_gpsd_state(daemon->gpsd, &before);
    if (ready != 0)
        td_gpsd_ready(daemon->gpsd, daemon->now_ns);
    td_gpsd_tick(daemon->gpsd, daemon->now_ns);
    while (td_gpsd_fix(daemon->gpsd, &fix))
        td_cab_fix(daemon->cab, &fix);
    td_gpsd_state(daemon->gpsd, &after);
    if (after.health != before.health)
        td_journal(after.health == TD_GPSD_FIXES ? TD_LEVEL_INFO : TD_LEVEL_WARN, "gps: %s",
                   td_gpsd_health_name(after.health));
}

static void take_library(struct td_daemon *daemon)
{
    struct td_answer answer;
    /* What finds no room stays with the I/O thread until a later wake-up. */
    while (td_cab_has_room(daemon->cab) && td_library_take(daemon->library, &answer)) {
        /* A hill of the library in use that is not as it was packed, or cannot be read. */
        if (answer.kind == TD_ANSWER_OFFER && answer.result != TD_OK)
            daemon->on_board.refused = answer.problem;
        if (answer.kind == TD_ANSWER_OFFER || answer.kind == TD_ANSWER_PLAN)
            td_cab_answer(daemon->cab, &answer);
        else
            td_daemon_answered(daemon, &answer);
    }
}

static int64_t sooner(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static void set_timer(const struct td_daemon *daemon)
{
    int64_t at_ns = sooner(td_cab_next_ns(daemon->cab), td_gpsd_next_tick_ns(daemon->gpsd));
    at_ns = sooner(at_ns, td_voice_next_tick_ns(daemon->voice));
    at_ns = sooner(at_ns, td_button_next_ns(daemon->button));
    at_ns = sooner(at_ns, td_menu_next_ns(&daemon->menu));
    at_ns = sooner(at_ns, daemon->save_ns);
    if (daemon->watchdog_every_ns > 0)
        at_ns = sooner(at_ns, daemon->watchdog_ns);
    /* 0 would switch the timer off. */
    if (at_ns < 1)
        at_ns = 1;
    struct itimerspec when = {0};
    when.it_value.tv_sec = at_ns / TD_NS_PER_S;
    when.it_value.tv_nsec = at_ns % TD_NS_PER_S;
    (void)timerfd_settime(daemon->timer_fd, TFD_TIMER_ABSTIME, &when, NULL);
}

static size_t fill_polls(const struct td_daemon *daemon, struct pollfd polls[POLLS_MAX])
{
    polls[POLL_GPSD] = (struct pollfd){.fd = td_gpsd_fd(daemon->gpsd),
                                       .events = td_gpsd_poll_events(daemon->gpsd)};
    polls[POLL_VOICE] = (struct pollfd){.fd = td_voice_fd(daemon->voice), .events = POLLIN};
    polls[POLL_LIBRARY] = (struct pollfd){.fd = td_library_fd(daemon->library), .events = POLLIN};
    polls[POLL_SIGNAL] = (struct pollfd){.fd = daemon->signal_fd, .events = POLLIN};
    polls[POLL_TIMER] = (struct pollfd){.fd = daemon->timer_fd, .events = POLLIN};
    polls[POLL_BUTTON] = (struct pollfd){.fd = td_button_fd(daemon->button), .events = POLLIN};
    return POLL_CONTROL + td_control_polls(daemon->control, &polls[POLL_CONTROL]);
}

/* Duties that come round by themselves. */
static void keep_up(struct td_daemon *daemon)
{
    if (daemon->now_ns >= daemon->save_ns) {
        save_state(daemon);
        daemon->save_ns = daemon->now_ns + save_every_ns;
    }
    if (daemon->watchdog_every_ns > 0 && daemon->now_ns >= daemon->watchdog_ns) {
        (void)sd_notify(0, "WATCHDOG=1");
        daemon->watchdog_ns = daemon->now_ns + daemon->watchdog_every_ns;
    }
}

static void turn(struct td_daemon *daemon)
{
    struct pollfd polls[POLLS_MAX];
    size_t count = fill_polls(daemon, polls);
    set_timer(daemon);
    if (poll(polls, (nfds_t)count, -1) < 0 && errno != EINTR)
        td_journal(TD_LEVEL_ERROR, "poll: %s", strerror(errno));
    daemon->now_ns = td_clock_now_ns();
    uint64_t times;
    ssize_t got = read(daemon->timer_fd, &times, sizeof times);
    (void)got;
    take_signals(daemon);
    take_gpsd(daemon, polls[POLL_GPSD].revents);
    if (polls[POLL_VOICE].revents != 0)
        td_voice_read(daemon->voice, daemon->now_ns);
    td_voice_tick(daemon->voice, daemon->now_ns);
    take_library(daemon);
    td_control_ready(daemon->control, &polls[POLL_CONTROL], count - POLL_CONTROL);
    td_daemon_requests(daemon);
    td_daemon_button(daemon);
    td_cab_run(daemon->cab, daemon->now_ns);
    keep_up(daemon);
}

static void run_until_stopped(struct td_daemon *daemon)
{
    uint64_t watchdog_us = 0;
    if (sd_watchdog_enabled(0, &watchdog_us) > 0)
        daemon->watchdog_every_ns = (int64_t)(watchdog_us / 2) * 1000;
    daemon->watchdog_ns = daemon->now_ns;
    daemon->save_ns = daemon->now_ns + save_every_ns;
    td_cab_run(daemon->cab, daemon->now_ns);
    struct td_cab_state state;
    td_cab_state(daemon->cab, daemon->now_ns, &state);
    td_journal(TD_LEVEL_INFO, "ready, %u hills on board", state.setup->hills_on_board);
    (void)sd_notifyf(0, "READY=1\nSTATUS=%u hills on board", state.setup->hills_on_board);
    while (!daemon->stopping)
        turn(daemon);
    (void)sd_notify(0, "STOPPING=1");
    td_journal(TD_LEVEL_INFO, "stopping");
    save_state(daemon);
}

static void end(struct td_daemon *daemon)
{
    struct td_cab_state state = {0};
    if (daemon->cab != NULL)
        td_cab_state(daemon->cab, daemon->now_ns, &state);
    td_voice_stop(&daemon->voice);
    td_logger_stop(&daemon->logger, state.moved);
    td_library_stop(&daemon->library);
    td_cab_free(&daemon->cab);
    td_button_close(&daemon->button);
    td_control_close(&daemon->control);
    td_gpsd_close(&daemon->gpsd);
    td_phrase_file_free(&daemon->phrases);
    if (daemon->signal_fd >= 0)
        (void)close(daemon->signal_fd);
    if (daemon->timer_fd >= 0)
        (void)close(daemon->timer_fd);
}

enum td_result td_daemon_run(const struct td_daemon_options *options, struct td_problem *problem)
{
    static struct td_daemon daemon;
    daemon = (struct td_daemon){.options = options, .signal_fd = -1, .timer_fd = -1};
    (void)snprintf(daemon.name, sizeof daemon.name, "talkdownd %s", options->version);
    enum td_result result = start(&daemon, problem);
    if (result == TD_OK)
        run_until_stopped(&daemon);
    end(&daemon);
    return result;
}
