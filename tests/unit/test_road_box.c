/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Boxes round pieces of road, against points tried one by one. */
#include "io/road_box.h"

#include <math.h>
#include <stdlib.h>

#include "io/hill_file.h"
#include "support/cm.h"
#include "support/ocean_hills.h"
#include "support/seed.h"
#include "talkdown/geo.h"
#include "talkdown/units.h"

static struct td_hill_file *hill_at(unsigned index, double lat_deg, double lon_deg)
{
    size_t length = 0;
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    char *text = ocean_hill_text_at(index, lat_deg, lon_deg, &length);
    assert_non_null(text);
    if (td_hill_file_parse("hill", text, length, &file, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    free(text);
    return file;
}

/* Pieces join, none is longer than it may be, and every vertex lies in the box of its piece. */
static void boxes_hold_the_road(void **state)
{
    (void)state;
    static const double places[][2] = {{-50, -130}, {-20, 179.97}, {-20, -179.99}, {84.9, 30},
                                       {-84.8, 179.9}, {0.01, 0.0}};
    for (size_t p = 0; p < sizeof places / sizeof places[0]; p++) {
        struct td_hill_file *file = hill_at((unsigned)p, places[p][0], places[p][1]);
        const struct td_hill *hill = td_hill_file_hill(file);
        size_t station = 0, from = 0, pieces = 0;
        struct td_box box;
        for (; td_box_next(hill, &station, &box); from = station, pieces++) {
            const struct td_station *last = &hill->stations[station];
            double length_m = last->along_m - hill->stations[from].along_m;
            assert_true(length_m > 0 && length_m < TD_ROAD_PIECE_M + 30);
            for (size_t i = from; i <= station; i++) {
                double off_m = td_box_distance_m(&box, hill->stations[i].lat_deg,
                                                 hill->stations[i].lon_deg);
                assert_near(off_m, 0, 1e-6);
            }
            double high_m = td_geo_distance_m((double)box.south_deg, (double)box.west_deg,
                                              (double)box.north_deg, (double)box.west_deg);
            assert_true(high_m < length_m + 5); /* not round the whole road */
        }
        assert_int_equal(station, hill->station_count - 1);
        assert_true((double)pieces >= hill->length_m / (TD_ROAD_PIECE_M + 30));
        td_hill_file_free(&file);
    }
}

static struct td_box random_box(struct td_rng *rng, double *lat_deg, double *lon_deg)
{
    double south = td_rng_between(rng, -86, 85.9), west = td_rng_between(rng, -180.2, 180);
    double high = td_rng_between(rng, 0, 0.02), wide = high / cos(td_rad_from_deg(south));
    struct td_box box = {(float)south, (float)(south + high), (float)west, (float)(west + wide)};
    /* A place near it, or anywhere within some 100 km of it. */
    double far_deg = td_rng_below(rng, 2) == 0 ? 0.05 : 0.9;
    *lat_deg = fmax(-90, fmin(90, south + td_rng_between(rng, -far_deg, far_deg)));
    double far_lon = fmin(180, far_deg / fmax(1e-3, cos(td_rad_from_deg(*lat_deg))));
    *lon_deg = td_geo_turn_deg(west + td_rng_between(rng, -far_lon, far_lon));
    return box;
}

/* Least distance to a net of points over the box; the true least lies up to half a mesh below. */
static double tried_m(const struct td_box *box, double lat_deg, double lon_deg)
{
    enum { MESH = 30 };
    double least_m = (double)INFINITY;
    for (int i = 0; i <= MESH; i++)
        for (int k = 0; k <= MESH; k++) {
            double lat = (double)box->south_deg +
                         ((double)box->north_deg - (double)box->south_deg) * i / MESH;
            double lon = (double)box->west_deg +
                         ((double)box->east_deg - (double)box->west_deg) * k / MESH;
            least_m = fmin(least_m, td_geo_distance_m(lat_deg, lon_deg, lat, lon));
        }
    return least_m;
}

static void distance_is_to_the_nearest_point(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "box distance", 31);
    for (int i = 0; i < 500; i++) {
        double lat_deg, lon_deg;
        struct td_box box = random_box(&rng, &lat_deg, &lon_deg);
        double told_m = td_box_distance_m(&box, lat_deg, lon_deg);
        double least_m = tried_m(&box, lat_deg, lon_deg);
        /* A mesh is at most 75 m wide; never more than to any point in the box. */
        if (told_m > least_m + 0.5 || told_m < least_m - 110)
            fail_msg("box %.4f..%.4f %.4f..%.4f from %.4f %.4f: %.1f m, tried %.1f m",
                     (double)box.south_deg, (double)box.north_deg, (double)box.west_deg,
                     (double)box.east_deg, lat_deg, lon_deg, told_m, least_m);
    }
}

/* Whatever box is within the radius meets the bounds in one of three turns. */
static void bounds_leave_nothing_out(void **state)
{
    (void)state;
    struct td_rng rng;
    int within = 0;
    test_seed(&rng, "bounds", 32);
    for (int i = 0; i < 30000; i++) {
        double lat_deg, lon_deg, radius_m = td_rng_between(&rng, 100, 60000);
        struct td_box box = random_box(&rng, &lat_deg, &lon_deg);
        if (td_box_distance_m(&box, lat_deg, lon_deg) > radius_m)
            continue;
        within++;
        struct td_bounds bounds = td_bounds_round(lat_deg, lon_deg, radius_m);
        bool meets = false;
        for (int turn = -1; turn <= 1; turn++)
            meets = meets || ((double)box.west_deg <= bounds.east_deg + 360 * turn &&
                              (double)box.east_deg >= bounds.west_deg + 360 * turn);
        if (!meets || (double)box.south_deg > bounds.north_deg ||
            (double)box.north_deg < bounds.south_deg)
            fail_msg("box at %.5f %.5f is left out of %.0f m round %.5f %.5f",
                     (double)box.south_deg, (double)box.west_deg, radius_m, lat_deg, lon_deg);
    }
    assert_true(within > 6000);
}

static void the_nearest_are_kept_in_order(void **state)
{
    (void)state;
    size_t indexes[3] = {9, 9, 9};
    struct td_nearest nearest;
    static const double distances_m[] = {30, 10, 50.5, 20, 10, (double)NAN, 50, 5};
    td_nearest_begin(&nearest, 50, indexes, 3);
    for (size_t i = 0; i < sizeof distances_m / sizeof distances_m[0]; i++)
        td_nearest_put(&nearest, i, distances_m[i]);
    assert_int_equal(nearest.found, 6);
    assert_int_equal(nearest.kept, 3);
    assert_true(indexes[0] == 7 && indexes[1] == 1 && indexes[2] == 4);
    td_nearest_begin(&nearest, 50, NULL, 0);
    td_nearest_put(&nearest, 1, 1);
    assert_true(nearest.found == 1 && nearest.kept == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(boxes_hold_the_road),
        cmocka_unit_test(distance_is_to_the_nearest_point),
        cmocka_unit_test(bounds_leave_nothing_out),
        cmocka_unit_test(the_nearest_are_kept_in_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
