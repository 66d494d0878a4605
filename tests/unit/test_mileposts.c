/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counting by mileposts, every figure by hand: a mile is 1609.344 m (NIST SP 811, B.8). */
#include "support/cm.h"

#include <math.h>
#include <string.h>

#include "io/mileposts.h"

static struct td_mileposts read(const char *text)
{
    struct td_mileposts posts;
    struct td_problem problem = {0};
    if (td_mileposts_parse(text, &posts, &problem) != TD_OK)
        fail_msg("%s: %s", text, problem.text);
    return posts;
}

/* Where the count is reached once on a road of 20 km. */
static double along(const struct td_mileposts *posts, double post)
{
    double found[TD_MILEPOSTS_MAX];
    assert_int_equal(td_mileposts_along(posts, 20000, post, found), 1);
    return found[0];
}

static void posts_are_as_they_stand(void **state)
{
    (void)state;
    /* Two miles that are 3000 m: a mile of posts is 1500 m there, whatever a mile is. */
    struct td_mileposts posts = read("mile 10 at 1000 m; mile 12 at 4 km");
    assert_near(along(&posts, 10), 1000, 1e-9);
    assert_near(along(&posts, 10.5), 1750, 1e-9);
    assert_near(along(&posts, 12), 4000, 1e-9);
    assert_near(td_mileposts_at(&posts, 2500), 11, 1e-12);
    /* Outside by its unit, for one of it: mile 12.5 is 804.672 m past mile 12. */
    assert_near(along(&posts, 12.5), 4804.672, 1e-9);
    assert_near(along(&posts, 9.5), 195.328, 1e-9);
    assert_near(td_mileposts_at(&posts, 4000 + 1609.344), 13, 1e-9);
    assert_true(isnan(td_mileposts_at(&posts, 4000 + 1610)));
    double found[TD_MILEPOSTS_MAX];
    assert_int_equal(td_mileposts_along(&posts, 20000, 13.01, found), 0);
    assert_int_equal(td_mileposts_along(&posts, 20000, 9.2, found), 0); /* before the road */
    assert_int_equal(td_mileposts_along(&posts, 4500, 12.5, found), 0); /* past its end */
}

static void a_count_may_fall_along_the_road(void **state)
{
    (void)state;
    struct td_mileposts posts = read("km 20 at 500 m; km 18 at 2500 m; km 17.5 at 3.1 km");
    assert_int_equal(posts.unit, TD_POST_KM);
    assert_near(along(&posts, 19.25), 1250, 1e-9);
    assert_near(along(&posts, 18), 2500, 1e-9);
    assert_near(along(&posts, 17.75), 2800, 1e-9); /* half of 600 m */
    assert_near(along(&posts, 20.4), 100, 1e-9);
    assert_near(along(&posts, 17), 3600, 1e-9);
    assert_near(td_mileposts_at(&posts, 2800), 17.75, 1e-12);
    assert_near(td_mileposts_at(&posts, 0), 20.5, 1e-12);
}

/* The road was shortened: post 12.3 and post 12 are one place, and 12 to 12.3 come twice. */
static void a_count_that_jumps_back_is_there_twice(void **state)
{
    (void)state;
    struct td_mileposts posts =
        read("mile 10 at 0 m; mile 12.3 at 3700 m; mile 12 at 3700 m; mile 14 at 6900 m");
    double found[TD_MILEPOSTS_MAX];
    assert_int_equal(td_mileposts_along(&posts, 20000, 12.15, found), 2);
    assert_near(found[0], 3700 * 2.15 / 2.3, 1e-9);
    assert_near(found[1], 3700 + 3200 * 0.15 / 2, 1e-9);
    assert_near(along(&posts, 11.5), 3700 * 1.5 / 2.3, 1e-9);
    assert_near(along(&posts, 13), 3700 + 1600, 1e-9);
    /* At the jump the road ahead counts. */
    assert_near(td_mileposts_at(&posts, 3700), 12, 1e-12);
    assert_near(td_mileposts_at(&posts, 3699.999), 12.3, 1e-5);
}

