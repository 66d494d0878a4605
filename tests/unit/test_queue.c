/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The queue: order, pre-emption, spacing and expiry; losses in unit.queue_lost. */
#include "support/cm.h"

#include "support/queue_bench.h"

/* A12: the lesser stops and the warning starts as soon as the voice says that it is silent; the
 * lesser is then said from its first word, under another serial. */
static void a12_a_warning_cuts_and_the_cut_one_starts_again(void **state)
{
    (void)state;
    uint32_t lesser = speak_now(TD_PROMPT_CEILING);
    over_the_limit();
    add(TD_PROMPT_OVER_SPEED);
    step(0.0);
    assert_int_equal(output.cut_serial, lesser);
    assert_false(output.has_speak);
    step(0.05);
    assert_int_equal(output.cut_serial, 0); /* asked once */
    assert_false(output.has_speak);         /* A13: not before it is silent */
    report(lesser, TD_REPORT_CUT);
    assert_int_equal(event_of(TD_EVENT_CUT)->why, TD_WHY_OUTRANKED);
    assert_int_equal(event_of(TD_EVENT_DECIDED)->prompt.id, TD_PROMPT_CEILING);
    step(0.0);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.id, TD_PROMPT_OVER_SPEED);
    report(output.speak.serial, TD_REPORT_ENDED);
    step(0.2);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.id, TD_PROMPT_CEILING);
    assert_true(output.speak.serial > lesser);
}

static void a_cut_one_that_is_no_longer_true_is_dropped(void **state)
{
    (void)state;
    uint32_t lesser = speak_now(TD_PROMPT_CEILING);
    over_the_limit();
    add(TD_PROMPT_OVER_SPEED);
    step(0.0);
    assert_int_equal(output.cut_serial, lesser);
    bench.plan.safe = false;
    report(lesser, TD_REPORT_CUT);
    assert_null(event_of(TD_EVENT_DECIDED));
}

static void equals_and_lesser_ones_wait(void **state)
{
    (void)state;
    uint32_t first = speak_now(TD_PROMPT_CEILING);
    add(TD_PROMPT_HILL_AHEAD);
    add(TD_PROMPT_ROAD_SET);
    step(0.5);
    assert_int_equal(output.cut_serial, 0);
    assert_false(output.has_speak);
    report(first, TD_REPORT_ENDED);
    step(0.9);
    assert_false(output.has_speak); /* a second of silence before advice */
    step(0.1);
    assert_int_equal(output.speak.id, TD_PROMPT_HILL_AHEAD);
    report(output.speak.serial, TD_REPORT_ENDED);
    step(1.9);
    assert_false(output.has_speak); /* two before a notice */
    step(0.1);
    assert_int_equal(output.speak.id, TD_PROMPT_ROAD_SET);
}

static void ended_wins_over_a_late_cut(void **state)
{
    (void)state;
    uint32_t lesser = speak_now(TD_PROMPT_CEILING);
    over_the_limit();
    add(TD_PROMPT_OVER_SPEED);
    step(0.0);
    report(lesser, TD_REPORT_ENDED);
    assert_non_null(event_of(TD_EVENT_SPOKEN));
    assert_null(event_of(TD_EVENT_DECIDED));
    report(lesser, TD_REPORT_CUT);
    assert_int_equal(event_of(TD_EVENT_REFUSED)->value, TD_REFUSED_REPORT);
}

static void numbers_are_those_of_the_moment_it_is_spoken(void **state)
{
    (void)state;
    struct td_place *lane = cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5600.0);
    lane->side = TD_SIDE_LEFT;
    uint32_t first = speak_now(TD_PROMPT_CEILING);
    struct td_prompt prompt = {.id = TD_PROMPT_ESCAPE_LANE, .category = TD_ADVICE,
                               .hill_handle = 7, .place = 0};
    td_queue_add(&queue, &bench.moment, &prompt, TD_WHY_DISTANCE, &output);
    step(0.1);
    bench.moment.along_m = 5100.0; /* 500 m to go, 486 at the end of the words */
    report(first, TD_REPORT_ENDED);
    step(1.5);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.args[1].unit, TD_UNIT_QUARTER_MILE);
    assert_int_equal(output.speak.args[1].value, 1);
}

/* A lane and a curve due at once are two prompts, never one: together they would be six things to
 * keep in mind, and four is the most (A2). The one to act on first comes first, the other right
 * behind it, and its distance is the one that is true by then. */
