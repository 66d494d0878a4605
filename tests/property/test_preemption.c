/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A12: a warning that comes in the middle of an advice. The voice process's own loop runs here on a
 * clock that is counted in samples: its sound device asks for blocks of any size at their time, its
 * synthesis takes the time it is given, and the coach process answers at once. What is checked is
 * how many samples lie between the order to stop and the last of the old and the first of the new,
 * at random places of the old one; no wall clock has a part in it. */
#include "support/cm.h"

#include <poll.h>
#include <setjmp.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "support/seed.h"
#include "voice/player.h"
#include "voice/protocol.h"
#include "voice/synth.h"
#include "voice/tell.h"
#include "voice/voice.h"

enum {
    TRIALS = 400,
    RATE = TD_SOUND_RATE_HZ,
    LATENCY_MS = 50, /* of the stream: what the device holds is heard whatever is ordered */
    OLD_SAMPLES = 2 * RATE,
    NEW_SAMPLES = RATE / 4,
    OLD_LEVEL = 10000,
    FADE_STEP = OLD_LEVEL / (RATE / 200) + 2, /* 5 ms to nothing, and rounding */
    BLOCK_LEAST = 64,
    BLOCK_MOST = 551,        /* what the device asks for at 100 ms of latency, docs/voice.md */
    SYNTHESIS_MOST_MS = 25,  /* eSpeak NG, shaping and levelling take 5 to 10 */
    STOPS_WITHIN_MS = 150, STARTS_WITHIN_MS = 150,
};

/* The device, the coach process and the clock. */
static struct world {
    struct td_rng rng;
    int fd; /* the coach process's end */
    jmp_buf ended;
    int64_t now_ns, next_block_ns;
    struct td_feed *feed;
    int16_t *out; /* all that the device was given */
    size_t count, room;
    int block;
    unsigned trial;
    enum { BEGIN, HEARD, ORDERED, STOPPED, OVER } phase;
    size_t cut_after; /* samples of the old one handed over before the order */
    size_t old_from, ordered_at;
    bool cut_told, new_ended;
    size_t stop_most, start_most; /* samples, of all trials */
} world;

static int64_t ns_of(size_t samples)
{
    return (int64_t)((double)samples * 1e9 / RATE);
}

static size_t samples_of_ms(int ms)
{
    return (size_t)ms * RATE / 1000;
}

static int between(int least, int most)
{
    return least + (int)(td_rng_unit(&world.rng) * (most - least + 1));
}

/* ---- the coach process ---- */

static void send_speak(uint32_t serial, enum td_category category)
{
    struct td_message message = {.kind = TD_MESSAGE_SPEAK, .serial = serial};
    message.value = (int)category;
    message.expires_in_ms = 60000;
    (void)snprintf(message.text, sizeof message.text, category == TD_WARNING ? "new" : "old");
    assert_true(td_message_send(world.fd, &message));
}

static void order_cut(void)
{
    struct td_message message = {.kind = TD_MESSAGE_CUT, .serial = 2 * world.trial + 1};
    assert_true(td_message_send(world.fd, &message));
    world.ordered_at = world.count;
    world.phase = ORDERED;
}

/* As the coach does: the new one is handed over when the old one is told to be silent (A13). */
static void hear_reports(void)
{
    struct td_message message;
    while (td_message_receive(world.fd, &message) == TD_RECEIVED) {
        if (message.kind != TD_MESSAGE_REPORT)
            continue;
        assert_int_not_equal(message.value, TD_REPORT_LOST);
        assert_int_not_equal(message.value, TD_REPORT_DROPPED);
        if (message.serial == 2 * world.trial + 1 && message.value == TD_REPORT_CUT) {
            assert_int_equal(world.phase, ORDERED);
            world.phase = STOPPED;
            send_speak(2 * world.trial + 2, TD_WARNING);
        } else if (message.serial == 2 * world.trial + 2 && message.value == TD_REPORT_ENDED) {
            world.phase = OVER;
        }
    }
}

