/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The coach process's side of the voice: keeps a voice child alive, hands it words, and knows at
 * any time what became of each. Nothing here waits. */
#include "voice/voice.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "talkdown/text.h"
#include "voice/child_args.h"
#include "voice/protocol.h"
#include "voice/tell.h"
#include "voice/volume.h"

enum { ASKED_MAX = TD_VOICE_WAITING_MAX + 4, REPORTS_MAX = 64, DYING_MAX = 16 };

static const int64_t silent_limit_ns = 2000000000;
static const int64_t back_off_least_ns = 250000000, back_off_most_ns = 5000000000;
static const int64_t healthy_after_ns = 10000000000; /* beats this long: back-off starts anew */
static const int64_t reap_every_ns = 100000000;

struct td_voice {
    struct td_voice_options options; /* strings below */
    char program[512], voice_name[64], device_wish[128];
    int fd; /* -1: no child */
    pid_t pid;
    int64_t born_ns, beat_ns, respawn_ns, back_off_ns, now_ns;
    bool has_beaten; /* this child, at least once */
    unsigned respawns;
    pid_t dying[DYING_MAX]; /* killed, not yet gone */
    unsigned dying_count;
    uint32_t asked[ASKED_MAX]; /* serials without a last report */
    unsigned asked_count;
    struct td_report reports[REPORTS_MAX];
    unsigned report_from, report_count;
    enum td_sound sound, told; /* SAME: not known yet */
    bool dipped;               /* was down since last told */
    char device[128];
};

/* ---- reports ---- */

static void push_report(struct td_voice *voice, uint32_t serial, enum td_report_kind kind)
{
    /* Cannot overflow while every serial has at most two reports and speak refuses a ninth. */
    unsigned at = (voice->report_from + voice->report_count) % REPORTS_MAX;
    voice->reports[at].serial = serial;
    voice->reports[at].kind = kind;
    if (voice->report_count < REPORTS_MAX)
        voice->report_count++;
    else
        voice->report_from = (voice->report_from + 1) % REPORTS_MAX;
}

static bool was_asked(const struct td_voice *voice, uint32_t serial)
{
    for (unsigned i = 0; i < voice->asked_count; i++)
        if (voice->asked[i] == serial)
            return true;
    return false;
}

static void forget_asked(struct td_voice *voice, uint32_t serial)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < voice->asked_count; i++)
        if (voice->asked[i] != serial)
            voice->asked[kept++] = voice->asked[i];
    voice->asked_count = kept;
}

static void lose_all_asked(struct td_voice *voice)
{
    for (unsigned i = 0; i < voice->asked_count; i++)
        push_report(voice, voice->asked[i], TD_REPORT_LOST);
    voice->asked_count = 0;
}

/* `text`: the device's name, or why there is none. */
static void set_sound(struct td_voice *voice, enum td_sound sound, const char *text)
{
    voice->dipped = voice->dipped || sound == TD_SOUND_DOWN;
    voice->sound = sound;
    (void)td_text_copy(voice->device, sizeof voice->device, text);
}

/* ---- the child's life ---- */

static void reap(struct td_voice *voice)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < voice->dying_count; i++) {
        pid_t gone = waitpid(voice->dying[i], NULL, WNOHANG);
        if (gone == 0 || (gone < 0 && errno == EINTR))
            voice->dying[kept++] = voice->dying[i];
    }
    voice->dying_count = kept;
}

static void bury(struct td_voice *voice, const char *why)
{
    if (voice->fd < 0)
        return;
    if (voice->sound == TD_SOUND_DOWN && voice->device[0])
        why = NULL; /* it said itself why it had no sound */
    (void)close(voice->fd);
    (void)kill(voice->pid, SIGKILL);
    if (voice->dying_count < DYING_MAX)
        voice->dying[voice->dying_count++] = voice->pid;
    voice->fd = -1;
    voice->pid = 0;
    reap(voice);
    lose_all_asked(voice);
    if (why)
        set_sound(voice, TD_SOUND_DOWN, why);
    voice->respawn_ns = voice->now_ns + voice->back_off_ns;
    voice->back_off_ns = voice->back_off_ns * 2 < back_off_most_ns ? voice->back_off_ns * 2
                                                                    : back_off_most_ns;
}

