/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any sequence of sane fixes, however mad, leaves the locator with finite numbers, a hill in force
 * that is in the slots, and time that does not run back. */
#include "support/cm.h"

#include "support/drive.h"
#include "support/seed.h"

enum { HILLS = 3, RUNS = 60, STEPS = 1500 };

static struct road hills[HILLS];
static struct drive drive;
static struct td_rng draw;

static void draw_hills(void)
{
    for (int h = 0; h < HILLS; h++) {
        road_begin(&hills[h], ROAD_LAT_DEG, ROAD_LON_DEG, 40 * h, 25 * h, 2000, 20 * h);
        for (int i = 0; i < 12; i++)
            road_add(&hills[h], td_rng_between(&draw, 100, 400), td_rng_between(&draw, -180, 180),
                     td_rng_between(&draw, -0.02, 0.1), td_rng_between(&draw, 8, 60));
        road_done(&hills[h]);
    }
}

/* One road followed for the most part; every so often anything at all. */
static struct td_fix draw_fix(int run, double along_m)
{
    bool elsewhere = td_rng_below(&draw, 200) == 0;
    const struct road *road =
        &hills[elsewhere ? td_rng_below(&draw, HILLS) : (unsigned)run % HILLS];
    double lat, lon, track;
    drive_place(road, fmin(along_m, road->hill.length_m - 1), 1, 0, &lat, &lon, &track);
    struct td_fix fix = drive_make_fix(&drive, lat, lon, 14.0, track);
    switch (td_rng_below(&draw, run % 2 ? 20 : 200)) {
    case 0:
        fix.lat_deg = td_rng_between(&draw, -90, 90);
        break;
    case 1:
        fix.lon_deg = td_rng_between(&draw, -180, 180);
        break;
    case 2:
        fix.track_deg = td_rng_between(&draw, 0, 359.9);
        break;
    case 3:
        fix.has &= td_rng_u32(&draw) | TD_FIX_POSITION;
        break;
    case 4:
        fix.sigma_m = td_rng_below(&draw, 2) ? 1e-9 : 1000.0;
        break;
    case 5:
        fix.speed_mps = td_rng_below(&draw, 2) ? 0.0 : 70.0;
        break;
    case 6:
        fix.utc_ms = (int64_t)td_rng_u32(&draw);
        break;
    case 7:
        fix.lat_deg = td_rng_below(&draw, 2) ? 90.0 : -90.0;
        break;
    default:
        break;
    }
    return fix;
}

static void check_locator(void)
{
    struct td_located now = td_located_now(&drive.locator);
    assert_true(isfinite(now.along_m) && isfinite(now.speed_mps) && isfinite(now.sigma_m));
    assert_true(now.sigma_m > 0.0);
    bool on = now.where == TD_WHERE_ON_HILL || now.where == TD_WHERE_COASTING;
    assert_true(on == (now.handle != 0));
    if (on) {
        assert_true(now.handle <= HILLS && drive.slots[now.handle - 1].handle == now.handle);
        double length = drive.slots[now.handle - 1].hill->length_m;
        assert_true(now.along_m > -200.0 && now.along_m < length + 200.0);
    }
    assert_true(now.where != TD_WHERE_COASTING || now.sigma_m <= TD_LOCATE_LOST_SIGMA_M);
    for (size_t i = 0; i < TD_HYPOTHESES_MAX; i++) {
        const struct td_hypothesis *h = &drive.locator.hypotheses[i];
        if (h->handle == 0)
            continue;
        assert_true(isfinite(h->log_likelihood) && isfinite(h->variance[1]));
        assert_true(h->variance[0] > 0.0 && h->variance[2] > 0.0);
        assert_true(h->variance[0] * h->variance[2] >= h->variance[1] * h->variance[1]);
    }
}

static void mad_fixes_leave_it_sane(void **state)
{
    long told = 0;
    (void)state;
    test_seed(&draw, "mad_fixes_leave_it_sane", 99);
    for (int run = 0; run < RUNS; run++) {
        draw_hills();
        drive_begin(&drive, 4.0, 1.0, td_rng_u32(&draw));
        for (unsigned h = 0; h < HILLS; h++)
            drive_put(&drive, h, &hills[h]);
        double along = 0.0;
        for (int step = 0; step < STEPS; step++) {
            int64_t before_ns = drive.locator.at_ns;
            double dt = td_rng_below(&draw, 200) == 0 ? td_rng_between(&draw, 0, 400)
                                                     : td_rng_between(&draw, 0, 2);
            drive_tick(&drive, dt);
            check_locator();
            if (td_rng_below(&draw, 300) == 0) {
                unsigned slot = td_rng_below(&draw, HILLS);
                td_locate_forget(&drive.locator, slot + 1);
                drive.slots[slot].handle = drive.slots[slot].handle == 0 ? slot + 1 : 0;
                check_locator();
            }
            along = along > 3000 ? 0.0 : along + 14.0 * dt;
            struct td_fix fix = draw_fix(run, along);
            if (!td_fix_is_sane(&fix))
                continue;
            int64_t late_ns = td_rng_below(&draw, 50) == 0 ? 3 * TD_NS_PER_S : 0;
            td_locate_fix(&drive.locator, drive.slots, &fix, drive.now_ns - late_ns);
            check_locator();
            assert_true(drive.locator.at_ns >= before_ns);
            assert_true(td_locate_next_ns(&drive.locator) > 0);
            told += td_located_now(&drive.locator).handle != 0;
        }
    }
    printf("%d mad fixes, a hill told after %ld of them\n", RUNS * STEPS, told);
    assert_true(told > RUNS * STEPS / 10); /* else it tried nothing */
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(mad_fixes_leave_it_sane)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
