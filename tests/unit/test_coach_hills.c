/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills in hand: asked for once a kilometre, eight at most, the farthest let go, never while a
 * question is out, and a new edition never moves a truck. Figures are invented. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "support/cue_bench.h"
#include "talkdown/coach.h"

enum { HILLS = 12 };

static struct td_station stations[HILLS][2];
static struct td_hill hills[HILLS];
static struct td_setup setup;
static struct td_coach *coach;
static struct td_input input;
static struct td_output output;
static int64_t now_ns;
static uint32_t wanted; /* the last question, 0 once answered */

/* Hill i begins i hundredths of a degree of latitude (1.1 km) north of the start. */
static int fresh(void **state)
{
    (void)state;
    static char ids[HILLS][8];
    memset(&setup, 0, sizeof setup);
    memset(hills, 0, sizeof hills);
    for (int i = 0; i < HILLS; i++) {
        for (int end = 0; end < 2; end++) {
            stations[i][end] = (struct td_station){.along_m = 500.0 * end};
            stations[i][end].lat_deg = -30.0 + 0.01 * i;
            stations[i][end].lon_deg = -20.0 + 0.005 * end;
            stations[i][end].x_m = 500.0 * end;
        }
        snprintf(ids[i], sizeof ids[i], "hill-%d", i);
        hills[i].id = ids[i];
        hills[i].hash[0] = (uint8_t)(i + 1);
        hills[i].stations = stations[i];
        hills[i].station_count = 2;
        hills[i].origin_lat_deg = stations[i][0].lat_deg;
        hills[i].origin_lon_deg = stations[i][0].lon_deg;
        hills[i].length_m = 500.0;
    }
    now_ns = 0;
    wanted = 0;
    memset(&input, 0, sizeof input);
    coach = td_coach_init(malloc(td_coach_size()), &setup, 0);
    return coach ? 0 : -1;
}

static int gone(void **state)
{
    (void)state;
    free(coach);
    return 0;
}

static void step(void)
{
    now_ns += TD_NS_PER_S;
    input.now_ns = now_ns;
    td_coach_step(coach, &input, &output);
    memset(&input, 0, sizeof input);
    if (output.want.serial != 0)
        wanted = output.want.serial;
}

static void fix_at(double lat_deg)
{
    input.has_fix = true;
    input.fix = (struct td_fix){.has = TD_FIX_POSITION | TD_FIX_SPEED, .lat_deg = lat_deg,
                                .lon_deg = -20.02, .received_ns = now_ns + TD_NS_PER_S};
    input.fix.speed_mps = 20.0;
    step();
}

static void offer(enum td_offer_kind kind, uint32_t want, int hill, uint32_t handle)
{
    input.offer = (struct td_offer){kind, want, handle, hill >= 0 ? &hills[hill] : NULL};
    step();
}

static void asks_once_a_kilometre_and_again_after_a_failure(void **state)
{
    (void)state;
    step();
    assert_int_equal(output.want.serial, 0); /* no position */
    fix_at(-30.0);
    assert_int_equal(output.want.serial, 1);
    assert_near(output.want.lat_deg, -30.0, 0.0);
    assert_near(output.want.radius_m, 6000.0, 0.0);
    fix_at(-29.98);
    assert_int_equal(output.want.serial, 0); /* one question at a time */
    offer(TD_OFFER_END, 1, -1, 0);
    assert_int_equal(output.want.serial, 2); /* 2.2 km on */
    offer(TD_OFFER_FAILED, 2, -1, 0);
    assert_int_equal(output.want.serial, 0);
    step();
    step();
    assert_int_equal(output.want.serial, 3);
    offer(TD_OFFER_FAILED, 3, -1, 0);
    for (int i = 0; i < 3; i++) {
        step();
        assert_int_equal(output.want.serial, 0); /* four seconds now */
    }
    step();
    assert_int_equal(output.want.serial, 4);
}

/* Prompts that began and ended within so many seconds without a position. */
static unsigned said(enum td_prompt_id id, int seconds)
{
    unsigned count = 0;
    for (int i = 0; i < seconds; i++) {
        step();
        if (!output.has_speak)
            continue;
        count += output.speak.id == id;
        uint32_t serial = output.speak.serial;
        input.reports[input.report_count++] = (struct td_report){serial, TD_REPORT_STARTED};
        step();
        input.reports[input.report_count++] = (struct td_report){serial, TD_REPORT_ENDED};
    }
    return count;
}

