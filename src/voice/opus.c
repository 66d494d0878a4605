/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ogg/Opus in memory: resampling, then libsndfile through calls that grow a buffer. */
#include "voice/opus.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/units.h"
#include "voice/opus_file.h"
#include "voice/tell.h"

enum { CROSSINGS = 16 };

size_t td_opus_resampled(size_t count)
{
    return count * TD_OPUS_RATE_HZ / TD_SOUND_RATE_HZ;
}

static double sinc(double x)
{
    return fabs(x) < 1e-9 ? 1.0 : sin(TD_PI * x) / (TD_PI * x);
}

void td_opus_resample(const int16_t *from, size_t count, float *to)
{
    size_t made = td_opus_resampled(count);
    for (size_t i = 0; i < made; i++) {
        double at = (double)i * TD_SOUND_RATE_HZ / TD_OPUS_RATE_HZ;
        long first = (long)floor(at) - CROSSINGS + 1;
        double sum = 0.0;
        for (long k = first; k < first + 2 * CROSSINGS; k++) {
            double away = at - (double)k;
            if (k >= 0 && (size_t)k < count)
                sum += (double)from[k] * sinc(away) * sinc(away / CROSSINGS);
        }
        to[i] = (float)(sum / 32768.0);
    }
}

enum td_result td_opus_make(const struct td_sound_clip *clip, uint8_t **bytes, size_t *length,
                            struct td_problem *problem)
{
    size_t count = td_opus_resampled(clip->count);
    float *samples = malloc((count + 1) * sizeof *samples);
    if (samples == NULL)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory for the sound");
    td_opus_resample(clip->samples, clip->count, samples);
    enum td_result result =
        td_opus_write(samples, count, TD_OPUS_RATE_HZ, bytes, length, problem);
    free(samples);
    return result;
}
