/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The drives, and the comparison of what was made of them with the truth. */
#include "support/survey_drive.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/hill_project.h"
#include "support/random_hills.h"
#include "talkdown/units.h"

const struct receiver survey_satellite_3 = {"satellites, 3 m", 3, 60, 0, 0};
const struct receiver survey_satellite_3_drift = {"satellites, 3 m, drift", 3, 60, 30.0 / 3600,
                                                  0};
const struct receiver survey_satellite_10 = {"satellites, 10 m", 10, 60, 0, 0};
const struct receiver survey_barometer = {"barometer", 0.7, 120, 8.0 / 3600, 0.2};

static struct td_fix fixes[SURVEY_PASSES_MOST][SURVEY_FIXES_MAX];
static struct random_hill hill_drawn;

static void wander(double *error, double sigma, double wander_s, struct td_rng *rng)
{
    double keep = exp(-1 / wander_s);
    *error = *error * keep + sigma * sqrt(1 - keep * keep) * td_rng_normal(rng);
}

/* One second's place of a pass: on the road at `along_m`, moved by the errors. */
static struct td_fix fix_at(const struct td_hill *truth, double along_m, const double off_m[3],
                            int64_t second)
{
    const struct td_station *a = &truth->stations[td_hill_station_at(truth, along_m)];
    double share = (along_m - a->along_m) / (a[1].along_m - a->along_m);
    double metre_deg = td_deg_from_rad(1 / 6371008.8);
    return (struct td_fix){
        .has = TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_UTC,
        .utc_ms = second * 1000,
        .lat_deg = a->lat_deg + share * (a[1].lat_deg - a->lat_deg) + off_m[1] * metre_deg,
        .lon_deg = a->lon_deg + share * (a[1].lon_deg - a->lon_deg) +
                   off_m[0] * metre_deg / cos(td_rad_from_deg(a->lat_deg)),
        .altitude_m = td_hill_elevation_at(truth, along_m) + off_m[2],
    };
}

size_t survey_drive(const struct td_hill *truth, const struct receiver *receiver, bool climbs,
                    struct td_rng *rng, struct td_fix out[SURVEY_FIXES_MAX])
{
    double east = 3 * td_rng_normal(rng), north = 3 * td_rng_normal(rng);
    double up = receiver->height_sigma_m * td_rng_normal(rng);
    double offset_m = td_rng_between(rng, -50, 50);
    double drift_mps = td_rng_between(rng, -receiver->drift_mps, receiver->drift_mps);
    double level_mps = td_rng_between(rng, 15, 22);
    double grade_mps = climbs ? td_rng_between(rng, 6, 12) : td_rng_between(rng, 8, 16);
    double gone_m = 0;
    size_t count = 0;
    while (gone_m < truth->length_m && count < SURVEY_FIXES_MAX) {
        double along_m = climbs ? truth->length_m - gone_m : gone_m;
        wander(&east, 3, 60, rng);
        wander(&north, 3, 60, rng);
        wander(&up, receiver->height_sigma_m, receiver->height_wander_s, rng);
        double height_off_m = offset_m + up + drift_mps * (double)count;
        struct td_fix fix = fix_at(truth, along_m, (double[]){east, north, height_off_m},
                                   (int64_t)count);
        if (receiver->step_m > 0)
            fix.altitude_m = receiver->step_m * round(fix.altitude_m / receiver->step_m);
        out[count++] = fix;
        bool steep = fabs(td_hill_downgrade_at(truth, along_m)) > 0.02;
        gone_m += steep ? grade_mps : level_mps;
    }
    return count;
}

static double fall_ratio(const struct td_hill *hill, double from_m, double over_m)
{
    return (td_hill_elevation_at(hill, from_m) - td_hill_elevation_at(hill, from_m + over_m)) /
           over_m;
}

static void add(struct survey_errors *errors, double off, double sigma)
{
    if (errors->count == errors->most)
        return;
    errors->within += off <= 2 * sigma;
    errors->values[errors->count++] = off;
}

static void add_grade(struct survey_errors *errors, const struct td_hill *made, double made_m,
                      const struct td_hill *truth, double true_m, double over_m, double sigma)
{
    if (true_m + over_m <= truth->foot_m && made_m + over_m <= made->length_m)
        add(errors, fabs(fall_ratio(made, made_m, over_m) - fall_ratio(truth, true_m, over_m)),
            sigma);
}

static void compare(const struct td_hill *truth, const struct surveyed *survey,
                    struct survey_tally *tally)
{
    const struct td_hill *made = &survey->hill;
    const struct td_survey_report *report = &survey->report;
    double shift_m = 0;
    bool following = false;
    for (double at_m = 0; at_m + 200 <= made->length_m; at_m += 50) {
        const struct td_station *station = &made->stations[td_hill_station_at(made, at_m)];
        double made_m = station->along_m;
        struct td_projection on = td_hill_project(truth, station->lat_deg, station->lon_deg,
                                                  following, made_m + shift_m);
        if (on.off_m > 60)
            continue;
        following = true;
        shift_m = on.at_m - made_m;
        if (on.at_m < truth->crest_m || on.at_m > truth->foot_m)
            continue;
        add(&tally->line, on.off_m, report->position_sigma_m);
        add_grade(&tally->over_200, made, made_m, truth, on.at_m, 200, report->grade_sigma_200);
        add_grade(&tally->over_1000, made, made_m, truth, on.at_m, 1000, report->grade_sigma_1000);
    }
}

void survey_measure(const struct receiver *receiver, size_t passes, uint64_t seed,
                    struct survey_tally *tally)
{
    struct td_rng rng;
    td_rng_seed(&rng, seed, 77);
    random_hill_draw(&hill_drawn, seed);
    const struct td_hill *truth = &hill_drawn.road.hill;
    if (!truth->coached)
        return;
    struct surveyed *made = surveyed_new();
    for (size_t p = 0; p < passes; p++)
        surveyed_add(made, fixes[p], survey_drive(truth, receiver, p % 2 == 1, &rng, fixes[p]));
    enum td_result result = surveyed_make(made);
    if (result == TD_OK) {
        tally->made++;
        tally->told_200 += fmax(0, made->report.grade_sigma_200);
        tally->told_1000 += fmax(0, made->report.grade_sigma_1000);
        tally->told_line_m += fmax(0, made->report.position_sigma_m);
        compare(truth, made, tally);
    } else if (strstr(made->problem.text, "heights are too noisy") != NULL) {
        tally->refused++;
    } else {
        printf("hill %u: %s\n", (unsigned)seed, made->problem.text);
        tally->made++;
    }
    surveyed_free(&made);
}
