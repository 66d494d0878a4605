/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The hand-over to the audio callback: every sample once and in order, cuts that fade, under two
 * threads (the thread sanitizer's build looks at the same test). */
#include "support/cm.h"

#include <pthread.h>
#include <sched.h>
#include <stdlib.h>
#include <string.h>

#include "voice/feed.h"

static struct td_feed feed;
static int16_t clip[1000], out[400];

static void set_clip(void)
{
    for (int i = 0; i < 1000; i++)
        clip[i] = (int16_t)(1000 + i);
}

static void plays_whole_and_ends(void **state)
{
    (void)state;
    set_clip();
    td_feed_init(&feed, 100);
    td_feed_fill(&feed, out, 400);
    for (int i = 0; i < 400; i++)
        assert_int_equal(out[i], 0);
    assert_true(td_feed_start(&feed, clip, 1000));
    assert_int_equal(td_feed_state(&feed), TD_FEED_READY);
    assert_false(td_feed_start(&feed, clip, 1000));
    for (int at = 0; at < 1200; at += 400) {
        td_feed_fill(&feed, out, 400);
        for (int i = 0; i < 400; i++)
            assert_int_equal(out[i], at + i < 1000 ? 1000 + at + i : 0);
        assert_int_equal(td_feed_state(&feed), at < 800 ? TD_FEED_PLAYING : TD_FEED_ENDED);
    }
    assert_int_equal(atomic_load(&feed.beats), 4);
    td_feed_ask_cut(&feed); /* too late: it stays ended, and the next is not cut */
    assert_int_equal(td_feed_state(&feed), TD_FEED_ENDED);
    assert_true(td_feed_start(&feed, clip, 1000));
    td_feed_fill(&feed, out, 400);
    assert_int_equal(out[399], 1399);
}

static void a_cut_fades_in_5_ms(void **state)
{
    (void)state;
    for (int i = 0; i < 1000; i++)
        clip[i] = 10000;
    td_feed_init(&feed, 100);
    assert_true(td_feed_start(&feed, clip, 1000));
    td_feed_fill(&feed, out, 100);
    td_feed_ask_cut(&feed);
    td_feed_fill(&feed, out, 400);
    for (int i = 1; i < 400; i++) {
        assert_true(out[i - 1] - out[i] >= 0 && out[i - 1] - out[i] <= 92); /* 10000 over 110 */
        if (i >= 110)
            assert_int_equal(out[i], 0);
    }
    assert_int_equal(td_feed_state(&feed), TD_FEED_CUT);
    td_feed_clear(&feed);
    assert_int_equal(td_feed_state(&feed), TD_FEED_IDLE);
}

static void a_cut_before_the_first_sample_says_nothing(void **state)
{
    (void)state;
    td_feed_init(&feed, 100);
    assert_true(td_feed_start(&feed, clip, 1000));
    td_feed_ask_cut(&feed);
    td_feed_fill(&feed, out, 400);
    for (int i = 0; i < 400; i++)
        assert_int_equal(out[i], 0);
    assert_int_equal(td_feed_state(&feed), TD_FEED_CUT);
}

static void volume_moves_without_a_click(void **state)
{
    (void)state;
    for (int i = 0; i < 1000; i++)
        clip[i] = 10000;
    td_feed_init(&feed, 100);
    assert_true(td_feed_start(&feed, clip, 1000));
    td_feed_fill(&feed, out, 10);
    atomic_store(&feed.volume_percent, 50);
    int last = 10000;
    for (int round = 0; round < 2; round++) {
        td_feed_fill(&feed, out, 400);
        for (int i = 0; i < 400; i++) {
            assert_true(last - out[i] >= 0 && last - out[i] <= 51);
            last = out[i];
        }
    }
    assert_near(last, 5000, 5);
}

/* ---- two threads ---- */

enum { CLIPS = 1000, MOST = 700 };

struct sums {
    _Atomic int stop;
    uint64_t filled; /* sum of all samples that came out */
};

static void *callback_thread(void *data)
{
    struct sums *sums = data;
    int16_t piece[64];
    while (!atomic_load(&sums->stop)) {
        td_feed_fill(&feed, piece, 64);
        for (int i = 0; i < 64; i++)
            sums->filled += (uint64_t)piece[i];
        (void)sched_yield();
    }
    return NULL;
}

/* Plays CLIPS clips, each in memory of its own that is written over as soon as it may be; returns
 * the sum of the samples of those that ended whole. */
static uint64_t play_all(int cut_every, unsigned *cuts)
{
    uint64_t sum = 0;
    int16_t *memory = malloc(MOST * sizeof *memory);
    assert_non_null(memory);
    for (int c = 0; c < CLIPS; c++) {
        size_t count = (size_t)(1 + (c * 7919) % MOST);
        for (size_t i = 0; i < count; i++)
            memory[i] = (int16_t)(1 + (c + (int)i) % 30000);
        assert_true(td_feed_start(&feed, memory, count));
        if (cut_every > 0 && c % cut_every == 0)
            td_feed_ask_cut(&feed);
        enum td_feed_state now;
        while ((now = td_feed_state(&feed)) == TD_FEED_READY || now == TD_FEED_PLAYING)
            (void)sched_yield();
        for (size_t i = 0; now == TD_FEED_ENDED && i < count; i++)
            sum += (uint64_t)memory[i];
        *cuts += now == TD_FEED_CUT;
        memset(memory, 0x55, MOST * sizeof *memory);
        td_feed_clear(&feed);
    }
    free(memory);
    return sum;
}

static uint64_t run_both_threads(int cut_every, unsigned *cuts, uint64_t *filled)
{
    struct sums sums = {0, 0};
    pthread_t thread;
    td_feed_init(&feed, 100);
    assert_int_equal(pthread_create(&thread, NULL, callback_thread, &sums), 0);
    uint64_t sum = play_all(cut_every, cuts);
    atomic_store(&sums.stop, 1);
    assert_int_equal(pthread_join(thread, NULL), 0);
    *filled = sums.filled;
    return sum;
}

static void no_sample_is_lost_or_doubled_between_threads(void **state)
{
    (void)state;
    unsigned cuts = 0;
    uint64_t filled = 0, sum = run_both_threads(0, &cuts, &filled);
    assert_int_equal(cuts, 0);
    assert_true(filled == sum);
}

/* What was cut gave at most itself; the memory it lay in was written over, and that never shows. */
static void cuts_between_threads_take_only_their_own(void **state)
{
    (void)state;
    unsigned cuts = 0;
    uint64_t filled = 0, sum = run_both_threads(2, &cuts, &filled);
    assert_true(cuts > 0 && cuts <= CLIPS / 2);
    assert_true(filled >= sum);
    assert_true(filled - sum <= (uint64_t)cuts * MOST * 30000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plays_whole_and_ends),
        cmocka_unit_test(a_cut_fades_in_5_ms),
        cmocka_unit_test(a_cut_before_the_first_sample_says_nothing),
        cmocka_unit_test(volume_moves_without_a_click),
        cmocka_unit_test(no_sample_is_lost_or_doubled_between_threads),
        cmocka_unit_test(cuts_between_threads_take_only_their_own),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
