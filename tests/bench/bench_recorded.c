/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_recorded: the locator on recorded drives. Profiles come from one pass through the survey,
 * and another pass is driven; drives that are no hill are driven with a library of them near, with
 * hills laid across their own road, and with their own road laid beside it. Nobody surveyed these
 * roads: an error here is between passes. Exit 1 when a hill is told that the drive is not on. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/recorded.h"
#include "support/surveyed.h"

enum { PROFILES_MAX = 40, LOOKS_MAX = 20000 };

struct profile {
    char name[64];
    struct td_station stations[TD_HILL_STATIONS_MAX];
    struct td_hill hill;
};

struct outcome {
    long fixes, told, starts; /* starts: times a hill began to be told */
    long apart; /* of the starts: where the drive had not kept to its road for 200 m */
    size_t first;             /* profile told first */
    double km, told_after_m, told_after_s;
    double along_m[LOOKS_MAX]; /* told place from the fix's own place on the profile */
    size_t look_count;
};

static struct profile *profiles[PROFILES_MAX];
static size_t profile_count;
static struct outcome outcome;

/* The survey of one recorded track, NULL when it holds no descent. */
static struct profile *survey(const char *name, bool reverse)
{
    struct surveyed *made = surveyed_new();
    struct profile *profile = calloc(1, sizeof *profile);
    if (profile == NULL)
        abort();
    surveyed_read(made, name);
    made->options.reverse = reverse;
    enum td_result result = surveyed_make(made);
    memcpy(profile->stations, made->stations, sizeof profile->stations);
    profile->hill = made->hill;
    profile->hill.stations = profile->stations;
    (void)snprintf(profile->name, sizeof profile->name, "%s%s", name,
                   reverse ? " reversed" : "");
    profile->hill.id = profile->hill.name = profile->name;
    surveyed_free(&made);
    if (result == TD_OK)
        return profile;
    free(profile);
    return NULL;
}

static double nearest_m(const struct profile *profile, const struct td_fix *fix)
{
    double least_m = HUGE_VAL;
    for (size_t i = 0; i < profile->hill.station_count; i += 8)
        least_m = fmin(least_m, td_geo_distance_m(profile->stations[i].lat_deg,
                                                  profile->stations[i].lon_deg, fix->lat_deg,
                                                  fix->lon_deg));
    return least_m;
}

/* Hills in hand as the coach has them: those within 6 km, looked for every kilometre. */
static void fill_slots(struct td_locator *locator, struct td_hill_slot *slots,
                       const struct td_fix *fix)
{
    size_t used = 0;
    struct td_hill_slot now[TD_HILL_SLOTS] = {{0}};
    for (size_t i = 0; i < profile_count && used < TD_HILL_SLOTS; i++)
        if (nearest_m(profiles[i], fix) < 6000)
            now[used++] = (struct td_hill_slot){(uint32_t)i + 1, &profiles[i]->hill};
    for (size_t i = 0; i < TD_HILL_SLOTS; i++) {
        bool stays = false;
        for (size_t k = 0; k < used; k++)
            stays |= now[k].handle == slots[i].handle;
        if (slots[i].handle != 0 && !stays)
            td_locate_forget(locator, slots[i].handle);
    }
    memcpy(slots, now, sizeof now);
}

/* How far along the profile the told place is from where the fix itself lies on it. */
static void look(const struct profile *profile, const struct td_fix *fix, double told_m)
{
    struct td_frame frame;
    struct td_point point;
    if (outcome.look_count == LOOKS_MAX ||
        !td_frame_init(&frame, profile->hill.origin_lat_deg, profile->hill.origin_lon_deg) ||
        !td_frame_point(&frame, fix->lat_deg, fix->lon_deg, &point))
        return;
    double least_m = HUGE_VAL, along_m = told_m;
    for (size_t i = td_hill_station_at(&profile->hill, told_m - 60);
         i + 1 < profile->hill.station_count && profile->stations[i].along_m < told_m + 60; i++) {
        const struct td_station *a = &profile->stations[i];
        struct td_foot_point foot =
            td_geo_project((struct td_point){a[0].x_m, a[0].y_m},
                           (struct td_point){a[1].x_m, a[1].y_m}, point);
        if (foot.distance_m < least_m) {
            least_m = foot.distance_m;
            along_m = a[0].along_m + foot.ratio * (a[1].along_m - a[0].along_m);
        }
    }
    outcome.along_m[outcome.look_count++] = fabs(told_m - along_m);
}

