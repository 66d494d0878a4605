/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/file.h"
#include "io/shelf.h"

static char folder[32];

static const char *in_folder(const char *name)
{
    static char path[96];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

/* A road of 4 km to the south-east (lon_step above 0) at a place in the open ocean. */
static void put(const char *name, const char *id, double lat_deg, double lon_deg, double lon_step)
{
    char text[8192];
    size_t used = (size_t)snprintf(
        text, sizeof text,
        "{\"type\":\"FeatureCollection\",\"features\":[{\"type\":\"Feature\",\"properties\":"
        "{\"role\":\"road\",\"id\":\"%s\",\"name\":\"%s\"},\"geometry\":{\"type\":\"LineString\","
        "\"coordinates\":[",
        id, id);
    for (int i = 0; i <= 40; i++) {
        double lon = lon_deg + i * lon_step;
        used += (size_t)snprintf(text + used, sizeof text - used, "%s[%.6f,%.6f,%d]",
                                 i > 0 ? "," : "", lon > 180 ? lon - 360 : lon,
                                 lat_deg - i * 0.0006, 800 - 6 * i);
    }
    used += (size_t)snprintf(text + used, sizeof text - used, "]}}]}");
    struct td_problem problem;
    if (td_file_write(in_folder(name), text, used, true, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
}

static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "shelf-test.XXXXXX");
    if (mkdtemp(folder) == NULL)
        return -1;
    put("b.geojson", "bee", -47.0, -128.0, 0.0009);
    put("a.geojson", "ay", -47.0, -128.2, 0.0009);
    put("c.geojson", "across", -20.0, 179.99, 0.0009);
    put(".hidden.geojson", "ay", -47.0, -128.0, 0.0009);
    put("notes.txt", "ay", -47.0, -128.0, 0.0009);
    return 0;
}

static int remove_folder(void **state)
{
    (void)state;
    static const char *const names[] = {"a.geojson", "b.geojson",       "c.geojson",
                                        "d.geojson", ".hidden.geojson", "notes.txt"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        (void)unlink(in_folder(names[i]));
    return rmdir(folder);
}

static struct td_shelf *open_shelf(const char *path)
{
    struct td_shelf *shelf = NULL;
    struct td_problem problem;
    if (td_shelf_open(path, &shelf, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    return shelf;
}

static size_t near(const struct td_shelf *shelf, double lat_deg, double lon_deg, double radius_m,
                   size_t *indexes, size_t most)
{
    size_t found = 99;
    struct td_problem problem;
    assert_int_equal(
        td_shelf_near(shelf, lat_deg, lon_deg, radius_m, indexes, most, &found, &problem), TD_OK);
    return found;
}

static void assert_id(const struct td_shelf *shelf, size_t index, const char *id)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    assert_int_equal(td_shelf_read(shelf, index, &file, &problem), TD_OK);
    assert_string_equal(td_hill_file_hill(file)->id, id);
    td_hill_file_free(&file);
}

static void holds_profiles_in_order_of_id(void **state)
{
    (void)state;
    struct td_shelf *shelf = open_shelf(folder);
    assert_int_equal(td_shelf_count(shelf), 3);
    assert_id(shelf, 0, "across");
    assert_id(shelf, 1, "ay");
    assert_id(shelf, 2, "bee");
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    assert_int_equal(td_shelf_read(shelf, 3, &file, &problem), TD_NOT_FOUND);
    td_shelf_close(&shelf);
    assert_null(shelf);
    td_shelf_close(&shelf);
    shelf = open_shelf(in_folder("b.geojson"));
    assert_int_equal(td_shelf_count(shelf), 1);
    td_shelf_close(&shelf);
}

/* At 47 degrees south a degree of longitude is 76.1 km: the roads begin 15.2 km apart. */
static void finds_what_comes_within_the_radius(void **state)
{
    (void)state;
    struct td_shelf *shelf = open_shelf(folder);
    size_t index[3] = {9, 9, 9};
    assert_int_equal(near(shelf, -47.0, -128.0, 500, index, 3), 1);
    assert_int_equal(index[0], 2);
    assert_int_equal(near(shelf, -47.0, -128.0, 20000, index, 3), 2);
    assert_true(index[0] == 2 && index[1] == 1);
    assert_int_equal(near(shelf, -47.0, -128.2, 20000, index, 3), 2);
    assert_true(index[0] == 1 && index[1] == 2);
    index[1] = 9;
    assert_int_equal(near(shelf, -47.0, -128.0, 20000, index, 1), 2);
    assert_true(index[0] == 2 && index[1] == 9);
    assert_int_equal(near(shelf, -47.0, -128.0, 20000, NULL, 0), 2);
    assert_int_equal(near(shelf, 30.0, 10.0, 50000, index, 3), 0);
    /* Inside the box round a whole diagonal road, but 1.9 km from the road and 1.4 km from the
     * boxes round its pieces of 1 km. */
    assert_int_equal(near(shelf, -47.0, -127.965, 1200, index, 3), 0);
    assert_int_equal(near(shelf, -47.0, -127.965, 2200, index, 3), 1);
    td_shelf_close(&shelf);
}

static void sees_across_the_antimeridian(void **state)
{
    (void)state;
    struct td_shelf *shelf = open_shelf(folder);
    size_t index[3];
    assert_int_equal(near(shelf, -20.0, 179.98, 2000, index, 3), 1);
    assert_int_equal(index[0], 0);
    assert_int_equal(near(shelf, -20.023, -179.974, 1000, index, 3), 1);
    assert_int_equal(near(shelf, -20.023, -179.9, 1000, index, 3), 0);
    td_shelf_close(&shelf);
}

static void a_bad_profile_refuses_the_shelf(void **state)
{
    (void)state;
    struct td_shelf *shelf = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_file_write(in_folder("d.geojson"), "{", 1, false, &problem), TD_OK);
    assert_int_equal(td_shelf_open(folder, &shelf, &problem), TD_INVALID);
    assert_string_equal(problem.file, in_folder("d.geojson"));
    put("d.geojson", "bee", -40.0, -128.0, 0.0009);
    assert_int_equal(td_shelf_open(folder, &shelf, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "has the id \"bee\" of "));
    assert_int_equal(unlink(in_folder("d.geojson")), 0);
    assert_int_equal(td_shelf_open(in_folder("none"), &shelf, &problem), TD_NOT_FOUND);
    assert_null(shelf);
}

static void a_changed_file_is_not_read(void **state)
{
    (void)state;
    struct td_shelf *shelf = open_shelf(folder);
    put("a.geojson", "ay", -47.0, -128.2, 0.0008);
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_shelf_read(shelf, 1, &file, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "has changed since it was checked; reload"));
    assert_int_equal(unlink(in_folder("a.geojson")), 0);
    assert_int_equal(td_shelf_read(shelf, 1, &file, &problem), TD_NOT_FOUND);
    assert_null(file);
    td_shelf_close(&shelf);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(holds_profiles_in_order_of_id),
        cmocka_unit_test(finds_what_comes_within_the_radius),
        cmocka_unit_test(sees_across_the_antimeridian),
        cmocka_unit_test(a_bad_profile_refuses_the_shelf),
        cmocka_unit_test(a_changed_file_is_not_read),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
