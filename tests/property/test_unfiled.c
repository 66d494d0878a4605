/* SPDX-License-Identifier: GPL-3.0-or-later */
/* "Grade not on file": found on descents of recorded drives whose hill is left off, never on their
 * way up, on flat motorways, or where the hill is on file; and on long simulated roads that roll by
 * less than 4 %, with a receiver's height errors. Nobody surveyed the recorded roads: where a grade
 * begins is not known, only that there is one. */
#include <math.h>

#include "support/cm.h"
#include "support/recorded.h"
#include "support/seed.h"
#include "support/unfiled_drive.h"
#include "sim/gnss.h"

static struct unfiled_drive drive;
static struct road road;

/* Fall of the recorded height over the kilometre before a place of the drive. */
static double fall_m(const struct td_track *track, double at_m)
{
    double driven_m = 0, before_m = track->fixes[0].altitude_m;
    for (size_t i = 1; i < track->count; i++) {
        const struct td_fix *fix = &track->fixes[i];
        driven_m += td_geo_distance_m(fix[-1].lat_deg, fix[-1].lon_deg, fix->lat_deg,
                                      fix->lon_deg);
        if (driven_m < at_m - 1000)
            before_m = fix->altitude_m;
        if (driven_m >= at_m)
            return before_m - fix->altitude_m;
    }
    return 0;
}

/* Wherever it is said, the road has really fallen. */
static void follow(const char *name, const struct td_hill *hill)
{
    struct td_track track = {0};
    recorded_read(name, &track);
    unfiled_begin(&drive, hill);
    for (size_t i = 0; i < track.count; i++)
        unfiled_fix(&drive, &track.fixes[i],
                    2 * TD_NS_PER_S +
                        (track.fixes[i].utc_ms - track.fixes[0].utc_ms) * TD_NS_PER_MS);
    printf("%s: %.1f km, said %u", name, drive.driven_m / 1000, drive.said);
    for (unsigned i = 0; i < drive.said && i < UNFILED_SAID_MAX; i++)
        printf(", at %.2f km after a fall of %.0f m in the last", drive.said_m[i] / 1000,
               fall_m(&track, drive.said_m[i]));
    puts("");
    for (unsigned i = 0; i < drive.said && i < UNFILED_SAID_MAX; i++)
        assert_true(fall_m(&track, drive.said_m[i]) >= 40);
    unfiled_end(&drive);
    td_track_free(&track);
}

static bool here(const char *name)
{
    if (recorded_exists(name))
        return true;
    printf("SKIPPED: recorded tracks are not there (%s/data)\n", TD_SHARED_DIR);
    return false;
}

static void found_on_recorded_descents(void **state)
{
    (void)state;
    static const char *const downs[] = {
        "long-descent/descent.gpx", "hairpins/descent.gpx", "both-ways/down.tpv.json",
        "both-ways/other-down.tpv.json"};
    for (size_t i = 0; i < sizeof downs / sizeof *downs; i++) {
        if (!here(downs[i]))
            skip();
        follow(downs[i], NULL);
        assert_true(drive.said >= 1);
    }
}

/* 2.15 km of 6 %: long enough for four or five of the five days. */
static void found_on_a_short_hill_on_most_days(void **state)
{
    (void)state;
    static const char *const downs[] = {
        "repeat-hill/down-2024-01-28.tpv.json", "repeat-hill/down-2024-04-20.tpv.json",
        "repeat-hill/down-2024-05-03.tpv.json", "repeat-hill/down-2024-07-06.tpv.json",
        "repeat-hill/down-2024-12-29.tpv.json"};
    unsigned found = 0;
    for (size_t i = 0; i < 5; i++) {
        if (!here(downs[i]))
            skip();
        follow(downs[i], NULL);
        assert_true(drive.said <= 1);
        found += drive.said;
    }
    assert_true(found >= 4);
}

static void never_up_nor_on_the_flat(void **state)
{
    (void)state;
    static const char *const tracks[] = {
        "motorway/trip-1-phone.tpv.json", "motorway/trip-1-usb.tpv.json",
        "motorway/trip-2-phone.tpv.json", "ten-hertz/car.tpv.json",
        "both-ways/up.tpv.json"};
    for (size_t i = 0; i < sizeof tracks / sizeof *tracks; i++) {
        if (!here(tracks[i]))
            skip();
        follow(tracks[i], NULL);
        assert_int_equal(drive.said, 0);
    }
}

static void never_on_a_hill_on_file(void **state)
{
    (void)state;
    struct td_track pass = {0};
    if (!here("hairpins/climb.gpx"))
        skip();
    recorded_read("hairpins/climb.gpx", &pass);
    recorded_road(&pass, true, &road);
    td_track_free(&pass);
    follow("hairpins/descent.gpx", &road.hill);
    assert_true(drive.on_hill > 100);
    assert_int_equal(drive.said, 0);
    recorded_read("repeat-hill/down-2024-01-28.tpv.json", &pass);
    recorded_road(&pass, false, &road);
    td_track_free(&pass);
    follow("repeat-hill/down-2024-05-03.tpv.json", &road.hill);
    assert_true(drive.on_hill > 100);
    assert_int_equal(drive.said, 0);
}

