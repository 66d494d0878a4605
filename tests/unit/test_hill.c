/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills of known truth. The warrants are checked against the published pairs of MUTCD 11th edition,
 * section 2C.14. */
#include "support/cm.h"

#include <geodesic.h>

#include "support/road.h"

static struct road road, other;

/* Level approach, one grade, level run-out. */
static void simple_hill(struct road *r, double grade, double length_m, double spacing_m)
{
    road_begin(r, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
    road_add(r, 2000, 0, 0.0, spacing_m);
    road_add(r, length_m, 0, grade, spacing_m);
    road_add(r, 1500, 0, 0.0, spacing_m);
    road_done(r);
}

static void distances_sum_geodesic_edges(void **state)
{
    struct geod_geodesic g;
    double along = 0.0;
    (void)state;
    simple_hill(&road, 0.06, 3000, 37);
    geod_init(&g, 6378137.0, 1.0 / 298.257223563); /* outside reference: PROJ */
    assert_near(road.stations[0].along_m, 0.0, 0.0);
    for (size_t i = 1; i < road.count; i++) {
        double edge;
        geod_inverse(&g, road.stations[i - 1].lat_deg, road.stations[i - 1].lon_deg,
                     road.stations[i].lat_deg, road.stations[i].lon_deg, &edge, NULL, NULL);
        along += edge;
        assert_near(road.stations[i].along_m, along, 1e-5);
    }
    assert_near(road.hill.length_m, along, 1e-5);
}

static void look_ups_clamp_and_interpolate(void **state)
{
    (void)state;
    simple_hill(&road, 0.06, 3000, 50);
    const struct td_hill *hill = &road.hill;
    assert_int_equal(td_hill_station_at(hill, -5.0), 0);
    assert_int_equal(td_hill_station_at(hill, 1e9), hill->station_count - 2);
    for (size_t i = 0; i + 1 < hill->station_count; i++)
        assert_int_equal(td_hill_station_at(hill, hill->stations[i].along_m), i);
    double half = (hill->stations[50].along_m + hill->stations[51].along_m) / 2.0;
    assert_near(td_hill_elevation_at(hill, half),
                (hill->stations[50].elevation_m + hill->stations[51].elevation_m) / 2.0, 1e-9);
    assert_near(td_hill_downgrade_at(hill, 3500.0), 0.06, 0.0005);
    assert_near(td_hill_elevation_at(hill, 1e9), 1500 - 180, 1e-6);
}

static void crest_foot_and_grade_of_a_simple_hill(void **state)
{
    (void)state;
    simple_hill(&road, 0.07, 4000, 20);
    const struct td_hill *hill = &road.hill;
    double scale = hill->length_m / 7500.0; /* pen metres on the sphere against WGS 84 */
    assert_true(hill->coached);
    assert_near(hill->crest_m, 2000 * scale, 60.0);
    assert_true(hill->crest_m < 2000 * scale); /* early, never late */
    assert_near(hill->foot_m, 6000 * scale, 60.0);
    assert_near(hill->mean_downgrade_ratio, 0.07 / scale, 0.0025);
    assert_near(hill->steepest_downgrade_ratio, 0.07 / scale, 0.0002);
    assert_int_equal(hill->easing_count, 0);
    assert_int_equal(hill->run_count, 3);
    assert_near(hill->runs[1].downgrade_ratio, hill->mean_downgrade_ratio, 1e-9);
    assert_near(hill->runs[0].to_m, hill->crest_m, 1e-9);
    assert_near(hill->runs[2].to_m, hill->length_m, 1e-9);
    assert_int_equal(hill->curve_count, 0);
}

static void profile_may_begin_at_the_crest(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
    road_add(&road, 3000, 0, 0.06, 25);
    road_done(&road);
    assert_true(road.hill.coached);
    assert_near(road.hill.crest_m, 0.0, 0.0);
    assert_near(road.hill.foot_m, road.hill.length_m, 1e-9);
    assert_int_equal(road.hill.run_count, 1);
}

/* MUTCD 11th edition 2C.14: 5 % over 3000 ft, 6 % 2000, 7 % 1000, 8 % 750, 9 % 500. */
static void warrants_follow_the_published_pairs(void **state)
{
    static const double pairs[][2] = {{0.05, 3000}, {0.06, 2000}, {0.07, 1000}, {0.08, 750},
                                      {0.09, 500}};
    (void)state;
    for (size_t i = 0; i < 5; i++) {
        /* 160 m: what the smoothing window takes from the length of a short grade. */
        simple_hill(&road, pairs[i][0], td_m_from_ft(pairs[i][1]) + 160, 10);
        if (!road.hill.coached)
            fail_msg("%g over %g ft is not coached", pairs[i][0], pairs[i][1]);
        simple_hill(&road, pairs[i][0] - 0.006, td_m_from_ft(pairs[i][1]) * 0.9, 10);
        if (road.hill.coached)
            fail_msg("less than %g over less than %g ft is coached", pairs[i][0], pairs[i][1]);
    }
    simple_hill(&road, 0.03, 9000, 20);
    assert_false(road.hill.coached);
    assert_near(road.hill.crest_m, 0.0, 0.0);
    assert_true(road.hill.run_count >= 1);
    simple_hill(&road, -0.08, 3000, 20); /* an upgrade is no hill of ours */
    assert_false(road.hill.coached);
}

static void false_bottom_is_found(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
    road_add(&road, 2000, 0, 0.0, 20);
    road_add(&road, 2000, 0, 0.08, 20);
    road_add(&road, 600, 0, 0.005, 20);
    road_add(&road, 1800, 0, 0.06, 20);
    road_add(&road, 1000, 0, 0.0, 20);
    road_done(&road);
    const struct td_hill *hill = &road.hill;
    assert_true(hill->coached);
    assert_int_equal(hill->easing_count, 1);
    assert_near(hill->easings[0].from_m, 4000, 80);
    assert_near(hill->easings[0].to_m, 4600, 80);
    assert_near(hill->foot_m, 6400, 80);
    assert_near(hill->steepest_at_m, 2900, 900);
    assert_int_equal(hill->run_count, 5);
}

/* A warranted grade, a level gap, then 4.5 % for `after_m`, none of it warranted by itself. */
static void two_grades(double gap_m, double after_m, double after_ratio)
{
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
    road_add(&road, 2000, 0, 0.0, 25);
    road_add(&road, 1300, 0, 0.06, 25);
    road_add(&road, gap_m, 0, 0.0, 25);
    road_add(&road, after_m, 0, after_ratio, 25);
    road_add(&road, 1500, 0, 0.0, 25);
    road_done(&road);
}

/* "Grade ends." was said with miles of downgrade to come. */
static void a_downgrade_within_two_miles_below_belongs_to_the_hill(void **state)
{
    (void)state;
    two_grades(1200, 900, 0.045);
    assert_near(road.hill.foot_m, 2000 + 1300 + 1200 + 900, 100.0);
    assert_int_equal(road.hill.easing_count, 1);
    two_grades(2900, 900, 0.045);
    assert_near(road.hill.foot_m, 2000 + 1300 + 2900 + 900, 100.0);
    two_grades(3500, 900, 0.045); /* over two miles below */
    assert_near(road.hill.foot_m, 2000 + 1300, 100.0);
    two_grades(1200, 900, 0.03); /* gentle */
    assert_near(road.hill.foot_m, 2000 + 1300, 100.0);
    two_grades(1200, 250, 0.045); /* short */
    assert_near(road.hill.foot_m, 2000 + 1300, 100.0);
}

static void and_so_does_one_above(void **state)
{
    (void)state;
    static const struct {
        double before_m, ratio, gap_m, crest_m;
    } roads[] = {
        {900, 0.045, 2900, 2000}, {900, 0.045, 3500, 6400}, {900, 0.03, 1200, 4100},
        {250, 0.045, 1200, 3450}, {900, 0.03, 400, 2000},
    };
    for (size_t i = 0; i < sizeof roads / sizeof roads[0]; i++) {
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
        road_add(&road, 2000, 0, 0.0, 25);
        road_add(&road, roads[i].before_m, 0, roads[i].ratio, 25);
        road_add(&road, roads[i].gap_m, 0, 0.0, 25);
        road_add(&road, 1300, 0, 0.06, 25);
        road_add(&road, 1500, 0, 0.0, 25);
        road_done(&road);
        assert_near(road.hill.crest_m, roads[i].crest_m, 100.0);
    }
}

static void curves_have_radius_and_side(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
    road_add(&road, 500, 0, 0.06, 5);
    road_add(&road, 15 * TD_PI, 180, 0.06, 5); /* hairpin of 15 m, to the left */
    road_add(&road, 500, 0, 0.06, 5);
    road_add(&road, 120 * TD_PI / 2, -90, 0.06, 5); /* 120 m, right */
    road_add(&road, 500, 0, 0.06, 5);
    road_add(&road, 1000 * TD_PI / 4, 45, 0.06, 20); /* 1 km: no curve for a truck */
    road_done(&road);
    const struct td_hill *hill = &road.hill;
    assert_int_equal(hill->curve_count, 2);
    assert_int_equal(hill->curves[0].turn, TD_SIDE_LEFT);
    assert_near(hill->curves[0].radius_m, 15, 2.0);
    assert_near(hill->curves[0].from_m, 500, 20);
    assert_near(hill->curves[0].to_m, 547, 20);
    assert_int_equal(hill->curves[1].turn, TD_SIDE_RIGHT);
    assert_near(hill->curves[1].radius_m, 120, 10.0);
}

/* The same arc drawn finely and coarsely is much the same curve, never a far tighter one. */
static void coarse_lines_do_not_make_tight_curves(void **state)
{
    static const double cases[][3] = { /* radius, turn, vertex spacing */
        {100, 90, 5}, {100, 90, 20}, {100, 90, 40}, {200, 60, 10}, {200, 60, 50},
        {60, 120, 5}, {60, 120, 15}, {30, 45, 3},   {15, 180, 5},  {15, 180, 10}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        double radius = cases[i][0], turn = cases[i][1];
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 30);
        road_add(&road, 400, 0, 0.06, 50);
        road_add(&road, radius * td_rad_from_deg(turn), turn, 0.06, cases[i][2]);
        road_add(&road, 400, 0, 0.06, 50);
        road_done(&road);
        if (road.hill.curve_count != 1 || road.hill.curves[0].radius_m < 0.7 * radius ||
            road.hill.curves[0].radius_m > 1.35 * radius)
            fail_msg("%g m drawn every %g m: %zu curves, the first of %.0f m", radius, cases[i][2],
                     road.hill.curve_count, road.hill.curves[0].radius_m);
    }
}

