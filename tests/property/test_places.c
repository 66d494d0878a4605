/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Places put on random roads, moved, changed and taken off at random: the one that was touched is
 * where and what it should be, and every other byte of the profile is as it was. */
#include "support/cm.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/json_span.h"
#include "support/random_hills.h"
#include "support/seed.h"
#include "tool/places/places.h"

enum { HILLS = 6, STEPS = 40, ROOM = 1 << 20, SPANS = TD_HILL_PLACES_MAX + 1 };

static struct td_rng draw;
static struct random_hill drawn;
static char text[ROOM];

/* Legs so near each other that a point of one lies near the next: bends of 9 to 11 m radius, as no
 * road for trucks has them. */
static void draw_serpentine(void)
{
    struct road *road = &drawn.road;
    road_begin(road, ROAD_LAT_DEG, ROAD_LON_DEG, 0, 0, 2000, 0);
    for (int leg = 0; leg < 14; leg++) {
        double radius_m = td_rng_between(&draw, 9, 11);
        road_add(road, td_rng_between(&draw, 150, 400), 0, 0.07, 15);
        road_add(road, 3.14159 * radius_m, leg % 2 == 0 ? 180 : -180, 0.07, 4);
    }
    road_done(road);
}

/* The road as somebody may have written it: spread out or close, with members of their own. */
static size_t write_road(bool spread)
{
    const char *gap = spread ? "\n  " : "";
    const struct td_hill *hill = &drawn.road.hill;
    size_t at = (size_t)snprintf(text, sizeof text,
                                 "{\"keeper\":{\"a\":[1.0,{}]},%s\"type\":\"FeatureCollection\","
                                 "\"features\":[%s{\"type\":\"Feature\",\"id\":7,\"properties\":{"
                                 "\"role\":\"road\",\"x_n\":1.50e1,\"id\":\"r\",\"name\":\"R\"},%s"
                                 "\"geometry\":{\"type\":\"LineString\",\"coordinates\":[",
                                 gap, gap, gap);
    for (size_t i = 0; i < hill->station_count; i++)
        at += (size_t)snprintf(text + at, sizeof text - at, "%s[%.7f,%.7f,%.2f]",
                               i > 0 ? "," : "", hill->stations[i].lon_deg,
                               hill->stations[i].lat_deg, hill->stations[i].elevation_m);
    at += (size_t)snprintf(text + at, sizeof text - at, "]}}%s],\"after\":null}\n", gap);
    assert_true(at < sizeof text);
    return at;
}

static struct td_hill_file *read(const char *bytes, size_t length)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem = {0};
    if (td_hill_file_parse("r", bytes, length, &file, &problem) != TD_OK)
        fail_msg("%d: %s", problem.line, problem.text);
    return file;
}

static struct td_places_open take(struct td_hill_file *file)
{
    struct td_places_open open;
    struct td_problem problem;
    assert_int_equal(td_places_take("r", file, &open, &problem), TD_OK);
    return open;
}

static size_t spans_of(const char *bytes, struct td_span spans[SPANS])
{
    struct td_json_walk walk;
    size_t count = 0;
    assert_true(td_json_member(&walk, bytes, td_json_value(bytes, 0), "features"));
    td_json_begin(&walk, bytes, walk.value.from);
    while (td_json_step(&walk))
        spans[count++] = walk.value;
    return count;
}

/* Features of `after` are those of `before` but for one, from 1: touched, new or gone. */
static void others_are_as_they_were(const char *before, const char *after, size_t but, int grown)
{
    static struct td_span was[SPANS], is[SPANS];
    size_t was_count = spans_of(before, was), is_count = spans_of(after, is);
    assert_int_equal((int)is_count - (int)was_count, grown);
    for (size_t i = 0, k = 0; i < was_count && k < is_count; i++, k++) {
        if (i + 1 == but && grown <= 0) {
            k -= grown < 0;
            continue;
        }
        assert_int_equal(was[i].to - was[i].from, is[k].to - is[k].from);
        assert_memory_equal(before + was[i].from, after + is[k].from, was[i].to - was[i].from);
    }
    /* What stands before the first and after the last. */
    assert_int_equal(was[0].from, is[0].from);
    assert_memory_equal(before, after, was[0].from);
    assert_string_equal(before + was[was_count - 1].to, after + is[is_count - 1].to);
}

static struct td_where anywhere(const struct td_hill_file *file)
{
    const struct td_hill *hill = td_hill_file_hill(file);
    char along[48], lat[48], lon[48];
    struct td_where_texts texts = {.along = along, .post_name = "post", .along_name = "along",
                                   .coordinate_name = "coordinate"};
    struct td_where where;
    struct td_problem problem = {0};
    double at_m = td_rng_between(&draw, 0, hill->length_m);
    (void)snprintf(along, sizeof along, "%.1f m", at_m);
    if (td_where_read(file, &texts, &where, &problem) != TD_OK)
        fail_msg("%s: %s", along, problem.text);
    assert_near(where.at_m, at_m, 1.1);
    if (td_rng_between(&draw, 0, 1) < 0.5)
        return where;
    /* Beside it, with the distance to say which leg: a few metres do not lead to another. */
    texts.lat = lat;
    texts.lon = lon;
    (void)snprintf(lat, sizeof lat, "%.7f", where.lat_deg + td_rng_between(&draw, -3e-5, 3e-5));
    (void)snprintf(lon, sizeof lon, "%.7f", where.lon_deg + td_rng_between(&draw, -3e-5, 3e-5));
    if (td_where_read(file, &texts, &where, &problem) != TD_OK)
        fail_msg("%s,%s at %s: %s", lat, lon, along, problem.text);
    assert_near(where.at_m, at_m, 10);
    return where;
}

