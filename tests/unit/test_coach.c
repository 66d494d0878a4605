/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The whole step against a small shell: first words, a descent from end to end, commands, losses of
 * sound and of position, and the protocol of hills and plans. */
#include "support/cm.h"

#include "support/coach_bench.h"

static struct coach_bench *bench;

static int fresh(void **state)
{
    (void)state;
    bench = coach_bench_new();
    return 0;
}

static int gone(void **state)
{
    (void)state;
    coach_bench_free(bench);
    return 0;
}

/* A driver who does what he is told: cruises at 22 m/s, slows at 0.5 m/s2 once told a speed. */
struct obedient {
    double along_m, speed_mps, told_mps;
};

static void drive_second(struct obedient *driver)
{
    static const enum td_prompt_id speeds[] = {TD_PROMPT_SLOW_FOR_GRADE, TD_PROMPT_CEILING,
                                               TD_PROMPT_OVER_SPEED};
    for (size_t i = 0; i < sizeof speeds / sizeof *speeds; i++) {
        const struct td_prompt *prompt = &bench->last_spoken[speeds[i]];
        if (prompt->serial != 0)
            driver->told_mps = fmin(driver->told_mps, td_mps_from_mph(prompt->args[0].value));
    }
    double wish = fmax(driver->told_mps, 0.0);
    if (driver->speed_mps > wish)
        driver->speed_mps = fmax(wish, driver->speed_mps - 0.5);
    driver->along_m += driver->speed_mps;
    coach_bench_second(bench, driver->along_m, driver->speed_mps);
}

static void first_words_are_ready_and_what_it_is_set_for(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    assert_true(bench->output.has_speak);
    assert_int_equal(bench->output.speak.id, TD_PROMPT_READY);
    assert_int_equal(bench->output.speak.args[0].value, 1);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SET_FOR], 1);
    assert_int_equal(bench->last_spoken[TD_PROMPT_SET_FOR].args[0].value, 79400); /* 36 t */
    assert_int_equal(bench->output.next_wake_ns, INT64_MAX);
}

static void an_unset_rig_and_an_unconfirmed_load_are_said(void **state)
{
    (void)state;
    bench->setup.load_confirmed = false;
    bench->setup.rig.load_now = 0;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_LOAD_NOT_CONFIRMED], 1);
    /* Planned for the heaviest until then. */
    assert_int_equal(bench->last_spoken[TD_PROMPT_LOAD_NOT_CONFIRMED].args[0].value, 79400);
    free(bench->coach);
    memset(bench->fates, 0, sizeof bench->fates);
    bench->setup.rig_is_set = false;
    coach_bench_start(bench);
    coach_bench_step(bench, 30 * TD_NS_PER_S);
    coach_bench_until(bench, 50 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_RIG_NOT_SET], 1);
}

static void a_bad_rig_makes_no_coach(void **state)
{
    (void)state;
    void *memory = malloc(td_coach_size());
    bench->setup.rig.gears[3].ratio = 0.0;
    assert_null(td_coach_init(memory, &bench->setup, 0));
    bench->coach = memory;
}

static void an_obedient_driver_is_talked_down_without_a_warning(void **state)
{
    (void)state;
    coach_bench_place(bench, TD_PLACE_ESCAPE_LANE, 6000.0)->side = TD_SIDE_RIGHT;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    struct obedient driver = {.speed_mps = 24.0, .told_mps = 24.0};
    while (driver.along_m < 8900.0)
        drive_second(&driver);
    assert_int_equal(bench->spoken_count[TD_PROMPT_HILL_AHEAD], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SLOW_FOR_GRADE], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_GEAR], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ENGINE_BRAKE], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_CEILING], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_OVER_SPEED], 0);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ESCAPE_LANE], 2);
    assert_int_equal(bench->spoken_count[TD_PROMPT_LAST_ESCAPE_LANE], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_BOTTOM_AHEAD], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_BOTTOM], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_POSITION_LOST], 0);
    /* In this order, and the last of them at the crest at the latest. */
    assert_true(bench->last_spoken[TD_PROMPT_SLOW_FOR_GRADE].serial <
                bench->last_spoken[TD_PROMPT_GEAR].serial);
    assert_true(bench->last_spoken[TD_PROMPT_GEAR].serial <
                bench->last_spoken[TD_PROMPT_ENGINE_BRAKE].serial);
}

