/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places by post, by distance and by coordinate. The outside check of where a distance ends is
 * PROJ's geodesic; posts and distances are reckoned by hand (a mile is 1609.344 m). */
#include "support/cm.h"

#include <geodesic.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "tool/places/places.h"

static const double lat0_deg = -47.1, lon0_deg = -128.9;
static struct geod_geodesic earth;

/* What stands on the road is given as text; vertices are added one by one. */
struct drawn {
    char text[16384];
    size_t length;
    size_t vertices;
};

static void begin(struct drawn *drawn, const char *road_properties)
{
    *drawn = (struct drawn){.vertices = 0};
    drawn->length = (size_t)snprintf(drawn->text, sizeof drawn->text,
                                     "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":"
                                     "\"Feature\",\"properties\":{\"role\":\"road\",\"id\":\"r\","
                                     "\"name\":\"R\"%s},\"geometry\":{\"type\":\"LineString\","
                                     "\"coordinates\":[",
                                     road_properties);
}

static void vertex(struct drawn *drawn, double lat_deg, double lon_deg, double height_m)
{
    drawn->length += (size_t)snprintf(drawn->text + drawn->length,
                                      sizeof drawn->text - drawn->length, "%s[%.9f,%.9f,%.2f]",
                                      drawn->vertices++ > 0 ? "," : "", lon_deg, lat_deg, height_m);
}

