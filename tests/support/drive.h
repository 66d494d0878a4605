/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A truck with a known place, a receiver with a wandering error, and the locator behind it. The
 * error is a first-order Gauss-Markov process in each axis: what a receiver does over minutes. */
#ifndef TD_TESTS_DRIVE_H
#define TD_TESTS_DRIVE_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/road.h"
#include "talkdown/geo.h"
#include "talkdown/locate.h"
#include "talkdown/rng.h"

enum { DRIVE_ERRORS_MAX = 60000 };

struct drive {
    struct td_locator locator;
    struct td_hill_slot slots[TD_HILL_SLOTS];
    struct td_rng rng;
    int64_t now_ns;
    double error_m[2]; /* east, north */
    double bias_m[2];  /* the same, of an error that stays */
    double sigma_m, tau_s, rate_hz;
    double claim;      /* sigma told over the true one */
    double road_ratio; /* length of the road over that of its line on file */
    bool tells_sigma, tells_speed, tells_track, tells_height;
    double height_m, height_error_m, height_bias_m; /* truth; wandering; of this day */
    /* What came of it. */
    long fixes, on_hill, wrong; /* wrong: told off by more than wrong_m, or on the wrong hill */
    double wrong_m;
    double first_on_m;          /* true distance along where first on the hill; -1 never */
    double errors_m[DRIVE_ERRORS_MAX];
    size_t error_count;
};

static inline void drive_begin(struct drive *drive, double sigma_m, double rate_hz,
                               unsigned long seed)
{
    memset(drive, 0, sizeof *drive);
    td_locator_init(&drive->locator);
    td_rng_seed(&drive->rng, seed, 7);
    drive->sigma_m = sigma_m;
    drive->tau_s = 60.0;
    drive->rate_hz = rate_hz;
    drive->claim = drive->road_ratio = 1.0;
    drive->tells_sigma = drive->tells_speed = drive->tells_track = true;
    drive->tells_height = true;
    drive->height_error_m = 6.0 * td_rng_normal(&drive->rng);
    drive->height_bias_m = 25.0 * td_rng_normal(&drive->rng);
    drive->first_on_m = -1.0;
    drive->wrong_m = 60.0;
    drive->error_m[0] = sigma_m * td_rng_normal(&drive->rng);
    drive->error_m[1] = sigma_m * td_rng_normal(&drive->rng);
    drive->now_ns = 5 * TD_NS_PER_S;
}

static inline void drive_put(struct drive *drive, unsigned slot, const struct road *road)
{
    drive->slots[slot].handle = slot + 1;
    drive->slots[slot].hill = &road->hill;
}

static inline void drive_wander(struct drive *drive, double dt_s)
{
    double keep = exp(-dt_s / drive->tau_s);
    for (int axis = 0; axis < 2; axis++)
        drive->error_m[axis] = drive->error_m[axis] * keep +
                               drive->sigma_m * sqrt(1.0 - keep * keep) *
                                   td_rng_normal(&drive->rng);
    drive->height_error_m =
        drive->height_error_m * keep + 6.0 * sqrt(1.0 - keep * keep) * td_rng_normal(&drive->rng);
}

/* A fix of a true place, now. */
static inline struct td_fix drive_make_fix(struct drive *drive, double lat_deg, double lon_deg,
                                           double speed_mps, double track_deg)
{
    struct td_fix fix = {.received_ns = drive->now_ns,
                         .has = TD_FIX_POSITION | TD_FIX_UTC,
                         .utc_ms = 1700000000000LL + drive->now_ns / TD_NS_PER_MS};
    double metre = 180.0 / TD_PI / 6371008.8;
    fix.lat_deg = lat_deg + (drive->error_m[1] + drive->bias_m[1]) * metre;
    fix.lon_deg = lon_deg + (drive->error_m[0] + drive->bias_m[0]) * metre /
                                cos(td_rad_from_deg(lat_deg));
    if (drive->tells_height) {
        fix.has |= TD_FIX_ALTITUDE;
        fix.altitude_m = drive->height_m + drive->height_error_m + drive->height_bias_m;
    }
    if (drive->tells_sigma) {
        fix.has |= TD_FIX_SIGMA;
        fix.sigma_m = drive->sigma_m * drive->claim;
    }
    if (drive->tells_speed) {
        fix.has |= TD_FIX_SPEED;
        fix.speed_mps = fmax(0.0, speed_mps + 0.2 * td_rng_normal(&drive->rng));
    }
    if (drive->tells_track) {
        double noise = speed_mps > 0.5 ? 1.5 / fmax(1.0, speed_mps) * 10.0 : 180.0;
        fix.has |= TD_FIX_TRACK;
        fix.track_deg = fmod(track_deg + noise * td_rng_normal(&drive->rng) + 3600.0, 360.0);
    }
    return fix;
}