/* Whether the drive ran within 64 m (8 sigma of a receiver that tells none) of the profile's road
 * and its way, over the last 200 m. */
static bool ran_along(const struct profile *profile, const struct td_track *track, size_t at)
{
    struct td_frame frame;
    double back_m = 0;
    if (!td_frame_init(&frame, profile->hill.origin_lat_deg, profile->hill.origin_lon_deg))
        return false;
    for (size_t i = at; i > 0 && back_m < 200; i--) {
        const struct td_fix *fix = &track->fixes[i];
        struct td_point point;
        double least_m = HUGE_VAL;
        double heading = td_geo_bearing_deg(fix[-1].lat_deg, fix[-1].lon_deg, fix->lat_deg,
                                            fix->lon_deg);
        double step_m = td_geo_distance_m(fix[-1].lat_deg, fix[-1].lon_deg, fix->lat_deg,
                                          fix->lon_deg);
        back_m += step_m;
        if (step_m < 3 || !td_frame_point(&frame, fix->lat_deg, fix->lon_deg, &point))
            continue;
        for (size_t k = 0; k + 1 < profile->hill.station_count; k++) {
            const struct td_station *a = &profile->stations[k];
            double course = td_deg_from_rad(atan2(a[1].x_m - a[0].x_m, a[1].y_m - a[0].y_m));
            if (fabs(td_geo_turn_deg(course - heading)) < 45)
                least_m = fmin(least_m, td_geo_project((struct td_point){a[0].x_m, a[0].y_m},
                                                       (struct td_point){a[1].x_m, a[1].y_m},
                                                       point).distance_m);
        }
        if (least_m > 8 * TD_LOCATE_SIGMA_M)
            return false;
    }
    return true;
}

/* One track, fix by fix at its own times, with the profiles in hand. */
static void follow(const struct td_track *track)
{
    static struct td_locator locator;
    struct td_hill_slot slots[TD_HILL_SLOTS] = {{0}};
    double driven_m = 0, filled_m = -1e9;
    uint32_t before = 0;
    memset(&outcome, 0, sizeof outcome);
    td_locator_init(&locator);
    for (size_t i = 0; i < track->count; i++) {
        const struct td_fix *fix = &track->fixes[i];
        int64_t at_ms = fix->utc_ms - track->fixes[0].utc_ms;
        if (i > 0)
            driven_m += td_geo_distance_m(fix[-1].lat_deg, fix[-1].lon_deg, fix->lat_deg,
                                          fix->lon_deg);
        if (driven_m - filled_m > 1000) {
            fill_slots(&locator, slots, fix);
            filled_m = driven_m;
        }
        struct td_fix received = *fix;
        received.received_ns = TD_NS_PER_S + at_ms * TD_NS_PER_MS;
        td_locate_fix(&locator, slots, &received, received.received_ns);
        struct td_located located = td_located_now(&locator);
        bool told = located.where == TD_WHERE_ON_HILL || located.where == TD_WHERE_COASTING;
        outcome.fixes++;
        if (told && outcome.told++ == 0) {
            outcome.told_after_m = driven_m;
            outcome.told_after_s = 1e-3 * (double)at_ms;
            outcome.first = located.handle - 1;
        }
        if (told && located.handle != before) {
            outcome.starts++;
            outcome.apart += !ran_along(profiles[located.handle - 1], track, i);
        }
        before = told ? located.handle : 0;
        if (told)
            look(profiles[located.handle - 1], fix, located.along_m);
    }
    outcome.km = driven_m / 1000;
}