static void a_curve_and_a_lane_together_are_both_told_in_order(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5600.0);
    struct td_prompt lane = {.id = TD_PROMPT_ESCAPE_LANE, .category = TD_ADVICE,
                             .hill_handle = 7, .place = 0};
    bench.moment.along_m = 4550.0; /* 1,050 m: three quarters of a mile are not yet out of reach */
    td_queue_add(&queue, &bench.moment, &lane, TD_WHY_DISTANCE, &output);
    add(TD_PROMPT_CURVE);
    step(0.0);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.id, TD_PROMPT_CURVE);
    uint32_t curve = output.speak.serial;
    report(curve, TD_REPORT_STARTED);
    bench.moment.along_m = 4760.0; /* 840 m */
    cue_bench_later(&bench, 2.0);
    report(curve, TD_REPORT_ENDED);
    step(1.0);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.id, TD_PROMPT_ESCAPE_LANE);
    assert_int_equal(output.speak.args[1].unit, TD_UNIT_QUARTER_MILE);
    assert_int_equal(output.speak.args[1].value, 2);
}

/* A20: lead left < speech + 2.5 s is dropped. */
static void a20_a_stale_one_is_not_spoken(void **state)
{
    (void)state;
    cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5600.0);
    for (int late = 0; late < 2; late++) {
        td_queue_init(&queue);
        struct td_prompt prompt = {.id = TD_PROMPT_ESCAPE_LANE, .category = TD_ADVICE,
                                   .hill_handle = 7, .place = 0};
        td_queue_add(&queue, &bench.moment, &prompt, TD_WHY_DISTANCE, &output);
        /* 7 m/s: 31.5 m are 4.5 s. */
        bench.moment.along_m = 5600.0 - (late ? 31.0 : 32.0);
        step(0.0);
        assert_int_equal(output.has_speak, !late);
        if (late)
            assert_int_equal(event_of(TD_EVENT_EXPIRED)->why, TD_WHY_STALE);
    }
}

/* A21: an unanswered warning comes again after a pause of at most 3 s, as long as it gets worse
 * (docs/decisions/over-speed-repeats.md says why no longer than that). */
static void a21_an_unanswered_warning_is_repeated(void **state)
{
    (void)state;
    int64_t ended_ns = 0;
    unsigned said = 0;
    bench.moment.speed_mps = 9.5;
    for (int tick = 0; tick < 400; tick++) {
        struct td_wishes wishes = {.count = 0};
        memset(&output, 0, sizeof output);
        cue_bench_later(&bench, 0.05);
        bench.moment.speed_mps += 0.03; /* 3 mph in less than 2.5 s */
        td_cue_over(&bench.moment, &bench.visit, &wishes);
        for (unsigned i = 0; i < wishes.count; i++) {
            wishes.list[i].prompt.hill_handle = 7;
            td_queue_add(&queue, &bench.moment, &wishes.list[i].prompt, wishes.list[i].why,
                         &output);
        }
        td_queue_step(&queue, &bench.moment, &bench.visit, &output);
        if (!output.has_speak)
            continue;
        if (said++ > 0) {
            double pause_s = (double)(bench.moment.now_ns - ended_ns) * 1e-9;
            assert_true(pause_s >= 2.4 && pause_s <= 3.0);
        }
        uint32_t serial = output.speak.serial;
        report(serial, TD_REPORT_STARTED);
        cue_bench_later(&bench, 1.8);
        report(serial, TD_REPORT_ENDED);
        ended_ns = bench.moment.now_ns;
    }
    assert_true(said >= 4);
}

/* In that pause a lesser prompt is said when it fits, and else waits instead of being cut. */
static void the_pause_between_warnings_is_used_only_by_what_fits(void **state)
{
    (void)state;
    over_the_limit();
    uint32_t serial = speak_now(TD_PROMPT_OVER_SPEED);
    report(serial, TD_REPORT_ENDED);
    step(0.0);
    bench.setup.speech_ms[TD_PROMPT_CEILING] = 2500; /* fits 0.4 s into the pause at the latest */
    cue_bench_later(&bench, 0.55);
    add(TD_PROMPT_CEILING);
    step(0.0);
    assert_false(output.has_speak);
    add(TD_PROMPT_OVER_SPEED);
    step(1.95);
    assert_int_equal(output.speak.id, TD_PROMPT_OVER_SPEED);
    report(output.speak.serial, TD_REPORT_ENDED);
    step(0.3); /* at the pause's start */
    assert_int_equal(output.speak.id, TD_PROMPT_CEILING);
    uint32_t lesser = output.speak.serial;
    report(lesser, TD_REPORT_STARTED);
    add(TD_PROMPT_OVER_SPEED);
    step(2.4);
    assert_int_equal(output.cut_serial, 0);
    step(0.6); /* longer than its measured length: now it is cut after all */
    assert_int_equal(output.cut_serial, lesser);
}

