/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What simulated drivers do with what they hear. */
#include "sim/driver.h"

#include <math.h>
#include <string.h>

#include "talkdown/rng.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

/* Mean time from the end of a prompt to the foot on the pedal. Cautious figure for a driver who
 * did not expect it; common practice in sight-distance design is 2.5 s (MUTCD table 2C-4 notes). */
#define REACTION_S 2.5
#define SNUB_MPH 5.0
/* 5 mph in three seconds, the manual's snub. */
#define SNUB_MPS2 (SNUB_MPH * TD_MPS_PER_MPH / 3.0)
#define HARD_MPS2 1.8
#define SHIFT_S 1.2
#define STOP_AT_CHECK_S 60.0
#define STOP_AT_SIGN_S 5.0
#define SEES_SIGN_M 400.0
/* Told not to go down: room to stop in, and where without a lot. */
#define STAY_NEEDS_M  250.0
#define STAY_BEFORE_M 100.0
/* A downgrade that a driver feels as one. */
#define FEELS_RATIO 0.02
#define NOWHERE ((double)NAN)

static const char *const names[TD_DRIVER_KINDS] = {
    [TD_DRIVER_CAREFUL] = "careful",
    [TD_DRIVER_LATE] = "late",
    [TD_DRIVER_HEAVY_FOOT] = "heavy-foot",
    [TD_DRIVER_BRAKE_RIDER] = "brake-rider",
    [TD_DRIVER_TEN_OVER] = "ten-over",
    [TD_DRIVER_DEAF] = "deaf",
    [TD_DRIVER_NO_BRAKES] = "no-brakes",
};

const char *td_driver_name(enum td_driver_kind kind)
{
    return kind >= 0 && kind < TD_DRIVER_KINDS ? names[kind] : "?";
}

int td_driver_from_name(const char *name)
{
    for (int kind = 0; kind < TD_DRIVER_KINDS; kind++)
        if (td_text_equal(name, names[kind]))
            return kind;
    return -1;
}

void td_driver_init(struct td_driver *driver, enum td_driver_kind kind, const struct td_hill *hill,
                    double cruise_mps, uint64_t seed)
{
    *driver = (struct td_driver){
        .kind = kind,
        .reaction_s = kind == TD_DRIVER_LATE ? 3 * REACTION_S : REACTION_S,
        .cruise_mps = cruise_mps,
        .told_gear = -1,
        .told_stage = -1,
        .lane_m = NOWHERE,
        .stop_m = NOWHERE,
        .last_stop_m = NOWHERE,
        .fails_m = NOWHERE,
        .gear_next = -1,
    };
    if (kind == TD_DRIVER_NO_BRAKES)
        td_driver_fail(driver, TD_FAILURE_AIR, hill, seed);
}

void td_driver_fail(struct td_driver *driver, enum td_failure failure, const struct td_hill *hill,
                    uint64_t seed)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 0x64726976U);
    double share = td_rng_between(&rng, 0.2, 0.5);
    driver->fails_m = hill->crest_m + share * (hill->foot_m - hill->crest_m);
    driver->failure = failure;
    driver->fade_s = td_rng_between(&rng, 10, 60);
    driver->fade_to = fmax(0, td_rng_between(&rng, -0.1, 0.1));
}

void td_driver_hear(struct td_driver *driver, const struct td_prompt *prompt, int64_t now_ns)
{
    if (driver->kind == TD_DRIVER_DEAF ||
        (driver->warnings_only && prompt->category < TD_WARNING))
        return;
    if (driver->heard_count == TD_DRIVER_HEARD_MAX) {
        /* Too much at once: the oldest is forgotten, as it would be. */
        memmove(&driver->heard[0], &driver->heard[1],
                (TD_DRIVER_HEARD_MAX - 1) * sizeof driver->heard[0]);
        driver->heard_count--;
    }
    driver->heard[driver->heard_count++] = (struct td_heard){
        .prompt = *prompt,
        .acts_ns = now_ns + (int64_t)(driver->reaction_s * (double)TD_NS_PER_S),
    };
}

static const struct td_arg *arg_of(const struct td_prompt *prompt, enum td_unit unit)
{
    for (unsigned i = 0; i < prompt->arg_count && i < TD_PROMPT_ARGS_MAX; i++)
        if (prompt->args[i].unit == unit)
            return &prompt->args[i];
    return NULL;
}