static void a_damaged_hill_is_told_once_and_each_by_itself(void **state)
{
    (void)state;
    fix_at(-30.0);
    offer(TD_OFFER_DAMAGED, 1, -1, 3);
    offer(TD_OFFER_DAMAGED, 1, -1, 4);
    offer(TD_OFFER_END, 1, -1, 0);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 1); /* one prompt for both */
    fix_at(-29.98);
    offer(TD_OFFER_DAMAGED, 2, -1, 3);
    offer(TD_OFFER_END, 2, -1, 0);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 0); /* told */
    fix_at(-29.96);
    offer(TD_OFFER_DAMAGED, 3, -1, 5);
    offer(TD_OFFER_END, 3, -1, 0);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 1); /* another */
    input.command = (struct td_command){TD_COMMAND_HILLS_CHANGED, 9};
    step(); /* other hills, and their numbers mean others */
    offer(TD_OFFER_DAMAGED, wanted, -1, 5);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 1);
}

static void a_damaged_hill_without_a_number_is_refused(void **state)
{
    (void)state;
    fix_at(-30.0);
    offer(TD_OFFER_DAMAGED, 1, -1, 0);
    bool refused = false;
    for (unsigned i = 0; i < output.event_count; i++)
        refused = refused || (output.events[i].kind == TD_EVENT_REFUSED &&
                              output.events[i].value == TD_REFUSED_OFFER);
    assert_true(refused);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 0);
}

/* One damaged hill takes the place of none: what is whole is taken all the same. */
static void whole_hills_beside_a_damaged_one_are_taken(void **state)
{
    (void)state;
    fix_at(-30.0);
    offer(TD_OFFER_DAMAGED, 1, -1, 7);
    offer(TD_OFFER_HILL, 1, 0, 7); /* a handle is no number of a damaged one */
    offer(TD_OFFER_END, 1, -1, 0);
    assert_int_equal(output.release_handle, 0);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 1);
}

/* While the sound is away nothing can be told; it is as soon as it is back. */
static void without_sound_it_waits(void **state)
{
    (void)state;
    input.sound = TD_SOUND_DOWN;
    fix_at(-30.0);
    offer(TD_OFFER_DAMAGED, 1, -1, 7);
    offer(TD_OFFER_END, 1, -1, 0);
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 300), 0);
    input.sound = TD_SOUND_UP;
    assert_int_equal(said(TD_PROMPT_HILL_DAMAGED, 60), 1);
}

static void hills_that_may_not_be_found_are_told_once(void **state)
{
    (void)state;
    step();
    for (int i = 0; i < 2; i++) {
        input.command = (struct td_command){TD_COMMAND_LIBRARY_DAMAGED, 0};
        step();
        assert_int_equal(said(TD_PROMPT_LIBRARY_DAMAGED, 60), i == 0 ? 1 : 0);
    }
    input.command = (struct td_command){TD_COMMAND_HILLS_CHANGED, 9};
    step();
    assert_int_equal(said(TD_PROMPT_LIBRARY_DAMAGED, 60), 0);
}

/* Hills that cannot be read for long are no silence either. Back-off: 2, 4, 8, 16 s and on. */
static void a_file_that_cannot_be_read_is_told_once_until_it_can(void **state)
{
    (void)state;
    fix_at(-30.0);
    unsigned told = 0, tries = 0;
    while (tries < 8) {
        told += said(TD_PROMPT_LIBRARY_DAMAGED, 1);
        if (wanted == 0)
            continue;
        uint32_t failed = wanted;
        wanted = 0;
        offer(TD_OFFER_FAILED, failed, -1, 0);
        tries++;
        assert_true(told == 0 || tries >= 4);
    }
    assert_int_equal(told + said(TD_PROMPT_LIBRARY_DAMAGED, 10), 1);
}

static void an_answer_that_never_comes_is_asked_for_again(void **state)
{
    (void)state;
    fix_at(-30.0);
    assert_int_equal(output.want.serial, 1);
    unsigned waited = 0;
    while (output.want.serial != 2 && waited++ < 60)
        step();
    assert_true(waited >= 30 && waited < 40);
}