static void a_warning_of_a_truck_that_gains_fast_cuts_whatever_is_said(void **state)
{
    (void)state;
    over_the_limit();
    uint32_t serial = speak_now(TD_PROMPT_OVER_SPEED);
    report(serial, TD_REPORT_ENDED);
    add(TD_PROMPT_CEILING);
    step(0.3);
    uint32_t lesser = output.speak.serial;
    assert_int_equal(output.speak.id, TD_PROMPT_CEILING);
    add(TD_PROMPT_OVER_SPEED);
    bench.moment.accel_mps2 = 0.4;
    step(0.5);
    assert_int_equal(output.cut_serial, lesser);
}

/* A23: the driver mutes one instance; dangers stay. */
static void a23_quiet_cuts_the_prompt_and_its_repeats(void **state)
{
    (void)state;
    over_the_limit();
    bench.moment.speed_mps = 9.5;
    uint32_t serial = speak_now(TD_PROMPT_OVER_SPEED);
    memset(&output, 0, sizeof output);
    td_queue_quiet(&queue, &bench.moment, &bench.visit, &output);
    assert_int_equal(output.cut_serial, serial);
    report(serial, TD_REPORT_CUT);
    assert_int_equal(event_of(TD_EVENT_CUT)->why, TD_WHY_QUIET);
    assert_int_equal(queue.count, 0);
    struct td_wishes wishes = {.count = 0};
    cue_bench_later(&bench, 30.0);
    td_cue_over(&bench.moment, &bench.visit, &wishes);
    assert_int_equal(wishes.count, 0);
    queue.flight = (struct td_flight){.busy = true, .prompt = {.serial = 99,
                                                               .category = TD_DANGER}};
    memset(&output, 0, sizeof output);
    td_queue_quiet(&queue, &bench.moment, &bench.visit, &output);
    assert_int_equal(output.cut_serial, 0);
}

static void a_full_queue_drops_the_least_pressing(void **state)
{
    (void)state;
    for (int i = 0; i < TD_QUEUE_MAX; i++) {
        struct td_prompt prompt = {.id = TD_PROMPT_ESCAPE_LANE, .category = TD_ADVICE,
                                   .hill_handle = 7, .place = i};
        td_queue_add(&queue, &bench.moment, &prompt, TD_WHY_STATE, &output);
    }
    memset(&output, 0, sizeof output);
    add(TD_PROMPT_OVER_SPEED);
    assert_int_equal(event_of(TD_EVENT_DROPPED)->why, TD_WHY_OUTRANKED);
    assert_int_equal(event_of(TD_EVENT_DROPPED)->prompt.place, TD_QUEUE_MAX - 1);
    assert_true(td_queue_has(&queue, TD_PROMPT_OVER_SPEED));
    assert_int_equal(queue.count, TD_QUEUE_MAX);
}

static void the_same_thing_waits_once(void **state)
{
    (void)state;
    add(TD_PROMPT_CEILING);
    add(TD_PROMPT_CEILING);
    assert_int_equal(queue.count, 1);
}

static void away_from_the_hill_its_prompts_wait_and_then_expire(void **state)
{
    (void)state;
    add(TD_PROMPT_CEILING);
    bench.moment.on_hill = false;
    bench.moment.where = TD_WHERE_LOST;
    step(1.0);
    assert_false(output.has_speak);
    assert_int_equal(queue.count, 1);
    step(20.0);
    assert_int_equal(event_of(TD_EVENT_EXPIRED)->why, TD_WHY_LATE);
    add(TD_PROMPT_CEILING);
    bench.moment.handle = bench.visit.handle = 8; /* another hill */
    step(0.0);
    assert_non_null(event_of(TD_EVENT_DROPPED));
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(a12_a_warning_cuts_and_the_cut_one_starts_again),
        CASE(a_cut_one_that_is_no_longer_true_is_dropped),
        CASE(equals_and_lesser_ones_wait),
        CASE(ended_wins_over_a_late_cut),
        CASE(numbers_are_those_of_the_moment_it_is_spoken),
        CASE(a_curve_and_a_lane_together_are_both_told_in_order),
        CASE(a20_a_stale_one_is_not_spoken),
        CASE(a21_an_unanswered_warning_is_repeated),
        CASE(the_pause_between_warnings_is_used_only_by_what_fits),
        CASE(a_warning_of_a_truck_that_gains_fast_cuts_whatever_is_said),
        CASE(a23_quiet_cuts_the_prompt_and_its_repeats),
        CASE(a_full_queue_drops_the_least_pressing),
        CASE(the_same_thing_waits_once),
        CASE(away_from_the_hill_its_prompts_wait_and_then_expire),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
