/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Outside reference: Karney's geodesic routines as shipped with PROJ (C. F. F. Karney, J. Geodesy
 * 87, 2013), good to nanometres. */
#include "support/cm.h"

#include <geodesic.h>

#include "talkdown/geo.h"

static const double latitudes[] = {-84.5, -60.0, -33.3, -0.001, 0.0, 12.0, 47.0, 70.0, 84.0};
static const double azimuths[] = {0.0, 17.0, 90.0, 133.0, 180.0, 225.0, 270.0, 301.0};
enum { LATITUDES = 9, AZIMUTHS = 8 };

static struct geod_geodesic wgs84(void)
{
    struct geod_geodesic g;
    geod_init(&g, 6378137.0, 1.0 / 298.257223563);
    return g;
}

static void distance_and_bearing_agree_with_proj(void **state)
{
    static const double lengths[] = {0.5, 12.0, 300.0, 2000.0, 10000.0, 100000.0};
    static const double bounds[] = {1e-8, 1e-9, 1e-9, 1e-9, 3e-9, 3e-7};
    struct geod_geodesic g = wgs84();
    (void)state;
    for (int i = 0; i < LATITUDES; i++)
        for (int j = 0; j < AZIMUTHS; j++)
            for (int k = 0; k < 6; k++) {
                double lat, lon, azi;
                geod_direct(&g, latitudes[i], 179.9999, azimuths[j], lengths[k], &lat, &lon, &azi);
                double got = td_geo_distance_m(latitudes[i], 179.9999, lat, lon);
                assert_near(got, lengths[k], lengths[k] * bounds[k]);
                if (k == 0)
                    continue; /* half a metre: a bearing means little */
                double bearing = td_geo_bearing_deg(latitudes[i], 179.9999, lat, lon);
                assert_true(bearing >= 0.0 && bearing < 360.0);
                assert_near(td_geo_turn_deg(bearing - azimuths[j]), 0.0, k == 5 ? 0.01 : 1e-4);
            }
    assert_near(td_geo_distance_m(10, 20, 10, 20), 0.0, 0.0);
    assert_near(td_geo_bearing_deg(10, 20, 10, 20), 0.0, 0.0);
}

/* The frame's stated bound, radially and between two points of it. */
static void frame_keeps_its_stated_error(void **state)
{
    struct geod_geodesic g = wgs84();
    double worst = 0.0;
    (void)state;
    for (int i = 0; i < LATITUDES; i++) {
        struct td_frame frame;
        assert_true(td_frame_init(&frame, latitudes[i], -179.95));
        for (int j = 0; j < AZIMUTHS; j++)
            for (double d = 1000.0; d <= 30000.0; d += 7250.0) {
                double lat, lon, azi, lat2, lon2;
                struct td_point a, b;
                geod_direct(&g, latitudes[i], -179.95, azimuths[j], d, &lat, &lon, &azi);
                geod_direct(&g, lat, lon, azimuths[(j + 3) % AZIMUTHS], 500.0, &lat2, &lon2, &azi);
                assert_true(td_frame_point(&frame, lat, lon, &a));
                assert_true(td_frame_point(&frame, lat2, lon2, &b));
                worst = fmax(worst, fabs(hypot(a.x_m, a.y_m) / d - 1.0));
                worst = fmax(worst, fabs(hypot(b.x_m - a.x_m, b.y_m - a.y_m) / 500.0 - 1.0));
                assert_near(td_geo_turn_deg(td_geo_turn_deg(90.0 - atan2(a.y_m, a.x_m) *
                                                            180.0 / 3.14159265358979323846) -
                                            azimuths[j]), 0.0, 0.01);
            }
    }
    printf("frame: worst relative error within 30 km %.2e\n", worst);
    assert_true(worst < 1.3e-5);
}

static void frame_refuses_what_it_cannot_hold(void **state)
{
    struct td_frame frame;
    struct td_point point = {7.0, 7.0};
    (void)state;
    assert_false(td_frame_init(&frame, 85.1, 0.0));
    assert_false(td_frame_init(&frame, (double)NAN, 0.0));
    assert_false(td_frame_init(&frame, 0.0, (double)INFINITY));
    assert_true(td_frame_init(&frame, 40.0, 10.0));
    assert_false(td_frame_point(&frame, 41.0, 10.0, &point));
    assert_false(td_frame_point(&frame, -40.0, -170.0, &point)); /* antipode */
    assert_false(td_frame_point(&frame, (double)NAN, 10.0, &point));
    assert_near(point.x_m, 7.0, 0.0);
}

static void project_knows_left_from_right(void **state)
{
    struct td_point a = {0, 0}, b = {0, 100}; /* northward */
    struct td_point west = {-3, 40}, beyond = {4, 103};
    (void)state;
    struct td_foot_point foot = td_geo_project(a, b, west);
    assert_near(foot.ratio, 0.4, 1e-12);
    assert_near(foot.lateral_m, 3.0, 1e-12);
    assert_near(foot.distance_m, 3.0, 1e-12);
    foot = td_geo_project(a, b, beyond);
    assert_near(foot.ratio, 1.0, 0.0);
    assert_near(foot.lateral_m, -4.0, 1e-12);
    assert_near(foot.distance_m, 5.0, 1e-12);
    foot = td_geo_project(a, a, west); /* no piece at all */
    assert_near(foot.distance_m, hypot(3, 40), 1e-12);
}

static void turns_wrap(void **state)
{
    (void)state;
    assert_near(td_geo_turn_deg(350.0 - 10.0), -20.0, 1e-9);
    assert_near(td_geo_turn_deg(10.0 - 350.0), 20.0, 1e-9);
    assert_near(td_geo_turn_deg(180.0), -180.0, 1e-9);
    assert_near(td_geo_turn_deg(-725.0), -5.0, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distance_and_bearing_agree_with_proj),
        cmocka_unit_test(frame_keeps_its_stated_error),
        cmocka_unit_test(frame_refuses_what_it_cannot_hold),
        cmocka_unit_test(project_knows_left_from_right),
        cmocka_unit_test(turns_wrap),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