/* The road was lengthened elsewhere: no post says 12 to 12.3. */
static void a_count_that_jumps_ahead_has_a_hole(void **state)
{
    (void)state;
    struct td_mileposts posts =
        read("mile 10 at 0 m; mile 12 at 3200 m; mile 12.3 at 3200 m; mile 14 at 5920 m");
    double found[TD_MILEPOSTS_MAX];
    assert_int_equal(td_mileposts_along(&posts, 20000, 12.15, found), 0);
    assert_near(along(&posts, 12.3), 3200, 1e-9);
    assert_near(along(&posts, 12), 3200, 1e-9);
}

static void the_text_of_them_reads_the_same(void **state)
{
    (void)state;
    struct td_mileposts posts =
        read(" mile  10 at 0.5 mi ;mile 12.25 at 2.75 mi; mile 12 at 2.75 mi; mile 13 at 6,032 m");
    char room[TD_MILEPOSTS_TEXT_MAX];
    struct td_text text;
    td_text_init(&text, room, sizeof room);
    td_mileposts_text(&posts, &text);
    /* 804.672 and 4425.696 m. */
    assert_string_equal(room, "mile 10 at 805 m; mile 12.25 at 4426 m; mile 12 at 4426 m; mile 13 "
                              "at 6032 m");
    struct td_mileposts again = read(room);
    assert_int_equal(again.count, 4);
    assert_near(again.posts[1].post, 12.25, 1e-12);
}

static void the_worst_piece_is_found(void **state)
{
    (void)state;
    double at_m = -1;
    struct td_mileposts posts = read("km 1 at 100 m; km 2 at 1110 m; km 3 at 1990 m");
    assert_near(td_mileposts_worst(&posts, &at_m), -0.12, 1e-9); /* 880 m for a kilometre */
    assert_near(at_m, 1110, 1e-9);
}

static void refuses_what_is_no_count(void **state)
{
    (void)state;
    static const char *const rows[][2] = {
        {"", "does not say where a post stands"},
        {"mile 10", "does not say where a post stands"},
        {"mile 10 at 1 mi", "two posts at two places"},
        {"mile 10 at 1 mi; mile 10 at 1 mi", "two posts at two places"},
        {"mile 10 at 1 mi;", "does not say where a post stands"},
        {"mile 10 at 1; mile 11 at 2 mi", "has no unit"},
        {"post 10 at 1 mi; post 11 at 2 mi", "is no milepost"},
        {"mile -1 at 1 mi; mile 0 at 2 mi", "is no milepost"},
        {"mile10 at 1 mi; mile 11 at 2 mi", "is no milepost"},
        {"mile 10 at 1 mi; km 18 at 2 mi", "has miles and km"},
        {"mile 10 at 2 mi; mile 11 at 1 mi", "in order along the road"},
        {"mile 10 at 1 mi; mile 11 at 2 mi; mile 10 at 3 mi", "turns round"},
        {"mile 10 at 1 mi; mile 11 at 2 mi; mile 11 at 3 mi", "turns round"},
        {"mile 10 at 1 mi; mile 15 at 2 mi", "over twice or under half"},
        {"mile 10 at 1 km; mile 11 at 9 km", "over twice or under half"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct td_mileposts posts = {.count = 77};
        struct td_problem problem = {0};
        assert_int_equal(td_mileposts_parse(rows[i][0], &posts, &problem), TD_INVALID);
        if (strstr(problem.text, rows[i][1]) == NULL)
            fail_msg("\"%s\": %s", rows[i][0], problem.text);
        assert_int_equal(posts.count, 77);
    }
    char many[TD_MILEPOSTS_TEXT_MAX] = "";
    for (size_t i = 0, at = 0; i < TD_MILEPOSTS_MAX + 1; i++)
        at += (size_t)snprintf(many + at, sizeof many - at, "%skm %zu at %zu km", i > 0 ? ";" : "",
                               i, i);
    struct td_mileposts posts;
    struct td_problem problem = {0};
    assert_int_equal(td_mileposts_parse(many, &posts, &problem), TD_FULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(posts_are_as_they_stand),
        cmocka_unit_test(a_count_may_fall_along_the_road),
        cmocka_unit_test(a_count_that_jumps_back_is_there_twice),
        cmocka_unit_test(a_count_that_jumps_ahead_has_a_hole),
        cmocka_unit_test(the_text_of_them_reads_the_same),
        cmocka_unit_test(the_worst_piece_is_found),
        cmocka_unit_test(refuses_what_is_no_count),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
