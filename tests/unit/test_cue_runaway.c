/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Runaway: called where nothing holds the truck, never where a driver only takes his time, and
 * ended by real slowing. Speeds by plain kinematics. */
#include "support/runaway_cab.h"

static void gains_without_an_end_is_called(void **state)
{
    (void)state;
    static const double rates_mps2[] = {0.2, 0.3, 0.45, 0.6, 0.8, 1.0};
    for (size_t i = 0; i < sizeof rates_mps2 / sizeof *rates_mps2; i++) {
        fresh(NULL);
        bench.hill.foot_m = bench.plan.descents[0].to_m = 8000.0;
        drive(12.0, 0.0);
        drive(40.0, rates_mps2[i]);
        assert_true(cab.dangers > 0);
        double after_s = td_s_from_ns(cab.called_ns - cab.heard_ns);
        /* No earlier than a late driver's foot; no later than that and a fix, or than 9 mph gained:
         * from 3 over, where the warning begins, to 12. */
        assert_true(after_s >= 8.0);
        assert_true(after_s <= fmax(9.5, 9.0 * TD_MPS_PER_MPH / rates_mps2[i] + 2.5));
    }
}

/* Three times the reaction time of sight-distance design, from the end of the first warning. */
static void late_to_brake_is_not_called(void **state)
{
    (void)state;
    for (double rate = 0.1; rate < 1.15; rate += 0.1)
        for (double phase_s = 0.0; phase_s < 1.0; phase_s += 0.25) {
            fresh(NULL);
            drive(12.0 + phase_s, 0.0);
            while (cab.heard_ns == 0)
                drive(0.25, rate);
            drive(7.5, rate);
            while (cab.speed_mps > td_mps_from_mph(15.0))
                drive(0.25, -0.75); /* the manual's snub: 5 mph in 3 s */
            assert_int_equal(cab.dangers, 0);
        }
}

static void snubbing_at_his_own_speed_is_not_called(void **state)
{
    (void)state;
    bench.visit.runaway.heeds = true;
    drive(2.0, 0.0);
    cab.speed_mps = td_mps_from_mph(38.0);
    for (int snub = 0; snub < 120; snub++) {
        cab.along_m = 4000.0; /* half an hour on one hill */
        while (cab.speed_mps < td_mps_from_mph(45.0))
            drive(0.25, 0.25);
        while (cab.speed_mps > td_mps_from_mph(39.0))
            drive(0.25, -0.75);
    }
    assert_true(bench.visit.over.calls > 0); /* he was warned all the while */
    assert_int_equal(cab.dangers, 0);
}

/* Never slowed for the crest, and takes the speed of the road before it: no runaway until he is
 * past that. */
static void back_to_the_speed_before_the_hill_is_not_called(void **state)
{
    (void)state;
    cab.speed_mps = td_mps_from_mph(42.0);
    drive(3.0, 0.0);
    drive(13.4, 0.43); /* to 55 mph */
    assert_true(cab.heard_ns != 0);
    assert_int_equal(cab.dangers, 0);
    drive(6.0, 0.43);
    assert_true(cab.dangers > 0);
}

static void no_warning_heard_no_runaway(void **state)
{
    (void)state;
    bench.moment.sound_up = false;
    drive(12.0, 0.0);
    for (int i = 0; i < 120; i++) {
        bench.visit.over.heard_ns = 0; /* the voice never came to an end */
        drive(0.25, 0.5);
    }
    assert_int_equal(cab.dangers, 0);
}

static void nothing_new_from_the_receiver_no_runaway(void **state)
{
    (void)state;
    drive(12.0, 0.0);
    while (cab.heard_ns == 0)
        drive(0.25, 0.5);
    drive(5.0, 0.5);
    bench.moment.speed_fresh = false;
    drive(20.0, 0.5);
    assert_int_equal(cab.dangers, 0);
}

static void only_real_slowing_ends_it(void **state)
{
    (void)state;
    run_away();
    drive(5.0, -0.05);
    drive(3.0, 0.3);
    assert_true(bench.visit.runaway.on);
    cab.along_m = 4000.0;
    while (cab.speed_mps > td_mps_from_mph(26.0)) {
        drive(0.25, -1.0);
        assert_true(bench.visit.runaway.on);
    }
    unsigned said = cab.dangers;
    while (cab.speed_mps > td_mps_from_mph(14.0))
        drive(0.25, -1.0);
    assert_false(bench.visit.runaway.on);
    assert_int_equal(cab.dangers, said);
}

