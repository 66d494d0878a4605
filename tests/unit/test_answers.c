/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Hills by handle: a hill keeps its handle while it is in hand, and a plan needs its hill. */
#include "io/answers.h"

#include <stdlib.h>
#include <string.h>

#include "io/rig_file.h"
#include "support/cm.h"

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hill_in_hand_keeps_its_handle),
        cmocka_unit_test(far_from_everything_there_is_nothing),
        cmocka_unit_test(a_plan_needs_its_hill),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
