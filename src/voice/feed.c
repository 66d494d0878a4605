/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hand-over between the voice's thread and the audio callback. */
#include "voice/feed.h"

#include <math.h>

#include "voice/synth.h"

enum { FADE_SAMPLES = TD_SOUND_RATE_HZ / 200 }; /* 5 ms: no click, and well inside 150 ms */

void td_feed_init(struct td_feed *feed, int volume_percent)
{
    atomic_init(&feed->state, TD_FEED_IDLE);
    atomic_init(&feed->cut, false);
    atomic_init(&feed->volume_percent, volume_percent);
    atomic_init(&feed->beats, 0);
    feed->samples = NULL;
    feed->count = feed->at = feed->fade_left = 0;
    feed->fading = false;
    feed->gain = volume_percent / 100.0;
}

enum td_feed_state td_feed_state(struct td_feed *feed)
{
    return (enum td_feed_state)atomic_load_explicit(&feed->state, memory_order_acquire);
}

bool td_feed_start(struct td_feed *feed, const int16_t *samples, size_t count)
{
    enum td_feed_state state = td_feed_state(feed);
    if (state == TD_FEED_READY || state == TD_FEED_PLAYING)
        return false;
    feed->samples = samples;
    feed->count = count;
    atomic_store_explicit(&feed->cut, false, memory_order_relaxed);
    atomic_store_explicit(&feed->state, TD_FEED_READY, memory_order_release);
    return true;
}

void td_feed_ask_cut(struct td_feed *feed)
{
    atomic_store_explicit(&feed->cut, true, memory_order_release);
}

void td_feed_clear(struct td_feed *feed)
{
    atomic_store_explicit(&feed->state, TD_FEED_IDLE, memory_order_release);
}

static void become(struct td_feed *feed, enum td_feed_state state)
{
    atomic_store_explicit(&feed->state, (int)state, memory_order_release);
}

/* The next sample of the clip; moves on to ENDED or CUT after its last. */
static double next_sample(struct td_feed *feed)
{
    double value = feed->samples[feed->at++] * feed->gain;
    if (feed->fading)
        value *= (double)feed->fade_left-- / FADE_SAMPLES;
    if (feed->fading && feed->fade_left == 0)
        become(feed, TD_FEED_CUT);
    else if (feed->at == feed->count)
        become(feed, feed->fading ? TD_FEED_CUT : TD_FEED_ENDED);
    return value;
}

static void look_for_orders(struct td_feed *feed)
{
    enum td_feed_state state = td_feed_state(feed);
    bool cut = atomic_load_explicit(&feed->cut, memory_order_acquire);
    if (state == TD_FEED_READY && (cut || feed->count == 0)) {
        become(feed, cut ? TD_FEED_CUT : TD_FEED_ENDED);
    } else if (state == TD_FEED_READY) {
        feed->at = 0;
        feed->fading = false;
        become(feed, TD_FEED_PLAYING);
    } else if (state == TD_FEED_PLAYING && cut && !feed->fading) {
        feed->fading = true;
        feed->fade_left = FADE_SAMPLES;
    }
}

void td_feed_fill(struct td_feed *feed, int16_t *out, size_t frames)
{
    double wanted =
        atomic_load_explicit(&feed->volume_percent, memory_order_relaxed) / 100.0;
    look_for_orders(feed);
    for (size_t i = 0; i < frames; i++) {
        feed->gain += (wanted - feed->gain) * 0.01; /* about 5 ms: a new volume does not click */
        double value = td_feed_state(feed) == TD_FEED_PLAYING ? next_sample(feed) : 0;
        out[i] = (int16_t)lrint(value);
    }
    atomic_fetch_add_explicit(&feed->beats, 1, memory_order_relaxed);
}
