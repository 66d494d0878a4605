/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice process seen from the coach process: a child with eSpeak NG and PortAudio, spoken to
 * over a SOCK_SEQPACKET pair. Never blocks: every call returns at once; the daemon polls the
 * descriptor and calls td_voice_read and td_voice_tick.
 *
 * A child whose heart (a counter fed from the audio callback, or from its idle loop while there is
 * no device) does not beat for 2 s is killed and respawned with back-off 0.25, 0.5, 1 ... 5 s; for
 * its first beat it has twice the back-off where that is longer. What it was saying is reported
 * LOST. Without a device it lives, tries again every second by re-initialising, and answers LOST to
 * whatever it is asked to say. */
#ifndef TD_VOICE_VOICE_H
#define TD_VOICE_VOICE_H

#include <stdbool.h>
#include <stdint.h>

#include "talkdown/coach.h"
#include "talkdown/result.h"

enum { TD_VOICE_WAITING_MAX = 4, TD_VOICE_VOLUME_LEAST = 40 /* percent: never inaudible */ };

struct td_voice;

struct td_voice_options {
    const char *program;  /* path of the binary to execute with --voice (own /proc/self/exe) */
    const char *voice;    /* "en-us" */
    int rate_wpm;
    const char *device;   /* PortAudio device by name or part of it, "" default */
    int stream_latency_ms;
    int volume_percent;   /* TD_VOICE_VOLUME_LEAST to 100; what is outside is taken to the edge */
};

TD_CHECKED enum td_result td_voice_start(const struct td_voice_options *options, int64_t now_ns,
                                         struct td_voice **out, struct td_problem *problem);
int td_voice_fd(const struct td_voice *voice); /* to poll for reading; -1 while there is no child */
int64_t td_voice_next_tick_ns(const struct td_voice *voice);
/* Asks it to say words; reports follow: STARTED as the first sample is heard, then ENDED, CUT or
 * LOST; DROPPED instead of all that when it could not begin before expires_ns (same clock as
 * now_ns) or the words cannot be said; LOST at once while there is no child or no device. Words
 * asked for while others are being said wait for them, at most TD_VOICE_WAITING_MAX. */
void td_voice_speak(struct td_voice *voice, int64_t now_ns, uint32_t serial,
                    enum td_category category, int64_t expires_ns, const char *words);
void td_voice_cut(struct td_voice *voice, uint32_t serial);
void td_voice_volume(struct td_voice *voice, int volume_percent);
/* After the descriptor became readable, and at next_tick: heart, respawn. Takes reports out one
 * at a time: returns true and fills one of them. `sound` tells a change of the device. */
void td_voice_read(struct td_voice *voice, int64_t now_ns);
void td_voice_tick(struct td_voice *voice, int64_t now_ns);
bool td_voice_report(struct td_voice *voice, struct td_report *report);
enum td_sound td_voice_sound_change(struct td_voice *voice); /* SAME when none since last asked */
struct td_voice_state {
    bool running, device_up;
    int pid;
    unsigned respawns;
    char device[128]; /* its name; without one, why there is none, as far as known */
};
void td_voice_state(const struct td_voice *voice, struct td_voice_state *state);
/* Kills the child and waits until it is gone. */
void td_voice_stop(struct td_voice **voice);

/* In the main of `program`, before anything else: true when it was executed as the voice process.
 * Fills the options (strings point into argv; program is argv[0]) and its end of the pair:
 *   if (td_voice_child_args(argc, argv, &options, &fd))
 *       return td_voice_child(fd, &options); */
bool td_voice_child_args(int argc, char **argv, struct td_voice_options *options, int *fd);

/* The child's main: `fd` is its end of the pair. Returns the exit code when the parent is gone or
 * the synthesis process failed. */
int td_voice_child(int fd, const struct td_voice_options *options);

#endif
