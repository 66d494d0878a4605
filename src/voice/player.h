/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One persistent output stream that plays a td_feed, and silence when it has nothing. PortAudio
 * types stay inside player.c.
 *
 * Any call may block for ever while a sound server hangs (measured: initialise, stop and abort
 * all do): only a process that may be killed uses this. One at a time in a process. */
#ifndef TD_VOICE_PLAYER_H
#define TD_VOICE_PLAYER_H

#include <stdbool.h>

#include "talkdown/result.h"
#include "voice/feed.h"

struct td_player;

/* Initialises PortAudio anew, so that devices that came since are seen. `device` is a part of a
 * device's name, "" the default one; TD_NOT_FOUND names those there are. latency_ms 20 to 200 is a
 * wish. The feed is the caller's and outlives the player. */
TD_CHECKED enum td_result td_player_open(const char *device, int latency_ms, struct td_feed *feed,
                                         struct td_player **out, struct td_problem *problem);
/* The stream ended by itself: the device or its server is gone. Close, and open anew. */
bool td_player_lost(const struct td_player *player);
const char *td_player_device(const struct td_player *player);
/* From handing a sample over until it is heard, as the device says. */
int td_player_latency_ms(const struct td_player *player);
/* While on, a sound server that was told to ducks other sound: a second, silent stream with the
 * role of an announcement runs (PulseAudio's media.role). Of no effect elsewhere. */
void td_player_announce(struct td_player *player, bool on);
/* After this no callback runs. */
void td_player_close(struct td_player **player);

#endif