static void a_driver_who_holds_ten_over_is_warned(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    struct obedient driver = {.speed_mps = 16.0, .told_mps = 16.0};
    while (driver.along_m < 5000.0) {
        driver.along_m += driver.speed_mps;
        coach_bench_second(bench, driver.along_m, driver.speed_mps);
    }
    assert_true(bench->spoken_count[TD_PROMPT_OVER_SPEED] >= 3);
}

static void joining_on_the_grade_hears_the_ceiling_at_once(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 30 * TD_NS_PER_S);
    struct obedient driver = {.along_m = 4000.0, .speed_mps = 5.0, .told_mps = 5.0};
    while (driver.along_m < 4600.0)
        drive_second(&driver);
    assert_int_equal(bench->spoken_count[TD_PROMPT_CEILING], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_HILL_AHEAD], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SLOW_FOR_GRADE], 0);
    assert_int_equal(bench->spoken_count[TD_PROMPT_GEAR], 0);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ENGINE_BRAKE], 0);
}

static void losing_the_position_is_said_and_its_return(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    struct obedient driver = {.along_m = 4000.0, .speed_mps = 6.0, .told_mps = 6.0};
    while (driver.along_m < 4600.0)
        drive_second(&driver);
    unsigned before = bench->spoken_count[TD_PROMPT_ESCAPE_LANE];
    coach_bench_until(bench, bench->now_ns + 40 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_POSITION_LOST], 1);
    assert_int_equal(bench->output.estimate.where, TD_WHERE_LOST);
    assert_int_equal(bench->spoken_count[TD_PROMPT_ESCAPE_LANE], before);
    driver.along_m += 240.0;
    for (int i = 0; i < 60; i++)
        drive_second(&driver);
    assert_int_equal(bench->spoken_count[TD_PROMPT_POSITION_BACK], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_POSITION_LOST], 1);
}

static void a_heavier_load_is_planned_anew(void **state)
{
    (void)state;
    bench->setup.rig.load_now = 0;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    struct obedient driver = {.along_m = 3400.0, .speed_mps = 5.0, .told_mps = 5.0};
    while (driver.along_m < 4200.0)
        drive_second(&driver);
    double empty_mps = bench->output.estimate.target_mps;
    assert_true(empty_mps > 0.0);
    bench->input.command = (struct td_command){TD_COMMAND_LOAD, 1};
    coach_bench_step(bench, bench->now_ns + TD_NS_PER_MS);
    assert_true(bench->output.solve.serial != 0);
    assert_near(bench->output.solve.query.mass_kg, 36000.0, 0.0);
    assert_near(bench->output.estimate.target_mps, 0.0, 0.0); /* none until it is solved */
    for (int i = 0; i < 20; i++)
        drive_second(&driver);
    assert_true(bench->output.estimate.target_mps < empty_mps);
    /* Empty, nothing held it down, and a speed nobody must slow for is no ceiling. */
    assert_int_equal(bench->spoken_count[TD_PROMPT_CEILING], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SET_FOR], 2);
}

/* 0.8 x 1/2 x 36 t x 24 m/s squared over 250 kJ/K (none missing): 33 K to come before the crest.
 * Found out only afterwards, it once made the target late. */
static void the_slowing_to_come_is_in_the_heat_that_is_planned_with(void **state)
{
    (void)state;
    for (int hot = 0; hot < 2; hot++) {
        coach_bench_free(bench);
        bench = coach_bench_new();
        bench->setup.brakes_from_c = hot ? 150.0 : 32.0;
        coach_bench_start(bench);
        for (double along_m = 0; along_m < 400.0; along_m += 24.0)
            coach_bench_second(bench, along_m, 24.0);
        assert_near(bench->solve.query.brakes_from_c, hot ? 150.0 + 33.0 : 65.6, 5.0);
    }
}

/* Between 7 and 13 m/s, rolling freely up and braking down: the brakes take it all and grow hot. */
static void a_position_lost_on_the_grade_brings_no_other_plan(void **state)
{
    (void)state;
    coach_bench_start(bench);
    double along_m = 2200.0;
    for (int second = 0; along_m < 6500.0; second++) {
        double speed_mps = 7.0 + 0.6 * abs(second % 20 - 10);
        along_m += speed_mps;
        coach_bench_second(bench, along_m, speed_mps);
    }
    assert_true(bench->output.estimate.heat_likely_c > 65.6 + 30.0);
    bench->solve.query.mass_kg = -1.0; /* until another plan is asked for */
    bool lost = false;
    for (int second = 0; second < 60; second++) {
        if (second < 25)
            coach_bench_until(bench, bench->now_ns + TD_NS_PER_S);
        else
            coach_bench_second(bench, along_m + 10.0 * second, 10.0);
        lost |= bench->output.estimate.where == TD_WHERE_LOST;
    }
    assert_true(lost);
    assert_int_equal(bench->output.estimate.where, TD_WHERE_ON_HILL);
    assert_near(bench->solve.query.mass_kg, -1.0, 0.0);
}

