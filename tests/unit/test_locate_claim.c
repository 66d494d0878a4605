/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a receiver's claim of its own error is worth: too small a claim shows where the places told
 * wander about the way that the speeds told make; an honest one must not be doubted for bends,
 * stops or rates. */
#include "support/cm.h"

#include "support/drive.h"

enum { SEEDS = 40 };

static struct road hill;
static struct drive drive;

static void draw_straight(void)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&hill, 9000, 60, 0.05, 20);
    road_done(&hill);
}

static void draw_hairpins(void)
{
    road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    for (int leg = 0; leg < 20; leg++) {
        road_add(&hill, 150, 0, 0.08, 10);
        road_add(&hill, 12 * TD_PI, leg % 2 ? 180 : -180, 0.06, 3);
    }
    road_done(&hill);
}

/* By how much the claim is multiplied in the end, in the mean of drives. */
static double mean_ratio(double sigma_m, double claim, double wander_s, double rate_hz,
                         double speed_mps)
{
    double sum = 0.0;
    for (unsigned long seed = 0; seed < SEEDS; seed++) {
        drive_begin(&drive, sigma_m, rate_hz, seed);
        drive.tells_sigma = claim > 0.0;
        drive.claim = claim;
        drive.tau_s = wander_s;
        drive_put(&drive, 0, &hill);
        double half_m = hill.hill.length_m / 2;
        drive_road(&drive, &hill, 1, 0, half_m, speed_mps, 0);
        for (double slower = speed_mps - 1.0; slower > 0.5; half_m += 2.0 * slower, slower -= 1.0)
            drive_road(&drive, &hill, 1, half_m, half_m + 2.0 * slower, slower, 0);
        drive_stand(&drive, &hill, 1, half_m, 30, 0);
        for (double faster = 1.0; faster < speed_mps; half_m += 2.0 * faster, faster += 1.0)
            drive_road(&drive, &hill, 1, half_m, half_m + 2.0 * faster, faster, 0);
        drive_road(&drive, &hill, 1, half_m, hill.hill.length_m - 20, speed_mps, 0);
        double claimed_m = claim > 0.0 ? fmax(TD_LOCATE_SIGMA_LEAST_M, sigma_m * claim)
                                       : TD_LOCATE_SIGMA_M;
        sum += drive.locator.sigma_m / claimed_m;
    }
    return sum / SEEDS;
}

static void an_honest_claim_is_believed(void **state)
{
    (void)state;
    static const double rates[] = {1.0, 2.0, 10.0};
    for (int i = 0; i < 3; i++) {
        draw_straight();
        double usual = mean_ratio(4.0, 1.0, 60.0, rates[i], 18.0);
        double fast = mean_ratio(10.0, 1.0, 15.0, rates[i], 18.0);
        draw_hairpins(); /* places seconds apart, and 180 degrees between two of them */
        double bends = mean_ratio(3.0, 1.0, 60.0, rates[i], 6.0);
        printf("honest, %.1f Hz: times %.2f, %.2f where it wanders over 15 s, %.2f in hairpins\n",
               rates[i], usual, fast, bends);
        assert_true(usual < 1.05 && fast < 1.15 && bends < 1.1);
    }
}

static void half_a_claim_is_seen_through(void **state)
{
    (void)state;
    draw_straight();
    double fast = mean_ratio(15.0, 0.5, 15.0, 1.0, 18.0);
    double usual = mean_ratio(15.0, 0.5, 60.0, 1.0, 18.0);
    double silent = mean_ratio(15.0, 0.0, 30.0, 1.0, 18.0);
    printf("a claim of 7.5 m where it is 15 m: times %.2f where it wanders over 15 s, %.2f over "
           "60 s; none claimed (8 m): times %.2f\n", fast, usual, silent);
    assert_true(fast > 1.5 && usual > 1.2 && silent > 1.3);
}

/* Two roads on file 32 m apart: by its word the receiver could tell them apart, by its error no. */
static void who_claims_half_waits_longer(void **state)
{
    static struct road second;
    int wrong = 0;
    (void)state;
    for (unsigned long seed = 0; seed < 4 * SEEDS; seed++) {
        road_begin(&hill, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
        road_add(&hill, 6000, 0, 0.0, 20);
        road_done(&hill);
        road_begin(&second, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 32, 1500, 0);
        road_add(&second, 5000, 0, 0.0, 20);
        road_add(&second, 2000, 60, 0.0, 20);
        road_done(&second);
        drive_begin(&drive, 15.0, 1.0, seed);
        drive.claim = 0.5;
        drive.tau_s = 40.0;
        drive_put(&drive, 0, &hill);
        drive_put(&drive, 1, &second);
        drive_road(&drive, &hill, 1, 0, 5000, 12, 0);
        wrong += drive.wrong > 0;
    }
    printf("two roads on file 32 m apart, 15 m that claim 7.5: the wrong one told in %d of %d\n",
           wrong, 4 * SEEDS);
    assert_true(wrong <= 8);
}

/* No speed told, or no course: there is nothing to hold places against, and nothing is doubted. */
static void without_speeds_nothing_is_doubted(void **state)
{
    (void)state;
    draw_straight();
    for (int kind = 0; kind < 2; kind++) {
        drive_begin(&drive, 15.0, 1.0, 1);
        drive.claim = 0.5;
        drive.tau_s = 10.0;
        drive.tells_speed = kind != 0;
        drive.tells_track = kind == 0;
        drive_put(&drive, 0, &hill);
        drive_road(&drive, &hill, 1, 0, 8000, 18, 0);
        assert_true(fabs(drive.locator.sigma_m - 7.5) < 1e-9);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_honest_claim_is_believed),
        cmocka_unit_test(half_a_claim_is_seen_through),
        cmocka_unit_test(who_claims_half_waits_longer),
        cmocka_unit_test(without_speeds_nothing_is_doubted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
