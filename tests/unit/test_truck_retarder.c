/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The simulated truck's retarder and discs against the books: energy, where forces meet, heat. */
#include "sim/truck.h"

#include "support/cm.h"
#include "support/random_rig.h"
#include "support/rig_five_axle.h"
#include "support/road.h"
#include "talkdown/forces.h"
#include "talkdown/retarder.h"

static struct road road;
static struct td_rig rig;

static int set_up(void **state)
{
    (void)state;
    rig = rig_five_axle();
    rig.stages[2] = (struct td_engine_brake_stage){
        .name = "retarder",
        .kind = TD_HOLDER_RETARDER,
        .torque = rig.stages[0].torque,
        .shaft_torque_nm = {2, {400, 1200}, {1600, 2400}},
    };
    rig.stage_count = 3;
    rig.retarder = (struct td_retarder_heat){
        .heat_capacity_j_per_k = 120e3,
        .cooling_w_per_k = 1500,
        .derates_from_c = 110,
        .derates_to_c = 150,
        .least_ratio = 0.3,
    };
    assert_int_equal(td_rig_check(&rig, NULL), TD_OK);
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 20);
    road_add(&road, 1000, 0, 0.0, 50);
    road_add(&road, 25000, 10, 0.06, 50);
    road_done(&road);
    return 0;
}

static struct td_truck truck_at(const struct td_rig *of, double along_m, double speed_mps)
{
    struct td_truth truth = td_truth_as_filed();
    struct td_truck truck;
    td_truck_init(&truck, &road.hill, of, 36287, &truth);
    truck.along_m = along_m;
    truck.speed_mps = speed_mps;
    return truck;
}

static void energy_balances_with_and_without_a_gear(void **state)
{
    (void)state;
    for (int gear = -1; gear < 10; gear += 10) {
        struct td_truck truck = truck_at(&rig, 1500, 14);
        struct td_pedals pedals = {.gear = gear, .stage = 2};
        double inertia_kg = td_truck_inertia_kg(&truck, gear);
        double before_j = 0.5 * inertia_kg * truck.speed_mps * truck.speed_mps;
        for (int i = 0; i < 4000; i++) {
            pedals.brake_n = i % 300 < 60 ? 8e3 : 0;
            pedals.drive_n = i % 300 > 200 ? 15e3 : 0;
            td_truck_step(&truck, &pedals, 0.05);
            assert_true(truck.speed_mps > 1);
        }
        const struct td_work_done *work = &truck.work;
        double given_j = work->gravity_j + work->drive_j;
        double taken_j = work->rolling_j + work->air_j + work->engine_j + work->retarder_j +
                         work->service_j;
        double after_j = 0.5 * inertia_kg * truck.speed_mps * truck.speed_mps;
        assert_true(work->retarder_j > 1e6 && work->service_j > 1e6);
        assert_true(gear < 0 ? work->engine_j == 0 : work->engine_j > 1e6);
        assert_near((before_j + given_j - taken_j) / after_j, 1, 1e-9);
    }
}

/* In neutral it settles where the shaft's torque at the wheels is the pull; with a cooler that
 * never lets it get warm. The curve is written out here once more: 1,600 + (rpm - 400). */
static void holds_in_neutral_where_forces_meet(void **state)
{
    (void)state;
    struct td_rig cold = rig;
    cold.retarder.cooling_w_per_k = 15000;
    struct td_truck truck = truck_at(&cold, 2000, 15);
    struct td_pedals pedals = {.gear = -1, .stage = 2};
    for (int i = 0; i < 30000 && truck.along_m < 25000; i++)
        td_truck_step(&truck, &pedals, 0.05);
    double rpm = truck.speed_mps * 3.7 / 0.5 * 60 / (2 * TD_PI);
    assert_true(rpm > 420 && rpm < 1200 && truck.retarder_hottest_c < 110);
    double angle_rad = atan(0.06);
    double pull_n = 36287 * TD_GRAVITY_MPS2 * (sin(angle_rad) - 0.007 * cos(angle_rad)) -
                    0.5 * 1.225 * 6.0 * truck.speed_mps * truck.speed_mps;
    assert_near((1600 + (rpm - 400)) * 3.7 / 0.5 / pull_n, 1, 2e-3);
    assert_int_equal(truck.stage, 2);
    pedals.stage = 1; /* an engine brake does nothing in neutral */
    td_truck_step(&truck, &pedals, 0.05);
    assert_int_equal(truck.stage, -1);
}

/* Held at one speed its heat settles where the guard leaves just what the cooler carries away:
 * P (1 - (1 - l)(T - from)/(to - from)) = h (T - Ta), solved for T. */
