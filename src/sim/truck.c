/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The truth under the coach: one truck as a point on a road, with its engine, brakes and heat. */
#include "sim/truck.h"

#include <math.h>

#include "talkdown/rng.h"
#include "talkdown/units.h"

/* Air at 15 degC and sea level (ICAO standard atmosphere). */
#define AIR_KG_PER_M3 1.225
/* Below this the clutch is open and the engine holds nothing. Common practice, no source. */
#define IDLE_RPM 550.0
/* Full application of cold, sound air brakes on a combination at its heaviest load: 0.45 g. Above
 * the least that 49 CFR 393.52(d) asks of combinations in use (43.5 % of weight), rounded. */
#define BRAKE_MOST_G 0.45
/* First-order lag of an air brake: the manual gives 0.4 to 0.5 s to full effect; a third of it. */
#define BRAKE_LAG_S 0.15
/* Above the limit the brakes fade: drums down to a third over the next 200 K, discs down to two
 * thirds over 300. Assumed; the sources say that drums fade, and discs less, and not how much. */
static const struct {
    double least, over_k;
} fades[] = {[TD_BRAKE_DRUM] = {0.33, 200.0}, [TD_BRAKE_DISC] = {0.67, 300.0}};
/* Oil of a retarder that shares the warm engine's coolant. Common practice, no source. */
#define RETARDER_WARM_C 80.0
/* Wheel power of the demo engines against the heaviest load, with a ceiling. Assumed. */
#define DRIVE_W_PER_KG 10.0
#define DRIVE_MOST_W 330e3
#define ADHESION_DRY 0.7

struct td_truth td_truth_as_filed(void)
{
    return (struct td_truth){.mass_scale = 1, .cooling_scale = 1, .capacity_scale = 1,
                             .engine_brake_scale = 1};
}

struct td_truth td_truth_draw(uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x7275746eU);
    struct td_truth truth = {
        .mass_scale = td_rng_between(&rng, 0.95, 1.05),
        .grade_offset_ratio = td_rng_between(&rng, -0.003, 0.003),
        .cooling_scale = td_rng_between(&rng, 0.7, 1.3),
        .capacity_scale = td_rng_between(&rng, 0.85, 1.15),
        .engine_brake_scale = td_rng_between(&rng, 0.85, 1.0),
    };
    /* On every other truck. A share: one whole brake of the four of two axles is a quarter. */
    if (td_rng_below(&rng, 2) != 0)
        truth.dead_share = 0.1;
    return truth;
}

void td_truck_init(struct td_truck *truck, const struct td_hill *hill, const struct td_rig *rig,
                   double mass_kg, const struct td_truth *truth)
{
    double heaviest_kg = rig->loads[td_rig_heaviest_load(rig)].mass_kg;
    *truck = (struct td_truck){
        .hill = hill,
        .rig = rig,
        .truth = *truth,
        .mass_kg = mass_kg * truth->mass_scale,
        .drive_most_w = fmin(DRIVE_MOST_W, DRIVE_W_PER_KG * heaviest_kg),
        .adhesion = ADHESION_DRY,
        .brake_share = 1.0,
        .ambient_c = 20.0,
        .temp_c = 20.0,
        .hottest_c = 20.0,
        .retarder_c = RETARDER_WARM_C,
        .retarder_hottest_c = RETARDER_WARM_C,
        .gear = -1,
        .stage = -1,
    };
}

/* Straight lines between the points, level beyond the ends. */
static double torque_nm(const struct td_torque_curve *curve, double rpm)
{
    if (curve->count == 0)
        return 0;
    if (rpm <= curve->rpm[0])
        return curve->torque_nm[0];
    for (size_t i = 1; i < curve->count; i++) {
        if (rpm > curve->rpm[i])
            continue;
        double share = (rpm - curve->rpm[i - 1]) / (curve->rpm[i] - curve->rpm[i - 1]);
        return curve->torque_nm[i - 1] + share * (curve->torque_nm[i] - curve->torque_nm[i - 1]);
    }
    return curve->torque_nm[curve->count - 1];
}

static double total_ratio(const struct td_rig *rig, int gear)
{
    return rig->gears[gear].ratio * rig->axle_ratio;
}

