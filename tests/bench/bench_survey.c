/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_survey [HILLS]: how wrong a surveyed grade is, on invented hills of which the truth is
 * known, driven by receivers and barometers with invented errors; and what the survey says of its
 * own error. Prints the table of docs/survey.md. Exit 1 when an aim is missed.
 *
 * Errors (assumed; docs/survey.md): position and satellite height wander, each axis a first-order
 * Gauss-Markov process of one minute. A barometer has an offset of the day within 50 m, drifts with
 * the weather by up to 8 m an hour (1 hPa is some 8 m near the sea), wanders by 0.7 m over two
 * minutes with wind and windows, and is read to 0.2 m. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/hill_project.h"
#include "support/random_hills.h"
#include "support/surveyed.h"
#include "talkdown/units.h"

enum { FIXES_MAX = 8000, SAMPLES_MAX = 400000, PASSES_MOST = 10 };

struct receiver {
    const char *name;
    double height_sigma_m, height_wander_s;
    double drift_mps; /* most */
    double step_m;    /* it is read to; 0: as it is */
};

static const struct receiver satellite_3 = {"satellites, 3 m", 3, 60, 0, 0};
static const struct receiver satellite_3_drift = {"satellites, 3 m, drift", 3, 60, 30.0 / 3600, 0};
static const struct receiver satellite_10 = {"satellites, 10 m", 10, 60, 0, 0};
static const struct receiver barometer = {"barometer", 0.7, 120, 8.0 / 3600, 0.2};

static struct td_fix fixes[PASSES_MOST][FIXES_MAX];
static double errors_200[SAMPLES_MAX], errors_1000[SAMPLES_MAX];
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

