/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice process: takes words from the coach process, makes sound of them and tells what became
 * of it. Its heart beats while its loop runs and, when a stream is open, only if the audio callback
 * ran since: a hung sound server stops it, and the coach process then kills this one.
 *
 * Leaving is by _exit: closing a stream may block for ever, and the system closes it as well. */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "talkdown/text.h"
#include "voice/feed.h"
#include "voice/player.h"
#include "voice/protocol.h"
#include "voice/synth.h"
#include "voice/tell.h"
#include "voice/volume.h"
#include "voice/voice.h"

static const int64_t ms_ns = 1000000;
static const int64_t beat_every_ns = 250000000;
static const int64_t retry_every_ns = 1000000000;
static const int64_t look_every_ns = 10000000; /* at the feed, while something is said */
/* Other sound stays low so long after the last word: prompts come in pairs. */
static const int64_t announce_after_ns = 700000000;

/* PortAudio's buffer has four blocks. */
enum { UP_AFTER_BEATS = 12 };

struct words {
    uint32_t serial;
    enum td_category category;
    int64_t expires_ns;
    char text[TD_SPEECH_BYTES_MAX + 1];
};

struct child {
    int fd;
    const struct td_voice_options *options;
    struct td_synth *synth;
    struct td_player *player; /* NULL while there is no device */
    struct td_feed feed;
    int64_t retry_ns, beat_ns;
    unsigned beats_seen, beats_at_open;
    int device_told; /* -1 nothing yet, 0 down, 1 up */
    struct words waiting[TD_VOICE_WAITING_MAX];
    unsigned waiting_count;
    struct td_sound_clip clip; /* what is being said; no samples: nothing */
    uint32_t serial;
    int64_t started_due_ns, ended_due_ns; /* when it is heard; 0 not known yet */
    int64_t announce_until_ns; /* 0: other sound is not ducked */
    bool failed, parent_gone;
};

/* A parent that does not read for a minute has a full queue. A beat is no loss then; anything else
 * is, and the cure is to end: what was asked for is LOST then, and a new process starts clean. */
static void tell(struct child *child, const struct td_message *message)
{
    if (td_message_send(child->fd, message))
        return;
    if (errno != EAGAIN && errno != EWOULDBLOCK)
        child->parent_gone = true;
    else if (message->kind != TD_MESSAGE_BEAT)
        child->failed = true;
}

static void report(struct child *child, uint32_t serial, enum td_report_kind kind)
{
    struct td_message message = {.kind = TD_MESSAGE_REPORT, .serial = serial, .value = (int)kind};
    tell(child, &message);
}

static void tell_device(struct child *child, int up, const char *text)
{
    struct td_message message = {.kind = TD_MESSAGE_DEVICE, .value = up};
    if (child->device_told == up)
        return;
    child->device_told = up;
    (void)td_text_copy(message.text, sizeof message.text, text);
    tell(child, &message);
}

/* ---- the device ---- */

static void forget_clip(struct child *child, enum td_report_kind kind)
{
    report(child, child->serial, kind);
    td_sound_clip_free(&child->clip);
    td_feed_clear(&child->feed);
    child->started_due_ns = child->ended_due_ns = 0;
}

static void lose_device(struct child *child, const char *why)
{
    td_player_close(&child->player);
    if (child->clip.samples)
        forget_clip(child, TD_REPORT_LOST);
    tell_device(child, 0, why);
}

static void try_device(struct child *child, int64_t now_ns)
{
    struct td_problem problem = {0};
    if (now_ns < child->retry_ns)
        return;
    child->beats_at_open = atomic_load(&child->feed.beats);
    if (td_player_open(child->options->device, child->options->stream_latency_ms, &child->feed,
                       &child->player, &problem) != TD_OK)
        tell_device(child, 0, problem.text);
    child->retry_ns = td_voice_now_ns() + retry_every_ns;
}

/* ---- what is said ---- */

static void take_first_waiting(struct child *child, struct words *words)
{
    *words = child->waiting[0];
    child->waiting_count--;
    memmove(child->waiting, child->waiting + 1, child->waiting_count * sizeof *words);
}

static void begin(struct child *child, const struct words *words)
{
    struct td_problem problem = {0};
    if (!child->player) {
        report(child, words->serial, TD_REPORT_LOST);
        return;
    }
    if (td_voice_now_ns() >= words->expires_ns) {
        report(child, words->serial, TD_REPORT_DROPPED);
        return;
    }
    enum td_result result =
        td_synth_say(child->synth, words->category, words->text, &child->clip, &problem);
    if (result == TD_IO) {
        child->failed = true; /* a new process is the cure, and there it is LOST */
    } else if (result != TD_OK || td_voice_now_ns() >= words->expires_ns) {
        td_sound_clip_free(&child->clip);
        report(child, words->serial, TD_REPORT_DROPPED);
    } else {
        child->serial = words->serial;
        (void)td_feed_start(&child->feed, child->clip.samples, child->clip.count);
    }
}

/* The feed knows when samples were handed over; they are heard a latency later. */
static void follow_clip(struct child *child, int64_t now_ns)
{
    enum td_feed_state state = td_feed_state(&child->feed);
    int64_t heard_ns = now_ns + td_player_latency_ms(child->player) * ms_ns;
    if (state == TD_FEED_CUT) {
        forget_clip(child, TD_REPORT_CUT);
        return;
    }
    if (state != TD_FEED_READY && child->started_due_ns == 0)
        child->started_due_ns = heard_ns;
    if (state == TD_FEED_ENDED && child->ended_due_ns == 0)
        child->ended_due_ns = heard_ns;
    if (child->started_due_ns > 0 && now_ns >= child->started_due_ns) {
        report(child, child->serial, TD_REPORT_STARTED);
        child->started_due_ns = INT64_MAX; /* told */
    }
    if (child->ended_due_ns > 0 && now_ns >= child->ended_due_ns)
        forget_clip(child, TD_REPORT_ENDED);
}