/* These rides go down the other side in the end. */
static void never_before_the_top(void **state)
{
    (void)state;
    static const char *const ups[] = {"repeat-hill/up-2024-01-28.tpv.json",
                                      "repeat-hill/up-2024-06-02.tpv.json",
                                      "repeat-hill/up-2024-07-06.tpv.json",
                                      "hairpins/climb.gpx"};
    for (size_t i = 0; i < sizeof ups / sizeof *ups; i++) {
        if (!here(ups[i]))
            skip();
        follow(ups[i], NULL);
        assert_true(drive.said == 0 || drive.said_m[0] > 3500);
    }
}

/* --- simulated roads --- */

enum { STATIONS = 8000 };
#define SPACING_M 25.0

static struct td_station stations[STATIONS];
static struct td_hill line;

/* Heads east by about a degree of longitude in 70 km, swaying. Grades as the caller draws them. */
static void lay(struct td_rng *rng, double (*grade)(struct td_rng *, double at_m, void *), void *of)
{
    double lat = -47.0, lon = -140.0, height_m = 1500, heading = 1.2;
    double m_per_deg = 111200.0;
    for (size_t i = 0; i < STATIONS; i++) {
        stations[i] = (struct td_station){.along_m = SPACING_M * (double)i, .lat_deg = lat,
                                          .lon_deg = lon, .elevation_m = height_m};
        heading += td_rng_between(rng, -0.05, 0.05) - 0.05 * (heading - 1.2);
        lat += SPACING_M * cos(heading) / m_per_deg;
        lon += SPACING_M * sin(heading) / (m_per_deg * cos(td_rad_from_deg(lat)));
        height_m -= SPACING_M * grade(rng, stations[i].along_m, of);
    }
    line = (struct td_hill){.stations = stations, .station_count = STATIONS,
                            .length_m = stations[STATIONS - 1].along_m};
}

struct rolling {
    double to_m, ratio, fallen_m;
};

/* Pieces of 0.3 to 4 km, falling and rising by less than 4 % in turn. */
static double roll(struct td_rng *rng, double at_m, void *of)
{
    struct rolling *rolling = of;
    if (at_m >= rolling->to_m) {
        rolling->to_m = at_m + td_rng_between(rng, 300, 4000);
        bool down = rolling->fallen_m < 0 || (rolling->fallen_m < 600 && td_rng_below(rng, 2) != 0);
        rolling->ratio = (down ? 1 : -1) * td_rng_between(rng, 0, 0.039);
    }
    rolling->fallen_m += SPACING_M * rolling->ratio;
    return rolling->ratio;
}

static void run(const struct td_gnss_options *options, uint64_t seed, double to_m)
{
    struct td_truck truck = {.hill = &line, .speed_mps = 20};
    struct td_gnss gnss;
    struct td_rng rng;
    int64_t now_ns = 2 * TD_NS_PER_S;
    double wanted_mps = 20;
    td_rng_seed(&rng, seed, 0x756e6669U);
    td_gnss_init(&gnss, options, seed, now_ns, 1700000000000);
    unfiled_begin(&drive, NULL);
    while (truck.along_m < to_m) {
        struct td_fix fix;
        if (td_rng_below(&rng, 60) == 0)
            wanted_mps = td_rng_between(&rng, 8, 30);
        truck.speed_mps += fmax(-1, fmin(1, wanted_mps - truck.speed_mps));
        truck.along_m += truck.speed_mps;
        now_ns += TD_NS_PER_S;
        if (td_gnss_fix(&gnss, &truck, now_ns, &fix))
            unfiled_fix(&drive, &fix, now_ns);
    }
    unfiled_end(&drive);
}

static void hardly_ever_on_a_rolling_road(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "unfiled_rolling", 1);
    static const double sigmas_m[] = {3, 6, 9}, most[] = {1, 3, 12}; /* in 1,000 km */
    for (size_t k = 0; k < 3; k++) {
        double km = 0;
        unsigned said = 0;
        for (int i = 0; i < 10; i++) {
            struct td_gnss_options options = td_gnss_options_default();
            struct rolling rolling = {0};
            lay(&rng, roll, &rolling);
            options.altitude_sigma_m = sigmas_m[k];
            run(&options, td_rng_u32(&rng), line.length_m - 100);
            km += drive.driven_m / 1000;
            said += drive.said;
        }
        printf("rolling under 4 %%, height errors of %.0f m: %u in %.0f km, %.2f in 1,000 km\n",
               sigmas_m[k], said, km, 1000 * said / km);
        assert_true(said <= most[k] * km / 1000);
    }
}

struct one_grade {
    double from_m, to_m, ratio;
};

static double one(struct td_rng *rng, double at_m, void *of)
{
    const struct one_grade *grade = of;
    double rolls = td_rng_between(rng, -0.01, 0.01);
    return rolls + (at_m >= grade->from_m && at_m < grade->to_m ? grade->ratio : 0);
}

