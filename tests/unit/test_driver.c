/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Simulated drivers: what each does with the same words on the same grade. */
#include "sim/driver.h"

#include "support/cm.h"
#include "support/rig_five_axle.h"
#include "support/road.h"

static struct road road;
static struct td_rig rig;
static struct td_place places[2];

enum { CREST_M = 2500, FOOT_M = 8500 };

static int set_up(void **state)
{
    (void)state;
    rig = rig_five_axle();
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 20);
    road_add(&road, CREST_M, 0, 0.0, 50);
    road_add(&road, FOOT_M - CREST_M, 30, 0.07, 50);
    road_add(&road, 2000, 0, 0.0, 50);
    road_done(&road);
    places[0] = (struct td_place){.kind = TD_PLACE_BRAKE_CHECK, .at_m = 1700};
    places[1] = (struct td_place){.kind = TD_PLACE_STOP, .at_m = 9800};
    road.hill.places = places;
    road.hill.place_count = 2;
    return 0;
}

struct run {
    struct td_truck truck;
    struct td_driver driver;
    int64_t now_ns;
    double fastest_mps;     /* below the crest */
    double on_brakes_s;     /* below the crest */
    double stood_s;
};

static struct run begin(enum td_driver_kind kind)
{
    struct run run = {0};
    struct td_truth truth = td_truth_as_filed();
    td_truck_init(&run.truck, &road.hill, &rig, 36287, &truth);
    td_driver_init(&run.driver, kind, &road.hill, td_mps_from_mph(50), 1);
    run.truck.speed_mps = td_mps_from_mph(50);
    return run;
}

static void drive_to(struct run *run, double along_m)
{
    while (run->truck.along_m < along_m) {
        struct td_pedals pedals = td_driver_act(&run->driver, &run->truck, run->now_ns, 0.05);
        td_truck_step(&run->truck, &pedals, 0.05);
        run->now_ns += TD_NS_PER_S / 20;
        assert_true(run->now_ns < 3600 * TD_NS_PER_S);
        bool grade = run->truck.along_m > CREST_M + 150 && run->truck.along_m < FOOT_M;
        if (grade)
            run->fastest_mps = fmax(run->fastest_mps, run->truck.speed_mps);
        if (grade && run->truck.brake_n > 1e3)
            run->on_brakes_s += 0.05;
        if (run->truck.speed_mps < 0.1)
            run->stood_s += 0.05;
    }
}

static void say(struct run *run, enum td_prompt_id id, enum td_unit unit, int32_t value)
{
    struct td_prompt prompt = {.id = id, .place = -1, .arg_count = 1, .args = {{unit, value}}};
    td_driver_hear(&run->driver, &prompt, run->now_ns);
}

/* The words of a usual descent at 20 mph. */
static struct run descend(enum td_driver_kind kind, int gear, int stage)
{
    struct run run = begin(kind);
    drive_to(&run, 1800);
    say(&run, TD_PROMPT_SLOW_FOR_GRADE, TD_UNIT_MPH, 20);
    if (gear >= 0)
        say(&run, TD_PROMPT_GEAR, TD_UNIT_GEAR, gear);
    if (stage >= 0)
        say(&run, TD_PROMPT_ENGINE_BRAKE, TD_UNIT_STAGE, stage);
    drive_to(&run, FOOT_M);
    return run;
}

static void reacts_after_his_time_and_not_before(void **state)
{
    (void)state;
    struct run run = begin(TD_DRIVER_CAREFUL);
    drive_to(&run, 500);
    int64_t said_ns = run.now_ns;
    double before_mps = run.truck.speed_mps;
    say(&run, TD_PROMPT_SLOW_FOR_GRADE, TD_UNIT_MPH, 20);
    while (run.truck.brake_n < 1e3)
        drive_to(&run, run.truck.along_m + 0.5);
    assert_near(td_s_from_ns(run.now_ns - said_ns), 2.6, 0.15);
    assert_near(run.truck.speed_mps, before_mps, 0.3);
}

static void careful_stays_under_the_told_speed(void **state)
{
    (void)state;
    struct run with = descend(TD_DRIVER_CAREFUL, 3, 1);
    assert_true(with.fastest_mps < td_mps_from_mph(21));
    assert_near(with.on_brakes_s, 0, 0.5); /* the engine brake does it alone */
    struct run without = descend(TD_DRIVER_CAREFUL, 3, -1);
    assert_true(without.fastest_mps < td_mps_from_mph(21));
    assert_true(without.fastest_mps > td_mps_from_mph(18));
    assert_true(without.on_brakes_s > 20); /* snubs */
    assert_true(without.truck.hottest_c > with.truck.hottest_c + 50);
}

static void others_do_what_their_names_say(void **state)
{
    (void)state;
    struct run careful = descend(TD_DRIVER_CAREFUL, 4, -1);
    struct run over = descend(TD_DRIVER_TEN_OVER, 4, -1);
    assert_near(td_mph_from_mps(over.fastest_mps), 30, 1.5);
    struct run deaf = descend(TD_DRIVER_DEAF, 4, 1);
    assert_near(td_mph_from_mps(deaf.fastest_mps), 50, 2);
    struct run heavy = descend(TD_DRIVER_HEAVY_FOOT, 4, -1);
    assert_true(heavy.fastest_mps > careful.fastest_mps + td_mps_from_mph(2));
    struct run rider = descend(TD_DRIVER_BRAKE_RIDER, 4, 1);
    assert_true(rider.on_brakes_s > 1.3 * careful.on_brakes_s);
    assert_true(rider.truck.hottest_c > careful.truck.hottest_c + 10);
    struct run failed = descend(TD_DRIVER_NO_BRAKES, 4, -1);
    assert_true(failed.truck.brakes_failed);
    assert_true(failed.fastest_mps > td_mps_from_mph(40));
    struct run late = begin(TD_DRIVER_LATE);
    say(&late, TD_PROMPT_CEILING, TD_UNIT_MPH, 20);
    drive_to(&late, 150);
    assert_false(late.driver.told);
    drive_to(&late, 200);
    assert_true(late.driver.told);
}