static double engine_n(const struct td_truck *truck, int gear, int stage)
{
    const struct td_rig *rig = truck->rig;
    if (gear < 0 || (size_t)gear >= rig->gear_count)
        return 0;
    double turns_per_m = total_ratio(rig, gear) / (2 * TD_PI * rig->tyre_radius_m);
    double rpm = truck->speed_mps * turns_per_m * 60.0;
    if (rpm < IDLE_RPM)
        return 0;
    double nm = torque_nm(&rig->motoring, rpm);
    if (stage >= 0 && (size_t)stage < rig->stage_count)
        nm += truck->truth.engine_brake_scale * torque_nm(&rig->stages[stage].torque, rpm);
    return nm * total_ratio(rig, gear) / rig->tyre_radius_m;
}

static bool is_retarder(const struct td_truck *truck, int stage)
{
    return stage >= 0 && (size_t)stage < truck->rig->stage_count &&
           truck->rig->stages[stage].kind == TD_HOLDER_RETARDER;
}

/* What its guard leaves of the torque at the temperature of now. */
static double retarder_share(const struct td_truck *truck)
{
    const struct td_retarder_heat *heat = &truck->rig->retarder;
    double left = (heat->derates_to_c - truck->retarder_c) /
                  (heat->derates_to_c - heat->derates_from_c);
    left = fmin(1, fmax(0, left));
    return heat->least_ratio + left * (1 - heat->least_ratio);
}

/* On the propeller shaft: no gear matters. Towards rest it fades away with the turns. */
static double retarder_n(const struct td_truck *truck, int stage)
{
    if (!is_retarder(truck, stage))
        return 0;
    const struct td_rig *rig = truck->rig;
    const struct td_torque_curve *curve = &rig->stages[stage].shaft_torque_nm;
    double per_m = rig->axle_ratio / rig->tyre_radius_m;
    double rpm = truck->speed_mps * per_m * 60.0 / (2 * TD_PI);
    double nm = torque_nm(curve, rpm) * fmin(1, rpm / curve->rpm[0]);
    return nm * per_m * truck->truth.engine_brake_scale * retarder_share(truck);
}

double td_truck_inertia_kg(const struct td_truck *truck, int gear)
{
    double mass_kg = truck->mass_kg + truck->rig->rotating_kg_wheels;
    if (gear >= 0 && (size_t)gear < truck->rig->gear_count) {
        double per_m = total_ratio(truck->rig, gear) / truck->rig->tyre_radius_m;
        mass_kg += truck->rig->engine_inertia_kgm2 * per_m * per_m;
    }
    return mass_kg;
}

double td_truck_downgrade(const struct td_truck *truck)
{
    /* The run-up before the profile is level: nothing is known of it. */
    if (truck->along_m < 0)
        return 0;
    return td_hill_downgrade_at(truck->hill, truck->along_m) + truck->truth.grade_offset_ratio;
}

struct forces {
    double angle_rad;
    double gravity_n, rolling_n, air_n;
};

static struct forces road_forces(const struct td_truck *truck)
{
    double angle_rad = atan(td_truck_downgrade(truck));
    double weight_n = truck->mass_kg * TD_GRAVITY_MPS2;
    double speed_mps = truck->speed_mps;
    return (struct forces){
        .angle_rad = angle_rad,
        .gravity_n = weight_n * sin(angle_rad),
        .rolling_n = weight_n * cos(angle_rad) * truck->rig->rolling_ratio,
        .air_n = 0.5 * AIR_KG_PER_M3 * truck->rig->drag_area_m2 * speed_mps * speed_mps,
    };
}

double td_truck_pull_n(const struct td_truck *truck, int gear, int stage)
{
    struct forces road = road_forces(truck);
    return road.gravity_n - road.rolling_n - road.air_n - engine_n(truck, gear, stage) -
           retarder_n(truck, stage);
}

double td_truck_brake_most_n(const struct td_truck *truck)
{
    if (truck->brakes_failed)
        return 0;
    const struct td_rig *rig = truck->rig;
    double heaviest_kg = rig->loads[td_rig_heaviest_load(rig)].mass_kg;
    double over_k = truck->temp_c - rig->brakes.limit_c;
    double least = fades[rig->brakes.kind].least;
    double way = fmin(1, fmax(0, over_k / fades[rig->brakes.kind].over_k));
    double fade = 1 - (1 - least) * way;
    double most_n = BRAKE_MOST_G * TD_GRAVITY_MPS2 * heaviest_kg * (1 - truck->truth.dead_share) *
                    truck->brake_share;
    return fmin(most_n * fade, truck->adhesion * TD_GRAVITY_MPS2 * truck->mass_kg);
}