static struct td_hill_file *finish(struct drawn *drawn)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    drawn->length += (size_t)snprintf(drawn->text + drawn->length,
                                      sizeof drawn->text - drawn->length, "]}}]}");
    if (td_hill_file_parse("r", drawn->text, drawn->length, &file, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    return file;
}

/* Due south, a vertex every 100 m by PROJ: 2 km level, 3 km at 7 %, 1 km level. */
static struct td_hill_file *straight(const char *road_properties)
{
    static struct drawn drawn;
    double height_m = 800;
    geod_init(&earth, 6378137.0, 1.0 / 298.257223563);
    begin(&drawn, road_properties);
    for (int i = 0; i <= 60; i++) {
        double lat = 0, lon = 0, azimuth = 0;
        geod_direct(&earth, lat0_deg, lon0_deg, 180, 100.0 * i, &lat, &lon, &azimuth);
        vertex(&drawn, lat, lon, height_m);
        height_m -= i >= 20 && i < 50 ? 7 : 0;
    }
    return finish(&drawn);
}

static struct td_where_texts named(void)
{
    return (struct td_where_texts){.post_name = "--at", .along_name = "--along",
                                   .coordinate_name = "--coordinate"};
}

static struct td_where where(const struct td_hill_file *file, const struct td_where_texts *texts)
{
    struct td_where made;
    struct td_problem problem = {0};
    if (td_where_read(file, texts, &made, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    return made;
}

static void refused(const struct td_hill_file *file, const struct td_where_texts *texts,
                    const char *words)
{
    struct td_where made;
    struct td_problem problem = {0};
    assert_int_equal(td_where_read(file, texts, &made, &problem), TD_INVALID);
    if (strstr(problem.text, words) == NULL)
        fail_msg("not \"%s\": %s", words, problem.text);
}

static struct td_where_texts along(const char *text)
{
    struct td_where_texts texts = named();
    texts.along = text;
    return texts;
}

static struct td_where_texts post(const char *text)
{
    struct td_where_texts texts = named();
    texts.post = text;
    return texts;
}

static struct td_where_texts coordinate(const char *lat, const char *lon, const char *hint)
{
    struct td_where_texts texts = named();
    texts.lat = lat;
    texts.lon = lon;
    texts.along = hint;
    return texts;
}

/* A millimetre of rounding to 7 decimals is 0.0111 m at most along a meridian. */
static void is_at(const struct td_where *made, double at_m)
{
    double lat = 0, lon = 0, azimuth = 0;
    geod_direct(&earth, lat0_deg, lon0_deg, 180, at_m, &lat, &lon, &azimuth);
    assert_near(made->at_m, at_m, 0.02);
    assert_near(made->lat_deg, lat, 0.6e-7);
    assert_near(made->lon_deg, lon, 0.6e-7);
    assert_false(made->wants_at);
}

static void distances_end_where_proj_says(void **state)
{
    (void)state;
    struct td_hill_file *file = straight("");
    const struct td_hill *hill = td_hill_file_hill(file);
    struct td_where_texts texts = along("2.3 mi");
    struct td_where made = where(file, &texts);
    is_at(&made, 2.3 * 1609.344);
    texts = along("0 m");
    made = where(file, &texts);
    is_at(&made, 0);
    texts = along("1,250 ft");
    made = where(file, &texts);
    is_at(&made, 381); /* 1250 times 0.3048 m */
    texts = along("0.5 mi before crest");
    made = where(file, &texts);
    is_at(&made, hill->crest_m - 804.672);
    texts = along("300 m past foot");
    made = where(file, &texts);
    is_at(&made, hill->foot_m + 300);
    assert_true(hill->crest_m > 1900 && hill->foot_m > 4900 && hill->foot_m < 5100);
    td_hill_file_free(&file);
}

static void posts_are_counted_along_the_road(void **state)
{
    (void)state;
    struct td_hill_file *file =
        straight(",\"mileposts\":\"mile 12 at 500 m; mile 11 at 2150 m; mile 10 at 3750 m\"");
    struct td_where_texts texts = post("mile 11.4");
    struct td_where made = where(file, &texts);
    is_at(&made, 500 + 0.6 * 1650);
    texts = post("mile 10.25");
    made = where(file, &texts);
    is_at(&made, 2150 + 0.75 * 1600);
    texts = post("mile 9.5"); /* beyond the last post: half a mile on */
    made = where(file, &texts);
    is_at(&made, 3750 + 804.672);
    texts = post("mile 8.9");
    refused(file, &texts, "its posts go from mile 12 to 10, and one beyond");
    texts = post("km 11");
    refused(file, &texts, "count in miles");
    texts = post("11.4");
    refused(file, &texts, "is no milepost");
    td_hill_file_free(&file);
    file = straight("");
    texts = post("mile 11");
    refused(file, &texts, "does not say where its mileposts stand");
    td_hill_file_free(&file);
    file = straight(",\"mileposts\":\"km 1 at 0 m; km 3 at 2 km; km 2.5 at 2 km; km 5 at 4.5 km\"");
    texts = post("km 2.8");
    refused(file, &texts, "twice, at 1800 m and at 2300 m along; give the distance");
    texts = post("km 2");
    made = where(file, &texts);
    is_at(&made, 1000);
    td_hill_file_free(&file);
}

static void coordinates_fall_on_the_road(void **state)
{
    (void)state;
    struct td_hill_file *file = straight("");
    double lat = 0, lon = 0, azimuth = 0, aside_lat = 0, aside_lon = 0;
    char lat_text[32], lon_text[32];
    /* 2500 m down the road and 40 m to the east, which is left of a road due south. */
    geod_direct(&earth, lat0_deg, lon0_deg, 180, 2500, &lat, &lon, &azimuth);
    geod_direct(&earth, lat, lon, 90, 40, &aside_lat, &aside_lon, &azimuth);
    (void)snprintf(lat_text, sizeof lat_text, " %.7f ", aside_lat);
    (void)snprintf(lon_text, sizeof lon_text, "%.7f", aside_lon);
    struct td_where_texts texts = coordinate(lat_text, lon_text, NULL);
    struct td_where made = where(file, &texts);
    assert_near(made.at_m, 2500, 0.05);
    assert_near(made.left_m, 40, 0.05);
    assert_near(made.lon_deg, aside_lon, 0.6e-7); /* the point stays where it was given */
    texts = coordinate(lat_text, lon_text, "2510 m");
    made = where(file, &texts);
    assert_near(made.at_m, 2500, 0.05);
    texts = coordinate(lat_text, lon_text, "2600 m");
    refused(file, &texts, "does not agree with the distance beside it, 2600 m");
    texts = coordinate(lon_text, lat_text, NULL);
    refused(file, &texts, "is no coordinate");
    geod_direct(&earth, lat, lon, 90, 75, &aside_lat, &aside_lon, &azimuth);
    (void)snprintf(lon_text, sizeof lon_text, "%.7f", aside_lon);
    texts = coordinate(lat_text, lon_text, NULL);
    refused(file, &texts, "lies 75 m from the road (nearest at 2500 m along); within 60 m");
    texts = coordinate("47.1", "-128.9", NULL);
    refused(file, &texts, "over 100 km from the road");
    td_hill_file_free(&file);
}

/* Where both numbers may be a latitude, the other way round is seen. */
static void the_order_of_a_coordinate_is_seen(void **state)
{
    (void)state;
    static struct drawn drawn;
    begin(&drawn, "");
    vertex(&drawn, -47.1, -60.0, 100);
    vertex(&drawn, -47.11, -60.0, 40);
    struct td_hill_file *file = finish(&drawn);
    struct td_where_texts texts = coordinate("-60.0", "-47.105", NULL);
    refused(file, &texts, "on the road the other way round; latitude comes first");
    td_hill_file_free(&file);
}

/* Two legs 30 m apart, 800 m long: south, a short piece east, and back north. */
static void two_legs_are_told_apart(void **state)
{
    (void)state;
    static struct drawn drawn;
    double lat = 0, lon = 0, far_lat = 0, far_lon = 0, azimuth = 0;
    begin(&drawn, "");
    for (int i = 0; i <= 8; i++) {
        geod_direct(&earth, lat0_deg, lon0_deg, 180, 100.0 * i, &lat, &lon, &azimuth);
        vertex(&drawn, lat, lon, 500 - i);
    }
    for (int i = 8; i >= 0; i--) {
        geod_direct(&earth, lat0_deg, lon0_deg, 180, 100.0 * i, &lat, &lon, &azimuth);
        geod_direct(&earth, lat, lon, 90, 30, &far_lat, &far_lon, &azimuth);
        vertex(&drawn, far_lat, far_lon, 484 + i);
    }
    struct td_hill_file *file = finish(&drawn);
    /* 300 m down, 10 m east of the first leg: 20 m west of the second, where it is 1330 m. */
    char lat_text[32], lon_text[32];
    geod_direct(&earth, lat0_deg, lon0_deg, 180, 300, &lat, &lon, &azimuth);
    geod_direct(&earth, lat, lon, 90, 10, &far_lat, &far_lon, &azimuth);
    (void)snprintf(lat_text, sizeof lat_text, "%.7f", far_lat);
    (void)snprintf(lon_text, sizeof lon_text, "%.7f", far_lon);
    struct td_where_texts texts = coordinate(lat_text, lon_text, NULL);
    refused(file, &texts, "near two legs of the road, 10 m from it at 300 m along and 20 m at 1330 "
                          "m; say which, with --along \"300 m\" or \"1330 m\"");
    texts.along = "300 m";
    struct td_where made = where(file, &texts);
    assert_near(made.at_m, 300, 0.1);
    assert_true(made.wants_at);
    texts.along = "1330 m";
    made = where(file, &texts);
    assert_near(made.at_m, 1330, 0.1);
    assert_near(made.left_m, 20, 0.1); /* going north, west is left */
    assert_true(made.wants_at);
    /* By distance too it says which leg. Near the bend both legs lie within reach of the hint. */
    for (double at_m = 0; at_m <= 1630; at_m += 16.3) {
        char text[32];
        (void)snprintf(text, sizeof text, "%.1f m", at_m);
        texts = along(text);
        made = where(file, &texts);
        assert_near(made.at_m, at_m, 0.2);
    }
    td_hill_file_free(&file);
}

static void nothing_is_guessed(void **state)
{
    (void)state;
    struct td_hill_file *file = straight("");
    struct td_where_texts texts = named();
    refused(file, &texts, "no word where it is; give --at, --along or --coordinate");
    texts.post = "mile 1";
    texts.along = "1 mi";
    refused(file, &texts, "--at and --along both say where it is");
    static const char *const rows[][2] = {
        {"2.3", "has no unit"},
        {"-1 mi", "is below zero"},
        {"4 mi", "is off the road, which is 3.728 mi (6000 m) long"},
        {"2 mi before crest", "is off the road"},
        {"1 mi after crest", "unit that fits"},
        {"1 mi past summit", "before crest, past crest, before foot or past foot is right"},
        {"1 mi past crest or so", "before crest, past crest"},
        {"mile 3", "does not begin with a number"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        texts = along(rows[i][0]);
        refused(file, &texts, rows[i][1]);
    }
    static const char *const pairs[][2] = {{"-47.1", ""},     {"", "-128.9"}, {"-47.1 S", "-128.9"},
                                           {"-47,1", "-128"}, {"91", "0"},    {"0", "181"},
                                           {"nan", "0"},      {"1e400", "0"}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
        texts = coordinate(pairs[i][0], pairs[i][1], NULL);
        refused(file, &texts, "is no coordinate; write latitude");
    }
    td_hill_file_free(&file);
}

static void a_road_that_needs_no_coaching_has_no_crest(void **state)
{
    (void)state;
    static struct drawn drawn;
    begin(&drawn, "");
    vertex(&drawn, -47.1, -128.9, 100);
    vertex(&drawn, -47.11, -128.9, 100);
    struct td_hill_file *file = finish(&drawn);
    struct td_where_texts texts = along("100 m past crest");
    refused(file, &texts, "has no crest");
    td_hill_file_free(&file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_end_where_proj_says),
        cmocka_unit_test(posts_are_counted_along_the_road),
        cmocka_unit_test(coordinates_fall_on_the_road),
        cmocka_unit_test(the_order_of_a_coordinate_is_seen),
        cmocka_unit_test(two_legs_are_told_apart),
        cmocka_unit_test(nothing_is_guessed),
        cmocka_unit_test(a_road_that_needs_no_coaching_has_no_crest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
