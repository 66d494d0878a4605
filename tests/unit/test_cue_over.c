/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Over speed against (EU) 2021/1958 Annex I 3.2.3 to 3.5.3 and the snubbing technique of the
 * driver's manual. */
#include "support/cm.h"
#include "support/cue_bench.h"
#include "talkdown/rng.h"

static struct cue_bench bench;
static struct td_wishes wishes;
static double limit_mps;

static int fresh(void **state)
{
    (void)state;
    cue_bench_init(&bench);
    limit_mps = td_mps_from_mph(40.0);
    bench.plan.target_mps = bench.plan.stretches[0].target_mps = limit_mps;
    bench.plan.descents[0].target_mps = limit_mps;
    bench.plan.say_mph = bench.plan.descents[0].say_mph = 40;
    bench.visit.said = TD_SAID_HILL | TD_SAID_SET;
    bench.visit.ceiling = 40;
    return 0;
}

/* One look; the truck stays where it is so that a long watch fits on the hill. */
static const struct td_prompt *look(double speed_mps, double accel_mps2)
{
    cue_bench_at(&bench, 5000.0, speed_mps);
    bench.moment.accel_mps2 = accel_mps2;
    return cue_bench_wish(&bench, TD_PROMPT_OVER_SPEED, &wishes);
}

/* Seconds from crossing the limit to the first call, looking every 0.1 s. */
static double onset_s(double ratio, double accel_mps2)
{
    for (int tick = 0; tick < 200; tick++) {
        if (look(limit_mps * ratio, accel_mps2))
            return tick * 0.1;
        cue_bench_later(&bench, 0.1);
    }
    return -1.0;
}

static void a14_onset_follows_the_ratio(void **state)
{
    (void)state;
    static const struct {
        double ratio, hold_s;
    } published[] = {{1.05, 5.5}, {1.10, 5.0}, {1.20, 4.0}, {1.30, 3.0}, {1.50, 3.0}};
    for (size_t i = 0; i < sizeof published / sizeof *published; i++) {
        fresh(NULL);
        assert_near(onset_s(published[i].ratio, 0.0), published[i].hold_s, 0.11);
    }
}

static void within_one_kmh_counts_as_equal(void **state)
{
    (void)state;
    assert_near(onset_s((limit_mps + 0.9 / 3.6) / limit_mps, 0.0), -1.0, 0.0);
    assert_true(onset_s((limit_mps + 1.1 / 3.6) / limit_mps, 0.0) > 0.0);
}

static void three_mph_over_and_gaining_is_called_at_once(void **state)
{
    (void)state;
    assert_near(onset_s((limit_mps + td_mps_from_mph(3.05)) / limit_mps, 0.2), 0.0, 0.0);
    fresh(NULL);
    assert_true(onset_s((limit_mps + td_mps_from_mph(2.9)) / limit_mps, 0.2) > 4.0);
}

static void a17_over_but_slowing_says_nothing(void **state)
{
    (void)state;
    for (int tick = 0; tick < 300; tick++) {
        assert_null(look(limit_mps * 1.2 - 0.002 * tick, -0.2));
        cue_bench_later(&bench, 0.1);
    }
    /* It stops slowing: the hold has long run. */
    assert_non_null(look(limit_mps * 1.2, 0.0));
}

static void a15_rearms_only_below_the_limit(void **state)
{
    (void)state;
    assert_near(onset_s(1.10, 0.0), 5.0, 0.11);
    struct td_prompt prompt = wishes.list[0].prompt;
    assert_int_equal(prompt.args[0].value, 40);
    bench.visit.over.next_ns = bench.moment.now_ns + 1000 * TD_NS_PER_S; /* being spoken */
    for (int tick = 0; tick < 100; tick++) {
        assert_null(look(limit_mps * 1.01, 0.0));
        cue_bench_later(&bench, 0.1);
    }
    assert_null(look(limit_mps * 0.999, 0.0));
    assert_false(bench.visit.over.over);
    assert_near(onset_s(1.10, 0.0), 5.0, 0.11);
}

/* Issues what is wished for during `watch_s` at a steady ratio, each spoken for 2 s; how often. */
static int calls_while(double from_ratio, double to_ratio, double watch_s)
{
    int calls = 0;
    for (int tick = 0; tick < watch_s * 10; tick++) {
        double ratio = from_ratio + (to_ratio - from_ratio) * tick / (watch_s * 10);
        const struct td_prompt *prompt = look(limit_mps * ratio, 0.0);
        if (prompt) {
            td_cue_issued(&bench.moment, &bench.visit, prompt);
            bench.visit.over.next_ns = bench.moment.now_ns + 4500 * TD_NS_PER_MS;
            calls++;
        }
        cue_bench_later(&bench, 0.1);
    }
    return calls;
}