static void take_speed(struct td_driver *driver, const struct td_prompt *prompt)
{
    const struct td_arg *mph = arg_of(prompt, TD_UNIT_MPH);
    const struct td_arg *kmh = arg_of(prompt, TD_UNIT_KMH);
    double over_mps = driver->kind == TD_DRIVER_TEN_OVER ? td_mps_from_mph(10) : 0;
    if (mph == NULL && kmh == NULL)
        return;
    driver->told = true;
    driver->told_mps =
        over_mps + (mph != NULL ? td_mps_from_mph(mph->value) : td_mps_from_kmh(kmh->value));
}

static bool takes_gear(const struct td_driver *driver)
{
    return driver->kind != TD_DRIVER_TEN_OVER && driver->kind != TD_DRIVER_BRAKE_RIDER;
}

/* Where to stand for good: the last lot before the crest that he can still reach. */
static double place_to_stay_m(const struct td_hill *hill, double along_m)
{
    double stay_m = NOWHERE;
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool lot = place->kind == TD_PLACE_BRAKE_CHECK || place->kind == TD_PLACE_TURN_OUT;
        if (lot && place->at_m > along_m + STAY_NEEDS_M && place->at_m < hill->crest_m)
            stay_m = place->at_m;
    }
    double before_m = hill->crest_m - STAY_BEFORE_M;
    return isnan(stay_m) && before_m > along_m ? before_m : stay_m;
}

static void turn_back(struct td_driver *driver, const struct td_hill *hill, double along_m)
{
    if (driver->kind == TD_DRIVER_TEN_OVER || along_m > hill->crest_m)
        return;
    double stay_m = isnan(driver->stop_m) ? place_to_stay_m(hill, along_m) : driver->stop_m;
    if (isnan(stay_m))
        return; /* the crest is upon him: too late to stay up */
    driver->stop_m = stay_m;
    driver->stays_up = true;
}

/* The nearest lane that was named and still lies ahead. */
static void make_for_lane(struct td_driver *driver, const struct td_hill *hill, double along_m,
                          const struct td_prompt *prompt)
{
    if (prompt->category != TD_DANGER || driver->kind == TD_DRIVER_TEN_OVER || prompt->place < 0 ||
        (size_t)prompt->place >= hill->place_count)
        return;
    const struct td_place *place = &hill->places[prompt->place];
    if (place->kind == TD_PLACE_ESCAPE_LANE && place->at_m > along_m &&
        !(driver->lane_m > along_m && driver->lane_m < place->at_m))
        driver->lane_m = place->at_m;
}

static void understand(struct td_driver *driver, const struct td_hill *hill, double along_m,
                       const struct td_prompt *prompt)
{
    const struct td_arg *gear = arg_of(prompt, TD_UNIT_GEAR);
    const struct td_arg *stage = arg_of(prompt, TD_UNIT_STAGE);
    make_for_lane(driver, hill, along_m, prompt);
    switch (prompt->id) {
    case TD_PROMPT_SLOW_FOR_GRADE:
    case TD_PROMPT_CEILING:
    case TD_PROMPT_CURVE:
    case TD_PROMPT_LIMIT:
    case TD_PROMPT_BRIEFING:
    case TD_PROMPT_OVER_SPEED:
    case TD_PROMPT_GEAR:
    case TD_PROMPT_ENGINE_BRAKE:
        take_speed(driver, prompt);
        if (gear != NULL && takes_gear(driver))
            driver->told_gear = gear->value;
        if (stage != NULL && takes_gear(driver))
            driver->told_stage = stage->value;
        break;
    case TD_PROMPT_NO_GO:
    case TD_PROMPT_NO_GO_ICE:
        turn_back(driver, hill, along_m);
        break;
    case TD_PROMPT_BRAKE_CHECK_AHEAD:
        if (driver->kind != TD_DRIVER_TEN_OVER && prompt->place >= 0 &&
            (size_t)prompt->place < hill->place_count)
            driver->stop_m = hill->places[prompt->place].at_m;
        break;
    case TD_PROMPT_BOTTOM:
        driver->told = false;
        driver->told_gear = -1;
        driver->told_stage = -1;
        break;
    default:
        break;
    }
}

static void think(struct td_driver *driver, const struct td_truck *truck, int64_t now_ns)
{
    unsigned kept = 0;
    for (unsigned i = 0; i < driver->heard_count; i++) {
        struct td_prompt prompt = driver->heard[i].prompt;
        if (driver->heard[i].acts_ns > now_ns)
            driver->heard[kept++] = driver->heard[i];
        else if (td_slip_hears(driver, truck, &prompt, now_ns))
            understand(driver, truck->hill, truck->along_m, &prompt);
    }
    driver->heard_count = kept;
}