static void again_repeats_what_still_matters(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    struct obedient driver = {.along_m = 4000.0, .speed_mps = 5.0, .told_mps = 5.0};
    while (driver.along_m < 4600.0)
        drive_second(&driver);
    unsigned ceilings = bench->spoken_count[TD_PROMPT_CEILING];
    unsigned hills = bench->spoken_count[TD_PROMPT_HILL_AHEAD];
    bench->input.command.kind = TD_COMMAND_AGAIN;
    coach_bench_step(bench, bench->now_ns + TD_NS_PER_MS);
    coach_bench_until(bench, bench->now_ns + 3 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_CEILING] +
                         bench->spoken_count[TD_PROMPT_HILL_AHEAD],
                     ceilings + hills + 1);
}

static void again_with_nothing_says_so(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    bench->input.command.kind = TD_COMMAND_AGAIN;
    coach_bench_step(bench, TD_NS_PER_MS);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_NOTHING_TO_REPEAT], 1);
}

static void sound_down_holds_and_up_says_so_first(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 20 * TD_NS_PER_S);
    bench->input.sound = TD_SOUND_DOWN;
    coach_bench_step(bench, 20 * TD_NS_PER_S + 1);
    struct obedient driver = {.along_m = 4000.0, .speed_mps = 5.0, .told_mps = 5.0};
    while (driver.along_m < 4600.0)
        drive_second(&driver);
    assert_int_equal(bench->spoken_count[TD_PROMPT_CEILING], 0);
    bench->input.sound = TD_SOUND_UP;
    coach_bench_step(bench, bench->now_ns + 1);
    assert_int_equal(bench->output.speak.id, TD_PROMPT_SOUND_BACK);
    for (int i = 0; i < 20; i++)
        drive_second(&driver);
    assert_int_equal(bench->spoken_count[TD_PROMPT_CEILING], 1);
}

static void a_device_that_comes_late_still_gets_the_first_words(void **state)
{
    (void)state;
    coach_bench_start(bench);
    bench->input.sound = TD_SOUND_DOWN;
    coach_bench_step(bench, 0);
    coach_bench_until(bench, 3600 * TD_NS_PER_S);
    bench->input.sound = TD_SOUND_UP;
    coach_bench_step(bench, 3600 * TD_NS_PER_S);
    coach_bench_until(bench, 3620 * TD_NS_PER_S);
    assert_int_equal(bench->spoken_count[TD_PROMPT_READY], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SET_FOR], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_SOUND_BACK], 0);
}

static void a_long_stop_unconfirms_the_load(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    for (int i = 0; i < 1230; i++)
        coach_bench_second(bench, 500.0, 0.0);
    assert_int_equal(bench->spoken_count[TD_PROMPT_LOAD_NOT_CONFIRMED], 0);
    for (int i = 0; i < 20; i++)
        coach_bench_second(bench, 500.0 + 3.0 * i, 3.0);
    assert_int_equal(bench->spoken_count[TD_PROMPT_LOAD_NOT_CONFIRMED], 1);
}

static void hills_are_asked_for_kept_and_let_go(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    assert_int_equal(bench->output.want.serial, 0);
    coach_bench_second(bench, 100.0, 20.0);
    assert_true(bench->pinned || bench->want_serial != 0);
    coach_bench_second(bench, 120.0, 20.0);
    assert_true(bench->pinned);
    /* Thirty kilometres away it is let go. */
    for (int i = 0; i < 5; i++) {
        coach_bench_fix(bench, 140.0, 30000.0, 20.0);
        bench->input.fix.received_ns = bench->now_ns + TD_NS_PER_S;
        coach_bench_step(bench, bench->now_ns + TD_NS_PER_S);
        coach_bench_until(bench, bench->now_ns + TD_NS_PER_S / 2);
        if (!bench->pinned)
            break;
    }
    /* The test's shell offers its one hill whatever was asked; a coach that does not want it lets
     * it go again each time. */
    assert_int_equal(bench->output.estimate.handle, 0);
}