static void its_guard_settles_where_the_books_say(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(&rig, 2000, 12);
    while (truck.along_m < 20000) {
        struct td_pedals pedals = {.gear = -1, .stage = 2};
        pedals.brake_n = td_truck_pull_n(&truck, -1, 2);
        if (truck.along_m == 2000)
            truck.brake_n = pedals.brake_n;
        td_truck_step(&truck, &pedals, 0.05);
    }
    assert_near(truck.speed_mps, 12, 0.2);
    double rpm = truck.speed_mps * 3.7 / 0.5 * 60 / (2 * TD_PI);
    double full_w = (1600 + (rpm - 400)) * 3.7 / 0.5 * truck.speed_mps;
    double slope_w_per_k = full_w * 0.7 / 40;
    double settles_c = (full_w + slope_w_per_k * 110 + 1500 * 20) / (1500 + slope_w_per_k);
    assert_true(settles_c > 112 && settles_c < 148);
    assert_near(truck.retarder_c, settles_c, 0.5);
    assert_near(truck.retarder_hottest_c, settles_c, 0.5);
}

static double retarder_and_low_n(const struct td_truck *truck)
{
    return td_truck_pull_n(truck, 5, -1) - td_truck_pull_n(truck, 5, 2);
}

static void the_hidden_truth_weakens_it_too(void **state)
{
    (void)state;
    struct td_truck truck = truck_at(&rig, 2000, 12);
    double filed_n = retarder_and_low_n(&truck);
    truck.truth.engine_brake_scale = 0.85;
    assert_near(retarder_and_low_n(&truck), 0.85 * filed_n, 1e-6 * filed_n);
    truck.truth.engine_brake_scale = 1;
    double low_n = td_truck_pull_n(&truck, 5, -1) - td_truck_pull_n(&truck, 5, 0);
    truck.retarder_c = 130; /* half way: the guard leaves 65 % */
    assert_near(retarder_and_low_n(&truck) - low_n, 0.65 * (filed_n - low_n), 1e-6 * filed_n);
    truck.retarder_c = 500;
    assert_near(retarder_and_low_n(&truck) - low_n, 0.3 * (filed_n - low_n), 1e-6 * filed_n);
}

/* The truck and the plan, written apart, must agree on what a retarder does: as filed, at any speed
 * and heat. On the crankshaft they agree but for the driveline's losses, which the truck leaves
 * out. */
static void truck_and_plan_agree_on_what_holds(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 5, 9);
    for (int round = 0; round < 2000; round++) {
        struct td_rig any = random_sound_rig(&rng);
        struct td_truck truck = truck_at(&any, 2000, td_rng_between(&rng, 0, 30));
        truck.retarder_c = td_rng_between(&rng, 20, 250);
        double share = td_retarder_share(&any.retarder, truck.retarder_c), v = truck.speed_mps;
        int gear = (int)td_rng_below(&rng, (uint32_t)any.gear_count);
        double free_n = td_truck_pull_n(&truck, -1, -1);
        for (int stage = 0; stage < (int)any.stage_count; stage++) {
            double shaft_n = td_force_retarder_n(&any, stage, 1, share, v);
            assert_near(free_n - td_truck_pull_n(&truck, -1, stage), shaft_n, 1e-6);
            if (td_rig_rpm(&any, (size_t)gear, v) < 600)
                continue; /* the truck's clutch is open */
            double crank_n = td_force_engine_n(&any, gear, stage, 1, v) * any.driveline_ratio;
            assert_near(free_n - td_truck_pull_n(&truck, gear, stage), shaft_n + crank_n, 1e-6);
        }
    }
}

static void discs_fade_less_than_drums(void **state)
{
    (void)state;
    struct td_rig discs = rig;
    discs.brakes.kind = TD_BRAKE_DISC;
    struct td_truck drum = truck_at(&rig, 2000, 12), disc = truck_at(&discs, 2000, 12);
    double cold_n = td_truck_brake_most_n(&drum);
    for (double c = 20; c < 1000; c += 10) {
        drum.temp_c = disc.temp_c = c;
        double drum_n = td_truck_brake_most_n(&drum), disc_n = td_truck_brake_most_n(&disc);
        if (c <= 260)
            assert_true(drum_n == cold_n && disc_n == cold_n);
        else
            assert_true(drum_n < disc_n && disc_n < cold_n);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(energy_balances_with_and_without_a_gear),
        cmocka_unit_test(holds_in_neutral_where_forces_meet),
        cmocka_unit_test(its_guard_settles_where_the_books_say),
        cmocka_unit_test(the_hidden_truth_weakens_it_too),
        cmocka_unit_test(truck_and_plan_agree_on_what_holds),
        cmocka_unit_test(discs_fade_less_than_drums),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
