/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The closed loop on random mountain roads: who does what he is told keeps his brakes and his
 * speed, however far truck, road and receiver stray within their ranges; who hears nothing does
 * not. The bench (tests/bench) drives thousands more of the same. */
#include <string.h>

#include "support/closed_loop.h"
#include "support/cm.h"
#include "support/seed.h"

enum { DRIVES = 20, DEAF_DRIVES = 24 };

/* Never so much over the ceiling in force for so long. The first 10 s after the crest do not
 * count. */
#define OVER_MOST_S 3.0 /* at 5 mph over or more */
#define OVER_MOST_MPH 9.0

static struct loop_set set;
static struct loop *loop;
static uint64_t base;

static int set_up(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "closed_loop", 1);
    base = 1 + 1000 * (uint64_t)td_rng_below(&rng, 1000000);
    if (!loop_set_read(&set))
        return 1;
    loop = loop_new(&set);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    loop_free(loop);
    return 0;
}

static struct loop_outcome drive(uint64_t seed, enum td_driver_kind driver)
{
    struct loop_choice choice = {.driver = (int)driver, .rig = -1};
    return loop_drive(loop, seed, &choice);
}

static void assert_good(const struct loop_outcome *outcome)
{
    bool good = !outcome->past_limit && !outcome->went_down && !outcome->no_go_late &&
                outcome->warned_before_crest && outcome->over_5mph_s <= OVER_MOST_S &&
                outcome->over_mph <= OVER_MOST_MPH &&
                (outcome->end == TD_TRIP_DOWN || outcome->end == TD_TRIP_STAYED_UP);
    if (!good)
        loop_print(&set, outcome, stdout);
    assert_true(good);
}

static void keeps_to_it(enum td_driver_kind driver)
{
    unsigned down = 0, judged = 0;
    for (uint64_t i = 0; i < DRIVES; i++) {
        struct loop_outcome outcome = drive(base + i, driver);
        assert_good(&outcome);
        down += outcome.end == TD_TRIP_DOWN;
        judged += outcome.judged;
    }
    /* Or it would prove nothing. */
    assert_true(down > DRIVES / 2 && judged > DRIVES / 2);
}

static void the_careful_keeps_brakes_and_speed(void **state)
{
    (void)state;
    keeps_to_it(TD_DRIVER_CAREFUL);
}

static void so_does_the_late(void **state)
{
    (void)state;
    keeps_to_it(TD_DRIVER_LATE);
}

static void so_does_the_heavy_foot(void **state)
{
    (void)state;
    keeps_to_it(TD_DRIVER_HEAVY_FOOT);
}

/* Heavily laden trucks with an automatic gearbox on steep hills: a plan was "safe" at 0 mph, since
 * the brakes stay cool at that, and as it cannot be spoken nothing was said. */
static void no_plan_is_safe_at_a_speed_that_cannot_be_spoken(void **state)
{
    (void)state;
    unsigned refused = 0;
    for (size_t rig = 0; rig < set.rig_count; rig++) {
        if (set.rigs[rig].gearbox != TD_GEARBOX_AUTOMATIC)
            continue;
        static const uint64_t steep[] = {19, 409, 509, 803};
        for (size_t i = 0; i < sizeof steep / sizeof steep[0]; i++) {
            struct loop_choice choice = {.driver = TD_DRIVER_CAREFUL, .rig = (int)rig};
            struct loop_outcome outcome = loop_drive(loop, steep[i], &choice);
            assert_good(&outcome);
            refused += outcome.told_no_go;
        }
    }
    assert_true(refused > 0);
}

static void the_deaf_does_not(void **state)
{
    (void)state;
    unsigned past_limit = 0, over = 0;
    for (uint64_t i = 0; i < DEAF_DRIVES; i++) {
        struct loop_outcome outcome = drive(base + i, TD_DRIVER_DEAF);
        past_limit += outcome.past_limit;
        over += outcome.over_5mph_s > OVER_MOST_S;
    }
    assert_true(past_limit >= 2);
    assert_true(over >= DEAF_DRIVES / 4);
}

static void the_same_seed_is_the_same_drive(void **state)
{
    (void)state;
    struct loop_outcome first = drive(base + 7, TD_DRIVER_HEAVY_FOOT);
    struct loop_outcome other = drive(base + 8, TD_DRIVER_HEAVY_FOOT);
    struct loop_outcome again = drive(base + 7, TD_DRIVER_HEAVY_FOOT);
    assert_near(again.peak_f, first.peak_f, 0);
    assert_near(again.miles, first.miles, 0);
    assert_int_equal(again.prompts, first.prompts);
    assert_true(fabs(other.miles - first.miles) > 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_careful_keeps_brakes_and_speed),
        cmocka_unit_test(so_does_the_late),
        cmocka_unit_test(so_does_the_heavy_foot),
        cmocka_unit_test(no_plan_is_safe_at_a_speed_that_cannot_be_spoken),
        cmocka_unit_test(the_deaf_does_not),
        cmocka_unit_test(the_same_seed_is_the_same_drive),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
