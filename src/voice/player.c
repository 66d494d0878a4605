/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The PortAudio player. */
#include "voice/player.h"

#include <alsa/asoundlib.h>
#include <dlfcn.h>
#include <portaudio.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/text.h"
#include "voice/synth.h"
#include "voice/tell.h"

struct td_player {
    PaStream *stream;
    PaStream *announcement; /* NULL where the device takes one stream only */
    struct td_feed *feed;
    _Atomic bool lost;
    int latency_ms;
    char device[128];
};

/* ---- keeping the libraries' chatter off standard error ----
 * Without a card PortAudio's back-ends write some eighty lines there. */

static void no_alsa_line(const char *file, int line, const char *function, int error,
                         const char *format, ...)
{
    (void)file, (void)line, (void)function, (void)error, (void)format;
}

static void no_jack_line(const char *text)
{
    (void)text;
}

static void hush(void)
{
    typedef void set_lines(void (*line)(const char *));
    static const char *const setters[] = {"jack_set_error_function", "jack_set_info_function"};
    (void)snd_lib_error_set_handler(no_alsa_line);
    (void)setenv("JACK_NO_START_SERVER", "1", 1);
    void *jack = dlopen("libjack.so.0", RTLD_NOLOAD | RTLD_LAZY);
    for (int i = 0; jack && i < 2; i++) {
        void *found = dlsym(jack, setters[i]);
        set_lines *setter = NULL;
        memcpy(&setter, &found, sizeof setter); /* ISO C knows no cast from object to function */
        if (setter)
            setter(no_jack_line);
    }
    if (jack)
        (void)dlclose(jack);
}

/* ---- callbacks, in PortAudio's threads ---- */

static int fill(const void *in, void *out, unsigned long frames,
                const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *data)
{
    struct td_player *player = data;
    (void)in, (void)time, (void)flags;
    td_feed_fill(player->feed, out, frames);
    return paContinue;
}

static int fill_silence(const void *in, void *out, unsigned long frames,
                        const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags,
                        void *data)
{
    (void)in, (void)time, (void)flags, (void)data;
    memset(out, 0, frames * sizeof(int16_t));
    return paContinue;
}

/* The only sign of a server's death: nobody ever asks the stream to end before closing it. */
static void finished(void *data)
{
    struct td_player *player = data;
    atomic_store(&player->lost, true);
}

/* ---- opening ---- */

static enum td_result no_such_device(const char *device, struct td_problem *problem)
{
    char names[256];
    struct td_text text;
    td_text_init(&text, names, sizeof names);
    for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++) {
        if (Pa_GetDeviceInfo(i)->maxOutputChannels < 1)
            continue;
        td_text_add(&text, text.length > 0 ? ", " : "");
        td_text_add(&text, Pa_GetDeviceInfo(i)->name);
    }
    if (text.length == 0)
        return td_voice_tell(problem, TD_NOT_FOUND, NULL,
                             "there is no sound device; connect one or start its sound server");
    if (!device[0])
        return td_voice_tell(problem, TD_NOT_FOUND, NULL,
                             "there is no default sound device; name one of: %s", names);
    return td_voice_tell(problem, TD_NOT_FOUND, NULL,
                         "no sound device has \"%s\" in its name; there are: %s", device, names);
}

static PaDeviceIndex find_device(const char *device)
{
    if (!device[0])
        return Pa_GetDefaultOutputDevice();
    for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++) {
        const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
        if (info->maxOutputChannels > 0 && strstr(info->name, device))
            return i;
    }
    return paNoDevice;
}

/* libpulse reads it whenever a stream's connection is made. What the truck's own environment says
 * stays. */
static PaError open_as(const char *role, PaStream **stream, const PaStreamParameters *how,
                       PaStreamCallback *callback, void *data)
{
    bool ours = getenv("PULSE_PROP") == NULL;
    if (ours)
        (void)setenv("PULSE_PROP", role, 1);
    PaError error = Pa_OpenStream(stream, NULL, how, TD_SOUND_RATE_HZ,
                                  paFramesPerBufferUnspecified, paNoFlag, callback, data);
    if (ours)
        (void)unsetenv("PULSE_PROP");
    return error;
}

/* A second stream, stopped but while something is said: a sound server ducks others for as long as
 * a stream with the role of an announcement runs, and the speech's own stream never ends. */
static void open_announcement(struct td_player *player, const PaStreamParameters *how)
{
    if (open_as("media.role=announce", &player->announcement, how, fill_silence, NULL) != paNoError)
        player->announcement = NULL;
}

static enum td_result open_stream(struct td_player *player, const char *device, int latency_ms,
                                  struct td_problem *problem)
{
    PaStreamParameters how = {0};
    how.device = find_device(device);
    if (how.device == paNoDevice)
        return no_such_device(device, problem);
    how.channelCount = 1;
    how.sampleFormat = paInt16;
    how.suggestedLatency = latency_ms / 1000.0;
    (void)td_text_copy(player->device, sizeof player->device, Pa_GetDeviceInfo(how.device)->name);
    PaError error = open_as("media.role=a11y", &player->stream, &how, fill, player);
    if (error == paNoError)
        error = Pa_SetStreamFinishedCallback(player->stream, finished);
    if (error == paNoError)
        error = Pa_StartStream(player->stream);
    if (error != paNoError)
        return td_voice_tell(problem, TD_IO, NULL,
                             "sound device \"%s\" refused 22050 Hz mono: %s; use one that "
                             "converts, such as \"default\"",
                             player->device, Pa_GetErrorText(error));
    const PaStreamInfo *info = Pa_GetStreamInfo(player->stream);
    player->latency_ms = info ? (int)(info->outputLatency * 1000 + 0.5) : latency_ms;
    open_announcement(player, &how);
    return TD_OK;
}

enum td_result td_player_open(const char *device, int latency_ms, struct td_feed *feed,
                              struct td_player **out, struct td_problem *problem)
{
    struct td_player *player = calloc(1, sizeof *player);
    if (!player)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory for the sound player");
    player->feed = feed;
    atomic_init(&player->lost, false);
    hush();
    PaError error = Pa_Initialize();
    if (error != paNoError) {
        free(player);
        return td_voice_tell(problem, TD_IO, NULL, "PortAudio did not start: %s",
                             Pa_GetErrorText(error));
    }
    enum td_result result = open_stream(player, device, latency_ms, problem);
    if (result != TD_OK)
        td_player_close(&player);
    else
        *out = player;
    return result;
}

bool td_player_lost(const struct td_player *player)
{
    return atomic_load(&player->lost);
}

const char *td_player_device(const struct td_player *player)
{
    return player->device;
}

int td_player_latency_ms(const struct td_player *player)
{
    return player->latency_ms;
}

void td_player_announce(struct td_player *player, bool on)
{
    if (!player->announcement || on == (Pa_IsStreamStopped(player->announcement) == 0))
        return;
    PaError error = on ? Pa_StartStream(player->announcement)
                       : Pa_AbortStream(player->announcement);
    if (error == paNoError)
        return;
    (void)Pa_CloseStream(player->announcement);
    player->announcement = NULL; /* speech goes on without */
}

void td_player_close(struct td_player **player)
{
    if (!player || !*player)
        return;
    if ((*player)->announcement)
        (void)Pa_CloseStream((*player)->announcement);
    if ((*player)->stream)
        (void)Pa_CloseStream((*player)->stream);
    (void)Pa_Terminate();
    free(*player);
    *player = NULL;
}