/* Held ten over for ten minutes it was called 124 times, once in a rehearsal. */
static void a_steady_excess_is_called_twice_and_then_now_and_again(void **state)
{
    (void)state;
    assert_int_equal(calls_while(1.25, 1.25, 30.0), 2);
    assert_in_range(calls_while(1.25, 1.25, 570.0), 17, 20); /* every 30 s */
}

/* From 44 to 70 mph in two minutes: each 3 mph more is called anew. */
static void an_excess_that_grows_is_called_as_it_grows(void **state)
{
    (void)state;
    assert_in_range(calls_while(1.1, 1.75, 120.0), 8, 11);
}

static void it_never_names_more_than_the_ceiling_called_last(void **state)
{
    (void)state;
    static const int32_t called[] = {25, 40, 50, 0}, named[] = {25, 40, 40, 40};
    (void)onset_s(1.10, 0.0);
    struct td_prompt prompt = wishes.list[0].prompt;
    for (size_t i = 0; i < sizeof called / sizeof *called; i++) {
        enum td_why why;
        bench.visit.ceiling = called[i]; /* 25: already, for the stretch ahead */
        assert_int_equal(td_cue_fill(&bench.moment, &bench.visit, &prompt, &why), TD_FILL_READY);
        assert_int_equal(prompt.args[0].value, named[i]);
    }
}

static void a23_quiet_silences_this_excursion_only(void **state)
{
    (void)state;
    (void)onset_s(1.10, 0.0);
    bench.visit.over.muted = true;
    assert_near(onset_s(1.30, 0.0), -1.0, 0.0);
    (void)look(limit_mps * 0.99, 0.0);
    assert_near(onset_s(1.30, 0.0), 3.0, 0.11);
}

/* Half an hour of perfect snubbing between the safe speed and 5 mph below, with receiver noise. */
static void a16_snubbing_is_never_nagged(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 16, 1);
    double speed = limit_mps, rate = 0.25, slow_rate = 0.0;
    double last = speed;
    for (int tick = 0; tick < 1800; tick++) {
        if (speed >= limit_mps)
            rate = -td_mps_from_mph(5.0) / 3.0;
        if (speed <= limit_mps - td_mps_from_mph(5.0))
            rate = 0.25;
        double seen = speed + 0.1 * td_rng_normal(&rng);
        slow_rate = 0.5 * slow_rate + 0.5 * (seen - last);
        last = seen;
        assert_null(look(seen, slow_rate));
        cue_bench_later(&bench, 1.0);
        speed += rate;
    }
}

static void only_between_crest_and_foot(void **state)
{
    (void)state;
    for (int tick = 0; tick < 100; tick++) {
        cue_bench_at(&bench, tick % 2 ? 2990.0 : 8010.0, limit_mps * 1.5);
        assert_null(cue_bench_wish(&bench, TD_PROMPT_OVER_SPEED, &wishes));
        cue_bench_later(&bench, 0.1);
    }
}

static void an_old_speed_warns_of_nothing(void **state)
{
    (void)state;
    bench.moment.speed_fresh = false;
    assert_near(onset_s(1.5, 0.5), -1.0, 0.0);
}

static void a_warning_under_way_stops_as_the_driver_brakes(void **state)
{
    (void)state;
    (void)onset_s(1.10, 0.0);
    struct td_prompt prompt = wishes.list[0].prompt;
    (void)look(limit_mps * 1.1, -0.25);
    assert_false(td_cue_answered(&bench.moment, &bench.visit, &prompt));
    (void)look(limit_mps * 1.1, -0.35);
    assert_true(td_cue_answered(&bench.moment, &bench.visit, &prompt));
    (void)look(limit_mps * 0.99, 0.0);
    assert_true(td_cue_answered(&bench.moment, &bench.visit, &prompt));
}

static void the_next_look_is_when_the_hold_runs_out(void **state)
{
    (void)state;
    int64_t from_ns = bench.moment.now_ns;
    (void)look(limit_mps * 1.10, 0.0);
    assert_near((double)(td_cue_next_ns(&bench.moment, &bench.visit) - from_ns) * 1e-9, 5.0, 1e-6);
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(a14_onset_follows_the_ratio),
        CASE(within_one_kmh_counts_as_equal),
        CASE(three_mph_over_and_gaining_is_called_at_once),
        CASE(a17_over_but_slowing_says_nothing),
        CASE(a15_rearms_only_below_the_limit),
        CASE(a_steady_excess_is_called_twice_and_then_now_and_again),
        CASE(an_excess_that_grows_is_called_as_it_grows),
        CASE(it_never_names_more_than_the_ceiling_called_last),
        CASE(a23_quiet_silences_this_excursion_only),
        CASE(a16_snubbing_is_never_nagged),
        CASE(only_between_crest_and_foot),
        CASE(an_old_speed_warns_of_nothing),
        CASE(a_warning_under_way_stops_as_the_driver_brakes),
        CASE(the_next_look_is_when_the_hold_runs_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
