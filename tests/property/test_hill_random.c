/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills of known truth under noise: how far crest, foot and grades may stray, and that the way a
 * line is cut into vertices changes nothing. */
#include "support/cm.h"

#include "support/road.h"
#include "support/seed.h"

enum { HILLS = 60 };

static struct road road, other;
static struct td_rng draw;

struct truth {
    double crest_m, foot_m, grade;
};

/* Approach, one grade, run-out; crest and foot rounded over 60 m as roads are. */
static struct truth draw_simple(double spacing_m)
{
    struct truth truth;
    double approach = td_rng_between(&draw, 1000, 3000), length = td_rng_between(&draw, 1500, 8000);
    truth.grade = td_rng_between(&draw, 0.055, 0.10);
    road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 3000, td_rng_between(&draw, -180, 180));
    road_add(&road, approach, td_rng_between(&draw, -60, 60), td_rng_between(&draw, -0.02, 0.005),
             spacing_m);
    road_add(&road, 60, 0, truth.grade / 2, spacing_m);
    road_add(&road, length, td_rng_between(&draw, -180, 180), truth.grade, spacing_m);
    road_add(&road, 60, 0, truth.grade / 2, spacing_m);
    road_add(&road, 1500, 20, td_rng_between(&draw, -0.02, 0.005), spacing_m);
    truth.crest_m = approach + 30;
    truth.foot_m = approach + 60 + length + 30;
    return truth;
}

/* Height noise as recorded: white, and wandering over some 150 m of road. */
static void shake_heights(double white_m, double wander_m)
{
    double wander = 0.0;
    for (size_t i = 0; i < road.count; i++) {
        double keep = exp(-10.0 / 150.0);
        wander = wander * keep + wander_m * sqrt(1 - keep * keep) * td_rng_normal(&draw);
        road.stations[i].elevation_m += wander + white_m * td_rng_normal(&draw);
    }
}

static void crest_foot_and_grade_stay_near_the_truth(void **state)
{
    double crest_most = 0.0, foot_most = 0.0, mean_most = 0.0, steep_most = 0.0;
    (void)state;
    test_seed(&draw, "crest_foot_and_grade_stay_near_the_truth", 71);
    for (int i = 0; i < HILLS; i++) {
        struct truth truth = draw_simple(10);
        shake_heights(0.5, 0.5);
        road_done(&road);
        const struct td_hill *hill = &road.hill;
        assert_true(hill->coached);
        crest_most = fmax(crest_most, fabs(hill->crest_m - truth.crest_m));
        foot_most = fmax(foot_most, fabs(hill->foot_m - truth.foot_m));
        mean_most = fmax(mean_most, fabs(hill->mean_downgrade_ratio - truth.grade));
        steep_most = fmax(steep_most, fabs(hill->steepest_downgrade_ratio - truth.grade));
        for (size_t k = 0; k + 1 < hill->run_count; k++)
            assert_near(hill->runs[k].to_m, hill->runs[k + 1].from_m, 0.0);
        assert_true(hill->run_count >= 1 && hill->run_count <= TD_HILL_RUNS_MAX);
    }
    printf("height noise 0.5 m white, 0.5 m wandering: crest within %.0f m, foot %.0f m, mean "
           "grade %.2f %%, steepest %.2f %%\n",
           crest_most, foot_most, mean_most * 100, steep_most * 100);
    assert_true(crest_most < 120.0);
    assert_true(foot_most < 150.0);
    assert_true(mean_most < 0.009);
    assert_true(steep_most < 0.012);
}

