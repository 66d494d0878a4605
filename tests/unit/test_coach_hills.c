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
        CASE(an_answer_that_never_comes_is_asked_for_again),
        CASE(nine_hills_are_one_too_many_and_the_farthest_goes),
        CASE(hills_far_behind_are_let_go),
        CASE(the_same_hill_again_is_nothing_new),
        CASE(a_new_edition_takes_the_place_of_the_old),
        CASE(nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