static double along_share_m(double share)
{
    if (outcome.look_count == 0)
        return 0;
    qsort(outcome.along_m, outcome.look_count, sizeof outcome.along_m[0], drive_by_size);
    return outcome.along_m[(size_t)(share * (double)(outcome.look_count - 1))];
}

static struct profile *the_one(struct profile *profile)
{
    profile_count = 1;
    return profiles[0] = profile;
}

/* A pass driven on the profile of another; true when it came out as it must. */
static bool pass(const char *from, bool reverse, const char *drive_name, bool is_hill)
{
    struct profile *profile = the_one(survey(from, reverse));
    if (profile == NULL) {
        printf("%s: no profile\n", from);
        return false;
    }
    struct td_track track = {0};
    recorded_read(drive_name, &track);
    follow(&track);
    td_track_free(&track);
    free(profile);
    bool well = is_hill == (outcome.told > 0);
    if (is_hill)
        printf("%s %-38s on %-40s told after %4.0f m %4.0f s, %4ld of %4ld fixes, along p50 %.1f "
               "p95 %.1f max %.1f m\n", well ? " " : "!", drive_name, from, outcome.told_after_m,
               outcome.told_after_s, outcome.told, outcome.fixes, along_share_m(0.5),
               along_share_m(0.95), along_share_m(1));
    else if (!well)
        printf("! %s told on %s, %ld fixes\n", drive_name, from, outcome.told);
    return well;
}

static bool passes(void)
{
    static const char *const downs[] = {
        "repeat-hill/down-2024-01-28.tpv.json", "repeat-hill/down-2024-04-20.tpv.json",
        "repeat-hill/down-2024-05-03.tpv.json", "repeat-hill/down-2024-07-06.tpv.json",
        "repeat-hill/down-2024-12-29.tpv.json"};
    static const char *const ups[] = {"repeat-hill/up-2024-01-28.tpv.json",
                                      "repeat-hill/up-2024-06-02.tpv.json",
                                      "repeat-hill/up-2024-07-06.tpv.json"};
    bool well = true;
    for (size_t p = 0; p < 5; p++) {
        for (size_t q = 0; q < 5; q++)
            if (q != p)
                well &= pass(downs[p], false, downs[q], true);
        for (size_t q = 0; q < 3; q++)
            well &= pass(downs[p], false, ups[q], false);
    }
    well &= pass("hairpins/climb.gpx", true, "hairpins/descent.gpx", true);
    well &= pass("hairpins/descent.gpx", false, "hairpins/climb.gpx", false);
    well &= pass("both-ways/up.tpv.json", true, "both-ways/down.tpv.json", true);
    well &= pass("both-ways/down.tpv.json", false, "both-ways/up.tpv.json", false);
    well &= pass("both-ways/up.tpv.json", true, "both-ways/other-down.tpv.json", false);
    return well;
}

static void drop_profiles(void)
{
    while (profile_count > 0)
        free(profiles[--profile_count]);
}

/* Every descent of the road lines, either way, and of the other recorded hills. */
static void library(void)
{
    static const char *const lines[] = {"CG_1_0", "CG_1_1", "CG_1_3", "CG_2_0", "CG_2_1",
                                        "CG_2_2", "CG_2_3", "CG_3_1", "CG_3_6", "CG_4_0",
                                        "CG_4_1", "CG_5_0", "CG_6_2"};
    size_t asked = 0;
    profile_count = 0;
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        for (int reverse = 0; reverse < 2; reverse++) {
            char name[64];
            (void)snprintf(name, sizeof name, "road-lines/%s.gpx", lines[i]);
            struct profile *profile = survey(name, reverse != 0);
            asked++;
            if (profile != NULL)
                profiles[profile_count++] = profile;
        }
    printf("library: %zu profiles of %zu road lines and directions\n", profile_count, asked);
}