/* Every edge in two to four: the same line. */
static void split_edges(const struct road *from, struct road *to)
{
    memset(to, 0, sizeof *to);
    for (size_t i = 0; i + 1 < from->count; i++) {
        const struct td_station *a = &from->stations[i], *b = a + 1;
        int pieces = 1 + (int)td_rng_below(&draw, 4);
        for (int k = 0; k < pieces; k++) {
            struct td_station *station = &to->stations[to->count++];
            double ratio = (double)k / pieces;
            station->lat_deg = a->lat_deg + ratio * (b->lat_deg - a->lat_deg);
            station->lon_deg = a->lon_deg + ratio * (b->lon_deg - a->lon_deg);
            station->elevation_m = a->elevation_m + ratio * (b->elevation_m - a->elevation_m);
        }
    }
    to->stations[to->count++] = from->stations[from->count - 1];
}

static void splitting_edges_changes_nothing(void **state)
{
    (void)state;
    test_seed(&draw, "splitting_edges_changes_nothing", 72);
    for (int i = 0; i < HILLS / 2; i++) {
        (void)draw_simple(25);
        shake_heights(0.3, 0.5);
        road_done(&road);
        split_edges(&road, &other);
        road_done(&other);
        const struct td_hill *a = &road.hill, *b = &other.hill;
        assert_near(a->length_m, b->length_m, 0.01);
        assert_int_equal(a->coached, b->coached);
        assert_near(a->crest_m, b->crest_m, 0.1);
        assert_near(a->foot_m, b->foot_m, 0.1);
        assert_near(a->mean_downgrade_ratio, b->mean_downgrade_ratio, 1e-6);
        assert_near(a->steepest_downgrade_ratio, b->steepest_downgrade_ratio, 1e-6);
        assert_int_equal(a->run_count, b->run_count);
        assert_int_equal(a->easing_count, b->easing_count);
        assert_int_equal(a->curve_count, b->curve_count);
        for (double at = 0; at < a->length_m; at += 333)
            assert_near(td_hill_elevation_at(a, at), td_hill_elevation_at(b, at), 0.01);
    }
}

/* The smoothed pieces add up to the fall between the ends. */
static void pieces_add_up_to_the_fall(void **state)
{
    (void)state;
    test_seed(&draw, "pieces_add_up_to_the_fall", 73);
    for (int i = 0; i < HILLS / 2; i++) {
        double run_fall = 0.0, piece_fall = 0.0;
        (void)draw_simple(td_rng_between(&draw, 5, 60));
        road_done(&road);
        for (size_t k = 0; k + 1 < road.count; k++)
            piece_fall += road.stations[k].downgrade_ratio *
                          (road.stations[k + 1].along_m - road.stations[k].along_m);
        for (size_t k = 0; k < road.hill.run_count; k++)
            run_fall += road.hill.runs[k].downgrade_ratio *
                        (road.hill.runs[k].to_m - road.hill.runs[k].from_m);
        assert_near(run_fall, piece_fall, 1e-6);
        assert_near(piece_fall, road.stations[0].elevation_m -
                                    road.stations[road.count - 1].elevation_m, 0.5);
    }
}

/* A steeper or longer grade is never found gentler, nor uncoached where the lesser one is. */
static void more_hill_is_never_less(void **state)
{
    (void)state;
    test_seed(&draw, "more_hill_is_never_less", 74);
    bool coached = false;
    double mean = 0.0;
    for (double grade = 0.02; grade < 0.12; grade += 0.0025) {
        road_begin(&road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 3000, 0);
        road_add(&road, 1000, 0, 0.0, 20);
        road_add(&road, 1200, 0, grade, 20);
        road_add(&road, 1000, 0, 0.0, 20);
        road_done(&road);
        assert_true(road.hill.coached || !coached);
        assert_true(road.hill.mean_downgrade_ratio >= mean);
        coached = road.hill.coached;
        mean = road.hill.mean_downgrade_ratio;
    }
    assert_true(coached);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crest_foot_and_grade_stay_near_the_truth),
        cmocka_unit_test(splitting_edges_changes_nothing),
        cmocka_unit_test(pieces_add_up_to_the_fall),
        cmocka_unit_test(more_hill_is_never_less),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