static size_t first_of(size_t from, int16_t value)
{
    while (from < world.count && world.out[from] != value)
        from++;
    return from;
}

/* From the order on: the old one, less and less of it, silence, the new one whole, silence. */
static void judge(void)
{
    size_t begins = world.ordered_at, stops = begins;
    while (begins < world.count && world.out[begins] >= 0)
        begins++;
    for (size_t i = world.ordered_at; i < begins; i++)
        if (world.out[i] != 0)
            stops = i + 1;
    int16_t last = world.ordered_at > world.old_from ? OLD_LEVEL : 0;
    for (size_t i = world.ordered_at; last != 0 && i < begins; i++) {
        int step = last - world.out[i];
        assert_true(step >= 0 && step <= FADE_STEP); /* no click, and it never comes back */
        last = world.out[i];
    }
    for (size_t i = 0; i < NEW_SAMPLES; i++)
        assert_int_equal(world.out[begins + i], -1 - (int)(i % 1000));
    for (size_t i = begins + NEW_SAMPLES; i < world.count; i++)
        assert_int_equal(world.out[i], 0);
    size_t stop = stops - world.ordered_at, start = begins - world.ordered_at;
    assert_true(stop + samples_of_ms(LATENCY_MS) <= samples_of_ms(STOPS_WITHIN_MS));
    assert_true(start + samples_of_ms(LATENCY_MS) <= samples_of_ms(STARTS_WITHIN_MS));
    world.stop_most = stop > world.stop_most ? stop : world.stop_most;
    world.start_most = start > world.start_most ? start : world.start_most;
}

static void begin_trial(void)
{
    world.count = world.old_from = 0;
    world.phase = HEARD;
    world.cut_after = (size_t)between(0, OLD_SAMPLES - 4 * BLOCK_MOST);
    send_speak(2 * world.trial + 1, TD_ADVICE);
}

static void act(void)
{
    hear_reports();
    if (world.phase == BEGIN)
        begin_trial();
    if (world.phase == HEARD && world.feed != NULL) {
        world.old_from = first_of(0, OLD_LEVEL);
        if (world.count >= world.old_from + world.cut_after)
            order_cut();
    }
    if (world.phase != OVER)
        return;
    judge();
    world.trial++;
    world.phase = BEGIN;
    if (world.trial == TRIALS)
        (void)close(world.fd);
    else
        begin_trial();
}

/* ---- the clock and the device ---- */

static void next_block(void)
{
    assert_true(world.count + BLOCK_MOST <= world.room);
    td_feed_fill(world.feed, world.out + world.count, (size_t)world.block);
    world.count += (size_t)world.block;
    world.block = between(BLOCK_LEAST, BLOCK_MOST);
    world.next_block_ns += ns_of((size_t)world.block);
}

static void pass_until(int64_t until_ns)
{
    while (world.feed != NULL && world.next_block_ns <= until_ns) {
        world.now_ns = world.next_block_ns;
        next_block();
    }
    world.now_ns = until_ns;
}

int64_t __wrap_td_voice_now_ns(void);
int64_t __wrap_td_voice_now_ns(void)
{
    return world.now_ns;
}

int __real_poll(struct pollfd *fds, nfds_t count, int timeout_ms);
int __wrap_poll(struct pollfd *fds, nfds_t count, int timeout_ms);
int __wrap_poll(struct pollfd *fds, nfds_t count, int timeout_ms)
{
    int64_t until_ns = world.now_ns + timeout_ms * (int64_t)1000000;
    for (;;) {
        if (world.trial < TRIALS)
            act();
        int ready = __real_poll(fds, count, 0);
        if (ready != 0 || world.now_ns >= until_ns)
            return ready;
        bool block_first = world.feed != NULL && world.next_block_ns < until_ns;
        pass_until(block_first ? world.next_block_ns : until_ns);
    }
}

_Noreturn void __wrap__exit(int code);
_Noreturn void __wrap__exit(int code)
{
    longjmp(world.ended, code == 0 ? 1 : 2);
}

