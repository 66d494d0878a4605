/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A profile surveyed anew: a demo hill's road moves aside and grows by a hundredth, and everything
 * that stands beside it stays where it is. */
#include "support/cm.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/hill_file.h"
#include "io/hill_update.h"

static const char path[] = TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson";

static struct td_hill_file *read_back(const char *bytes, size_t length)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    if (td_hill_file_parse("updated", bytes, length, &file, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    return file;
}

static void places_stay_where_they_are(void **state)
{
    (void)state;
    struct td_hill_file *old = NULL;
    struct td_problem problem = {0};
    if (td_hill_file_read(path, &old, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    const struct td_hill *before = td_hill_file_hill(old);
    struct td_station *stations = calloc(before->station_count, sizeof *stations);
    assert_non_null(stations);
    struct td_hill road = {.id = "", .name = "", .stations = stations,
                           .station_count = before->station_count};
    memcpy(stations, before->stations, before->station_count * sizeof *stations);
    for (size_t i = 0; i < before->station_count; i++) {
        stations[i].lat_deg += 3e-5; /* some 3 m */
        stations[i].elevation_m += 12;
    }
    assert_int_equal(td_hill_derive(&road, stations, &problem), TD_OK);
    size_t length = 0, made_length = 0, moved = 0;
    const char *bytes = td_hill_file_bytes(old, &length);
    char *made = NULL;
    const struct td_hill_words words = {.source = "survey of 3 passes", .passes = 3,
                                        .surveyed = "2031-05-17", .grade_sigma_ratio = 0.0021,
                                        .longest_gap_m = -1};
    assert_int_equal(td_hill_update(path, bytes, length, before, &road, &words, &made,
                                    &made_length, &moved, &problem),
                     TD_OK);
    struct td_hill_file *file = read_back(made, made_length);
    const struct td_hill *after = td_hill_file_hill(file);
    assert_string_equal(after->id, before->id);
    assert_string_equal(after->name, before->name);
    assert_string_equal(td_hill_file_surveyed(file), "2031-05-17");
    assert_int_equal(td_hill_file_passes(file), 3);
    assert_non_null(strstr(made, "\"grade_sigma\":\"0.21%\""));
    assert_int_equal(after->flashers, before->flashers);
    assert_int_equal(after->station_count, before->station_count);
    for (size_t i = 0; i < after->station_count; i++) {
        assert_near(after->stations[i].lat_deg, stations[i].lat_deg, 0.51e-6);
        assert_near(after->stations[i].elevation_m, stations[i].elevation_m, 0.0051);
    }
    assert_int_equal(after->place_count, before->place_count);
    assert_true(after->place_count >= 5);
    for (size_t i = 0; i < after->place_count; i++) {
        assert_int_equal(after->places[i].kind, before->places[i].kind);
        assert_int_equal(after->places[i].has, before->places[i].has);
        assert_near(after->places[i].at_m, before->places[i].at_m, 4.0);
        assert_string_equal(after->places[i].say, before->places[i].say);
    }
    free(made);
    free(stations);
    td_hill_file_free(&file);
    td_hill_file_free(&old);
}

/* Where legs lie close, at_m says which; it follows the road. */
static void at_m_follows_the_road(void **state)
{
    (void)state;
    static const char text[] =
        "{\"type\":\"FeatureCollection\",\"note\":\"kept\",\"features\":["
        "{\"type\":\"Feature\",\"properties\":{\"role\":\"stop\",\"at_m\":700,\"id\":\"end\","
        "\"x_mine\":7},"
        "\"geometry\":{\"type\":\"Point\",\"coordinates\":[-128.9,-47.1063]}},"
        "{\"type\":\"Feature\",\"properties\":{\"role\":\"road\",\"id\":\"a\",\"name\":\"A\","
        "\"mileposts\":\"km 4 at 100 m; km 3.2 at 900 m\"},"
        "\"geometry\":{\"type\":\"LineString\",\"coordinates\":"
        "[[-128.9,-47.10,100],[-128.9,-47.11,40]]}}]}";
    struct td_hill_file *old = read_back(text, strlen(text));
    struct td_station stations[3] = {
        {.lat_deg = -47.10, .lon_deg = -128.9, .elevation_m = 100},
        {.lat_deg = -47.102, .lon_deg = -128.8992, .elevation_m = 90},
        {.lat_deg = -47.11, .lon_deg = -128.9, .elevation_m = 40}};
    struct td_hill road = {.id = "", .name = "", .stations = stations, .station_count = 3};
    struct td_problem problem;
    assert_int_equal(td_hill_derive(&road, stations, &problem), TD_OK);
    const struct td_hill_words words = {.grade_sigma_ratio = -1, .longest_gap_m = -1};
    char *made = NULL;
    size_t length = 0, moved = 0;
    assert_int_equal(td_hill_update("a", text, strlen(text), td_hill_file_hill(old), &road, &words,
                                    &made, &length, &moved, &problem),
                     TD_OK);
    assert_int_equal(moved, 1);
    assert_non_null(strstr(made, "\"note\":\"kept\""));
    assert_non_null(strstr(made, "\"x_mine\":7"));
    struct td_hill_file *file = read_back(made, length);
    assert_string_equal(td_hill_file_place(file, 0).id, "end");
    /* Posts stand where they stood. By hand, on the plane: the first leg is 222.4 m south and
     * 60.7 m east, 230.5 m long, so 100 m south lies 100 * 222.4 / 230.5 m along it; 900 m south
     * lies 680.1 m along the second. */
    assert_non_null(strstr(made, "\"mileposts\":\"km 4 at 96 m; km 3.2 at 911 m\""));
    const struct td_place *place = &td_hill_file_hill(file)->places[0];
    /* 0.0063 degrees south, and the detour of the first leg: 231 m instead of 222 m. */
    assert_near(place->at_m, td_hill_file_hill(old)->places[0].at_m + 8.5, 3);
    free(made);
    td_hill_file_free(&file);
    td_hill_file_free(&old);
}

/* The road of a profile with these properties, surveyed anew. */
static struct td_hill_file *surveyed_anew(const char *properties)
{
    char text[512];
    (void)snprintf(text, sizeof text,
                   "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\","
                   "\"properties\":{\"role\":\"road\",\"id\":\"a\",\"name\":\"A\"%s},"
                   "\"geometry\":{\"type\":\"LineString\",\"coordinates\":"
                   "[[-128.9,-47.10,100],[-128.9,-47.11,40]]}}]}",
                   properties);
    struct td_hill_file *old = read_back(text, strlen(text));
    const struct td_hill_words words = {.grade_sigma_ratio = -1, .longest_gap_m = -1};
    struct td_problem problem;
    char *made = NULL;
    size_t length = 0, moved = 0;
    if (td_hill_update("a", text, strlen(text), td_hill_file_hill(old), td_hill_file_hill(old),
                       &words, &made, &length, &moved, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    struct td_hill_file *file = read_back(made, length);
    free(made);
    td_hill_file_free(&old);
    return file;
}

static void a_revision_rises_by_one_and_none_stays_none(void **state)
{
    (void)state;
    static const struct {
        const char *properties;
        unsigned becomes;
    } cases[] = {
        {"", 0}, {",\"revision\":1", 2}, {",\"revision\":7", 8}, {",\"revision\":null", 0}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct td_hill_file *file = surveyed_anew(cases[i].properties);
        assert_int_equal(td_hill_file_revision(file), cases[i].becomes);
        td_hill_file_free(&file);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(places_stay_where_they_are),
        cmocka_unit_test(at_m_follows_the_road),
        cmocka_unit_test(a_revision_rises_by_one_and_none_stays_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
