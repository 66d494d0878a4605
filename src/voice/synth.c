/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Words into a finished clip: asks the synthesis server for raw speech, then shapes, trims and
 * levels it and puts the tone in front. */
#include "voice/synth.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "voice/loudness.h"
#include "voice/shape.h"
#include "voice/tell.h"
#include "voice/tones.h"
#include "voice/wire.h"

enum { SAMPLES_MAX = TD_SOUND_SECONDS_MAX * TD_SOUND_RATE_HZ, VOICE_NAME_MAX = 64 };
enum { RATE_WPM_LEAST = 80, RATE_WPM_MOST = 300 }; /* what eSpeak NG does without its speed-up */

/* The server limits one utterance to 5 s itself; this is for a server that is gone or stopped. */
static const int64_t answer_limit_ns = 8000000000;
static const double trim_below_peak_db = 40;
static const size_t trim_keep = TD_SOUND_RATE_HZ / 200; /* 5 ms of what is fainter, so no click */

struct td_synth {
    int fd;
    pid_t server;
};

static enum td_result start_server(const char *voice, int rate_wpm, struct td_synth *synth,
                                   struct td_problem *problem)
{
    int fds[2];
    if (!td_wire_pair(SOCK_STREAM, fds))
        return td_voice_tell(problem, TD_IO, NULL, "cannot make a socket pair: %s",
                             strerror(errno));
    pid_t parent = getpid(), server = fork();
    if (server == 0) {
        (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
        if (getppid() != parent)
            _exit(1);
        (void)close(fds[0]);
        td_synth_serve(fds[1], voice, rate_wpm);
    }
    (void)close(fds[1]);
    if (server < 0) {
        (void)close(fds[0]);
        return td_voice_tell(problem, TD_IO, NULL, "cannot start the synthesis process: %s",
                             strerror(errno));
    }
    synth->fd = fds[0];
    synth->server = server;
    return TD_OK;
}

static enum td_result take_reply(struct td_synth *synth, struct td_synth_reply *reply,
                                 struct td_problem *problem)
{
    if (!td_wire_receive(synth->fd, reply, sizeof *reply, td_voice_now_ns() + answer_limit_ns))
        return td_voice_tell(problem, TD_IO, NULL, "the synthesis process is gone or hangs");
    reply->text[sizeof reply->text - 1] = '\0';
    if (reply->status != TD_OK)
        return td_voice_tell(problem, (enum td_result)reply->status, NULL, "%s", reply->text);
    if (reply->count > SAMPLES_MAX)
        return td_voice_tell(problem, TD_IO, NULL, "the synthesis process answered nonsense");
    return TD_OK;
}

enum td_result td_synth_open(const char *voice, int rate_wpm, struct td_synth **out,
                             struct td_problem *problem)
{
    if (!voice[0] || strlen(voice) > VOICE_NAME_MAX)
        return td_voice_tell(problem, TD_INVALID, NULL,
                             "voice: \"%.64s\" is no name; 1 to 64 letters such as en-us", voice);
    if (rate_wpm < RATE_WPM_LEAST || rate_wpm > RATE_WPM_MOST)
        return td_voice_tell(problem, TD_INVALID, NULL,
                             "rate: %d words a minute; 80 to 300 would be right", rate_wpm);
    struct td_synth *synth = malloc(sizeof *synth);
    if (!synth)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory for the voice");
    enum td_result result = start_server(voice, rate_wpm, synth, problem);
    if (result != TD_OK) {
        free(synth);
        return result;
    }
    struct td_synth_reply ready;
    result = take_reply(synth, &ready, problem);
    if (result != TD_OK) {
        td_synth_close(&synth);
        return result;
    }
    *out = synth;
    return TD_OK;
}

void td_synth_close(struct td_synth **synth)
{
    if (!synth || !*synth)
        return;
    (void)close((*synth)->fd);
    (void)kill((*synth)->server, SIGKILL);
    while (waitpid((*synth)->server, NULL, 0) < 0 && errno == EINTR)
        ;
    free(*synth);
    *synth = NULL;
}

void td_sound_clip_free(struct td_sound_clip *clip)
{
    if (!clip)
        return;
    free(clip->samples);
    clip->samples = NULL;
    clip->count = 0;
    clip->speech_from = 0;
}

static enum td_result check_words(const char *words, struct td_problem *problem)
{
    size_t length = strlen(words);
    if (length > TD_SPEECH_BYTES_MAX)
        return td_voice_tell(problem, TD_INVALID, NULL,
                             "the text has %zu bytes; at most %d can be said at once", length,
                             (int)TD_SPEECH_BYTES_MAX);
    for (size_t i = 0; i < length; i++)
        if ((unsigned char)words[i] < ' ' || words[i] == 127)
            return td_voice_tell(problem, TD_INVALID, NULL,
                                 "the text holds a control character at byte %zu; only words can "
                                 "be said",
                                 i);
    return TD_OK;
}

static enum td_result ask(struct td_synth *synth, const char *words, double *speech, size_t *count,
                          struct td_problem *problem)
{
    struct td_synth_request request = {(uint32_t)strlen(words)};
    struct td_synth_reply reply;
    int64_t deadline_ns = td_voice_now_ns() + answer_limit_ns;
    if (!td_wire_send(synth->fd, &request, sizeof request, deadline_ns) ||
        !td_wire_send(synth->fd, words, request.length, deadline_ns))
        return td_voice_tell(problem, TD_IO, NULL, "the synthesis process is gone");
    enum td_result result = take_reply(synth, &reply, problem);
    if (result != TD_OK)
        return result;
    for (size_t at = 0; at < reply.count;) {
        int16_t piece[1024];
        size_t some = reply.count - at < 1024 ? reply.count - at : 1024;
        if (!td_wire_receive(synth->fd, piece, some * sizeof piece[0], deadline_ns))
            return td_voice_tell(problem, TD_IO, NULL, "the synthesis process broke off");
        for (size_t i = 0; i < some; i++)
            speech[at++] = piece[i] / 32768.0;
    }
    *count = reply.count;
    return TD_OK;
}

/* Cuts silence at both ends, so that the time from the tone to the first sound is the tone's. */
static struct td_span sounding_part(const double *speech, size_t count)
{
    struct td_span span = td_shape_sounding(speech, count, trim_below_peak_db);
    span.from = span.from > trim_keep ? span.from - trim_keep : 0;
    span.to = count - span.to > trim_keep ? span.to + trim_keep : count;
    return span;
}

static void fade_ends(double *speech, size_t count)
{
    for (size_t i = 0; i < trim_keep && 2 * i < count; i++) {
        double size = (double)i / (double)trim_keep;
        speech[i] *= size;
        speech[count - 1 - i] *= size;
    }
}

static enum td_result join(enum td_category category, const double *speech, size_t count,
                           struct td_sound_clip *clip, struct td_problem *problem)
{
    double tone[TD_TONE_SAMPLES_MAX];
    size_t tone_count = td_tone_render(category, tone);
    int16_t *samples = malloc((tone_count + count) * sizeof *samples);
    if (!samples)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory for a clip");
    for (size_t i = 0; i < tone_count; i++)
        samples[i] = td_sound_sample(tone[i]);
    for (size_t i = 0; i < count; i++)
        samples[tone_count + i] = td_sound_sample(speech[i]);
    clip->samples = samples;
    clip->count = tone_count + count;
    clip->speech_from = tone_count;
    return TD_OK;
}

static enum td_result finish(enum td_category category, double *speech, size_t count,
                             struct td_sound_clip *clip, struct td_problem *problem)
{
    td_shape_speech(TD_SOUND_RATE_HZ, speech, count);
    struct td_span span = sounding_part(speech, count);
    if (span.to == span.from)
        return td_voice_tell(problem, TD_INVALID, NULL, "the text has no words that can be said");
    speech += span.from;
    count = span.to - span.from;
    fade_ends(speech, count);
    enum td_result result = td_loudness_level(speech, count, TD_SOUND_RATE_HZ, problem);
    return result == TD_OK ? join(category, speech, count, clip, problem) : result;
}

enum td_result td_synth_say(struct td_synth *synth, enum td_category category, const char *words,
                            struct td_sound_clip *clip, struct td_problem *problem)
{
    size_t count = 0;
    enum td_result result = check_words(words, problem);
    if (result != TD_OK)
        return result;
    double *speech = malloc(SAMPLES_MAX * sizeof *speech);
    if (!speech)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory for speech");
    result = ask(synth, words, speech, &count, problem);
    if (result == TD_OK)
        result = finish(category, speech, count, clip, problem);
    free(speech);
    return result;
}