/* He brakes hard for each bend, to `low_mps`, and lets it run between them as far as before. */
static void take_bends(double low_mps, double high_mps)
{
    for (int bend = 0; bend < 40; bend++) {
        cab.along_m = 4000.0;
        while (cab.speed_mps > low_mps)
            drive(0.25, -1.2);
        while (cab.speed_mps < high_mps)
            drive(0.25, 0.5);
    }
}

/* Far over the ceiling, but the brakes are there: called at first, perhaps; not again below what
 * he has let it run to, whether the bends slow him to the ceiling for a moment or not. */
static void braking_for_bends_ends_it(void **state)
{
    (void)state;
    run_away();
    drive(2.0, 0.5);
    cab.along_m = 4000.0;
    double high_mps = cab.speed_mps;
    while (cab.speed_mps > high_mps - td_mps_from_mph(12.0))
        drive(0.25, -1.2);
    assert_false(bench.visit.runaway.on);
    unsigned said = cab.dangers, warned = bench.visit.over.calls;
    take_bends(high_mps - td_mps_from_mph(9.0), high_mps - 0.5);
    assert_true(bench.visit.over.calls > warned);
    take_bends(td_mps_from_mph(18.0), high_mps - 0.5);
    take_bends(td_mps_from_mph(13.0), high_mps - 0.5);
    assert_int_equal(cab.dangers, said);
    cab.along_m = 4000.0;
    while (cab.speed_mps < high_mps + td_mps_from_mph(4.0))
        drive(0.25, 0.5);
    assert_true(cab.dangers > said);
}

/* So they do past a lane that he was told to take: only for as long as a bed takes is he left
 * alone, since there lesser things would be said to who is fighting the wheel. */
static void braking_past_a_lane_ends_it_too(void **state)
{
    (void)state;
    (void)lane(4600.0, false);
    run_away();
    while (cab.along_m < 4600.0)
        drive(0.25, cab.speed_mps < 27.0 ? 0.6 : 0.0);
    drive(30.0, 0.0);
    assert_true(bench.visit.runaway.on);
    double high_mps = cab.speed_mps;
    while (cab.speed_mps > high_mps - td_mps_from_mph(12.0))
        drive(0.25, -1.2);
    assert_false(bench.visit.runaway.on);
}

/* Who has kept to the ceiling since has no such habit. */
static void who_kept_to_it_is_called_as_at_first(void **state)
{
    (void)state;
    run_away();
    drive(6.0, 0.5);
    cab.along_m = 4000.0;
    double high_mps = cab.speed_mps;
    while (cab.speed_mps > td_mps_from_mph(14.0))
        drive(0.25, -1.2);
    drive(12.0, 0.0);
    cab.along_m = 4000.0;
    unsigned said = cab.dangers;
    while (cab.dangers == said)
        drive(0.25, 0.4);
    assert_true(cab.speed_mps < high_mps);
}

/* Losing speed where the road rises proves no brake. */
static void a_rise_is_no_brake(void **state)
{
    (void)state;
    run_away();
    drive(6.0, 0.5);
    for (int i = 0; i < STATIONS; i++)
        stations[i].downgrade_ratio = -0.05;
    cab.along_m = 4000.0;
    double high_mps = cab.speed_mps;
    while (cab.speed_mps > high_mps - td_mps_from_mph(12.0))
        drive(0.25, -0.6);
    assert_true(bench.visit.runaway.on);
}

/* Told that the truck is too heavy, he went down all the same; no ceiling is called there. */
static void one_that_was_told_not_to_go_is_called_too(void **state)
{
    (void)state;
    bench.plan.safe = false;
    bench.visit.no_go_ns = bench.moment.now_ns;
    bench.visit.said |= TD_SAID_NO_GO_FAR | TD_SAID_NO_GO_CHECK | TD_SAID_NO_GO_CREST;
    drive(12.0, 0.0);
    drive(60.0, 0.3);
    assert_true(cab.dangers > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(gains_without_an_end_is_called),
        CASE(late_to_brake_is_not_called),
        CASE(snubbing_at_his_own_speed_is_not_called),
        CASE(back_to_the_speed_before_the_hill_is_not_called),
        CASE(no_warning_heard_no_runaway),
        CASE(nothing_new_from_the_receiver_no_runaway),
        CASE(only_real_slowing_ends_it),
        CASE(braking_for_bends_ends_it),
        CASE(braking_past_a_lane_ends_it_too),
        CASE(who_kept_to_it_is_called_as_at_first),
        CASE(a_rise_is_no_brake),
        CASE(one_that_was_told_not_to_go_is_called_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
