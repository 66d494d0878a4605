/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The volume of prompts: a factor of amplitude with a floor, and where it is asked for a step up
 * with speed. Pure. */
#ifndef TD_VOICE_VOLUME_H
#define TD_VOICE_VOLUME_H

#include <stdbool.h>

/* Held between TD_VOICE_VOLUME_LEAST and 100 percent. */
int td_voice_volume_held(int percent);

/* Two volumes, 6 dB apart, since smaller differences are not told apart (NUREG-0700): the whole one
 * from above_mps on, half of it below. *louder is the state, begun as true; it falls 2 m/s below,
 * so that no volume flutters. above_mps 0: always the whole one. An unknown speed (not finite): the
 * whole one. percent is at least twice the floor where above_mps is not 0. */
enum { TD_VOICE_VOLUME_STEPPED_LEAST = 80 };
int td_voice_volume_at(int percent, double above_mps, double speed_mps, bool *louder);

#endif