/* Down, or up when `climbs`, at a loaded truck's speeds. */
static size_t drive(const struct td_hill *truth, const struct receiver *receiver, bool climbs,
                    struct td_rng *rng, struct td_fix *out)
{
    double east = 3 * td_rng_normal(rng), north = 3 * td_rng_normal(rng);
    double up = receiver->height_sigma_m * td_rng_normal(rng);
    double offset_m = td_rng_between(rng, -50, 50);
    double drift_mps = td_rng_between(rng, -receiver->drift_mps, receiver->drift_mps);
    double level_mps = td_rng_between(rng, 15, 22);
    double grade_mps = climbs ? td_rng_between(rng, 6, 12) : td_rng_between(rng, 8, 16);
    double gone_m = 0;
    size_t count = 0;
    while (gone_m < truth->length_m && count < FIXES_MAX) {
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

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

struct tally {
    size_t count_200, count_1000, refused, made;
    double told_200, told_1000; /* sums of what the survey said */
    double crest_off_m, foot_off_m;
};

static double fall_ratio(const struct td_hill *hill, double from_m, double over_m)
{
    return (td_hill_elevation_at(hill, from_m) - td_hill_elevation_at(hill, from_m + over_m)) /
           over_m;
}

/* From the true crest to the true foot, every 50 m of the surveyed road. */
static void compare(const struct td_hill *truth, const struct td_hill *made, struct tally *tally)
{
    double shift_m = 0;
    bool following = false;
    for (double at_m = 0; at_m + 200 <= made->length_m; at_m += 50) {
        const struct td_station *station = &made->stations[td_hill_station_at(made, at_m)];
        struct td_projection on =
            td_hill_project(truth, station->lat_deg, station->lon_deg, following,
                            station->along_m + shift_m);
        if (on.off_m > 60)
            continue;
        following = true;
        shift_m = on.at_m - station->along_m;
        if (on.at_m < truth->crest_m || on.at_m > truth->foot_m)
            continue;
        if (on.at_m + 200 <= truth->foot_m && tally->count_200 < SAMPLES_MAX)
            errors_200[tally->count_200++] =
                fabs(fall_ratio(made, station->along_m, 200) - fall_ratio(truth, on.at_m, 200));
        if (on.at_m + 1000 <= truth->foot_m && at_m + 1000 <= made->length_m &&
            tally->count_1000 < SAMPLES_MAX)
            errors_1000[tally->count_1000++] =
                fabs(fall_ratio(made, station->along_m, 1000) - fall_ratio(truth, on.at_m, 1000));
    }
}

static struct tally measure(const struct receiver *receiver, size_t passes, uint64_t hills)
{
    struct tally tally = {0};
    for (uint64_t seed = 1; seed <= hills; seed++) {
        struct td_rng rng;
        td_rng_seed(&rng, seed, 77);
        random_hill_draw(&hill_drawn, seed);
        const struct td_hill *truth = &hill_drawn.road.hill;
        if (!truth->coached)
            continue;
        struct surveyed *made = surveyed_new();
        for (size_t p = 0; p < passes; p++)
            surveyed_add(made, fixes[p], drive(truth, receiver, p % 2 == 1, &rng, fixes[p]));
        enum td_result result = surveyed_make(made);
        if (result == TD_OK) {
            tally.made++;
            tally.told_200 += fmax(0, made->report.grade_sigma_200);
            tally.told_1000 += fmax(0, made->report.grade_sigma_1000);
            compare(truth, &made->hill, &tally);
        } else if (strstr(made->problem.text, "heights are too noisy") != NULL) {
            tally.refused++;
        } else {
            printf("hill %u: %s\n", (unsigned)seed, made->problem.text);
            tally.made++;
        }
        surveyed_free(&made);
    }
    return tally;
}

static double p95(double *values, size_t count)
{
    if (count == 0)
        return -1;
    qsort(values, count, sizeof *values, by_size);
    return values[(size_t)(0.95 * (double)(count - 1))];
}

/* Prints a row; true when nothing is missed. aim below 0: none. */
static bool row(const struct receiver *receiver, size_t passes, uint64_t hills, double aim_200,
                double aim_1000, bool refuse)
{
    struct tally tally = measure(receiver, passes, hills);
    double off_200 = p95(errors_200, tally.count_200);
    double off_1000 = p95(errors_1000, tally.count_1000);
    printf("| %s | %zu | ", receiver->name, passes);
    if (tally.made == 0) {
        printf("- | - | - | %zu of %zu |\n", tally.refused, tally.refused);
        return refuse;
    }
    printf("%.2f | %.2f | ", off_200 * 100, off_1000 * 100);
    if (passes == 1)
        printf("- |");
    else
        printf("%.2f, %.2f |", 196 * tally.told_200 / (double)tally.made,
               196 * tally.told_1000 / (double)tally.made);
    printf(" %zu of %zu |\n", tally.refused, tally.refused + tally.made);
    bool good = (aim_200 < 0 || off_200 <= aim_200) && (aim_1000 < 0 || off_1000 <= aim_1000);
    /* Noise is estimated, so one in ten may pass for less than it is. */
    double share = (double)tally.refused / (double)(tally.refused + tally.made);
    if (refuse ? share < 0.9 : share > 0.1)
        good = false;
    if (!good)
        printf("MISSED: the row above\n");
    return good;
}

int main(int argc, char **argv)
{
    uint64_t hills = argc > 1 ? (uint64_t)strtoul(argv[1], NULL, 10) : 12;
    static const size_t counts[] = {1, 3, 10};
    bool good = true;
    printf("| heights | passes | p95 over 200 m, %% | p95 over 1 km, %% | told, %% (95 of 100) | "
           "refused |\n|---|---|---|---|---|---|\n");
    for (size_t i = 0; i < 3; i++) {
        good &= row(&barometer, counts[i], hills, counts[i] >= 3 ? 0.003 : -1, -1, false);
        good &= row(&satellite_3, counts[i], hills, -1, counts[i] >= 3 ? 0.005 : -1, false);
        good &= row(&satellite_3_drift, counts[i], hills, -1, counts[i] >= 3 ? 0.005 : -1, false);
        good &= row(&satellite_10, counts[i], hills, -1, -1, true);
    }
    return good ? 0 : 1;
}