/* In the forked child: only what is safe while other threads of the parent held locks. */
static _Noreturn void become_voice(const struct td_child_args *args, int fd, pid_t parent)
{
    sigset_t none;
    (void)sigemptyset(&none);
    (void)sigprocmask(SIG_SETMASK, &none, NULL);
    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
    if (getppid() == parent && fcntl(fd, F_SETFD, 0) == 0)
        (void)execv(args->argv[0], args->argv);
    _exit(127);
}

static bool spawn(struct td_voice *voice)
{
    int fds[2];
    struct td_child_args args;
    if (!td_wire_pair(SOCK_SEQPACKET, fds))
        return false;
    td_child_args_write(&voice->options, fds[1], &args);
    pid_t parent = getpid(), pid = fork();
    if (pid == 0)
        become_voice(&args, fds[1], parent);
    (void)close(fds[1]);
    if (pid < 0) {
        (void)close(fds[0]);
        return false;
    }
    voice->fd = fds[0];
    voice->pid = pid;
    voice->born_ns = voice->beat_ns = voice->now_ns;
    voice->has_beaten = false;
    return true;
}

static void respawn(struct td_voice *voice)
{
    if (spawn(voice)) {
        voice->respawns++;
        return;
    }
    voice->respawn_ns = voice->now_ns + back_off_most_ns;
}

/* Starting takes a busy machine longer than two seconds: children that never came to a beat are
 * given ever more time, or none would ever live. */
static int64_t dead_at_ns(const struct td_voice *voice)
{
    int64_t limit_ns = silent_limit_ns;
    if (!voice->has_beaten && 2 * voice->back_off_ns > limit_ns)
        limit_ns = 2 * voice->back_off_ns;
    return voice->beat_ns + limit_ns;
}

/* ---- outside ---- */

enum td_result td_voice_start(const struct td_voice_options *options, int64_t now_ns,
                              struct td_voice **out, struct td_problem *problem)
{
    struct td_voice *voice = calloc(1, sizeof *voice);
    if (!voice)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory for the voice");
    if (!td_text_copy(voice->program, sizeof voice->program, options->program) ||
        !td_text_copy(voice->voice_name, sizeof voice->voice_name, options->voice) ||
        !td_text_copy(voice->device_wish, sizeof voice->device_wish, options->device)) {
        free(voice);
        return td_voice_tell(problem, TD_INVALID, NULL, "a name for the voice is too long");
    }
    voice->options = *options;
    voice->options.program = voice->program;
    voice->options.voice = voice->voice_name;
    voice->options.device = voice->device_wish;
    voice->options.volume_percent = td_voice_volume_held(options->volume_percent);
    voice->fd = -1;
    voice->now_ns = now_ns;
    voice->back_off_ns = back_off_least_ns;
    if (!spawn(voice)) {
        enum td_result result = td_voice_tell(problem, TD_IO, NULL,
                                              "cannot start the voice process: %s",
                                              strerror(errno));
        free(voice);
        return result;
    }
    *out = voice;
    return TD_OK;
}

int td_voice_fd(const struct td_voice *voice)
{
    return voice->fd;
}

int64_t td_voice_next_tick_ns(const struct td_voice *voice)
{
    int64_t next_ns = voice->fd >= 0 ? dead_at_ns(voice) : voice->respawn_ns;
    if (voice->dying_count > 0 && voice->now_ns + reap_every_ns < next_ns)
        next_ns = voice->now_ns + reap_every_ns;
    return next_ns;
}

void td_voice_speak(struct td_voice *voice, int64_t now_ns, uint32_t serial,
                    enum td_category category, int64_t expires_ns, const char *words)
{
    struct td_message message = {.kind = TD_MESSAGE_SPEAK, .serial = serial};
    message.value = (int32_t)category;
    message.expires_in_ms = (expires_ns - now_ns) / 1000000;
    if (now_ns >= expires_ns || voice->asked_count == ASKED_MAX || !words[0] ||
        !td_text_copy(message.text, sizeof message.text, words)) {
        push_report(voice, serial, TD_REPORT_DROPPED);
        return;
    }
    if (voice->fd < 0 || !td_message_send(voice->fd, &message)) {
        push_report(voice, serial, TD_REPORT_LOST);
        return;
    }
    voice->asked[voice->asked_count++] = serial;
}

