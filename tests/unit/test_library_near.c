/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills near a place: a library says what a folder of the same profiles says, and both what a look
 * at every vertex of every road says, at the antimeridian and next to the poles too. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/file.h"
#include "io/shelf.h"
#include "support/cm.h"
#include "support/library_rig.h"
#include "support/seed.h"
#include "talkdown/geo.h"
#include "talkdown/units.h"

enum { HILLS = 60, PLACES = 600 };

static struct rig_hill hills[HILLS];
static struct td_hill_file *files[HILLS]; /* in the order of ids, which is that of indexes */
static struct td_shelf *folder_shelf, *library_shelf;

static const double corners[][2] = {{-30, 179.95}, {84.8, -179.98}, {-84.8, 20}, {0.02, -0.02}};
enum { CORNERS = sizeof corners / sizeof corners[0] };

/* Most are neighbours in the ocean; the others crowd the corners of the map. */
static void choose_hills(void)
{
    for (unsigned i = 0; i < HILLS; i++)
        hills[i].index = i;
    for (unsigned i = 0; i < 20; i++) {
        struct rig_hill *hill = &hills[3 * i];
        hill->lat_deg = corners[i % CORNERS][0] + 0.01 * (i / CORNERS);
        hill->lon_deg = corners[i % CORNERS][1];
    }
}