static void cut(struct child *child, uint32_t serial)
{
    if (child->clip.samples && child->serial == serial) {
        td_feed_ask_cut(&child->feed);
        return;
    }
    for (unsigned i = 0; i < child->waiting_count; i++) {
        if (child->waiting[i].serial != serial)
            continue;
        child->waiting_count--;
        memmove(child->waiting + i, child->waiting + i + 1,
                (child->waiting_count - i) * sizeof child->waiting[0]);
        report(child, serial, TD_REPORT_CUT);
        return;
    }
}

static void take_words(struct child *child, const struct td_message *message)
{
    if (child->waiting_count == TD_VOICE_WAITING_MAX || message->value < 0 ||
        message->value >= TD_CATEGORIES) {
        report(child, message->serial, TD_REPORT_DROPPED);
        return;
    }
    struct words *words = &child->waiting[child->waiting_count++];
    int64_t left_ms = message->expires_in_ms < 86400000 ? message->expires_in_ms : 86400000;
    words->serial = message->serial;
    words->category = (enum td_category)message->value;
    words->expires_ns = td_voice_now_ns() + left_ms * ms_ns;
    (void)td_text_copy(words->text, sizeof words->text, message->text);
}

static void take_messages(struct child *child)
{
    struct td_message message;
    enum td_received received;
    while ((received = td_message_receive(child->fd, &message)) == TD_RECEIVED) {
        if (message.kind == TD_MESSAGE_SPEAK)
            take_words(child, &message);
        else if (message.kind == TD_MESSAGE_CUT)
            cut(child, message.serial);
        else if (message.kind == TD_MESSAGE_VOLUME)
            atomic_store(&child->feed.volume_percent, td_voice_volume_held(message.value));
    }
    child->parent_gone = child->parent_gone || received == TD_PEER_GONE;
}

/* ---- the loop ---- */

static void beat(struct child *child, int64_t now_ns)
{
    struct td_message message = {.kind = TD_MESSAGE_BEAT};
    unsigned beats = atomic_load(&child->feed.beats);
    if (now_ns < child->beat_ns || (child->player && beats == child->beats_seen))
        return;
    child->beats_seen = beats;
    child->beat_ns = now_ns + beat_every_ns;
    tell(child, &message);
}

static void duck(struct child *child, int64_t now_ns)
{
    if (child->clip.samples)
        child->announce_until_ns = now_ns + announce_after_ns;
    bool on = child->announce_until_ns > now_ns;
    if (!on)
        child->announce_until_ns = 0;
    if (child->player)
        td_player_announce(child->player, on);
}

static void one_round(struct child *child)
{
    int64_t now_ns = td_voice_now_ns();
    if (child->player && td_player_lost(child->player))
        lose_device(child, "the sound device is gone");
    if (!child->player)
        try_device(child, now_ns);
    /* A stream may open and never ask for sound (seen on a starved machine), or ask until its
     * buffer is full and hang in writing it: it is up once sound must have gone out. */
    if (child->player && atomic_load(&child->feed.beats) - child->beats_at_open >= UP_AFTER_BEATS)
        tell_device(child, 1, td_player_device(child->player));
    beat(child, td_voice_now_ns());
    if (child->player && child->clip.samples)
        follow_clip(child, td_voice_now_ns());
    while (!child->clip.samples && child->waiting_count > 0 && !child->failed) {
        struct words words;
        take_first_waiting(child, &words);
        begin(child, &words);
    }
    duck(child, td_voice_now_ns()); /* last: the words do not wait for it */
}

static void wait_for_more(struct child *child)
{
    struct pollfd wait = {child->fd, POLLIN, 0};
    int64_t now_ns = td_voice_now_ns(), until_ns = now_ns + beat_every_ns / 2;
    if (child->clip.samples || (child->player && child->device_told != 1))
        until_ns = now_ns + look_every_ns;
    if (!child->player && child->retry_ns < until_ns)
        until_ns = child->retry_ns;
    if (child->announce_until_ns > 0 && child->announce_until_ns < until_ns)
        until_ns = child->announce_until_ns;
    int64_t left_ms = (until_ns - now_ns + ms_ns - 1) / ms_ns;
    (void)poll(&wait, 1, left_ms > 0 ? (int)left_ms : 0);
}

int td_voice_child(int fd, const struct td_voice_options *options)
{
    static struct child child;
    struct td_problem problem = {0};
    (void)signal(SIGINT, SIG_IGN); /* at a terminal it is meant for the coach process */
    child.fd = fd;
    child.options = options;
    child.device_told = -1;
    td_feed_init(&child.feed, td_voice_volume_held(options->volume_percent));
    /* Before PortAudio's threads: it forks. */
    if (td_synth_open(options->voice, options->rate_wpm, &child.synth, &problem) != TD_OK) {
        tell_device(&child, 0, problem.text);
        return 1;
    }
    while (!child.parent_gone && !child.failed) {
        one_round(&child);
        wait_for_more(&child);
        take_messages(&child);
    }
    td_synth_close(&child.synth);
    _exit(child.failed ? 1 : 0);
}