enum td_result __wrap_td_player_open(const char *device, int latency_ms, struct td_feed *feed,
                                     struct td_player **out, struct td_problem *problem);
enum td_result __wrap_td_player_open(const char *device, int latency_ms, struct td_feed *feed,
                                     struct td_player **out, struct td_problem *problem)
{
    (void)device, (void)latency_ms, (void)problem;
    world.feed = feed;
    world.block = BLOCK_LEAST;
    world.next_block_ns = world.now_ns + ns_of(BLOCK_LEAST);
    *out = (struct td_player *)&world; /* never looked into */
    return TD_OK;
}

bool __wrap_td_player_lost(const struct td_player *player);
bool __wrap_td_player_lost(const struct td_player *player)
{
    (void)player;
    return false;
}

const char *__wrap_td_player_device(const struct td_player *player);
const char *__wrap_td_player_device(const struct td_player *player)
{
    (void)player;
    return "counted";
}

int __wrap_td_player_latency_ms(const struct td_player *player);
int __wrap_td_player_latency_ms(const struct td_player *player)
{
    (void)player;
    return LATENCY_MS;
}

void __wrap_td_player_announce(struct td_player *player, bool on);
void __wrap_td_player_announce(struct td_player *player, bool on)
{
    (void)player, (void)on;
}

enum td_result __wrap_td_synth_open(const char *voice, int rate_wpm, struct td_synth **out,
                                    struct td_problem *problem);
enum td_result __wrap_td_synth_open(const char *voice, int rate_wpm, struct td_synth **out,
                                    struct td_problem *problem)
{
    (void)voice, (void)rate_wpm, (void)problem;
    *out = NULL;
    return TD_OK;
}

/* The old one has one level, so that a fade shows; the new one is below zero and counts. */
enum td_result __wrap_td_synth_say(struct td_synth *synth, enum td_category category,
                                   const char *words, struct td_sound_clip *clip,
                                   struct td_problem *problem);
enum td_result __wrap_td_synth_say(struct td_synth *synth, enum td_category category,
                                   const char *words, struct td_sound_clip *clip,
                                   struct td_problem *problem)
{
    (void)synth, (void)words, (void)problem;
    pass_until(world.now_ns + between(1, SYNTHESIS_MOST_MS) * (int64_t)1000000);
    clip->count = category == TD_WARNING ? NEW_SAMPLES : OLD_SAMPLES;
    clip->samples = malloc(clip->count * sizeof *clip->samples);
    assert_non_null(clip->samples);
    for (size_t i = 0; i < clip->count; i++)
        clip->samples[i] = category == TD_WARNING ? (int16_t)(-1 - (int)(i % 1000)) : OLD_LEVEL;
    return TD_OK;
}

static void a12_a_warning_takes_the_place_of_an_advice_within_150_ms(void **state)
{
    (void)state;
    int fds[2];
    struct td_voice_options options = {"", "", 160, "", LATENCY_MS, 100};
    test_seed(&world.rng, "property.preemption", 12);
    assert_true(td_wire_pair(SOCK_SEQPACKET, fds));
    world.fd = fds[0];
    world.now_ns = 1000000000;
    world.room = (size_t)20 * RATE;
    world.out = malloc(world.room * sizeof *world.out);
    assert_non_null(world.out);
    int ended = setjmp(world.ended);
    if (ended == 0)
        (void)td_voice_child(fds[1], &options);
    assert_int_equal(ended, 1);
    assert_int_equal(world.trial, TRIALS);
    print_message("%d times: old one's last sample at most %zu samples (%.1f ms) after the order, "
                  "new one's first at most %zu (%.1f ms), and %d ms of the stream\n",
                  TRIALS, world.stop_most, (double)world.stop_most * 1e3 / RATE, world.start_most,
                  (double)world.start_most * 1e3 / RATE, LATENCY_MS);
    free(world.out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a12_a_warning_takes_the_place_of_an_advice_within_150_ms),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
