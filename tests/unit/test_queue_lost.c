/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The queue when sound is lost: what is said again and with which numbers, and a voice that does
 * not answer. */
#include "support/cm.h"

#include "support/queue_bench.h"

static void a_lost_one_is_said_again_with_back_off_and_not_for_ever(void **state)
{
    (void)state;
    unsigned said = 0;
    add(TD_PROMPT_CEILING);
    for (int i = 0; i < 600; i++) {
        step(0.1);
        if (!output.has_speak)
            continue;
        said++;
        /* The grade goes on: each is still true. */
        report(output.speak.serial, TD_REPORT_LOST);
        assert_int_equal(event_of(TD_EVENT_LOST)->why, TD_WHY_SOUND);
    }
    assert_int_equal(said, 6);
    assert_int_equal(queue.count, 0);
}

static void a_voice_that_never_starts_does_not_block(void **state)
{
    (void)state;
    add(TD_PROMPT_CEILING);
    step(0.0);
    uint32_t mute = output.speak.serial;
    step(1.9);
    assert_int_equal(output.cut_serial, 0);
    step(0.2);
    assert_int_equal(output.cut_serial, mute);
    step(2.4);
    assert_false(output.has_speak);
    step(0.2); /* it counts as silent now; its prompt is decided anew */
    assert_int_equal(event_of(TD_EVENT_LOST)->prompt.serial, mute);
    assert_non_null(event_of(TD_EVENT_DECIDED));
    step(1.1);
    assert_true(output.has_speak);
}

/* A voice that is only slow answers the order to stop: nothing of it was heard. */
static void one_that_was_cut_before_it_began_is_said_again(void **state)
{
    (void)state;
    add(TD_PROMPT_CEILING);
    step(0.0);
    uint32_t slow = output.speak.serial;
    step(2.1);
    assert_int_equal(output.cut_serial, slow);
    report(slow, TD_REPORT_CUT);
    assert_int_equal(event_of(TD_EVENT_CUT)->why, TD_WHY_LATE);
    assert_non_null(event_of(TD_EVENT_DECIDED));
    step(1.1);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.id, TD_PROMPT_CEILING);
    uint32_t endless = output.speak.serial;
    report(endless, TD_REPORT_STARTED);
    step(6.1); /* and one that began was heard, if not to its end */
    assert_int_equal(output.cut_serial, endless);
    report(endless, TD_REPORT_CUT);
    assert_null(event_of(TD_EVENT_DECIDED));
}

static void a_voice_that_never_ends_does_not_block(void **state)
{
    (void)state;
    uint32_t endless = speak_now(TD_PROMPT_CEILING);
    add(TD_PROMPT_ROAD_SET);
    step(5.9);
    assert_int_equal(output.cut_serial, 0);
    step(0.2); /* two seconds of speech and four of patience */
    assert_int_equal(output.cut_serial, endless);
    step(2.6);
    assert_int_equal(event_of(TD_EVENT_LOST)->prompt.serial, endless);
    assert_null(event_of(TD_EVENT_DECIDED)); /* it was heard */
    step(2.1);
    assert_true(output.has_speak);
}

static void what_the_shell_dropped_is_not_said_again(void **state)
{
    (void)state;
    add(TD_PROMPT_CEILING);
    step(0.0);
    report(output.speak.serial, TD_REPORT_DROPPED);
    assert_int_equal(event_of(TD_EVENT_DROPPED)->why, TD_WHY_LATE);
    assert_int_equal(queue.count, 0);
}

