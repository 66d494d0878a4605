/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Volume: the floor, and the step with speed. */
#include "voice/volume.h"

#include <math.h>

#include "voice/voice.h"

static const double falls_below_mps = 2;

int td_voice_volume_held(int percent)
{
    if (percent < TD_VOICE_VOLUME_LEAST)
        return TD_VOICE_VOLUME_LEAST;
    return percent < 100 ? percent : 100;
}

int td_voice_volume_at(int percent, double above_mps, double speed_mps, bool *louder)
{
    if (!(above_mps > 0) || !isfinite(speed_mps) || speed_mps >= above_mps)
        *louder = true;
    else if (speed_mps < above_mps - falls_below_mps)
        *louder = false;
    return td_voice_volume_held(*louder ? percent : percent / 2);
}
