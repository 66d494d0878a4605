/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Loudness with libebur128. */
#include "voice/loudness.h"

#include <ebur128.h>
#include <math.h>

#include "voice/tell.h"

static const double block_s = 0.4;

static int pad_to_a_block(ebur128_state *state, size_t count, double rate_hz)
{
    static const double silence[512];
    size_t least = (size_t)ceil(block_s * rate_hz);
    int rc = EBUR128_SUCCESS;
    while (count < least && rc == EBUR128_SUCCESS) {
        size_t more = least - count < 512 ? least - count : 512;
        rc = ebur128_add_frames_double(state, silence, more);
        count += more;
    }
    return rc;
}

enum td_result td_loudness_measure(const double *samples, size_t count, double rate_hz,
                                   struct td_loudness *loudness, struct td_problem *problem)
{
    double lufs = -HUGE_VAL, peak = 0;
    ebur128_state *state = ebur128_init(1, (unsigned long)rate_hz,
                                        EBUR128_MODE_I | EBUR128_MODE_TRUE_PEAK);
    if (!state)
        return td_voice_tell(problem, TD_NO_MEMORY, NULL, "no memory to measure loudness");
    int bad = ebur128_set_channel(state, 0, EBUR128_DUAL_MONO);
    bad |= ebur128_add_frames_double(state, samples, count);
    bad |= pad_to_a_block(state, count, rate_hz);
    bad |= ebur128_loudness_global(state, &lufs);
    bad |= ebur128_true_peak(state, 0, &peak);
    ebur128_destroy(&state);
    if (bad || !isfinite(lufs) || !(peak > 0))
        return td_voice_tell(problem, TD_INVALID, NULL,
                             "the sound is too quiet to level; it must be above -70 LUFS");
    loudness->integrated_lufs = lufs;
    loudness->true_peak_dbtp = 20 * log10(peak);
    return TD_OK;
}

enum td_result td_loudness_level(double *samples, size_t count, double rate_hz,
                                 struct td_problem *problem)
{
    struct td_loudness loudness;
    enum td_result result = td_loudness_measure(samples, count, rate_hz, &loudness, problem);
    if (result != TD_OK)
        return result;
    double gain_db = fmin(TD_LOUDNESS_LUFS - loudness.integrated_lufs,
                          TD_TRUE_PEAK_DBTP - loudness.true_peak_dbtp);
    double gain = pow(10, gain_db / 20);
    for (size_t i = 0; i < count; i++)
        samples[i] *= gain;
    return TD_OK;
}
