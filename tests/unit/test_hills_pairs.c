/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two hills of one road are found wherever they lie, once each, and nobody else is: at the lines of
 * the grid by which hills are looked for, across them, over the antimeridian, and in a crowd. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/ocean_hills.h"
#include "tool/hills/hills_found.h"

static struct td_hills_pairs *pairs;

static int begin(void **state)
{
    (void)state;
    pairs = td_hills_pairs_new();
    return pairs != NULL ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    td_hills_pairs_free(&pairs);
    return 0;
}

/* The same road under another id, where `twin` is not '\0': the first letter of the id. */
static void put(unsigned index, double lat_deg, double lon_deg, char twin)
{
    size_t length = 0;
    char name[64];
    struct td_hill_file *file = NULL;
    char *text = ocean_hill_text_at(index, lat_deg, lon_deg, &length);
    assert_non_null(text);
    char *id = strstr(text, "\"ocean-");
    assert_non_null(id);
    if (twin != '\0')
        id[1] = twin;
    assert_int_equal(td_hill_file_parse("hill", text, length, &file, NULL), TD_OK);
    (void)snprintf(name, sizeof name, "%c%u", twin != '\0' ? twin : 'o', index);
    assert_true(td_hills_pairs_add(pairs, name, file));
    td_hill_file_free(&file);
    free(text);
}

static size_t found(void)
{
    struct td_findings to = {.as_json = true};
    assert_true(td_hills_pairs_tell(pairs, &to));
    return to.errors;
}

static void twins_are_found_once_wherever_they_lie(void **state)
{
    (void)state;
    static const double places[][2] = {
        {-47.25, -128.75},  {-47.2501, -128.7501}, {-47.2499, -128.7499}, {-47.2, -128.0},
        {-40.0, 179.99},    {-41.0, -179.99},      {-42.0, 179.9999},     {-43.0, 0.0},
        {-44.0, -0.0001},   {-0.0001, -30.0},      {0.2499, -30.5},       {60.0, -150.0},
    };
    size_t count = sizeof places / sizeof places[0];
    for (size_t i = 0; i < count; i++) {
        put((unsigned)i, places[i][0], places[i][1], '\0');
        put((unsigned)i, places[i][0], places[i][1], 'x');
    }
    assert_int_equal(found(), count);
}

static void three_of_one_road_are_three_pairs(void **state)
{
    (void)state;
    put(5, -47.25, -128.75, '\0');
    put(5, -47.25, -128.75, 'x');
    put(5, -47.25, -128.75, 'y');
    assert_int_equal(found(), 3);
}

/* Hills as they lie in a library of them, of which every twentieth has a twin. */
static void a_crowd_of_others_is_not_found(void **state)
{
    (void)state;
    for (unsigned i = 0; i < 80; i++) {
        double lat_deg, lon_deg;
        ocean_hill_place(i, &lat_deg, &lon_deg);
        put(i, lat_deg, lon_deg, '\0');
        if (i % 20 == 7)
            put(i, lat_deg, lon_deg, 'x');
    }
    assert_int_equal(found(), 4);
}

static void none_and_one_are_nothing(void **state)
{
    (void)state;
    assert_int_equal(found(), 0);
    put(1, -47.25, -128.75, '\0');
    assert_int_equal(found(), 0);
}

#define PAIRS_TEST(f) cmocka_unit_test_setup_teardown(f, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PAIRS_TEST(twins_are_found_once_wherever_they_lie),
        PAIRS_TEST(three_of_one_road_are_three_pairs),
        PAIRS_TEST(a_crowd_of_others_is_not_found),
        PAIRS_TEST(none_and_one_are_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
