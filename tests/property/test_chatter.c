/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much is said: random drives past dense places with a voice that works, at each level of talk.
 * Prompts and seconds of speech in any minute are bounded, warnings and dangers left out of the
 * count (they repeat until they are answered, which is their use), and trainees hear no less than
 * others. Figures are printed. No source gives a bound for a coach that a driver has asked for;
 * ours: nobody talks for half of any minute (common practice of instructors, no source). */
#include "support/cm.h"

#include "support/coach_bench.h"
#include "support/seed.h"
#include "talkdown/rng.h"

enum { MINUTE_PROMPTS_MOST = 12, DRIVES = 60, HEARD_MAX = 512 };

#define MINUTE_SPEECH_MOST_S 30.0

struct heard {
    int64_t at_ns;
    double say_s;
    bool urgent;
};

static struct heard heard[HEARD_MAX];
static unsigned heard_count;

struct most {
    unsigned prompts, prompts_urgent;
    double speech_s;
    unsigned long all;
};

static void note(struct coach_bench *bench)
{
    if (!bench->output.has_speak)
        return;
    enum td_prompt_id id = bench->output.speak.id;
    assert_true(heard_count < HEARD_MAX);
    heard[heard_count++] =
        (struct heard){bench->now_ns, bench->setup.speech_ms[id] * 1e-3,
                       bench->output.speak.category >= TD_WARNING};
}

/* Any minute begins, at its worst, with a prompt. */
static void count_minutes(struct most *most)
{
    for (unsigned i = 0; i < heard_count; i++) {
        unsigned calm = 0, urgent = 0;
        double speech_s = 0.0;
        for (unsigned j = i; j < heard_count; j++) {
            if (heard[j].at_ns >= heard[i].at_ns + 60 * TD_NS_PER_S)
                break;
            calm += heard[j].urgent ? 0 : 1;
            urgent += heard[j].urgent ? 1 : 0;
            speech_s += heard[j].urgent ? 0.0 : heard[j].say_s;
        }
        most->prompts = calm > most->prompts ? calm : most->prompts;
        most->prompts_urgent = urgent > most->prompts_urgent ? urgent : most->prompts_urgent;
        most->speech_s = fmax(most->speech_s, speech_s);
    }
    most->all += heard_count;
}

static void dense_places(struct coach_bench *bench, struct td_rng *rng)
{
    static const enum td_place_kind kinds[] = {TD_PLACE_BRAKE_CHECK, TD_PLACE_ESCAPE_LANE,
                                               TD_PLACE_ESCAPE_LANE, TD_PLACE_CHAIN_AREA,
                                               TD_PLACE_TURN_OUT};
    double at_m = 300.0;
    for (unsigned i = 0; i < 8; i++) {
        at_m += td_rng_between(rng, 60.0, 1500.0);
        if (at_m > 8800.0)
            return;
        struct td_place *place = coach_bench_place(bench, kinds[td_rng_below(rng, 5)], at_m);
        place->side = (enum td_side)td_rng_below(rng, 3);
    }
}

static void drive(uint64_t seed, enum td_talk talk, struct most *most)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 13);
    struct coach_bench *bench = coach_bench_new();
    bench->watch = note;
    heard_count = 0;
    bench->setup.talk = talk;
    bench->setup.metric = td_rng_below(&rng, 2);
    bench->setup.road = td_rng_below(&rng, 4) == 0 ? TD_ROAD_WET : TD_ROAD_DRY;
    dense_places(bench, &rng);
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    double along_m = 0.0, speed_mps = td_rng_between(&rng, 5.0, 25.0), rate_mps2 = 0.0;
    while (along_m < 8900.0 && bench->now_ns < 1800 * TD_NS_PER_S) {
        if (td_rng_below(&rng, 8) == 0)
            rate_mps2 = td_rng_between(&rng, -0.8, 0.6);
        speed_mps = fmin(28.0, fmax(2.0, speed_mps + rate_mps2));
        along_m += speed_mps;
        coach_bench_second(bench, along_m, speed_mps);
    }
    count_minutes(most);
    coach_bench_free(bench);
}

static void nobody_talks_all_the_time(void **state)
{
    (void)state;
    static const char *const names[] = {"normal", "trainee", "sparse"};
    struct td_rng rng;
    struct most most[3] = {{0}};
    test_seed(&rng, __func__, 20);
    uint64_t seed = td_rng_u32(&rng);
    for (int talk = 0; talk < 3; talk++) {
        for (uint64_t i = 0; i < DRIVES; i++)
            drive(seed + i, (enum td_talk)talk, &most[talk]);
        printf("%s: %.1f prompts a drive; in any minute at most %u and %.1f s of speech, and %u "
               "warnings\n", names[talk], (double)most[talk].all / DRIVES, most[talk].prompts,
               most[talk].speech_s, most[talk].prompts_urgent);
        assert_true(most[talk].prompts <= MINUTE_PROMPTS_MOST);
        assert_true(most[talk].speech_s <= MINUTE_SPEECH_MOST_S);
    }
    assert_true(most[TD_TALK_TRAINEE].all >= most[TD_TALK_NORMAL].all);
    assert_true(most[TD_TALK_NORMAL].all >= most[TD_TALK_SPARSE].all);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nobody_talks_all_the_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
