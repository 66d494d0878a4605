/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A pumped voice for tests. */
#include "support/voice_rig.h"

#include "support/cm.h"

#include <poll.h>
#include <string.h>

#include "voice/tell.h"

static const int64_t patience_ns = 30000000000;

int voice_rig_main(int argc, char **argv)
{
    struct td_voice_options options;
    int fd = -1;
    return td_voice_child_args(argc, argv, &options, &fd) ? td_voice_child(fd, &options) : -1;
}

void voice_rig_start(struct voice_rig *rig, const char *device)
{
    struct td_voice_options options = {"/proc/self/exe", "en-us", 160, device, 50, 100};
    struct td_problem problem = {0};
    memset(rig, 0, sizeof *rig);
    if (td_voice_start(&options, td_voice_now_ns(), &rig->voice, &problem) != TD_OK)
        fail_msg("%s", problem.text);
}

void voice_rig_speak(struct voice_rig *rig, uint32_t serial, enum td_category category,
                     const char *words)
{
    int64_t now_ns = td_voice_now_ns();
    td_voice_speak(rig->voice, now_ns, serial, category, now_ns + patience_ns, words);
}

static void collect(struct voice_rig *rig)
{
    struct td_report report;
    while (td_voice_report(rig->voice, &report)) {
        assert_true(rig->report_count < 64);
        rig->reports[rig->report_count++] = report;
    }
    enum td_sound change;
    while ((change = td_voice_sound_change(rig->voice)) != TD_SOUND_SAME) {
        rig->sound = change;
        rig->ups += change == TD_SOUND_UP;
        rig->downs += change == TD_SOUND_DOWN;
        struct td_voice_state state;
        td_voice_state(rig->voice, &state);
        if (change == TD_SOUND_DOWN)
            print_message("sound is down: %s\n", state.device);
    }
}

void voice_rig_pump(struct voice_rig *rig)
{
    struct pollfd wait = {td_voice_fd(rig->voice), POLLIN, 0};
    int64_t left_ns = td_voice_next_tick_ns(rig->voice) - td_voice_now_ns();
    int timeout_ms = left_ns < 0 ? 0 : left_ns > 100000000 ? 100 : (int)(left_ns / 1000000) + 1;
    (void)poll(&wait, 1, timeout_ms);
    td_voice_read(rig->voice, td_voice_now_ns());
    td_voice_tick(rig->voice, td_voice_now_ns());
    collect(rig);
}

unsigned voice_rig_count(const struct voice_rig *rig, uint32_t serial, enum td_report_kind kind)
{
    unsigned count = 0;
    for (unsigned i = 0; i < rig->report_count; i++)
        count += rig->reports[i].serial == serial && rig->reports[i].kind == kind;
    return count;
}

static void tell_and_fail(const struct voice_rig *rig, const char *what)
{
    for (unsigned i = 0; i < rig->report_count; i++)
        print_message("report: serial %u kind %d\n", rig->reports[i].serial,
                      (int)rig->reports[i].kind);
    struct td_voice_state state;
    td_voice_state(rig->voice, &state);
    fail_msg("%s did not come; running %d, device up %d \"%s\", respawns %u", what, state.running,
             state.device_up, state.device, state.respawns);
}

void voice_rig_until(struct voice_rig *rig, uint32_t serial, enum td_report_kind kind)
{
    int64_t deadline_ns = td_voice_now_ns() + patience_ns;
    collect(rig);
    while (voice_rig_count(rig, serial, kind) == 0) {
        if (td_voice_now_ns() > deadline_ns)
            tell_and_fail(rig, "a report");
        voice_rig_pump(rig);
    }
}

void voice_rig_until_sound(struct voice_rig *rig, enum td_sound sound)
{
    int64_t deadline_ns = td_voice_now_ns() + patience_ns;
    collect(rig);
    while (rig->sound != sound) {
        if (td_voice_now_ns() > deadline_ns)
            tell_and_fail(rig, sound == TD_SOUND_UP ? "sound" : "the loss of sound");
        voice_rig_pump(rig);
    }
}

int voice_rig_pid(const struct voice_rig *rig)
{
    struct td_voice_state state;
    td_voice_state(rig->voice, &state);
    return state.pid;
}