static struct td_shelf *open_shelf(const char *path)
{
    struct td_shelf *shelf = NULL;
    struct td_problem problem;
    if (td_shelf_open(path, &shelf, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return shelf;
}

/* Files are named against the order of ids; they are moved out before the library comes in. */
static int set_up(void **state)
{
    (void)state;
    const char *folder = rig_folder();
    choose_hills();
    for (unsigned i = 0; i < HILLS; i++) {
        char name[32];
        size_t length = 0;
        struct td_problem problem;
        char *text = rig_text(&hills[i], &length);
        (void)snprintf(name, sizeof name, "h%03u.geojson", HILLS - i);
        assert_int_equal(td_file_write(rig_in(name), text, length, false, &problem), TD_OK);
        assert_int_equal(td_hill_file_parse(name, text, length, &files[i], &problem), TD_OK);
        free(text);
    }
    rig_pack(rig_in("all.hills"), hills, HILLS);
    folder_shelf = open_shelf(folder);
    library_shelf = open_shelf(rig_in("all.hills"));
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    for (unsigned i = 0; i < HILLS; i++)
        td_hill_file_free(&files[i]);
    td_shelf_close(&folder_shelf);
    td_shelf_close(&library_shelf);
    rig_remove_folder();
    return 0;
}

/* From the nearest vertex; a road whose beginning is further away than all of it is long and the
 * radius on top need not be looked at. */
static double road_m(const struct td_hill *hill, double lat_deg, double lon_deg, double radius_m)
{
    double least_m = td_geo_distance_m(lat_deg, lon_deg, hill->stations[0].lat_deg,
                                       hill->stations[0].lon_deg);
    if (least_m > radius_m + 1100 + hill->length_m)
        return least_m;
    for (size_t i = 0; i < hill->station_count; i++)
        least_m = fmin(least_m, td_geo_distance_m(lat_deg, lon_deg, hill->stations[i].lat_deg,
                                                  hill->stations[i].lon_deg));
    return least_m;
}

static void choose_place(struct td_rng *rng, double *lat_deg, double *lon_deg)
{
    unsigned i = td_rng_below(rng, HILLS);
    const struct td_station *from = td_hill_file_hill(files[i])->stations;
    double far_m = td_rng_below(rng, 4) == 0 ? 200000 : 15000;
    double high = td_rng_between(rng, -far_m, far_m) / 111195.0;
    *lat_deg = fmax(-90, fmin(90, from->lat_deg + high));
    double wide = far_m / 111195.0 / fmax(1e-3, cos(td_rad_from_deg(*lat_deg)));
    *lon_deg = td_geo_turn_deg(from->lon_deg + td_rng_between(rng, -1, 1) * fmin(180, wide));
}

static size_t ask(const struct td_shelf *shelf, const double place[3], size_t *indexes)
{
    size_t found = 999;
    struct td_problem problem;
    if (td_shelf_near(shelf, place[0], place[1], place[2], indexes, TD_NEAR_MAX, &found,
                      &problem) != TD_OK)
        fail_msg("%s", problem.text);
    return found;
}

/* Returns how many hills are near. */
static size_t compare(const double place[3])
{
    size_t in_folder[TD_NEAR_MAX], in_library[TD_NEAR_MAX];
    size_t found = ask(folder_shelf, place, in_folder);
    if (ask(library_shelf, place, in_library) != found ||
        memcmp(in_folder, in_library, found * sizeof *in_folder) != 0)
        fail_msg("%.6f %.6f, %.0f m: folder and library differ", place[0], place[1], place[2]);
    bool near[HILLS] = {false};
    for (size_t i = 0; i < found; i++)
        near[in_library[i]] = true;
    for (size_t i = 0; i < HILLS; i++) {
        double is_m = road_m(td_hill_file_hill(files[i]), place[0], place[1], place[2]);
        /* Boxes are of 1 km of road: its far corner is no further from it than that. */
        if (is_m <= place[2] ? !near[i] : near[i] && is_m > place[2] + 1000)
            fail_msg("%.6f %.6f: hill %zu is %.0f m away and %s within %.0f m", place[0], place[1],
                     i, is_m, near[i] ? "told" : "not told", place[2]);
    }
    return found;
}

static void everywhere_alike(void **state)
{
    (void)state;
    struct td_rng rng;
    size_t some = 0, many = 0, none = 0;
    test_seed(&rng, "near", 17);
    for (int i = 0; i < PLACES; i++) {
        double place[3];
        choose_place(&rng, &place[0], &place[1]);
        place[2] = td_rng_below(&rng, 2) == 0 ? 6000 : td_rng_between(&rng, 10, 50000);
        size_t found = compare(place);
        none += found == 0;
        some += found > 0;
        many += found > 4;
    }
    print_message("%zu places without a hill, %zu with, %zu with over four\n", none, some, many);
    assert_true(none > PLACES / 10 && some > PLACES / 4 && many > PLACES / 40);
}

static void at_the_very_edges(void **state)
{
    (void)state;
    static const double places[][3] = {
        {90, 0, 600000},        {90, 123.4, 570000},   {-90, -45, 590000},   {-90, 180, 50},
        {84.8, 180, 6000},      {84.8, -180, 6000},   {-30, 180, 6000},     {-30, -180, 6000},
        {-30, 179.9999, 20000}, {-30, -179.9999, 100}, {84.99, 179.9, 30000}, {0, 0, 6000},
    };
    size_t found = 0;
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++)
        found += compare(places[i]);
    assert_true(found > 30);
}

static void nowhere_is_near_nothing(void **state)
{
    (void)state;
    size_t index, found = 9;
    struct td_problem problem;
    const struct td_shelf *shelves[] = {folder_shelf, library_shelf};
    for (int i = 0; i < 2; i++) {
        assert_int_equal(td_shelf_near(shelves[i], (double)NAN, 0, 6000, &index, 1, &found,
                                       &problem),
                         TD_OK);
        assert_int_equal(found, 0);
        assert_int_equal(td_shelf_near(shelves[i], 0, 0, (double)NAN, &index, 1, &found, &problem),
                         TD_OK);
        assert_int_equal(found, 0);
    }
}

static void no_more_than_asked_for(void **state)
{
    (void)state;
    const struct td_station *from = td_hill_file_hill(files[10])->stations;
    size_t all[TD_NEAR_MAX], few[3] = {99, 99, 99}, found = 0;
    struct td_problem problem;
    const double place[3] = {from->lat_deg, from->lon_deg, 40000};
    size_t near = ask(library_shelf, place, all);
    assert_true(near > 5);
    assert_int_equal(td_shelf_near(library_shelf, place[0], place[1], place[2], few, 2, &found,
                                   &problem),
                     TD_OK);
    assert_int_equal(found, near);
    assert_true(few[0] == all[0] && few[1] == all[1] && few[2] == 99);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everywhere_alike),
        cmocka_unit_test(at_the_very_edges),
        cmocka_unit_test(nowhere_is_near_nothing),
        cmocka_unit_test(no_more_than_asked_for),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