static inline void drive_tick(struct drive *drive, double dt_s)
{
    drive->now_ns += (int64_t)(dt_s * 1e9);
    td_locate_tick(&drive->locator, drive->slots, drive->now_ns);
}

/* Place and course (1 down, -1 up) of a road, `aside_m` to the left of the way down. */
static inline void drive_place(const struct road *road, double along_m, int direction,
                               double aside_m, double *lat_deg, double *lon_deg, double *track_deg)
{
    const struct td_station *a = &road->stations[td_hill_station_at(&road->hill, along_m)];
    double ratio = (along_m - a[0].along_m) / (a[1].along_m - a[0].along_m);
    double course = td_geo_bearing_deg(a[0].lat_deg, a[0].lon_deg, a[1].lat_deg, a[1].lon_deg);
    double left = td_rad_from_deg(course - 90.0), metre = 180.0 / TD_PI / 6371008.8;
    *lat_deg = a[0].lat_deg + ratio * (a[1].lat_deg - a[0].lat_deg) + aside_m * cos(left) * metre;
    *lon_deg = a[0].lon_deg + ratio * (a[1].lon_deg - a[0].lon_deg) +
               aside_m * sin(left) * metre / cos(td_rad_from_deg(*lat_deg));
    *track_deg = direction > 0 ? course : fmod(course + 180.0, 360.0);
}

/* Books what the locator told when the truth was `along_m` on the hill with `handle` (0: on no
 * hill, or going up). */
static inline void drive_book(struct drive *drive, uint32_t handle, double along_m)
{
    struct td_located located = td_located_now(&drive->locator);
    drive->fixes++;
    if (located.where != TD_WHERE_ON_HILL && located.where != TD_WHERE_COASTING)
        return;
    drive->on_hill++;
    if (located.handle != handle || fabs(located.along_m - along_m) > drive->wrong_m) {
        drive->wrong++;
        return;
    }
    if (drive->first_on_m < 0.0)
        drive->first_on_m = along_m;
    if (drive->error_count < DRIVE_ERRORS_MAX)
        drive->errors_m[drive->error_count++] = fabs(located.along_m - along_m);
}

/* Drives a road from one distance along to another (backwards: up). `handle` names the hill that
 * this road is, 0 when it is none of those on file. */
static inline void drive_road(struct drive *drive, const struct road *road, uint32_t handle,
                              double from_m, double to_m, double speed_mps, double aside_m)
{
    double dt_s = 1.0 / drive->rate_hz;
    int direction = to_m > from_m ? 1 : -1;
    for (double along = from_m; (to_m - along) * direction > 0.0;
         along += direction * speed_mps * dt_s / drive->road_ratio) {
        double lat, lon, track;
        drive_place(road, along, direction, aside_m, &lat, &lon, &track);
        drive->height_m = td_hill_elevation_at(&road->hill, along);
        drive_wander(drive, dt_s);
        drive_tick(drive, dt_s);
        struct td_fix fix = drive_make_fix(drive, lat, lon, speed_mps, track);
        td_locate_fix(&drive->locator, drive->slots, &fix, drive->now_ns);
        drive_book(drive, direction > 0 ? handle : 0, along);
    }
}

/* Stands at a place of a road. */
static inline void drive_stand(struct drive *drive, const struct road *road, uint32_t handle,
                               double along_m, double seconds, double aside_m)
{
    double dt_s = 1.0 / drive->rate_hz, lat, lon, track;
    drive_place(road, along_m, 1, aside_m, &lat, &lon, &track);
    drive->height_m = td_hill_elevation_at(&road->hill, along_m);
    for (double t = 0.0; t < seconds; t += dt_s) {
        drive_wander(drive, dt_s);
        drive_tick(drive, dt_s);
        struct td_fix fix = drive_make_fix(drive, lat, lon, 0.0, track);
        td_locate_fix(&drive->locator, drive->slots, &fix, drive->now_ns);
        drive_book(drive, handle, along_m);
    }
}

static inline enum td_where drive_where(const struct drive *drive)
{
    return td_located_now(&drive->locator).where;
}

static inline int drive_by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Error that a share of the booked fixes stays under. Sorts. */
static inline double drive_error_m(struct drive *drive, double share)
{
    if (drive->error_count == 0)
        return (double)INFINITY;
    qsort(drive->errors_m, drive->error_count, sizeof drive->errors_m[0], drive_by_size);
    return drive->errors_m[(size_t)(share * (double)(drive->error_count - 1))];
}

#endif
