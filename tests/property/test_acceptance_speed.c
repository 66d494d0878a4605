/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Acceptance of the speed prompts on whole drives, by the numbers of the human-factors checks: A15,
 * A16 and A17, with the whole coach, its locator and a simulated receiver. Beside the cue
 * itself A14 to A17 and A23 stand in unit.cue_over, A16 for building speed in unit.cue_heat, A18 in
 * unit.cue_approach, A19 in unit.cue_grade, A21 in unit.queue and property.coach_laws. */
#include <string.h>

#include "sim/ride.h"
#include "support/closed_loop.h"
#include "support/cm.h"
#include "support/road.h"

static struct loop_set set;
static struct td_ride ride;
static struct td_plan_work work;
static struct road road;
static void *memory;
static double longest_s; /* of one over-speed warning, tone included */

static int set_up(void **state)
{
    (void)state;
    memory = malloc(td_coach_size());
    return !memory || !loop_set_read(&set);
}

static int tear_down(void **state)
{
    (void)state;
    free(memory);
    return 0;
}

static const struct td_rig *rig_named(const char *name)
{
    for (size_t i = 0; i < set.rig_count; i++)
        if (strcmp(set.names[i], name) == 0)
            return &set.rigs[i];
    abort();
}

/* 3 km up to the crest, then a straight even grade and a level end. */
static void lay_grade(double length_m, double downgrade)
{
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 2000, 0);
    road_add(&road, 3000, 0, -0.005, 50);
    road_add(&road, length_m, 0, downgrade, 50);
    road_add(&road, 1000, 0, 0, 50);
    road_done(&road);
}

static void set_out(const char *rig, const char *load, enum td_driver_kind driver, uint64_t seed)
{
    struct td_setup setup = {.rig = *rig_named(rig), .rig_is_set = true, .load_confirmed = true,
                             .credit = TD_CREDIT_CAUTIOUS, .hills_on_board = 1,
                             .ambient_c = 15.0, .brakes_from_c = 30.0, .sound_delay_ms = 120};
    for (size_t i = 0; i < setup.rig.load_count; i++)
        if (strcmp(setup.rig.loads[i].name, load) == 0)
            setup.rig.load_now = i;
    memcpy(setup.speech_ms, set.speech_ms, sizeof setup.speech_ms);
    struct td_trip_options options = td_trip_options_default(&setup.rig);
    options.driver = driver;
    options.mass_kg = setup.rig.loads[setup.rig.load_now].mass_kg;
    options.cruise_mps = td_mps_from_mph(50);
    options.ambient_c = 15.0;
    options.brakes_from_c = 30.0;
    options.seed = seed;
    memset(&ride, 0, sizeof ride);
    assert_true(td_ride_set_out(&ride, &road.hill, &setup, &options, memory, &work));
}

/* Half an hour of correct snubs: service brakes alone from the told speed down 5 mph and up again,
 * through the receiver's noise and its silences. */
static void a16_half_an_hour_of_snubs_draws_no_speed_prompt(void **state)
{
    (void)state;
    static const struct {
        const char *rig, *load;
        double downgrade;
    } runs[] = {{"five-axle-no-brake", "half", 0.04}, {"five-axle-no-brake", "half", 0.05},
                {"five-axle-no-brake", "empty", 0.045}};
    for (size_t i = 0; i < sizeof runs / sizeof *runs; i++) {
        lay_grade(30000, runs[i].downgrade);
        set_out(runs[i].rig, runs[i].load, TD_DRIVER_CAREFUL, 16 + i);
        unsigned snubs = 0;
        bool pressed = false;
        double grade_s = 0, over_most_mps = -100;
        while (td_trip_ended(&ride.trip) == TD_TRIP_GOING) {
            td_ride_step(&ride);
            const struct td_truck *truck = &ride.trip.truck;
            if (truck->along_m < 3300 || truck->along_m > 32500)
                continue;
            grade_s += TD_TRIP_STEP_S;
            over_most_mps = fmax(over_most_mps, truck->speed_mps - td_ride_ceiling_mps(&ride));
            bool presses = truck->brake_n > 1000;
            snubs += presses && !pressed;
            pressed = presses;
        }
        printf("  %s %s: %.0f min on the grade, %u snubs, target %d mph, at most %+.1f mph over\n",
               runs[i].rig, runs[i].load, grade_s / 60, snubs, ride.plan.target_mph,
               td_mph_from_mps(over_most_mps));
        assert_true(grade_s >= 1800 && snubs >= 30);
        assert_int_equal(ride.said.by_id[TD_PROMPT_OVER_SPEED], 0);
        assert_int_equal(ride.said.by_id[TD_PROMPT_SPEED_BUILDING], 0);
        assert_int_equal(ride.said.by_id[TD_PROMPT_ENGINE_OVER_SPEED], 0);
        assert_int_equal(ride.said.by_id[TD_PROMPT_BRAKES_HEATING], 0);
        assert_int_equal(ride.said.by_category[TD_DANGER], 0);
    }
}