static void nine_hills_are_one_too_many_and_the_farthest_goes(void **state)
{
    (void)state;
    fix_at(-30.0);
    for (int i = 0; i < 8; i++)
        offer(TD_OFFER_HILL, 1, i == 3 ? 8 : i, (uint32_t)(100 + i));
    /* Hill 8 is the farthest; hill 3 takes its place. */
    offer(TD_OFFER_HILL, 1, 3, 108);
    assert_int_equal(output.release_handle, 0); /* the question is still out */
    offer(TD_OFFER_HILL, 1, 9, 109);            /* farther than all in hand: not taken */
    uint32_t released[4] = {0};
    unsigned count = 0;
    offer(TD_OFFER_END, 1, -1, 0);
    for (int i = 0; i < 5; i++) {
        if (output.release_handle != 0 && count < 4)
            released[count++] = output.release_handle;
        step();
    }
    assert_int_equal(count, 2);
    assert_int_equal(released[0], 103);
    assert_int_equal(released[1], 109);
}

static void hills_far_behind_are_let_go(void **state)
{
    (void)state;
    fix_at(-30.0);
    offer(TD_OFFER_HILL, 1, 0, 100);
    offer(TD_OFFER_HILL, 1, 7, 107);
    offer(TD_OFFER_END, 1, -1, 0);
    assert_int_equal(output.release_handle, 0);
    double lat_deg = -30.0;
    uint32_t want = 0;
    while (lat_deg < -29.9) { /* 11 km north, in steps a truck can follow */
        lat_deg += 0.0002;
        fix_at(lat_deg);
        if (output.want.serial != 0)
            want = output.want.serial;
        if (want != 0) {
            offer(TD_OFFER_END, want, -1, 0);
            want = output.want.serial;
        }
        if (output.release_handle != 0)
            break;
    }
    assert_int_equal(output.release_handle, 100);
    assert_true(lat_deg > -29.925 && lat_deg < -29.9); /* beyond 9 km */
}

static void the_same_hill_again_is_nothing_new(void **state)
{
    (void)state;
    fix_at(-30.0);
    offer(TD_OFFER_HILL, 1, 0, 100);
    offer(TD_OFFER_HILL, 1, 0, 100); /* same handle: nothing */
    offer(TD_OFFER_HILL, 1, 0, 200); /* same bytes under another handle: the new one goes back */
    offer(TD_OFFER_END, 1, -1, 0);
    assert_int_equal(output.release_handle, 200);
    step();
    assert_int_equal(output.release_handle, 0);
}

static void a_new_edition_takes_the_place_of_the_old(void **state)
{
    (void)state;
    struct td_hill edition = hills[0];
    edition.hash[0] = 99;
    fix_at(-30.0);
    offer(TD_OFFER_HILL, 1, 0, 100);
    offer(TD_OFFER_END, 1, -1, 0);
    input.command = (struct td_command){TD_COMMAND_HILLS_CHANGED, 5};
    step();
    assert_int_equal(output.want.serial, 2);
    input.offer = (struct td_offer){TD_OFFER_HILL, 2, 300, &edition};
    step();
    offer(TD_OFFER_END, 2, -1, 0);
    assert_int_equal(output.release_handle, 100);
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    fix_at(-30.0);
    hills[1].station_count = 1;
    offer(TD_OFFER_HILL, 1, 1, 100);
    assert_int_equal(output.events[0].kind, TD_EVENT_REFUSED);
    assert_int_equal(output.events[0].value, TD_REFUSED_OFFER);
    offer(TD_OFFER_END, 77, -1, 0);
    assert_int_equal(output.events[0].kind, TD_EVENT_REFUSED);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, fresh, gone)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(asks_once_a_kilometre_and_again_after_a_failure),
        CASE(a_damaged_hill_is_told_once_and_each_by_itself),
        CASE(a_damaged_hill_without_a_number_is_refused),
        CASE(whole_hills_beside_a_damaged_one_are_taken),
        CASE(without_sound_it_waits),
        CASE(hills_that_may_not_be_found_are_told_once),
        CASE(a_file_that_cannot_be_read_is_told_once_until_it_can),
        CASE(an_answer_that_never_comes_is_asked_for_again),
        CASE(nine_hills_are_one_too_many_and_the_farthest_goes),
        CASE(hills_far_behind_are_let_go),
        CASE(the_same_hill_again_is_nothing_new),
        CASE(a_new_edition_takes_the_place_of_the_old),
        CASE(nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
