/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Truck, driver and receiver on one road, and the judge who sees the truth. */
#include "sim/trip.h"

#include <math.h>

#include "talkdown/units.h"

/* The truck comes from somewhere before the profile begins. */
#define RUN_UP_M 1200.0
#define CRUISE_MPH 55.0
/* The last metres of a profile have no road after them. */
#define END_SHORT_M 5.0
#define LONGEST_S (4 * 3600.0)
#define STANDS_LONG_S 180.0
/* A driver who was told not to go down has stood this long: that is the end of it. */
#define STAYS_S 15.0
#define WELL_OVER_MPH 5.0

/* Tyres of heavy trucks at town speeds, rounded down from what stopping-distance tables imply; the
 * ice is smooth. Common practice, no source. */
static const double adhesion[] = {
    [TD_ROAD_DRY] = 0.7, [TD_ROAD_WET] = 0.45, [TD_ROAD_ICE] = 0.12};

struct td_trip_options td_trip_options_default(const struct td_rig *rig)
{
    struct td_plan_query query = td_plan_query_default(rig);
    return (struct td_trip_options){
        .driver = TD_DRIVER_CAREFUL,
        .cruise_mps = td_mps_from_mph(CRUISE_MPH),
        .mass_kg = query.mass_kg,
        .truth = td_truth_as_filed(),
        .road = TD_ROAD_DRY,
        .ambient_c = query.ambient_c,
        .brakes_from_c = query.brakes_from_c,
        .from_m = -RUN_UP_M,
        .seed = 1,
        .receiver = td_gnss_options_default(),
    };
}

void td_trip_set_out(struct td_trip *trip, const struct td_hill *hill, const struct td_rig *rig,
                     const struct td_trip_options *options)
{
    *trip = (struct td_trip){
        .from_m = options->from_m, .start_ns = options->start_ns, .now_ns = options->start_ns};
    struct td_truck *truck = &trip->truck;
    td_truck_init(truck, hill, rig, options->mass_kg, &options->truth);
    truck->adhesion = adhesion[options->road];
    truck->ambient_c = options->ambient_c;
    truck->temp_c = truck->hottest_c = options->brakes_from_c;
    truck->along_m = options->from_m;
    truck->speed_mps = options->cruise_mps;
    td_driver_init(&trip->driver, options->driver, hill, options->cruise_mps, options->seed);
    td_slip_begin(&trip->driver, options->slip, hill);
    if (options->failure != TD_FAILURE_NONE)
        td_driver_fail(&trip->driver, options->failure, hill, options->seed);
    trip->driver.warnings_only = options->warnings_only;
    td_gnss_init(&trip->gnss, &options->receiver, options->seed, options->start_ns + TD_NS_PER_S,
                 options->utc_from_ms);
}

bool td_trip_step(struct td_trip *trip, struct td_fix *fix)
{
    struct td_truck *truck = &trip->truck;
    struct td_trip_seen *seen = &trip->seen;
    double hottest_c = truck->hottest_c;
    trip->now_ns += TD_TRIP_STEP_NS;
    struct td_pedals pedals = td_driver_act(&trip->driver, truck, trip->now_ns, TD_TRIP_STEP_S);
    td_truck_step(truck, &pedals, TD_TRIP_STEP_S);
    seen->stands_s = truck->speed_mps < 0.1 ? seen->stands_s + TD_TRIP_STEP_S : 0;
    if (truck->hottest_c > hottest_c)
        seen->hottest_at_m = truck->along_m;
    if (truck->along_m >= trip->driver.lane_m && seen->lane_mps <= 0)
        seen->lane_mps = truck->speed_mps;
    const struct td_hill *hill = truck->hill;
    if (hill->coached && truck->along_m >= hill->crest_m && truck->along_m <= hill->foot_m) {
        if (seen->crest_ns == 0)
            seen->crest_ns = trip->now_ns;
        seen->fastest_mps = fmax(seen->fastest_mps, truck->speed_mps);
    }
    return td_gnss_fix(&trip->gnss, truck, trip->now_ns, fix);
}

void td_trip_judge(struct td_trip *trip, double crest_m, double target_mps)
{
    struct td_trip_seen *seen = &trip->seen;
    const struct td_truck *truck = &trip->truck;
    if (seen->crest_ns != 0 && (seen->descent_ns == 0 || seen->descent_m != crest_m)) {
        seen->descent_m = crest_m;
        seen->descent_ns = trip->now_ns;
    }
    double since_crest_s = td_s_from_ns(trip->now_ns - seen->descent_ns);
    if (seen->crest_ns == 0 || target_mps <= 0 || since_crest_s < TD_TRIP_SETTLE_S ||
        truck->along_m > truck->hill->foot_m) {
        seen->over_now_s = 0;
        return;
    }
    double over_mps = truck->speed_mps - target_mps;
    if (!seen->judged || over_mps > seen->over_mps) {
        seen->over_mps = over_mps;
        seen->over_at_m = truck->along_m;
    }
    seen->judged = true;
    bool well_over = over_mps >= td_mps_from_mph(WELL_OVER_MPH);
    seen->over_now_s = well_over ? seen->over_now_s + TD_TRIP_STEP_S : 0;
    seen->over_5mph_s = fmax(seen->over_5mph_s, seen->over_now_s);
}

enum td_trip_end td_trip_ended(const struct td_trip *trip)
{
    const struct td_truck *truck = &trip->truck;
    if (trip->seen.lane_mps > 0)
        return TD_TRIP_IN_LANE;
    if (truck->along_m >= truck->hill->length_m - END_SHORT_M)
        return TD_TRIP_DOWN;
    if (trip->driver.stays_up && trip->seen.stands_s > STAYS_S)
        return TD_TRIP_STAYED_UP;
    if (trip->seen.stands_s > STANDS_LONG_S)
        return TD_TRIP_STANDS;
    return td_s_from_ns(trip->now_ns - trip->start_ns) > LONGEST_S ? TD_TRIP_CRAWLS
                                                                   : TD_TRIP_GOING;
}
