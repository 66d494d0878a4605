/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Random mountain roads, random receivers. Down: recognised, and never told at a wrong place. Up,
 * or on a road not on file eight sigma aside: never told at all. */
#include "support/cm.h"

#include "support/drive.h"
#include "support/seed.h"

enum { ROADS = 40, APPROACHES = 400 };

static struct road hill;
static struct drive drive;
static struct td_rng draw;

/* Bends and hairpins of 12 to 300 m, as a mountain road has them; it may cross itself. */
static void draw_road(void)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 3000, td_rng_between(&draw, -180, 180));
    road_add(&hill, td_rng_between(&draw, 600, 2500), td_rng_between(&draw, -20, 20), 0.0, 15);
    int bends = 6 + (int)td_rng_below(&draw, 14);
    for (int i = 0; i < bends; i++) {
        bool hairpin = td_rng_below(&draw, 3) == 0;
        double radius = hairpin ? td_rng_between(&draw, 12, 30) : td_rng_between(&draw, 40, 300);
        double turn = hairpin ? td_rng_between(&draw, 150, 190) : td_rng_between(&draw, 10, 90);
        double side = td_rng_below(&draw, 2) == 0 ? 1.0 : -1.0;
        double grade = td_rng_between(&draw, 0.03, 0.10);
        road_add(&hill, td_rng_between(&draw, 60, 500), 0, grade, 12);
        road_add(&hill, radius * td_rad_from_deg(turn), side * turn, grade, hairpin ? 4 : 10);
    }
    road_add(&hill, 500, 0, 0.01, 15);
    road_done(&hill);
}

static void draw_receiver(void)
{
    static const double rates[] = {0.5, 1.0, 1.0, 1.0, 5.0, 10.0};
    drive_begin(&drive, td_rng_between(&draw, 1.5, 6.0), rates[td_rng_below(&draw, 6)],
                td_rng_u32(&draw));
    drive.tau_s = td_rng_between(&draw, 10, 200);
    drive.tells_sigma = td_rng_below(&draw, 3) != 0;
    drive.tells_speed = td_rng_below(&draw, 4) != 0;
    drive.tells_track = td_rng_below(&draw, 4) != 0;
    drive_put(&drive, 0, &hill);
}

static void random_roads_with_random_receivers(void **state)
{
    double worst_p95 = 0.0, told_most_m = 0.0, told_sum_m = 0.0;
    (void)state;
    test_seed(&draw, "random_roads_with_random_receivers", 20261125);
    for (unsigned long i = 0; i < ROADS; i++) {
        draw_road();
        double speed = td_rng_between(&draw, 5, 15), length = hill.hill.length_m;
        draw_receiver();
        drive.wrong_m = fmax(60.0, 12.0 * drive.sigma_m);
        drive_road(&drive, &hill, 1, 0, length - 30, speed, 0);
        if (drive.wrong != 0 || drive.first_on_m < 0.0)
            fail_msg("road %lu: wrong %ld of %ld, told at %.0f (sigma %.1f, %.1f Hz, tells %d%d%d)",
                     i, drive.wrong, drive.on_hill, drive.first_on_m, drive.sigma_m,
                     drive.rate_hz, drive.tells_sigma, drive.tells_speed, drive.tells_track);
        worst_p95 = fmax(worst_p95, drive_error_m(&drive, 0.95));
        told_most_m = fmax(told_most_m, drive.first_on_m);
        told_sum_m += drive.first_on_m;
        draw_receiver();
        drive_road(&drive, &hill, 1, length - 5, 5, speed, 0);
        if (drive.on_hill != 0)
            fail_msg("road %lu: told %ld times going up (sigma %.1f, %.1f Hz, tells %d%d%d)", i,
                     drive.on_hill, drive.sigma_m, drive.rate_hz, drive.tells_sigma,
                     drive.tells_speed, drive.tells_track);
    }
    printf("%d roads: told after %.0f m on average, %.0f m at most; worst error p95 %.1f m\n",
           ROADS, told_sum_m / ROADS, told_most_m, worst_p95);
    assert_true(worst_p95 < 40.0);
}

/* The approach stands clear: told at least a mile before the crest, but for one in a hundred, whose
 * receiver is three sigma off when it begins. */
static void a_clear_approach_is_told_a_mile_ahead(void **state)
{
    int late = 0;
    (void)state;
    test_seed(&draw, "a_clear_approach_is_told_a_mile_ahead", 20261126);
    for (unsigned long i = 0; i < APPROACHES; i++) {
        double heading = td_rng_between(&draw, -180, 180);
        road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 3000, heading);
        road_add(&hill, 1300, td_rng_between(&draw, -50, 50), 0.0, 15);
        road_add(&hill, 1000, td_rng_between(&draw, -50, 50), 0.0, 15);
        road_add(&hill, 2500, td_rng_between(&draw, -90, 90), 0.07, 15);
        road_done(&hill);
        draw_receiver();
        drive_road(&drive, &hill, 1, 0, 3000, td_rng_between(&draw, 15, 28), 0);
        assert_int_equal(drive.wrong, 0);
        assert_true(drive.first_on_m >= 0.0 && drive.first_on_m < hill.hill.crest_m - 500.0);
        if (hill.hill.crest_m - drive.first_on_m > TD_M_PER_MI)
            continue;
        late++;
        printf("road %lu: told at %.0f m, crest at %.0f m (sigma %.1f over %.0f s, %.1f Hz, tells "
               "%d%d%d)\n", i, drive.first_on_m, hill.hill.crest_m, drive.sigma_m, drive.tau_s,
               drive.rate_hz, drive.tells_sigma, drive.tells_speed, drive.tells_track);
    }
    printf("%d clear approaches: %d told later than a mile ahead\n", APPROACHES, late);
    assert_true(100 * late <= APPROACHES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_roads_with_random_receivers),
        cmocka_unit_test(a_clear_approach_is_told_a_mile_ahead),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
