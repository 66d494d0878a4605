/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The synthesis server: the one process that initialised eSpeak NG, and its child for each
 * utterance. eSpeak NG types stay inside this file.
 *
 * Why a fork for each: its statics (pitch flutter, gain) survive from call to call, so that the
 * same words twice in one process differ by up to 3 % in length; from a fork they are one and the
 * same. And a crash or a hang costs one utterance. Initialising twice in a process deadlocks, so
 * it never is. Figures in docs/voice.md. */
#include <errno.h>
#include <espeak-ng/speak_lib.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "talkdown/result.h"
#include "talkdown/text.h"
#include "voice/synth.h"
#include "voice/utter.h"
#include "voice/wire.h"

enum { SAMPLES_MAX = TD_SOUND_SECONDS_MAX * TD_SOUND_RATE_HZ };
static const int64_t utterance_limit_ns = 5000000000; /* it takes about 5 ms */

static int pcm_pipe = -1; /* in the child of one utterance: where its sound goes */
static int16_t sound[SAMPLES_MAX + 1];

static bool write_whole(int fd, const void *data, size_t length)
{
    const char *from = data;
    while (length > 0) {
        ssize_t put = write(fd, from, length);
        if (put < 0 && errno != EINTR)
            return false;
        if (put > 0) {
            from += put;
            length -= (size_t)put;
        }
    }
    return true;
}

/* Called by eSpeak NG with each piece; 1 stops it. */
static int take_piece(short *piece, int count, espeak_EVENT *events)
{
    (void)events;
    if (!piece || count <= 0)
        return 0;
    return write_whole(pcm_pipe, piece, (size_t)count * sizeof *piece) ? 0 : 1;
}

static int speak(int fd, const char *words)
{
    pcm_pipe = fd;
    return espeak_Synth(words, strlen(words) + 1, 0, POS_CHARACTER, 0, espeakCHARS_UTF8, NULL,
                        NULL) == EE_OK;
}

/* A variant that does not exist ("en-us+nope") is passed over in silence: look whether it took. */
static bool variant_took(const char *voice)
{
    const char *variant = strchr(voice, '+');
    const espeak_VOICE *current = espeak_GetCurrentVoice();
    return !variant || (current && current->identifier && strstr(current->identifier, variant));
}

static enum td_result start_engine(const char *voice, int rate_wpm, struct td_text *text)
{
    /* Even for synchronous use its start-up connects to a sound server, and hung for as long as
     * that one did. This process makes no sound: no server of that name answers at once. */
    (void)setenv("PULSE_SERVER", "unix:/dev/null", 1);
    int rate_hz = espeak_Initialize(AUDIO_OUTPUT_SYNCHRONOUS, 0, NULL, espeakINITIALIZE_DONT_EXIT);
    if (rate_hz != TD_SOUND_RATE_HZ) {
        td_text_add(text, "eSpeak NG did not start at 22050 Hz; install espeak-ng-data");
        return TD_IO;
    }
    espeak_SetSynthCallback(take_piece);
    if (espeak_SetVoiceByName(voice) != EE_OK || !variant_took(voice)) {
        td_text_add(text, "eSpeak NG has no voice \"");
        td_text_add(text, voice);
        td_text_add(text, "\"; `espeak-ng --voices` lists them");
        return TD_NOT_FOUND;
    }
    if (espeak_SetParameter(espeakRATE, rate_wpm, 0) != EE_OK) {
        td_text_add(text, "eSpeak NG refused the speaking rate");
        return TD_INVALID;
    }
    return TD_OK;
}

static void serve_one(int fd, const char *words)
{
    size_t count = 0;
    const char *why = "";
    struct td_synth_reply reply = {0};
    reply.status = (int32_t)td_utter(speak, words, utterance_limit_ns, sound, SAMPLES_MAX + 1,
                                     &count, &why);
    if (reply.status == TD_OK)
        reply.count = (uint32_t)count;
    else
        (void)td_text_copy(reply.text, sizeof reply.text, why);
    if (!td_wire_send(fd, &reply, sizeof reply, INT64_MAX) ||
        !td_wire_send(fd, sound, reply.count * sizeof sound[0], INT64_MAX))
        _exit(0);
}

void td_synth_serve(int fd, const char *voice, int rate_wpm)
{
    struct td_synth_reply ready = {0};
    struct td_text text;
    td_text_init(&text, ready.text, sizeof ready.text);
    ready.status = (int32_t)start_engine(voice, rate_wpm, &text);
    if (!td_wire_send(fd, &ready, sizeof ready, INT64_MAX) || ready.status != TD_OK)
        _exit(1);
    for (;;) {
        struct td_synth_request request;
        char words[TD_SPEECH_BYTES_MAX + 1];
        if (!td_wire_receive(fd, &request, sizeof request, INT64_MAX) ||
            request.length > TD_SPEECH_BYTES_MAX ||
            !td_wire_receive(fd, words, request.length, INT64_MAX))
            _exit(0);
        words[request.length] = '\0';
        serve_one(fd, words);
    }
}