static const char *const not_hills[] = {"motorway/trip-1-phone.tpv.json",
                                        "motorway/trip-1-usb.tpv.json",
                                        "motorway/trip-2-phone.tpv.json",
                                        "ten-hertz/car.tpv.json"};

enum { NOT_HILLS = sizeof not_hills / sizeof *not_hills };

/* Moves a profile so that its middle lies on a fix, at that angle to the drive there. */
static bool lay_across(struct profile *profile, const struct profile *from,
                       const struct td_fix *at, double angle_rad)
{
    struct td_problem problem;
    size_t count = from->hill.station_count, middle = count / 2;
    const struct td_station *a = &from->stations[middle - 1], *b = &from->stations[middle + 1];
    double turn_rad = td_rad_from_deg(90 - at->track_deg) + angle_rad -
                      atan2(b->y_m - a->y_m, b->x_m - a->x_m);
    memset(&profile->hill, 0, sizeof profile->hill);
    double metre = 180 / TD_PI / 6371008.8;
    for (size_t i = 0; i < count; i++) {
        double x = from->stations[i].x_m - from->stations[middle].x_m;
        double y = from->stations[i].y_m - from->stations[middle].y_m;
        double east = x * cos(turn_rad) - y * sin(turn_rad);
        double north = x * sin(turn_rad) + y * cos(turn_rad);
        profile->stations[i] = (struct td_station){
            .lat_deg = at->lat_deg + north * metre,
            .lon_deg = at->lon_deg + east * metre / cos(td_rad_from_deg(at->lat_deg)),
            .elevation_m = from->stations[i].elevation_m,
        };
    }
    profile->hill.stations = profile->stations;
    profile->hill.station_count = count;
    profile->hill.id = profile->hill.name = "across";
    return td_hill_derive(&profile->hill, profile->stations, &problem) == TD_OK;
}

/* The library's hills thrown across the drive's own road, one at a time, at 30 to 150 degrees.
 * (They wind: elsewhere they may yet run along it, which is a matter of chance.) */
static long thrown_across(const struct td_track *track, struct td_rng *rng, double *km, int times,
                          long *apart)
{
    struct profile *kept[PROFILES_MAX];
    size_t count = profile_count;
    long told = 0;
    struct profile *laid = calloc(1, sizeof *laid);
    if (laid == NULL)
        abort();
    memcpy(kept, profiles, sizeof kept);
    for (int i = 0; i < times; i++) {
        const struct td_fix *at = &track->fixes[td_rng_below(rng, (uint32_t)track->count)];
        const struct profile *from = kept[td_rng_below(rng, (uint32_t)count)];
        double angle = td_rng_between(rng, TD_PI / 6, TD_PI * 5 / 6);
        angle = td_rng_below(rng, 2) == 0 ? angle : -angle;
        if ((at->has & TD_FIX_TRACK) == 0 || !lay_across(laid, from, at, angle))
            continue;
        (void)the_one(laid);
        follow(track);
        told += outcome.starts;
        *km += outcome.km;
        *apart += outcome.apart;
        if (outcome.apart > 0)
            printf("  told: %s thrown at %.6f, %.6f, %.0f degrees to the drive, after %.0f m, %ld "
                   "fixes\n", from->name, at->lat_deg, at->lon_deg, td_deg_from_rad(angle),
                   outcome.told_after_m, outcome.told);
    }
    memcpy(profiles, kept, sizeof kept);
    profile_count = count;
    free(laid);
    return told;
}

