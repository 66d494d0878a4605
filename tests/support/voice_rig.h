/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A voice with a real child process for tests: pumps it by poll, without sleeping, until a report
 * or a state comes, and fails when it does not in time. The test's own binary is the child's
 * program: its main begins with voice_rig_main. */
#ifndef TD_TESTS_VOICE_RIG_H
#define TD_TESTS_VOICE_RIG_H

#include "talkdown/result.h"
#include "voice/voice.h"

struct voice_rig {
    struct td_voice *voice;
    struct td_report reports[64]; /* all so far, in order */
    unsigned report_count;
    enum td_sound sound; /* last change told */
    unsigned downs, ups;
};

/* -1 when this process is the test, else the exit code of the child. */
int voice_rig_main(int argc, char **argv);
void voice_rig_start(struct voice_rig *rig, const char *device);
void voice_rig_speak(struct voice_rig *rig, uint32_t serial, enum td_category category,
                     const char *words);
/* One wait of at most 100 ms for the child, then read and tick by the real clock. */
void voice_rig_pump(struct voice_rig *rig);
/* Pumps until the report is there; fails the test after 30 s. */
void voice_rig_until(struct voice_rig *rig, uint32_t serial, enum td_report_kind kind);
void voice_rig_until_sound(struct voice_rig *rig, enum td_sound sound);
/* How many reports of this kind for the serial. */
unsigned voice_rig_count(const struct voice_rig *rig, uint32_t serial, enum td_report_kind kind);
int voice_rig_pid(const struct voice_rig *rig);

#endif
