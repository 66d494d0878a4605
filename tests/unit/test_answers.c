/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills by handle: a hill keeps its handle while it is in hand, and a plan needs its hill. */
#include "io/answers.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/file.h"
#include "io/rig_file.h"
#include "support/cm.h"
#include "support/ocean_hills.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills"
#define RIG   TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml"

static struct td_shelf *shelf;

static int set_up(void **state)
{
    (void)state;
    struct td_problem problem;
    return td_shelf_open(HILLS, &shelf, &problem) == TD_OK ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    td_shelf_close(&shelf);
    return 0;
}

/* A want at the first vertex of the hill on the shelf at `index`. */
static struct td_want want_at(size_t index, uint32_t serial)
{
    struct td_hill_file *file = NULL;
    struct td_problem problem;
    assert_int_equal(td_shelf_read(shelf, index, &file, &problem), TD_OK);
    const struct td_station *first = td_hill_file_hill(file)->stations;
    struct td_want want = {serial, first->lat_deg, first->lon_deg, 500.0};
    td_hill_file_free(&file);
    return want;
}

static void a_hill_in_hand_keeps_its_handle(void **state)
{
    (void)state;
    struct td_answers *answers = NULL;
    struct td_offer offers[TD_OFFERS_MAX];
    struct td_problem problem;
    assert_int_equal(td_answers_open(shelf, &answers, &problem), TD_OK);
    struct td_want want = want_at(0, 11);
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), 2);
    assert_int_equal(offers[0].kind, TD_OFFER_HILL);
    assert_int_equal(offers[0].want_serial, 11);
    assert_int_equal(offers[1].kind, TD_OFFER_END);
    assert_int_equal(offers[1].want_serial, 11);
    uint32_t handle = offers[0].handle;
    const struct td_hill *hill = offers[0].hill;
    assert_true(handle != 0);
    assert_ptr_equal(td_hill_file_hill(td_answers_hill(answers, handle)), hill);
    want.serial = 12;
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), 2);
    assert_int_equal(offers[0].handle, handle);
    assert_ptr_equal(offers[0].hill, hill);
    td_answers_reshelve(answers, shelf); /* the same bytes from another shelf: the same handle */
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), 2);
    assert_int_equal(offers[0].handle, handle);
    td_answers_release(answers, handle);
    assert_null(td_answers_hill(answers, handle));
    td_answers_release(answers, handle);
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), 2);
    assert_true(offers[0].handle != handle && offers[0].handle != 0);
    td_answers_close(&answers);
    assert_null(answers);
}

static void far_from_everything_there_is_nothing(void **state)
{
    (void)state;
    struct td_answers *answers = NULL;
    struct td_offer offers[TD_OFFERS_MAX];
    struct td_problem problem;
    struct td_want want = {3, 10.0, 20.0, 6000.0};
    assert_int_equal(td_answers_open(shelf, &answers, &problem), TD_OK);
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), 1);
    assert_int_equal(offers[0].kind, TD_OFFER_END);
    td_answers_close(&answers);
}

static void a_plan_needs_its_hill(void **state)
{
    (void)state;
    struct td_answers *answers = NULL;
    struct td_offer offers[TD_OFFERS_MAX];
    struct td_problem problem;
    struct td_rig rig;
    assert_int_equal(td_rig_file_read(RIG, &rig, &problem), TD_OK);
    assert_int_equal(td_answers_open(shelf, &answers, &problem), TD_OK);
    struct td_want want = want_at(1, 1);
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), 2);
    struct td_solve solve = {5, offers[0].handle, td_plan_query_default(&rig)};
    struct td_plan plan = {.gear = -9};
    assert_int_equal(td_answers_solve(answers, &solve, &rig, &plan, &problem), TD_OK);
    assert_true(plan.coached && plan.safe && plan.say_mph >= 5);
    td_answers_release(answers, offers[0].handle);
    assert_int_equal(td_answers_solve(answers, &solve, &rig, &plan, &problem), TD_NOT_FOUND);
    td_answers_close(&answers);
}

enum { THREE = 3 };

/* Three hills some hundred metres from each other, "ocean-000000" to 2. */
static void write_three(char names[THREE][64], const char *folder)
{
    for (unsigned i = 0; i < THREE; i++) {
        size_t length = 0;
        char *text = ocean_hill_text_at(i, -47.0 + 0.004 * i, -128.0, &length);
        assert_non_null(text);
        (void)snprintf(names[i], sizeof names[i], "%s/%u.geojson", folder, i);
        assert_int_equal(td_file_write(names[i], text, length, true, NULL), TD_OK);
        free(text);
    }
}

/* The truck may well be on one of the others. */
static void an_altered_hill_is_told_as_damaged_and_the_others_are_offered(void **state)
{
    (void)state;
    char folder[] = "answers-test.XXXXXX", names[THREE][64];
    struct td_shelf *three = NULL;
    struct td_answers *answers = NULL;
    struct td_offer offers[TD_OFFERS_MAX];
    struct td_problem problem = {0};
    assert_non_null(mkdtemp(folder));
    write_three(names, folder);
    assert_int_equal(td_shelf_open(folder, &three, &problem), TD_OK);
    assert_int_equal(td_answers_open(three, &answers, &problem), TD_OK);
    struct td_want want = {7, -47.0, -128.0, 6000.0};
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), THREE + 1);
    size_t nearest = (size_t)(strchr("012", offers[0].hill->id[11]) - "012");
    char next[16];
    (void)snprintf(next, sizeof next, "%s", offers[1].hill->id);
    for (int i = 0; i < THREE; i++)
        td_answers_release(answers, offers[i].handle);
    assert_int_equal(td_file_write(names[nearest], "{}", 2, true, NULL), TD_OK);
    assert_int_equal(td_answers_want(answers, &want, offers, &problem), THREE + 1);
    assert_int_equal(offers[0].kind, TD_OFFER_DAMAGED);
    assert_int_equal(offers[0].want_serial, 7);
    assert_int_equal(offers[0].handle, nearest + 1); /* its place on the shelf */
    assert_null(offers[0].hill);
    assert_string_equal(offers[1].hill->id, next);
    assert_int_equal(offers[2].kind, TD_OFFER_HILL);
    assert_int_equal(offers[3].kind, TD_OFFER_END);
    assert_int_equal(offers[3].want_serial, 7);
    assert_string_equal(problem.file, names[nearest]);
    td_answers_close(&answers);
    td_shelf_close(&three);
    for (int i = 0; i < THREE; i++)
        assert_int_equal(unlink(names[i]), 0);
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hill_in_hand_keeps_its_handle),
        cmocka_unit_test(far_from_everything_there_is_nothing),
        cmocka_unit_test(a_plan_needs_its_hill),
        cmocka_unit_test(an_altered_hill_is_told_as_damaged_and_the_others_are_offered),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