static int64_t over_from_ns;
static unsigned over_calls;

static void count_over(void *who, const struct td_ride *of, const struct td_event *event)
{
    (void)who;
    if (event->prompt.id != TD_PROMPT_OVER_SPEED)
        return;
    if (event->kind == TD_EVENT_STARTED) {
        over_from_ns = of->trip.now_ns;
        over_calls++;
    } else if (event->kind == TD_EVENT_SPOKEN || event->kind == TD_EVENT_CUT) {
        longest_s = fmax(longest_s, td_s_from_ns(of->trip.now_ns - over_from_ns));
    }
}

/* R38: no over-speed sound is longer than five seconds, whatever the speed does. R38 also wants one
 * sound an excursion and A21 a warning repeated until corrected: both cannot be had. It is called
 * twice and then when 3 mph more are gained or half a minute has passed
 * (docs/decisions/over-speed-repeats.md), and each call ends by itself. */
static void a15_an_over_speed_sound_is_short_and_seldom(void **state)
{
    (void)state;
    lay_grade(8000, 0.06);
    set_out("five-axle", "full", TD_DRIVER_TEN_OVER, 15);
    ride.watch = count_over;
    longest_s = 0;
    over_calls = 0;
    while (td_trip_ended(&ride.trip) == TD_TRIP_GOING)
        td_ride_step(&ride);
    double grade_s = 8000 / ride.trip.seen.fastest_mps;
    printf("  %u calls in some %.0f s ten over, the longest %.1f s\n", over_calls, grade_s,
           longest_s);
    assert_true(over_calls >= 2 && longest_s > 0.5 && longest_s <= 5.0);
    assert_true(over_calls <= 4 + 2 * grade_s / 30);
}

static unsigned heard_while_slowing;
static double slowing_s;

static void watch_slowing(void *who, const struct td_ride *of, const struct td_event *event)
{
    (void)who;
    (void)of;
    bool speed = event->prompt.id == TD_PROMPT_OVER_SPEED ||
                 event->prompt.id == TD_PROMPT_SPEED_BUILDING ||
                 event->prompt.id == TD_PROMPT_ENGINE_OVER_SPEED;
    heard_while_slowing += event->kind == TD_EVENT_ISSUED && speed && slowing_s > 2.0;
}

/* Ten over all the way, and slowing by 5 mph in three seconds in every snub. Seen through the 3 s
 * slope of the receiver's speeds a slowing is known two seconds after it began; what was issued as
 * the brakes bit is cut (unit.cue_over). */
static void a17_over_but_slowing_draws_no_speed_prompt(void **state)
{
    (void)state;
    heard_while_slowing = 0;
    double all_s = 0;
    lay_grade(8000, 0.06);
    set_out("five-axle", "full", TD_DRIVER_TEN_OVER, 17);
    ride.watch = watch_slowing;
    slowing_s = 0;
    while (td_trip_ended(&ride.trip) == TD_TRIP_GOING) {
        td_ride_step(&ride);
        bool over = ride.trip.truck.speed_mps > td_ride_ceiling_mps(&ride) + 1.0;
        bool slows = over && ride.trip.truck.accel_mps2 < -0.4;
        slowing_s = slows ? slowing_s + TD_TRIP_STEP_S : 0;
        all_s += slows ? TD_TRIP_STEP_S : 0;
    }
    printf("  %.0f s over and slowing, %u prompts issued in it\n", all_s, heard_while_slowing);
    assert_true(all_s > 60 && ride.said.by_id[TD_PROMPT_OVER_SPEED] > 2);
    assert_int_equal(heard_while_slowing, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a15_an_over_speed_sound_is_short_and_seldom),
        cmocka_unit_test(a16_half_an_hour_of_snubs_draws_no_speed_prompt),
        cmocka_unit_test(a17_over_but_slowing_draws_no_speed_prompt),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