/* "Keeping the old." was still said after a new one had been taken. */
static void a_refused_library_is_not_told_once_another_is_taken(void **state)
{
    (void)state;
    for (int taken = 0; taken < 2; taken++) {
        coach_bench_free(bench);
        bench = coach_bench_new();
        coach_bench_start(bench);
        bench->input.command = (struct td_command){TD_COMMAND_LIBRARY_REFUSED, 0};
        coach_bench_step(bench, TD_NS_PER_S); /* waits behind the first words of the day */
        if (taken)
            bench->input.command = (struct td_command){TD_COMMAND_HILLS_CHANGED, 3};
        coach_bench_step(bench, 2 * TD_NS_PER_S);
        coach_bench_until(bench, 40 * TD_NS_PER_S);
        assert_int_equal(bench->spoken_count[TD_PROMPT_LIBRARY_REFUSED], taken ? 0 : 1);
    }
}

/* On a hill that is coached the words would be taken to be about that one. */
static void a_damaged_hill_waits_until_the_truck_is_on_no_other(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, 0);
    double along_m = 0.0;
    for (; along_m < 8900.0; along_m += 8.0) {
        coach_bench_second(bench, along_m, 8.0);
        if (bench->output.estimate.handle != 0 && bench->want_serial == 0) {
            bench->input.offer = (struct td_offer){.kind = TD_OFFER_DAMAGED, .handle = 9};
            bench->input.command = (struct td_command){TD_COMMAND_LIBRARY_DAMAGED, 0};
            coach_bench_step(bench, bench->now_ns);
        }
    }
    assert_int_equal(bench->spoken_count[TD_PROMPT_HILL_DAMAGED], 0);
    assert_int_equal(bench->spoken_count[TD_PROMPT_LIBRARY_DAMAGED], 0);
    for (int i = 0; i < 60; i++, along_m += 8.0)
        coach_bench_second(bench, along_m, 8.0); /* past the end of the road on file */
    assert_int_equal(bench->spoken_count[TD_PROMPT_HILL_DAMAGED], 1);
    assert_int_equal(bench->spoken_count[TD_PROMPT_LIBRARY_DAMAGED], 1);
}

static void nonsense_is_left_out_and_told(void **state)
{
    (void)state;
    coach_bench_start(bench);
    coach_bench_step(bench, TD_NS_PER_S);
    struct td_plan plan = {.safe = true};
    bench->input.has_fix = true;
    bench->input.fix.has = TD_FIX_POSITION;
    bench->input.fix.lat_deg = (double)NAN;
    bench->input.plan_serial = 77;
    bench->input.plan = &plan;
    bench->input.command = (struct td_command){TD_COMMAND_LOAD, 99};
    bench->input.offer = (struct td_offer){.kind = TD_OFFER_END, .want_serial = 5};
    bench->input.report_count = 1;
    bench->input.reports[0] = (struct td_report){55, TD_REPORT_ENDED};
    bench->input.now_ns = 0;
    td_coach_step(bench->coach, &bench->input, &bench->output);
    bool told[TD_REFUSED_COMMAND + 1] = {false};
    for (unsigned i = 0; i < bench->output.event_count; i++)
        if (bench->output.events[i].kind == TD_EVENT_REFUSED)
            told[bench->output.events[i].value] = true;
    for (int i = 0; i <= TD_REFUSED_COMMAND; i++)
        assert_true(told[i]);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, fresh, gone)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(first_words_are_ready_and_what_it_is_set_for),
        CASE(an_unset_rig_and_an_unconfirmed_load_are_said),
        CASE(a_bad_rig_makes_no_coach),
        CASE(an_obedient_driver_is_talked_down_without_a_warning),
        CASE(a_driver_who_holds_ten_over_is_warned),
        CASE(joining_on_the_grade_hears_the_ceiling_at_once),
        CASE(losing_the_position_is_said_and_its_return),
        CASE(a_heavier_load_is_planned_anew),
        CASE(the_slowing_to_come_is_in_the_heat_that_is_planned_with),
        CASE(a_position_lost_on_the_grade_brings_no_other_plan),
        CASE(again_repeats_what_still_matters),
        CASE(again_with_nothing_says_so),
        CASE(sound_down_holds_and_up_says_so_first),
        CASE(a_device_that_comes_late_still_gets_the_first_words),
        CASE(a_long_stop_unconfirms_the_load),
        CASE(hills_are_asked_for_kept_and_let_go),
        CASE(a_refused_library_is_not_told_once_another_is_taken),
        CASE(a_damaged_hill_waits_until_the_truck_is_on_no_other),
        CASE(nonsense_is_left_out_and_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
