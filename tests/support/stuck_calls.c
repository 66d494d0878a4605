/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Library calls that do not return, for tests: a shim to be preloaded, which looks for files in the
 * folder TD_STUCK_DIR. With "write" or "open" there, that call of ALSA blocks for ever, as a native
 * plug-in does whose server died: only a kill ends it. With "synth", eSpeak NG's synthesis blocks
 * until the file is gone; with "slow" each takes SLOW_MS, where it should take a few. */
#include <alsa/asoundlib.h>
#include <dlfcn.h>
#include <espeak-ng/speak_lib.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { LOOK_EVERY_MS = 10, SLOW_MS = 700 };

static bool is_told(const char *call)
{
    char path[512];
    const char *folder = getenv("TD_STUCK_DIR");
    return folder != NULL &&
           snprintf(path, sizeof path, "%s/%s", folder, call) < (int)sizeof path &&
           access(path, F_OK) == 0;
}

static void hang_if_told(const char *call)
{
    if (is_told(call))
        for (;;)
            (void)pause();
}

/* The library's own function of that name. */
static void find_real(const char *name, void *function, size_t size)
{
    void *found = dlsym(RTLD_NEXT, name);
    if (found == NULL) {
        (void)fprintf(stderr, "stuck_calls: no %s\n", name);
        abort();
    }
    memcpy(function, &found, size); /* ISO C knows no cast from object to function */
}

snd_pcm_sframes_t snd_pcm_writei(snd_pcm_t *pcm, const void *buffer, snd_pcm_uframes_t frames)
{
    snd_pcm_sframes_t (*real)(snd_pcm_t *, const void *, snd_pcm_uframes_t) = NULL;
    hang_if_told("write");
    find_real("snd_pcm_writei", &real, sizeof real);
    return real(pcm, buffer, frames);
}

int snd_pcm_open(snd_pcm_t **pcm, const char *name, snd_pcm_stream_t stream, int mode)
{
    int (*real)(snd_pcm_t **, const char *, snd_pcm_stream_t, int) = NULL;
    hang_if_told("open");
    find_real("snd_pcm_open", &real, sizeof real);
    return real(pcm, name, stream, mode);
}

espeak_ERROR espeak_Synth(const void *text, size_t size, unsigned int position,
                          espeak_POSITION_TYPE type, unsigned int end, unsigned int flags,
                          unsigned int *identifier, void *data)
{
    espeak_ERROR (*real)(const void *, size_t, unsigned int, espeak_POSITION_TYPE, unsigned int,
                         unsigned int, unsigned int *, void *) = NULL;
    while (is_told("synth"))
        (void)poll(NULL, 0, LOOK_EVERY_MS);
    if (is_told("slow"))
        (void)poll(NULL, 0, SLOW_MS);
    find_real("espeak_Synth", &real, sizeof real);
    return real(text, size, position, type, end, flags, identifier, data);
}