/* A stop sign in sight is a place to stop at, told or not. */
static void look(struct td_driver *driver, const struct td_truck *truck)
{
    if (!isnan(driver->stop_m))
        return;
    for (size_t i = 0; i < truck->hill->place_count; i++) {
        const struct td_place *place = &truck->hill->places[i];
        double ahead_m = place->at_m - truck->along_m;
        if (place->kind == TD_PLACE_STOP && ahead_m > 0 && ahead_m < SEES_SIGN_M &&
            !(place->at_m == driver->last_stop_m))
            driver->stop_m = place->at_m;
    }
}

/* Rolls again when he has stood long enough; true while he stands. */
static bool stand(struct td_driver *driver, const struct td_truck *truck, double dt_s)
{
    if (isnan(driver->stop_m))
        return false;
    if (truck->along_m > driver->stop_m + 60) {
        driver->stop_m = NOWHERE; /* could not or would not stop: it lies behind */
        return false;
    }
    if (truck->speed_mps > 0.1 || truck->along_m < driver->stop_m - 30)
        return false;
    bool at_check = false;
    for (size_t i = 0; i < truck->hill->place_count; i++)
        at_check |= truck->hill->places[i].kind == TD_PLACE_BRAKE_CHECK &&
                    truck->hill->places[i].at_m == driver->stop_m;
    driver->stopped_s += dt_s;
    if (driver->stays_up || driver->stopped_s < (at_check ? STOP_AT_CHECK_S : STOP_AT_SIGN_S))
        return true;
    driver->last_stop_m = driver->stop_m;
    driver->stop_m = NOWHERE;
    driver->stopped_s = 0;
    driver->braking = false;
    return false;
}

/* Highest gear that keeps the engine in its band, or the told one once the speed fits it. */
static int gear_for(const struct td_driver *driver, const struct td_truck *truck)
{
    const struct td_rig *rig = truck->rig;
    double speed_mps = truck->speed_mps;
    int told = driver->told_gear;
    if (told >= 0 && (size_t)told < rig->gear_count &&
        td_rig_rpm(rig, (size_t)told, speed_mps) <= rig->rpm_most) {
        /* From a stop up to it, but never past it. */
        int up = told;
        while (up > 0 && td_rig_rpm(rig, (size_t)up, speed_mps) < 0.6 * rig->rpm_least)
            up--;
        return up;
    }
    /* Nobody shifts up on a grade: there the gear stays, whatever the engine says. */
    bool on_grade = td_truck_downgrade(truck) > FEELS_RATIO;
    int now = truck->gear >= 0 ? truck->gear : driver->gear_next;
    int gear = (int)rig->gear_count - 1;
    while (gear > 0 && td_rig_rpm(rig, (size_t)gear, speed_mps) < rig->rpm_least)
        gear--;
    if (now >= 0 && (on_grade && gear > now))
        return now;
    if (now >= 0 && gear == now + 1 &&
        td_rig_rpm(rig, (size_t)now, speed_mps) < 0.9 * rig->rpm_most)
        return now;
    return gear;
}

/* Takes the time of a shift: neutral until it is done. */
static int shift(struct td_driver *driver, const struct td_truck *truck, double dt_s)
{
    int wanted = gear_for(driver, truck);
    if (driver->gear_next < 0) {
        driver->gear_next = wanted;
        return wanted;
    }
    if (wanted != driver->gear_next) {
        driver->gear_next = wanted;
        /* Standing or creeping he sets off in it. */
        driver->shift_s = truck->speed_mps < 2.0 ? 0 : SHIFT_S;
    }
    driver->shift_s = fmax(0, driver->shift_s - dt_s);
    return driver->shift_s > 0 ? -1 : driver->gear_next;
}

static double told_or_cruise_mps(const struct td_driver *driver)
{
    return driver->told ? fmin(driver->told_mps, driver->cruise_mps) : driver->cruise_mps;
}

static double brake_for_n(const struct td_truck *truck, const struct td_pedals *pedals,
                          double slows_mps2)
{
    double pull_n = td_truck_pull_n(truck, pedals->gear, pedals->stage);
    return fmax(0, pull_n + slows_mps2 * td_truck_inertia_kg(truck, pedals->gear));
}