static void more_curves_than_fit_leave_out_the_gentlest(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 3500, 0);
    for (int i = 0; i < 300; i++)
        road_add(&road, 60, i % 2 ? 40 : -40, 0.06, 5); /* 86 m */
    road_add(&road, 100, 0, 0.06, 5);
    road_add(&road, 20 * TD_PI, 180, 0.06, 5); /* the one that matters */
    road_add(&road, 100, 0, 0.06, 5);
    road_done(&road);
    const struct td_curve *last = &road.hill.curves[road.hill.curve_count - 1];
    assert_true(road.hill.curve_count <= TD_HILL_CURVES_MAX);
    assert_near(last->radius_m, 20, 3.0);
}

static void crosses_the_antimeridian(void **state)
{
    (void)state;
    road_begin(&road, 52.0, 179.99, 0, 0, 1500, 0);
    road_add(&road, 4000, 0, 0.06, 25);
    road_done(&road);
    assert_near(road.hill.length_m, 4000, 20);
    assert_true(road.stations[road.count - 1].lon_deg < -179.0);
    assert_near(road.hill.mean_downgrade_ratio, 0.06, 0.001);
}

static void expect_refused(const char *words)
{
    struct td_problem problem = {0};
    struct td_hill before = road.hill;
    assert_int_equal(road_finish(&road, &problem), TD_INVALID);
    if (strstr(problem.text, words) == NULL)
        fail_msg("\"%s\" does not speak of \"%s\"", problem.text, words);
    assert_near(road.hill.length_m, before.length_m, 0.0);
}