static void stops_at_the_brake_check_and_the_sign_once(void **state)
{
    (void)state;
    struct run run = begin(TD_DRIVER_CAREFUL);
    drive_to(&run, 900);
    struct td_prompt check = {.id = TD_PROMPT_BRAKE_CHECK_AHEAD, .place = 0};
    td_driver_hear(&run.driver, &check, run.now_ns);
    drive_to(&run, 1780);
    assert_near(run.stood_s, 60, 2);
    say(&run, TD_PROMPT_BRIEFING, TD_UNIT_MPH, 20);
    say(&run, TD_PROMPT_GEAR, TD_UNIT_GEAR, 3);
    say(&run, TD_PROMPT_ENGINE_BRAKE, TD_UNIT_STAGE, 1);
    drive_to(&run, FOOT_M + 100);
    assert_near(run.stood_s, 60, 2);
    say(&run, TD_PROMPT_BOTTOM, TD_UNIT_NEXT, TD_NEXT_STOP);
    drive_to(&run, 9900);
    assert_near(run.stood_s, 65, 3);
    assert_false(run.driver.told);
}

/* He stood for ever, 30 to 60 m short of the place, with a foot that was still braking. */
static void one_who_stopped_short_rolls_up_to_the_place(void **state)
{
    (void)state;
    struct run run = begin(TD_DRIVER_BRAKE_RIDER);
    run.truck.along_m = places[0].at_m - 45;
    run.truck.speed_mps = 0;
    run.driver.stop_m = places[0].at_m;
    run.driver.braking = true;
    drive_to(&run, places[0].at_m + 100);
    assert_near(run.stood_s, 60, 3);
}

static void told_not_to_go_down_he_stays_up(void **state)
{
    (void)state;
    struct run run = begin(TD_DRIVER_CAREFUL);
    drive_to(&run, 900);
    struct td_prompt no_go = {.id = TD_PROMPT_NO_GO, .place = -1};
    td_driver_hear(&run.driver, &no_go, run.now_ns);
    for (int i = 0; i < 20 * 300; i++) {
        struct td_pedals pedals = td_driver_act(&run.driver, &run.truck, run.now_ns, 0.05);
        td_truck_step(&run.truck, &pedals, 0.05);
        run.now_ns += TD_NS_PER_S / 20;
    }
    assert_near(run.truck.along_m, places[0].at_m, 15); /* in the lot, five minutes on */
    assert_near(run.truck.speed_mps, 0, 0.01);
    assert_true(run.driver.stays_up);
    struct run over = begin(TD_DRIVER_TEN_OVER);
    drive_to(&over, 900);
    td_driver_hear(&over.driver, &no_go, over.now_ns);
    drive_to(&over, CREST_M + 200); /* he goes all the same */
}

static void told_in_danger_he_makes_for_the_lane(void **state)
{
    (void)state;
    struct td_place signs[2] = {places[0], places[1]};
    places[0] = (struct td_place){.kind = TD_PLACE_ESCAPE_LANE, .at_m = 4000};
    places[1] = (struct td_place){.kind = TD_PLACE_ESCAPE_LANE, .at_m = 6000};
    struct td_prompt lane = {.category = TD_ADVICE, .place = 1};
    struct run run = begin(TD_DRIVER_NO_BRAKES);
    td_driver_hear(&run.driver, &lane, run.now_ns);
    drive_to(&run, 1000);
    assert_true(isnan(run.driver.lane_m)); /* only told where it is */
    lane.category = TD_DANGER;
    td_driver_hear(&run.driver, &lane, run.now_ns);
    drive_to(&run, 1500);
    assert_near(run.driver.lane_m, 6000, 0);
    lane.place = 0;
    td_driver_hear(&run.driver, &lane, run.now_ns);
    drive_to(&run, 2000);
    assert_near(run.driver.lane_m, 4000, 0); /* the nearer one */
    struct run deaf = begin(TD_DRIVER_DEAF);
    td_driver_hear(&deaf.driver, &lane, deaf.now_ns);
    drive_to(&deaf, 1000);
    assert_true(isnan(deaf.driver.lane_m));
    places[0] = signs[0];
    places[1] = signs[1];
}

static void names_go_both_ways(void **state)
{
    (void)state;
    for (int kind = 0; kind < TD_DRIVER_KINDS; kind++)
        assert_int_equal(td_driver_from_name(td_driver_name((enum td_driver_kind)kind)), kind);
    assert_int_equal(td_driver_from_name("nobody"), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reacts_after_his_time_and_not_before),
        cmocka_unit_test(careful_stays_under_the_told_speed),
        cmocka_unit_test(others_do_what_their_names_say),
        cmocka_unit_test(stops_at_the_brake_check_and_the_sign_once),
        cmocka_unit_test(one_who_stopped_short_rolls_up_to_the_place),
        cmocka_unit_test(told_not_to_go_down_he_stays_up),
        cmocka_unit_test(told_in_danger_he_makes_for_the_lane),
        cmocka_unit_test(names_go_both_ways),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