/* Brakes for a place to stop at: begins when the comfortable rate is needed, then holds what is. */
static bool brake_to_stop(struct td_driver *driver, const struct td_truck *truck,
                          struct td_pedals *pedals)
{
    if (isnan(driver->stop_m))
        return false;
    double left_m = fmax(driver->stop_m - truck->along_m, 0.5);
    double needs_mps2 = truck->speed_mps * truck->speed_mps / (2 * left_m);
    if (needs_mps2 < truck->rig->comfortable_mps2 && left_m > 5)
        return false;
    driver->braking = true;
    pedals->brake_n = brake_for_n(truck, pedals, fmin(fmax(needs_mps2, 0.3), HARD_MPS2 * 1.5));
    return true;
}

static void snub(struct td_driver *driver, const struct td_truck *truck, double hold,
                 struct td_pedals *pedals)
{
    bool heavy = driver->kind == TD_DRIVER_HEAVY_FOOT;
    bool deep = td_truck_downgrade(truck) > FEELS_RATIO;
    double top = hold + (heavy ? td_mps_from_mph(3) : -0.15);
    /* Below ten he does not let it come to a stand. */
    double low = fmax(hold - td_mps_from_mph(deep ? SNUB_MPH : 1.0), 0.6 * hold);
    if (truck->speed_mps > top)
        driver->braking = true;
    else if (truck->speed_mps < low)
        driver->braking = false;
    if (driver->braking)
        pedals->brake_n = brake_for_n(
            truck, pedals, heavy ? HARD_MPS2 : fmax(SNUB_MPS2, truck->rig->comfortable_mps2));
}

/* A foot that never leaves the pedal: just the force that keeps the speed. */
static void ride(struct td_driver *driver, const struct td_truck *truck, double hold,
                 struct td_pedals *pedals)
{
    /* The stop he braked for may be farther on than he thought: he rolls up to it. */
    driver->braking = false;
    pedals->brake_n =
        brake_for_n(truck, pedals, fmin(SNUB_MPS2, 0.5 * (truck->speed_mps - hold)));
}

static void throttle(struct td_driver *driver, const struct td_truck *truck, double hold,
                     struct td_pedals *pedals)
{
    double speed_mps = truck->speed_mps;
    bool grade = driver->told && td_truck_downgrade(truck) > FEELS_RATIO;
    /* Told a ceiling on a grade he lets the truck run, and helps only one that crawls. */
    if (speed_mps < 0.6 * hold)
        driver->stage_rests = true;
    else if (speed_mps > 0.85 * hold)
        driver->stage_rests = false;
    if (driver->stage_rests)
        pedals->stage = -1;
    if (driver->braking || pedals->gear < 0 || (grade && !driver->stage_rests))
        return;
    double wants = fmin(0.6, 0.3 * (hold - td_mps_from_mph(1.0) - speed_mps));
    double pull_n = td_truck_pull_n(truck, -1, -1);
    double drive_n = wants * td_truck_inertia_kg(truck, pedals->gear) - pull_n;
    if (wants > 0 && drive_n > 0)
        pedals->drive_n = drive_n;
}

/* What the failure has left of the truck by now. */
static void fail(struct td_driver *driver, struct td_truck *truck, double dt_s)
{
    if (!(truck->along_m >= driver->fails_m))
        return;
    driver->failing_s += dt_s;
    if (driver->failure == TD_FAILURE_NONE || driver->failure == TD_FAILURE_AIR) {
        truck->brakes_failed = true;
        return;
    }
    double way = fmin(1, driver->failing_s / driver->fade_s);
    truck->brake_share = 1 - way * (1 - driver->fade_to);
}

struct td_pedals td_driver_act(struct td_driver *driver, struct td_truck *truck, int64_t now_ns,
                               double dt_s)
{
    think(driver, truck, now_ns);
    look(driver, truck);
    td_slip_watch(driver, truck, now_ns);
    fail(driver, truck, dt_s);
    struct td_pedals pedals = {.gear = shift(driver, truck, dt_s), .stage = -1};
    if (driver->failure == TD_FAILURE_NEUTRAL && driver->failing_s > 0)
        pedals.gear = -1;
    if (stand(driver, truck, dt_s)) {
        pedals.brake_n = 1e9; /* as hard as they go: it stands */
        driver->braking = true;
        return pedals;
    }
    /* The lever stays where it is through a shift. */
    pedals.stage = td_slip_lets_run(driver) ? -1 : driver->told_stage;
    if (brake_to_stop(driver, truck, &pedals))
        return pedals;
    double hold = td_slip_hold_mps(driver, truck, told_or_cruise_mps(driver));
    if (driver->kind == TD_DRIVER_BRAKE_RIDER)
        ride(driver, truck, hold, &pedals);
    else
        snub(driver, truck, hold, &pedals);
    throttle(driver, truck, hold, &pedals);
    return pedals;
}