static void bad_roads_are_refused_in_words(void **state)
{
    (void)state;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    expect_refused("1 vertices");
    road_add(&road, 100, 0, 0.06, 25);
    other = road;
    road.stations[2] = road.stations[1];
    expect_refused("vertex 3 repeats");
    road = other;
    road.stations[3].lat_deg += 0.03;
    expect_refused("vertex 4 lies over 2 km");
    road = other;
    road.stations[1].lat_deg = 95.0;
    expect_refused("vertex 2 has a latitude");
    road = other;
    road.stations[1].lon_deg = (double)NAN;
    expect_refused("longitude");
    road = other;
    road.stations[4].elevation_m = 9500.0;
    expect_refused("vertex 5 has a height");
    road = other;
    road.stations[0].elevation_m = (double)NAN;
    expect_refused("height");
    road = other;
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 1500, 0);
    road_add(&road, 210000, 0, 0.001, 1900);
    expect_refused("100 km");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_sum_geodesic_edges),
        cmocka_unit_test(look_ups_clamp_and_interpolate),
        cmocka_unit_test(crest_foot_and_grade_of_a_simple_hill),
        cmocka_unit_test(profile_may_begin_at_the_crest),
        cmocka_unit_test(warrants_follow_the_published_pairs),
        cmocka_unit_test(false_bottom_is_found),
        cmocka_unit_test(a_downgrade_within_two_miles_below_belongs_to_the_hill),
        cmocka_unit_test(and_so_does_one_above),
        cmocka_unit_test(curves_have_radius_and_side),
        cmocka_unit_test(coarse_lines_do_not_make_tight_curves),
        cmocka_unit_test(more_curves_than_fit_leave_out_the_gentlest),
        cmocka_unit_test(crosses_the_antimeridian),
        cmocka_unit_test(bad_roads_are_refused_in_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
