/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mistakes for drills. */
#include "sim/slip.h"

#include "sim/driver.h"
#include "talkdown/units.h"

#define GEARS_TOO_HIGH 2
#define KEEPS_OFF_MPH  15.0
#define LETS_RUN_MPH   10.0
/* So far before the bend he lets go. */
#define RUNS_FOR_M     300.0
/* A downgrade that a driver feels as one; as in driver.c. */
#define FEELS_RATIO 0.02

#define FAILS_AT_SHARE 0.35

void td_slip_begin(struct td_driver *driver, enum td_slip_kind kind, const struct td_hill *hill)
{
    driver->slip = (struct td_slip){.kind = kind, .told_gear = -1, .told_stage = -1};
    if (kind == TD_SLIP_BRAKES)
        driver->fails_m = hill->crest_m + FAILS_AT_SHARE * (hill->foot_m - hill->crest_m);
}

static void begin(struct td_slip *slip, const struct td_truck *truck, int64_t now_ns)
{
    slip->slipping = slip->slipped = true;
    slip->from_ns = now_ns;
    slip->from_m = truck->along_m;
}

/* Words that tell a driver that something is wrong with his speed. */
static bool is_about_speed(enum td_prompt_id id)
{
    return id == TD_PROMPT_OVER_SPEED || id == TD_PROMPT_SPEED_BUILDING ||
           id == TD_PROMPT_ENGINE_OVER_SPEED;
}

/* Two gears too high, where the gearbox has them. */
static bool miss_gear(struct td_driver *driver, const struct td_truck *truck,
                      struct td_prompt *prompt, int64_t now_ns)
{
    for (unsigned i = 0; i < prompt->arg_count && i < TD_PROMPT_ARGS_MAX; i++) {
        struct td_arg *arg = &prompt->args[i];
        if (arg->unit != TD_UNIT_GEAR)
            continue;
        int highest = (int)truck->rig->gear_count - 1;
        if (arg->value + GEARS_TOO_HIGH > highest)
            return false;
        if (!driver->slip.slipped)
            begin(&driver->slip, truck, now_ns);
        arg->value += GEARS_TOO_HIGH;
    }
    return true;
}

static void take_back(struct td_driver *driver)
{
    driver->told = true;
    driver->told_mps = driver->slip.told_mps;
    driver->told_gear = driver->slip.told_gear;
    driver->told_stage = driver->slip.told_stage;
}

bool td_slip_hears(struct td_driver *driver, const struct td_truck *truck, struct td_prompt *prompt,
                   int64_t now_ns)
{
    struct td_slip *slip = &driver->slip;
    bool better = prompt->id == TD_PROMPT_FALSE_BOTTOM || is_about_speed(prompt->id);
    switch (slip->kind) {
    case TD_SLIP_CHECK:
        if (prompt->id != TD_PROMPT_BRAKE_CHECK_AHEAD)
            return true;
        if (!slip->slipped)
            begin(slip, truck, now_ns);
        return false;
    case TD_SLIP_GEAR:
        if (is_about_speed(prompt->id))
            slip->slipping = false;
        return prompt->id == TD_PROMPT_OVER_SPEED || miss_gear(driver, truck, prompt, now_ns);
    case TD_SLIP_BOTTOM:
        if (slip->slipping && better) {
            slip->slipping = false;
            take_back(driver);
        }
        return true;
    case TD_SLIP_CURVE:
        if (is_about_speed(prompt->id))
            slip->slipping = false;
        return !(prompt->id == TD_PROMPT_CURVE && slip->slipping);
    case TD_SLIP_NONE:
    case TD_SLIP_BRAKES:
    case TD_SLIP_KINDS:
        break;
    }
    return true;
}

const struct td_curve *td_slip_curve(const struct td_hill *hill)
{
    const struct td_curve *sharpest = NULL;
    for (size_t i = 0; i < hill->curve_count; i++) {
        const struct td_curve *curve = &hill->curves[i];
        if (curve->from_m > hill->crest_m + RUNS_FOR_M && curve->from_m < hill->foot_m &&
            (sharpest == NULL || curve->radius_m < sharpest->radius_m))
            sharpest = curve;
    }
    return sharpest;
}

static void watch_curve(struct td_driver *driver, const struct td_truck *truck, int64_t now_ns)
{
    const struct td_curve *curve = td_slip_curve(truck->hill);
    if (!driver->slip.slipped && driver->told && curve != NULL &&
        truck->along_m >= curve->from_m - RUNS_FOR_M && truck->along_m < curve->from_m)
        begin(&driver->slip, truck, now_ns);
}

void td_slip_watch(struct td_driver *driver, const struct td_truck *truck, int64_t now_ns)
{
    struct td_slip *slip = &driver->slip;
    const struct td_hill *hill = truck->hill;
    if (slip->kind == TD_SLIP_CURVE)
        watch_curve(driver, truck, now_ns);
    if (slip->kind != TD_SLIP_BOTTOM || slip->slipped || !driver->told || hill->easing_count == 0 ||
        truck->along_m < hill->easings[0].from_m || truck->along_m > hill->easings[0].to_m)
        return;
    begin(slip, truck, now_ns);
    slip->told_mps = driver->told_mps;
    slip->told_gear = driver->told_gear;
    slip->told_stage = driver->told_stage;
    driver->told = false;
    driver->told_gear = driver->told_stage = -1;
}

double td_slip_hold_mps(const struct td_driver *driver, const struct td_truck *truck,
                        double hold_mps)
{
    const struct td_slip *slip = &driver->slip;
    if (!slip->slipping || td_truck_downgrade(truck) < FEELS_RATIO)
        return hold_mps;
    if (slip->kind == TD_SLIP_GEAR)
        return hold_mps + td_mps_from_mph(KEEPS_OFF_MPH);
    return slip->kind == TD_SLIP_CURVE ? hold_mps + td_mps_from_mph(LETS_RUN_MPH) : hold_mps;
}

bool td_slip_lets_run(const struct td_driver *driver)
{
    return driver->slip.kind == TD_SLIP_CURVE && driver->slip.slipping;
}