/* Exact over the step at constant power, as the real thing would be. */
static void heat(struct td_truck *truck, double power_w, double speed_mps, double dt_s)
{
    const struct td_brakes *brakes = &truck->rig->brakes;
    double alive = 1 - truck->truth.dead_share;
    double capacity = brakes->heat_capacity_j_per_k * truck->truth.capacity_scale * alive;
    double cooling = (brakes->cooling_w_per_k + brakes->cooling_w_per_k_per_mps * speed_mps) *
                     truck->truth.cooling_scale * alive;
    double settles_c = truck->ambient_c + power_w / cooling;
    truck->temp_c = settles_c + (truck->temp_c - settles_c) * exp(-cooling / capacity * dt_s);
    truck->hottest_c = fmax(truck->hottest_c, truck->temp_c);
}

static void heat_retarder(struct td_truck *truck, double power_w, double dt_s)
{
    const struct td_retarder_heat *oil = &truck->rig->retarder;
    if (!td_rig_has_retarder(truck->rig))
        return;
    double settles_c = truck->ambient_c + power_w / oil->cooling_w_per_k;
    truck->retarder_c = settles_c + (truck->retarder_c - settles_c) *
                                        exp(-oil->cooling_w_per_k / oil->heat_capacity_j_per_k *
                                            dt_s);
    truck->retarder_hottest_c = fmax(truck->retarder_hottest_c, truck->retarder_c);
}

static void answer_pedals(struct td_truck *truck, const struct td_pedals *pedals, double dt_s)
{
    double asked_n = fmin(fmax(pedals->brake_n, 0), td_truck_brake_most_n(truck));
    truck->brake_n += (asked_n - truck->brake_n) * (1 - exp(-dt_s / BRAKE_LAG_S));
    truck->brake_n = fmin(truck->brake_n, td_truck_brake_most_n(truck));
    truck->gear = pedals->gear;
    bool throttle = pedals->drive_n > 0 && truck->gear >= 0;
    double at_power_n = truck->drive_most_w / fmax(truck->speed_mps, 1.0);
    truck->drive_n = throttle ? fmin(pedals->drive_n, at_power_n) : 0;
    bool acts = !throttle && (truck->gear >= 0 || is_retarder(truck, pedals->stage));
    truck->stage = acts ? pedals->stage : -1;
}

void td_truck_step(struct td_truck *truck, const struct td_pedals *pedals, double dt_s)
{
    answer_pedals(truck, pedals, dt_s);
    struct forces road = road_forces(truck);
    /* With fuel the engine gives drive_n at the wheels, its own drag already paid for. */
    double held_n = truck->drive_n > 0 ? 0 : engine_n(truck, truck->gear, truck->stage);
    double shaft_n = retarder_n(truck, truck->stage);
    double giving_n = road.gravity_n + truck->drive_n;
    double taking_n = road.rolling_n + road.air_n + held_n + shaft_n + truck->brake_n;
    double before_mps = truck->speed_mps;
    double after_mps =
        before_mps + (giving_n - taking_n) / td_truck_inertia_kg(truck, truck->gear) * dt_s;
    /* It does not roll back: resistances hold, and so would the driver. */
    after_mps = fmax(after_mps, 0);
    double mean_mps = 0.5 * (before_mps + after_mps);
    double moved_m = mean_mps * dt_s;

    truck->work.gravity_j += road.gravity_n * moved_m;
    truck->work.drive_j += truck->drive_n * moved_m;
    truck->work.rolling_j += road.rolling_n * moved_m;
    truck->work.air_j += road.air_n * moved_m;
    truck->work.engine_j += held_n * moved_m;
    truck->work.retarder_j += shaft_n * moved_m;
    truck->work.service_j += truck->brake_n * moved_m;
    truck->accel_mps2 = (after_mps - before_mps) / dt_s;
    truck->speed_mps = after_mps;
    /* Profiles measure along the map; the truck runs along the slope. */
    truck->along_m += moved_m * cos(road.angle_rad);
    heat(truck, truck->brake_n * mean_mps, mean_mps, dt_s);
    heat_retarder(truck, shaft_n * mean_mps, dt_s);
}
