/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runaways in the closed loop on random mountain roads: none is missed, none is called while the
 * brakes work, no closed lane and none that lies behind. bench.runaway drives thousands more of the
 * same (docs/runaway.md). */
#include "support/cm.h"
#include "support/runaway_drive.h"
#include "support/seed.h"

enum { FAILURES = 60, HEALTHY = 60 };

static struct loop_set set;
static struct loop *loop;
static uint64_t base;

static int set_up(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "runaway", 1);
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

static void assert_sound(const struct runaway_seen *seen, const struct loop_outcome *outcome,
                         bool wrong)
{
    wrong = wrong || seen->closed > 0 || seen->behind > 0 || seen->lesser > 0;
    if (wrong)
        loop_print(&set, outcome, stdout);
    assert_false(wrong);
}

static void no_runaway_is_missed(void **state)
{
    (void)state;
    unsigned ran_away = 0, called = 0, in_lane = 0;
    for (uint64_t i = 0; i < FAILURES; i++) {
        struct loop_choice choice = {.driver = (int)(i % TD_DRIVER_KINDS), .rig = -1,
                                     .failure = (enum td_failure)(1 + i / TD_DRIVER_KINDS % 3)};
        struct runaway_seen seen;
        struct loop_outcome outcome = runaway_drive(loop, base + i, &choice, &seen);
        assert_sound(&seen, &outcome, seen.ran_away && !seen.called);
        ran_away += seen.ran_away;
        called += seen.called;
        in_lane += outcome.end == TD_TRIP_IN_LANE;
    }
    printf("%u of %d failures ran away, %u were called, %u went into a lane\n", ran_away, FAILURES,
           called, in_lane);
    /* Or it would prove nothing. */
    assert_true(ran_away >= 5 && in_lane >= 1);
}

static void no_truck_with_brakes_is_called(void **state)
{
    (void)state;
    for (uint64_t i = 0; i < HEALTHY; i++) {
        struct loop_choice choice = {.driver = (int)(i % TD_DRIVER_NO_BRAKES), .rig = -1};
        choice.warnings_only = choice.driver == TD_DRIVER_LATE && i % 2 != 0;
        struct runaway_seen seen;
        struct loop_outcome outcome = runaway_drive(loop, base + i, &choice, &seen);
        assert_sound(&seen, &outcome, seen.called && seen.false_call);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_runaway_is_missed),
        cmocka_unit_test(no_truck_with_brakes_is_called),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