/* The place of that feature in the profile as it is now. */
static size_t index_of(const struct td_hill_file *file, size_t feature)
{
    size_t i = 0;
    while (td_hill_file_feature(file, i) != feature)
        i++;
    assert_true(i < td_hill_file_hill(file)->place_count);
    return i;
}

static void is_there(const struct td_hill_file *file, size_t feature, const struct td_where *where)
{
    size_t index = index_of(file, feature);
    const struct td_hill_place_file place = td_hill_file_place(file, index);
    assert_near(td_hill_file_hill(file)->places[index].at_m, where->at_m, 0.6);
    assert_near(place.lat_deg, where->lat_deg, 0.6e-7);
    assert_near(place.lon_deg, where->lon_deg, 0.6e-7);
}

static struct td_hill_file *add(struct td_hill_file *file)
{
    static const char *const roles[] = {"stop", "turn-out", "escape-lane", "note"};
    struct td_where where = anywhere(file);
    struct td_places_open open = take(file);
    const struct td_place_texts texts = {.texts = {NULL, "Caf\xc3\xa9 \"7\" \\ no"}};
    td_place_add(&open, roles[(int)td_rng_between(&draw, 0, 3.999)], &texts, &where);
    assert_false(open.edit.failed);
    size_t length = 0, feature = td_hill_file_hill(file)->place_count + 2;
    others_are_as_they_were(td_hill_file_bytes(file, &length), open.edit.bytes, feature, 1);
    struct td_hill_file *now = read(open.edit.bytes, open.edit.length);
    is_there(now, feature, &where);
    assert_string_equal(td_hill_file_hill(now)->places[index_of(now, feature)].name,
                        "Caf\xc3\xa9 \"7\" \\ no");
    td_places_close(&open);
    /* Taken off again, nothing has happened. */
    struct td_places_open undo = take(now);
    td_place_remove(&undo, index_of(now, feature));
    struct td_hill_file *before = read(undo.edit.bytes, undo.edit.length);
    assert_int_equal(td_hill_file_hill(before)->place_count + 1,
                     td_hill_file_hill(now)->place_count);
    undo.file = NULL;
    td_places_close(&undo);
    td_hill_file_free(&before);
    return now;
}

static struct td_hill_file *move(struct td_hill_file *file, size_t index)
{
    struct td_where where = anywhere(file);
    struct td_places_open open = take(file);
    size_t length = 0, feature = td_hill_file_feature(file, index);
    const struct td_place_texts texts = {.texts = {NULL, "moved"}};
    unsigned became = td_place_apply(&open, index, &texts, &where);
    assert_false(open.edit.failed);
    others_are_as_they_were(td_hill_file_bytes(file, &length), open.edit.bytes, feature, 0);
    struct td_hill_file *now = read(open.edit.bytes, open.edit.length);
    if ((became & TD_PLACE_MOVED) != 0)
        is_there(now, feature, &where);
    assert_string_equal(td_hill_file_hill(now)->places[index_of(now, feature)].name, "moved");
    td_places_close(&open);
    return now;
}

static struct td_hill_file *remove_one(struct td_hill_file *file, size_t index)
{
    struct td_places_open open = take(file);
    size_t length = 0, feature = td_hill_file_feature(file, index);
    td_place_remove(&open, index);
    assert_false(open.edit.failed);
    others_are_as_they_were(td_hill_file_bytes(file, &length), open.edit.bytes, feature, -1);
    struct td_hill_file *now = read(open.edit.bytes, open.edit.length);
    assert_int_equal(td_hill_file_hill(now)->place_count + 1, td_hill_file_hill(file)->place_count);
    td_places_close(&open);
    return now;
}

static void the_rest_is_as_it_was(void **state)
{
    (void)state;
    size_t steps = 0, legs = 0;
    test_seed(&draw, "the_rest_is_as_it_was", 6);
    for (int h = 0; h < HILLS; h++) {
        if (h % 2 == 0)
            draw_serpentine();
        else
            random_hill_draw(&drawn, td_rng_below(&draw, 1000));
        size_t length = write_road(h % 4 < 2);
        struct td_hill_file *file = read(text, length);
        for (int i = 0; i < STEPS; i++, steps++) {
            size_t count = td_hill_file_hill(file)->place_count;
            size_t index = (size_t)td_rng_between(&draw, 0, (double)count);
            double what = count == 0 ? 0 : td_rng_between(&draw, 0, 1);
            file = what < 0.5   ? add(file)
                   : what < 0.8 ? move(file, index)
                                : remove_one(file, index);
        }
        for (size_t i = 0; i < td_hill_file_hill(file)->place_count; i++)
            legs += td_hill_file_place(file, i).has_at;
        /* All taken off, the bytes are the first ones. */
        while (td_hill_file_hill(file)->place_count > 0)
            file = remove_one(file, 0);
        size_t left = 0;
        const char *bytes = td_hill_file_bytes(file, &left);
        assert_int_equal(left, length);
        assert_memory_equal(bytes, text, length);
        td_hill_file_free(&file);
    }
    assert_true(legs > 0);
    printf("%zu steps on %d roads; %zu places had to say which leg\n", steps, (int)HILLS, legs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_rest_is_as_it_was)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