static void nothing_goes_out_without_sound_and_what_is_still_true_after(void **state)
{
    (void)state;
    queue.sound_up = bench.moment.sound_up = false;
    bench.moment.sound_since_ns = bench.moment.now_ns;
    add(TD_PROMPT_CEILING);
    add(TD_PROMPT_OVER_SPEED);
    over_the_limit();
    for (int i = 0; i < 100; i++) {
        step(1.0);
        assert_false(output.has_speak);
    }
    bench.moment.speed_mps = 7.0; /* no longer over */
    queue.sound_up = bench.moment.sound_up = true;
    bench.moment.sound_since_ns = bench.moment.now_ns;
    add(TD_PROMPT_SOUND_BACK);
    step(0.0);
    assert_int_equal(output.speak.id, TD_PROMPT_SOUND_BACK);
    assert_int_equal(event_of(TD_EVENT_DROPPED)->prompt.id, TD_PROMPT_OVER_SPEED);
    report(output.speak.serial, TD_REPORT_ENDED);
    step(1.0);
    assert_int_equal(output.speak.id, TD_PROMPT_CEILING);
}

static uint32_t speak_lane(int32_t quarter_miles)
{
    struct td_prompt prompt = {.id = TD_PROMPT_ESCAPE_LANE, .category = TD_ADVICE,
                               .hill_handle = 7, .place = 0};
    td_queue_add(&queue, &bench.moment, &prompt, TD_WHY_DISTANCE, &output);
    step(1.5);
    assert_true(output.has_speak);
    assert_int_equal(output.speak.args[1].unit, TD_UNIT_QUARTER_MILE);
    assert_int_equal(output.speak.args[1].value, quarter_miles);
    return output.speak.serial;
}

/* The sound went in mid-word, and came back 400 m farther down. */
static void a_lost_one_is_said_again_with_its_distance_of_then(void **state)
{
    (void)state;
    (void)cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5600.0);
    bench.moment.along_m = 4760.0;
    uint32_t lost = speak_lane(2);
    report(lost, TD_REPORT_STARTED);
    report(lost, TD_REPORT_LOST);
    assert_int_equal(event_of(TD_EVENT_DECIDED)->prompt.id, TD_PROMPT_ESCAPE_LANE);
    queue.sound_up = bench.moment.sound_up = false;
    bench.moment.along_m = 5160.0; /* 440 m to go, 426 at the end of the words */
    step(60.0);
    assert_false(output.has_speak);
    queue.sound_up = bench.moment.sound_up = true;
    step(0.0);
    assert_true(output.has_speak);
    assert_true(output.speak.serial > lost);
    assert_int_equal(output.speak.args[1].unit, TD_UNIT_QUARTER_MILE);
    assert_int_equal(output.speak.args[1].value, 1);
}

/* Handed over and never heard: it is not among what "again" repeats, nor does the queue take it as
 * said; the lane behind the truck by then is not told at all. */
static void what_never_sounded_was_not_spoken(void **state)
{
    (void)state;
    (void)cue_bench_place(&bench, TD_PLACE_ESCAPE_LANE, 5600.0);
    bench.moment.along_m = 4760.0;
    uint32_t mute = speak_lane(2);
    report(mute, TD_REPORT_LOST);
    assert_int_equal(queue.spoken_count, 0);
    assert_false(queue.spoke_once);
    assert_null(event_of(TD_EVENT_STARTED));
    assert_null(event_of(TD_EVENT_SPOKEN));
    assert_true(td_queue_has(&queue, TD_PROMPT_ESCAPE_LANE));
    bench.moment.along_m = 5650.0;
    step(2.0);
    assert_false(output.has_speak);
    assert_int_equal(event_of(TD_EVENT_EXPIRED)->prompt.id, TD_PROMPT_ESCAPE_LANE);
    assert_int_equal(queue.spoken_count, 0);
}

#define CASE(name) cmocka_unit_test_setup(name, fresh)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(a_lost_one_is_said_again_with_back_off_and_not_for_ever),
        CASE(a_voice_that_never_starts_does_not_block),
        CASE(one_that_was_cut_before_it_began_is_said_again),
        CASE(a_voice_that_never_ends_does_not_block),
        CASE(what_the_shell_dropped_is_not_said_again),
        CASE(nothing_goes_out_without_sound_and_what_is_still_true_after),
        CASE(a_lost_one_is_said_again_with_its_distance_of_then),
        CASE(what_never_sounded_was_not_spoken),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