static void finds_real_grades(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "unfiled_grades", 1);
    static const struct {
        double ratio, length_m;
        unsigned least; /* of 40 */
    } grades[] = {{0.05, 3000, 20}, {0.06, 2000, 36}, {0.07, 1500, 36}, {0.08, 3000, 40},
                  {0.10, 1300, 36}};
    for (size_t k = 0; k < sizeof grades / sizeof *grades; k++) {
        unsigned found = 0, early = 0;
        double after_m = 0;
        for (int i = 0; i < 40; i++) {
            struct td_gnss_options options = td_gnss_options_default();
            struct one_grade grade = {6000, 6000 + grades[k].length_m, grades[k].ratio};
            options.silences_per_hour = 0; /* a gap begins anew; that is tested apart */
            lay(&rng, one, &grade);
            run(&options, td_rng_u32(&rng), grade.to_m + 1500);
            found += drive.said > 0;
            early += drive.said > 0 && drive.said_m[0] < 6000 + 500;
            after_m += drive.said > 0 ? drive.said_m[0] - 6000 : 0;
        }
        printf("%.0f %% for %.1f km: found %u of 40, %.2f km below its crest\n",
               100 * grades[k].ratio, grades[k].length_m / 1000, found,
               found > 0 ? after_m / found / 1000 : 0.0);
        assert_true(found >= grades[k].least);
        assert_int_equal(early, 0);
    }
}

static double long_grade(struct td_rng *rng, double at_m, void *of)
{
    (void)rng;
    (void)of;
    return at_m >= 3000 && at_m < 38000 ? 0.07 : 0;
}

static void at_most_once_in_ten_miles(void **state)
{
    (void)state;
    struct td_rng rng;
    struct td_gnss_options options = td_gnss_options_default();
    options.silences_per_hour = 0;
    td_rng_seed(&rng, 3, 3);
    lay(&rng, long_grade, NULL);
    stations[0].elevation_m = 1500;
    for (size_t i = 0; i < STATIONS; i++)
        stations[i].elevation_m += 1500; /* it falls 2,450 m */
    run(&options, 7, 42000);
    assert_int_equal(drive.said, 3);
    for (unsigned i = 1; i < drive.said; i++)
        assert_true(drive.said_m[i] - drive.said_m[i - 1] >= 10.0 * TD_M_PER_MI - 50);
}

/* --- a receiver whose height goes wrong, on a level road --- */

enum fault { FAULT_STEPS, FAULT_GLIDES, FAULT_GAPS, FAULT_NOISE, FAULT_FROZEN, FAULTS };

static double height_of(enum fault fault, struct td_rng *rng, int second)
{
    switch (fault) {
    case FAULT_STEPS: /* 30 m lower once in 20 s */
        return 3000.0 - 30.0 * (second / 20);
    case FAULT_GLIDES: /* 25 m in half a minute once in five, as after a tunnel */
        return 1000.0 - 25.0 * fmin(1.0, (second % 300) / 30.0);
    case FAULT_GAPS: /* lower by 60 m after each gap */
        return 3000.0 - 60.0 * (second / 40);
    case FAULT_NOISE:
        return 1000.0 + td_rng_between(rng, -15, 15);
    default:
        return 1000.0;
    }
}

static void wrong_heights_are_no_grade(void **state)
{
    (void)state;
    struct td_rng rng;
    td_rng_seed(&rng, 11, 5);
    for (int fault = 0; fault < FAULTS; fault++) {
        unfiled_begin(&drive, NULL);
        for (int second = 0; second < 3000; second++) {
            /* 25 m/s due east, a little to the side as receivers are. */
            struct td_fix fix = {
                .has = TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_SPEED | TD_FIX_TRACK,
                .lat_deg = -47.0 + 2e-6 * sin(0.7 * second),
                .lon_deg = -140.0 + second * 25.0 / 75900.0 + 2e-6 * sin(1.1 * second),
                .altitude_m = height_of((enum fault)fault, &rng, second),
                .speed_mps = 25.0 + 0.1 * sin(0.3 * second),
                .track_deg = 90.0,
            };
            bool silent = fault == FAULT_GAPS && second % 40 >= 30;
            if (!silent)
                unfiled_fix(&drive, &fix, (2 + second) * TD_NS_PER_S);
        }
        unfiled_end(&drive);
        assert_true(drive.driven_m > 50000);
        assert_int_equal(drive.said, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(found_on_recorded_descents),
        cmocka_unit_test(found_on_a_short_hill_on_most_days),
        cmocka_unit_test(never_up_nor_on_the_flat),
        cmocka_unit_test(never_before_the_top),
        cmocka_unit_test(never_on_a_hill_on_file),
        cmocka_unit_test(hardly_ever_on_a_rolling_road),
        cmocka_unit_test(finds_real_grades),
        cmocka_unit_test(at_most_once_in_ten_miles),
        cmocka_unit_test(wrong_heights_are_no_grade),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
