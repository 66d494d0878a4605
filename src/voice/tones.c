/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tones: a few bursts of harmonics a category, from a table. */
#include "voice/tones.h"

#include <math.h>

#include "voice/synth.h"

enum { BURSTS_MAX = 2, PARTIALS_MAX = 4 };

static const double pi = 3.14159265358979323846;
static const double ramp_s = 0.025;

struct burst {
    double at_s, length_s;
    double from_hz, to_hz; /* base frequency in the first and in the second half */
    double decay_s;        /* falls to 1/e in this time after the ramp; 0 does not fall */
};

struct tone {
    unsigned burst_count, partial_count;
    struct burst bursts[BURSTS_MAX];
    double partials[PARTIALS_MAX]; /* amplitude of harmonics 1, 2, ... */
    double length_s;               /* with the pause before the speech */
    double level_db; /* root mean square while it sounds, re full scale: one loudness for all, just
                        under the speech's own */
};

#define WARNING_TONE {1, 4, {{0, 0.18, 1000, 1250, 0}}, {1, 0.35, 0.25, 0.2}, 0.19, -22}

static const struct tone tones[TD_CATEGORIES] = {
    [TD_NOTICE] = {1, 1, {{0, 0.25, 587.33, 587.33, 0.08}}, {1}, 0.30, -21},
    [TD_ADVICE] = {2, 2, {{0, 0.18, 659.26, 659.26, 0.10}, {0.20, 0.22, 880, 880, 0.10}},
                   {1, 0.3}, 0.46, -22},
    [TD_CAUTION] = {2, 4, {{0, 0.11, 784, 784, 0}, {0.17, 0.11, 784, 784, 0}},
                    {1, 0.7, 0.5, 0.35}, 0.33, -21.6},
    /* Most of it in one octave: 15 dB over the threshold in cab noise, and still under 90 dBA. */
    [TD_WARNING] = WARNING_TONE,
    [TD_DANGER] = WARNING_TONE,
};

static double envelope(const struct burst *burst, double at_s)
{
    double left_s = burst->length_s - at_s, size = 1;
    if (at_s < ramp_s)
        size = 0.5 * (1 - cos(pi * at_s / ramp_s));
    else if (burst->decay_s > 0)
        size = exp(-(at_s - ramp_s) / burst->decay_s);
    if (left_s < ramp_s)
        size *= 0.5 * (1 - cos(pi * left_s / ramp_s));
    return size;
}

static void add_burst(const struct tone *tone, const struct burst *burst, double *samples)
{
    size_t from = (size_t)lround(burst->at_s * TD_SOUND_RATE_HZ);
    size_t count = (size_t)lround(burst->length_s * TD_SOUND_RATE_HZ);
    double phase = 0; /* runs on across the step of pitch, so that nothing clicks */
    for (size_t i = 0; i < count; i++) {
        double at_s = (double)i / TD_SOUND_RATE_HZ, sum = 0;
        for (unsigned k = 0; k < tone->partial_count; k++)
            sum += tone->partials[k] * sin((k + 1) * phase);
        samples[from + i] = sum * envelope(burst, at_s);
        phase += 2 * pi * (2 * i < count ? burst->from_hz : burst->to_hz) / TD_SOUND_RATE_HZ;
    }
}

static void set_level(const struct tone *tone, double *samples, size_t count)
{
    double energy = 0, sounding_s = 0;
    for (size_t i = 0; i < count; i++)
        energy += samples[i] * samples[i];
    for (unsigned b = 0; b < tone->burst_count; b++)
        sounding_s += tone->bursts[b].length_s;
    double gain = pow(10, tone->level_db / 20) / sqrt(energy / (sounding_s * TD_SOUND_RATE_HZ));
    for (size_t i = 0; i < count; i++)
        samples[i] *= gain;
}

size_t td_tone_render(enum td_category category, double *samples)
{
    const struct tone *tone = &tones[category];
    size_t count = (size_t)lround(tone->length_s * TD_SOUND_RATE_HZ);
    for (size_t i = 0; i < count; i++)
        samples[i] = 0;
    for (unsigned b = 0; b < tone->burst_count; b++)
        add_burst(tone, &tone->bursts[b], samples);
    set_level(tone, samples, count);
    return count;
}

int16_t td_sound_sample(double value)
{
    return (int16_t)lround(fmax(-1, fmin(1, value)) * 32767);
}
