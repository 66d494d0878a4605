/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the audio callback plays: one clip at a time, handed over with C11 atomics alone. The
 * callback (td_feed_fill) takes no lock, no memory and no time; everything else is the owner's
 * thread.
 *
 *   IDLE --start--> READY --fill--> PLAYING --fill--> ENDED --clear--> IDLE
 *                     \_____ask_cut____\______________> CUT --clear--> IDLE
 *
 * The owner may touch the clip's memory again in IDLE, ENDED and CUT. */
#ifndef TD_VOICE_FEED_H
#define TD_VOICE_FEED_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum td_feed_state {
    TD_FEED_IDLE = 0,
    TD_FEED_READY,
    TD_FEED_PLAYING,
    TD_FEED_ENDED, /* its last sample was handed to the device */
    TD_FEED_CUT,   /* faded out in 5 ms, or never begun */
};

struct td_feed {
    _Atomic int state; /* enum td_feed_state */
    _Atomic bool cut;
    _Atomic int volume_percent;
    _Atomic unsigned beats; /* fills so far */
    const int16_t *samples; /* the owner's to set before READY */
    size_t count;
    size_t at, fade_left; /* the callback's own from here on */
    bool fading;
    double gain;
};

void td_feed_init(struct td_feed *feed, int volume_percent);
/* False while a clip is READY or PLAYING. */
bool td_feed_start(struct td_feed *feed, const int16_t *samples, size_t count);
void td_feed_ask_cut(struct td_feed *feed);
enum td_feed_state td_feed_state(struct td_feed *feed);
/* Back to IDLE; only in ENDED or CUT, or when no callback can run any more. */
void td_feed_clear(struct td_feed *feed);
void td_feed_fill(struct td_feed *feed, int16_t *out, size_t frames);

#endif
