/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recorded tracks through the locator: a plain profile from one pass, and another pass driven down
 * it. The profile here is as simple as can be; making good ones is the survey's work. */
#ifndef TD_TESTS_RECORDED_H
#define TD_TESTS_RECORDED_H

#include <unistd.h>

#include "io/track.h"
#include "support/drive.h"

static inline bool recorded_exists(const char *name)
{
    char path[512];
    (void)snprintf(path, sizeof path, "%s/data/%s", TD_SHARED_DIR, name);
    return access(path, R_OK) == 0;
}

static inline void recorded_read(const char *name, struct td_track *track)
{
    char path[512];
    struct td_problem problem;
    (void)snprintf(path, sizeof path, "%s/data/%s", TD_SHARED_DIR, name);
    if (td_track_read(path, false, track, &problem) != TD_OK) {
        fprintf(stderr, "%s\n", problem.text);
        abort();
    }
}

/* Vertices every 10 m or more, each the mean of the fixes within 2 of it. */
static inline void recorded_road(const struct td_track *track, bool reverse, struct road *road)
{
    memset(road, 0, sizeof *road);
    for (size_t k = 0; k < track->count && road->count < TD_HILL_STATIONS_MAX; k++) {
        size_t i = reverse ? track->count - 1 - k : k;
        size_t low = i < 2 ? 0 : i - 2, high = i + 2 < track->count ? i + 2 : track->count - 1;
        struct td_station mean = {0};
        for (size_t j = low; j <= high; j++) {
            mean.lat_deg += track->fixes[j].lat_deg / (double)(high - low + 1);
            mean.lon_deg += track->fixes[j].lon_deg / (double)(high - low + 1);
            mean.elevation_m += track->fixes[j].altitude_m / (double)(high - low + 1);
        }
        const struct td_station *before = &road->stations[road->count - (road->count > 0)];
        if (road->count == 0 || td_geo_distance_m(before->lat_deg, before->lon_deg, mean.lat_deg,
                                                  mean.lon_deg) >= 10.0)
            road->stations[road->count++] = mean;
    }
    road_done(road);
}

struct recorded_drive {
    long fixes, on_hill, coasting, lost;
    unsigned kept_most; /* seconds in a row at one velocity to 5 cm/s */
    double first_on_m;      /* distance driven when first told; -1 never */
    double told_from_m, told_to_m; /* along, first and last told */
    double backward_most_m; /* largest step back of the told place */
    double offset_p95_m;    /* of the fixes from the told place */
    double last_told_m;
};

/* Feeds every fix at its own time. */
static inline struct recorded_drive recorded_follow(const struct td_track *track,
                                                    const struct road *road)
{
    static double offsets[200000];
    static struct td_locator locator;
    struct td_hill_slot slots[TD_HILL_SLOTS] = {{.handle = 9, .hill = &road->hill}};
    struct recorded_drive result = {.first_on_m = -1.0};
    struct td_frame frame;
    size_t offset_count = 0;
    double driven_m = 0.0;
    td_locator_init(&locator);
    if (!td_frame_init(&frame, road->hill.origin_lat_deg, road->hill.origin_lon_deg))
        abort();
    for (size_t i = 0; i < track->count; i++) {
        struct td_fix *fix = &track->fixes[i];
        int64_t now_ns = TD_NS_PER_S + (fix->utc_ms - track->fixes[0].utc_ms) * TD_NS_PER_MS;
        fix->received_ns = now_ns;
        if (i > 0)
            driven_m += td_geo_distance_m(fix[-1].lat_deg, fix[-1].lon_deg, fix->lat_deg,
                                          fix->lon_deg);
        td_locate_fix(&locator, slots, fix, now_ns);
        struct td_located located = td_located_now(&locator);
        result.fixes++;
        if (locator.smooth.kept > result.kept_most)
            result.kept_most = locator.smooth.kept;
        result.coasting += located.where == TD_WHERE_COASTING;
        result.lost += located.where == TD_WHERE_LOST;
        if (located.where != TD_WHERE_ON_HILL)
            continue;
        if (result.on_hill++ == 0) {
            result.first_on_m = driven_m;
            result.told_from_m = located.along_m;
        } else {
            result.backward_most_m =
                fmax(result.backward_most_m, result.last_told_m - located.along_m);
        }
        result.last_told_m = result.told_to_m = located.along_m;
        struct td_point here;
        size_t piece = td_hill_station_at(&road->hill, located.along_m);
        const struct td_station *a = &road->stations[piece];
        double ratio = (located.along_m - a[0].along_m) / (a[1].along_m - a[0].along_m);
        if (td_frame_point(&frame, fix->lat_deg, fix->lon_deg, &here) && offset_count < 200000)
            offsets[offset_count++] =
                hypot(here.x_m - a[0].x_m - ratio * (a[1].x_m - a[0].x_m),
                      here.y_m - a[0].y_m - ratio * (a[1].y_m - a[0].y_m));
    }
    if (offset_count > 0) {
        qsort(offsets, offset_count, sizeof offsets[0], drive_by_size);
        result.offset_p95_m = offsets[(size_t)(0.95 * (double)(offset_count - 1))];
    }
    return result;
}

static inline void recorded_print(const char *name, const struct recorded_drive *d)
{
    printf("%s: %ld fixes, on hill %ld, told after %.0f m, along %.0f to %.0f m, most backward "
           "%.1f m, place p95 %.1f m, coasting %ld, lost %ld\n",
           name, d->fixes, d->on_hill, d->first_on_m, d->told_from_m, d->told_to_m,
           d->backward_most_m, d->offset_p95_m, d->coasting, d->lost);
}

#endif