/* The drive's own road, that far to the left of it, falling at 6 %. */
static bool lay_beside(struct profile *profile, const struct td_track *track, double aside_m)
{
    struct td_problem problem;
    double metre = 180 / TD_PI / 6371008.8;
    size_t count = 0;
    memset(&profile->hill, 0, sizeof profile->hill);
    for (size_t i = 10; i + 10 < track->count && count < TD_HILL_STATIONS_MAX; i++) {
        const struct td_fix *a = &track->fixes[i - 10], *b = &track->fixes[i + 10];
        double lat = 0, lon = 0;
        for (size_t k = i - 2; k <= i + 2; k++) {
            lat += track->fixes[k].lat_deg / 5;
            lon += track->fixes[k].lon_deg / 5;
        }
        double left = td_rad_from_deg(td_geo_bearing_deg(a->lat_deg, a->lon_deg, b->lat_deg,
                                                         b->lon_deg) - 90);
        lat += aside_m * cos(left) * metre;
        lon += aside_m * sin(left) * metre / cos(td_rad_from_deg(lat));
        const struct td_station *last = &profile->stations[count > 0 ? count - 1 : 0];
        if (count > 0 && td_geo_distance_m(last->lat_deg, last->lon_deg, lat, lon) < 20)
            continue;
        profile->stations[count] = (struct td_station){
            .lat_deg = lat, .lon_deg = lon, .elevation_m = 8000 - 1.2 * (double)(count % 6000)};
        count++;
        if (count == 500) /* ten kilometres and more are enough */
            break;
    }
    profile->hill.stations = profile->stations;
    profile->hill.station_count = count;
    profile->hill.id = profile->hill.name = "beside";
    return td_hill_derive(&profile->hill, profile->stations, &problem) == TD_OK;
}

static void beside(void)
{
    static const double asides_m[] = {0, 10, 15, 20, 25, 30, 40, 60, 100};
    struct profile *laid = calloc(1, sizeof *laid);
    if (laid == NULL)
        abort();
    printf("a drive's own road on file, so far aside (m), fixes told against those told at 0 m "
           "(no receiver here tells its sigma):\n");
    for (size_t t = 0; t < 3; t++) {
        struct td_track track = {0};
        recorded_read(not_hills[t], &track);
        printf("  %-32s", not_hills[t]);
        long at_0 = 1;
        for (size_t i = 0; i < sizeof asides_m / sizeof *asides_m; i++) {
            if (!lay_beside(laid, &track, asides_m[i]))
                continue;
            (void)the_one(laid);
            follow(&track);
            at_0 = i == 0 ? outcome.told : at_0;
            printf("  %.0f: %.0f %%", asides_m[i],
                   100.0 * (double)outcome.told / fmax(1, (double)at_0));
        }
        printf("\n");
        td_track_free(&track);
    }
    free(laid);
    profile_count = 0;
}

static bool not_told(int times)
{
    struct td_rng rng;
    double km = 0, thrown_km = 0;
    long told = 0, thrown = 0, apart = 0;
    td_rng_seed(&rng, 20261125, 3);
    library();
    if (profile_count == 0)
        return false;
    for (size_t t = 0; t < NOT_HILLS; t++) {
        struct td_track track = {0};
        recorded_read(not_hills[t], &track);
        follow(&track);
        told += outcome.starts;
        km += outcome.km;
        thrown += thrown_across(&track, &rng, &thrown_km, times, &apart);
        td_track_free(&track);
    }
    drop_profiles();
    printf("drives that are no hill: %ld told in %.0f km; with hills thrown across their road: "
           "%ld told where the two ran together for 200 m, %ld elsewhere, in %.0f km\n", told, km,
           thrown - apart, apart, thrown_km);
    return told == 0 && apart == 0;
}

int main(int argc, char **argv)
{
    if (!recorded_exists("hairpins/climb.gpx")) {
        printf("SKIPPED: recorded tracks are not there (%s/data)\n", TD_SHARED_DIR);
        return 77;
    }
    int times = argc > 1 ? (int)strtol(argv[1], NULL, 10) : 40;
    bool well = passes();
    well &= not_told(times);
    beside();
    printf("%s\n", well ? "every drive came out as it must" : "some drive did not");
    return well ? 0 : 1;
}