void td_voice_cut(struct td_voice *voice, uint32_t serial)
{
    struct td_message message = {.kind = TD_MESSAGE_CUT, .serial = serial};
    if (voice->fd >= 0)
        (void)td_message_send(voice->fd, &message); /* if it fails the heart has stopped as well */
}

void td_voice_volume(struct td_voice *voice, int volume_percent)
{
    struct td_message message = {.kind = TD_MESSAGE_VOLUME};
    message.value = voice->options.volume_percent = td_voice_volume_held(volume_percent);
    if (voice->fd >= 0)
        (void)td_message_send(voice->fd, &message);
}

static void take_report(struct td_voice *voice, const struct td_message *message)
{
    if (message->value < TD_REPORT_STARTED || message->value > TD_REPORT_DROPPED ||
        !was_asked(voice, message->serial))
        return;
    push_report(voice, message->serial, (enum td_report_kind)message->value);
    if (message->value != TD_REPORT_STARTED)
        forget_asked(voice, message->serial);
}

static void take_beat(struct td_voice *voice)
{
    voice->beat_ns = voice->now_ns;
    voice->has_beaten = true;
    if (voice->now_ns - voice->born_ns >= healthy_after_ns)
        voice->back_off_ns = back_off_least_ns;
}

void td_voice_read(struct td_voice *voice, int64_t now_ns)
{
    voice->now_ns = now_ns;
    while (voice->fd >= 0) {
        struct td_message message;
        enum td_received received = td_message_receive(voice->fd, &message);
        if (received == TD_NOTHING_YET)
            return;
        if (received == TD_PEER_GONE) {
            bury(voice, "the voice process died");
        } else if (message.kind == TD_MESSAGE_BEAT) {
            take_beat(voice);
        } else if (message.kind == TD_MESSAGE_REPORT) {
            take_report(voice, &message);
        } else if (message.kind == TD_MESSAGE_DEVICE) {
            set_sound(voice, message.value ? TD_SOUND_UP : TD_SOUND_DOWN, message.text);
        }
    }
}

void td_voice_tick(struct td_voice *voice, int64_t now_ns)
{
    voice->now_ns = now_ns;
    if (voice->dying_count > 0)
        reap(voice);
    if (voice->fd >= 0 && now_ns >= dead_at_ns(voice)) {
        td_voice_read(voice, now_ns); /* beats may wait in the queue when we were the slow one */
        if (voice->fd >= 0 && now_ns >= dead_at_ns(voice))
            bury(voice, "the voice process or its sound server hung");
    }
    if (voice->fd < 0 && now_ns >= voice->respawn_ns)
        respawn(voice);
}

bool td_voice_report(struct td_voice *voice, struct td_report *report)
{
    if (voice->report_count == 0)
        return false;
    *report = voice->reports[voice->report_from];
    voice->report_from = (voice->report_from + 1) % REPORTS_MAX;
    voice->report_count--;
    return true;
}

/* A device that went and came between two questions is told as both, one after the other. */
enum td_sound td_voice_sound_change(struct td_voice *voice)
{
    enum td_sound now = voice->dipped ? TD_SOUND_DOWN : voice->sound;
    voice->dipped = false;
    if (now == voice->told)
        now = voice->sound;
    if (now == voice->told)
        return TD_SOUND_SAME;
    voice->told = now;
    return now;
}

void td_voice_state(const struct td_voice *voice, struct td_voice_state *state)
{
    state->running = voice->fd >= 0;
    state->device_up = voice->sound == TD_SOUND_UP;
    state->pid = (int)voice->pid;
    state->respawns = voice->respawns;
    (void)td_text_copy(state->device, sizeof state->device, voice->device);
}

void td_voice_stop(struct td_voice **voice)
{
    if (!voice || !*voice)
        return;
    bury(*voice, "stopped");
    for (unsigned i = 0; i < (*voice)->dying_count; i++)
        while (waitpid((*voice)->dying[i], NULL, 0) < 0 && errno == EINTR)
            ;
    free(*voice);
    *voice = NULL;
}
