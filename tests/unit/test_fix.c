/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include "talkdown/fix.h"

static struct td_fix good(void)
{
    struct td_fix fix = {.has = TD_FIX_POSITION | TD_FIX_ALTITUDE | TD_FIX_SPEED | TD_FIX_TRACK |
                                TD_FIX_SIGMA,
                         .lat_deg = -47.0, .lon_deg = -125.0, .altitude_m = 900.0,
                         .speed_mps = 9.0, .track_deg = 359.9, .sigma_m = 3.0};
    return fix;
}

static void good_fixes_pass(void **state)
{
    struct td_fix fix = good();
    (void)state;
    assert_true(td_fix_is_sane(&fix));
    fix.lat_deg = 90.0;
    fix.lon_deg = -180.0;
    fix.speed_mps = fix.track_deg = 0.0;
    assert_true(td_fix_is_sane(&fix));
    fix.lat_deg = 0.0; /* on the equator is a place; 0,0 is not */
    assert_true(td_fix_is_sane(&fix));
    fix.has = TD_FIX_POSITION; /* what is not there is not judged */
    fix.speed_mps = (double)NAN;
    fix.sigma_m = -1.0;
    assert_true(td_fix_is_sane(&fix));
}

static void each_wrong_value_is_refused(void **state)
{
    static const struct {
        size_t at;
        double value;
    } wrong[] = {
        {offsetof(struct td_fix, lat_deg), 90.0001},   {offsetof(struct td_fix, lat_deg), -95.0},
        {offsetof(struct td_fix, lon_deg), 180.5},
        {offsetof(struct td_fix, altitude_m), 9001.0},
        {offsetof(struct td_fix, altitude_m), -501.0}, {offsetof(struct td_fix, speed_mps), -0.1},
        {offsetof(struct td_fix, speed_mps), 70.1},    {offsetof(struct td_fix, track_deg), 360.0},
        {offsetof(struct td_fix, track_deg), -1.0},    {offsetof(struct td_fix, sigma_m), 0.0},
        {offsetof(struct td_fix, sigma_m), 1000.5},
    };
    static const size_t all[] = {
        offsetof(struct td_fix, lat_deg), offsetof(struct td_fix, lon_deg),
        offsetof(struct td_fix, altitude_m), offsetof(struct td_fix, speed_mps),
        offsetof(struct td_fix, track_deg), offsetof(struct td_fix, sigma_m),
    };
    (void)state;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        struct td_fix fix = good();
        *(double *)(void *)((char *)&fix + wrong[i].at) = wrong[i].value;
        if (td_fix_is_sane(&fix))
            fail_msg("case %zu passed", i);
    }
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        struct td_fix fix = good();
        *(double *)(void *)((char *)&fix + all[i]) = (double)NAN;
        assert_false(td_fix_is_sane(&fix));
        *(double *)(void *)((char *)&fix + all[i]) = (double)INFINITY;
        assert_false(td_fix_is_sane(&fix));
    }
}

static void no_position_and_null_island_are_refused(void **state)
{
    struct td_fix fix = good();
    (void)state;
    fix.has &= ~(unsigned)TD_FIX_POSITION;
    assert_false(td_fix_is_sane(&fix));
    fix = good();
    fix.lat_deg = 0.0;
    fix.lon_deg = -0.0;
    assert_false(td_fix_is_sane(&fix));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_fixes_pass),
        cmocka_unit_test(each_wrong_value_is_refused),
        cmocka_unit_test(no_position_and_null_island_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
