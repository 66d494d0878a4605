/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The I/O thread of the daemon on the demo hills: answers, epochs, reloads good and bad, and an end
 * while answers nobody took are waiting. */
#include "daemon/library.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>

#include "io/rig_file.h"
#include "support/cm.h"
#include "support/library_rig.h"

enum { WAIT_MS = 20000 };

static struct td_library *library;
static uint32_t hills;
static const struct td_library_source folder = {TD_SOURCE_DIR "/profiles/hills", "", {0}};

static int start(void **state)
{
    (void)state;
    struct td_problem problem = {0};
    struct td_library_begun begun = {.refused = false};
    enum td_result result = td_library_start(&folder, &library, &begun, &problem);
    hills = begun.on_board.hills;
    if (result != TD_OK)
        print_error("%s: %s\n", problem.file, problem.text);
    return result == TD_OK ? 0 : -1;
}

static int stop(void **state)
{
    (void)state;
    td_library_stop(&library);
    return 0;
}

static struct td_answer any(void)
{
    struct td_answer answer;
    struct pollfd wait = {.fd = td_library_fd(library), .events = POLLIN};
    while (!td_library_take(library, &answer))
        assert_int_equal(poll(&wait, 1, WAIT_MS), 1);
    return answer;
}

/* What was asked for; that the library in use was verified may come between. */
static struct td_answer next(void)
{
    struct td_answer answer;
    do
        answer = any();
    while (answer.kind == TD_ANSWER_VERIFIED);
    return answer;
}

static struct td_want want_everything(uint32_t serial)
{
    struct td_hill_file *file = NULL;
    assert_int_equal(td_hill_file_read(TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson", &file,
                                       NULL),
                     TD_OK);
    const struct td_station *station = &td_hill_file_hill(file)->stations[0];
    struct td_want want = {serial, station->lat_deg, station->lon_deg, 5000.0};
    td_hill_file_free(&file);
    return want;
}

static struct td_answer first_hill(uint32_t epoch)
{
    struct td_want want = want_everything(4);
    assert_true(td_library_want(library, epoch, &want));
    struct td_answer hill = next();
    assert_int_equal(hill.offer.kind, TD_OFFER_HILL);
    struct td_answer more;
    do
        more = next();
    while (more.offer.kind == TD_OFFER_HILL);
    assert_int_equal(more.offer.kind, TD_OFFER_END);
    assert_int_equal(more.offer.want_serial, 4);
    return hill;
}

static void test_hill_and_plan(void **state)
{
    (void)state;
    assert_true(hills >= 4);
    struct td_answer hill = first_hill(7);
    assert_int_equal(hill.epoch, 7);
    assert_non_null(hill.file);
    assert_ptr_equal(td_hill_file_hill(hill.file), hill.offer.hill);
    static struct td_rig rig;
    assert_int_equal(td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &rig, NULL),
                     TD_OK);
    struct td_solve solve = {3, hill.offer.handle, td_plan_query_default(&rig)};
    assert_true(td_library_solve(library, 7, &solve, &rig));
    struct td_answer plan = next();
    assert_int_equal(plan.kind, TD_ANSWER_PLAN);
    assert_int_equal(plan.plan_serial, 3);
    static struct td_plan here;
    static struct td_plan_work work;
    td_plan_solve(hill.offer.hill, &rig, &solve.query, &work, &here);
    assert_memory_equal(plan.plan, &here, sizeof here);
    free(plan.plan);
    /* Once let go of, it cannot be planned on. */
    assert_true(td_library_release(library, 7, hill.offer.handle));
    assert_true(td_library_solve(library, 7, &solve, &rig));
    plan = next();
    assert_int_equal(plan.result, TD_NOT_FOUND);
    assert_null(plan.plan);
}

static void test_restart_lets_go(void **state)
{
    (void)state;
    struct td_answer hill = first_hill(1);
    assert_true(td_library_restart(library, 2));
    static struct td_rig rig;
    struct td_solve solve = {3, hill.offer.handle, td_plan_query_default(&rig)};
    assert_true(td_library_solve(library, 2, &solve, &rig));
    struct td_answer answer = next();
    assert_int_equal(answer.epoch, 2);
    assert_int_equal(answer.result, TD_NOT_FOUND);
}

static void test_reload(void **state)
{
    (void)state;
    struct td_answer hill = first_hill(1);
    assert_true(td_library_reload(library, "no/such/folder", 9));
    struct td_answer answer = next();
    assert_int_equal(answer.kind, TD_ANSWER_SHELF);
    assert_int_equal(answer.client, 9);
    assert_int_not_equal(answer.result, TD_OK);
    assert_non_null(strstr(answer.problem.file, "no/such/folder"));
    /* The old hills are there still, and after a good reload as well. */
    (void)first_hill(1);
    assert_true(td_library_reload(library, TD_SOURCE_DIR "/profiles/hills", 0));
    answer = next();
    assert_int_equal(answer.result, TD_OK);
    assert_int_equal(answer.on_board.hills, hills);
    struct td_answer again = first_hill(1);
    assert_int_equal(again.offer.handle, hill.offer.handle);
}

static struct td_answer reload(const char *path)
{
    assert_true(td_library_reload(library, path, 3));
    struct td_answer answer = next();
    assert_int_equal(answer.kind, TD_ANSWER_SHELF);
    return answer;
}

static void pack_demo(const char *path, bool all)
{
    static const char *const names[] = {"ombral-pass", "lunnet-slope", "vessarin-drop"};
    struct td_library_pack *pack = NULL;
    struct td_library_made made;
    assert_int_equal(td_library_pack_begin(path, true, &pack, NULL), TD_OK);
    for (size_t i = 0; i < (all ? 3 : 1); i++) {
        char profile[512];
        struct td_hill_file *file = NULL;
        (void)snprintf(profile, sizeof profile, TD_SOURCE_DIR "/profiles/hills/%s.geojson",
                       names[i]);
        assert_int_equal(td_hill_file_read(profile, &file, NULL), TD_OK);
        assert_int_equal(td_library_pack_add(pack, file, names[i], NULL), TD_OK);
        td_hill_file_free(&file);
    }
    assert_int_equal(td_library_pack_finish(&pack, NULL, NULL, &made, NULL), TD_OK);
}

/* From a folder to a library, to another one, to a bad one: the hill under the truck keeps its
 * handle and its memory, and a bad library leaves the last good one in use. */
static void test_reload_of_libraries(void **state)
{
    (void)state;
    char path[64];
    (void)rig_folder();
    (void)snprintf(path, sizeof path, "%s", rig_in("fleet.hills"));
    struct td_answer hill = first_hill(1);
    const struct td_station *stations = hill.offer.hill->stations;
    double crest_m = hill.offer.hill->crest_m;
    pack_demo(path, false);
    struct td_answer answer = reload(path);
    assert_int_equal(answer.result, TD_OK);
    assert_int_equal(answer.on_board.hills, 1);
    assert_int_equal(first_hill(1).offer.handle, hill.offer.handle);
    pack_demo(path, true);
    answer = reload(path);
    assert_true(answer.result == TD_OK && answer.on_board.hills == 3);
    assert_int_equal(first_hill(1).offer.handle, hill.offer.handle);
    rig_alter(path, "PRAGMA user_version=7");
    answer = reload(path);
    assert_int_equal(answer.result, TD_UNSUPPORTED);
    assert_non_null(strstr(answer.problem.text, "version 7, newer than version 2"));
    /* The file under the open one was changed in place, which nobody should do; the hill in hand
     * does not care. */
    assert_ptr_equal(hill.offer.hill->stations, stations);
    assert_near(hill.offer.hill->crest_m, crest_m, 0);
    assert_int_equal(first_hill(1).offer.handle, hill.offer.handle);
    rig_remove_folder();
}

/* A hill that cannot be trusted is not offered: it is told as damaged, and why. */
static void test_an_altered_hill_is_not_offered(void **state)
{
    (void)state;
    char path[64];
    (void)rig_folder();
    (void)snprintf(path, sizeof path, "%s", rig_in("fleet.hills"));
    pack_demo(path, true);
    rig_alter(path, "UPDATE profile SET bytes = CAST(replace(CAST(bytes AS TEXT), '20 mph', "
                    "'80 mph') AS BLOB)");
    assert_int_equal(reload(path).result, TD_OK);
    struct td_want want = want_everything(5);
    assert_true(td_library_want(library, 1, &want));
    struct td_answer answer = next();
    assert_int_equal(answer.offer.kind, TD_OFFER_DAMAGED);
    assert_int_not_equal(answer.result, TD_OK);
    assert_non_null(strstr(answer.problem.text, "\"ombral-pass\" is not as it was packed"));
    rig_remove_folder();
}

static void test_rig(void **state)
{
    (void)state;
    assert_true(td_library_rig(library, TD_SOURCE_DIR "/profiles/rigs/box-truck.yaml", 5));
    struct td_answer answer = next();
    assert_int_equal(answer.kind, TD_ANSWER_RIG);
    assert_int_equal(answer.client, 5);
    assert_int_equal(answer.result, TD_OK);
    assert_true(answer.rig->gear_count > 0);
    free(answer.rig);
    assert_true(td_library_rig(library, TD_SOURCE_DIR "/profiles/hills/ombral-pass.geojson", 5));
    answer = next();
    assert_int_not_equal(answer.result, TD_OK);
    assert_null(answer.rig);
}

/* stop() must end a thread that waits for room among the answers. */
static void test_end_with_answers_waiting(void **state)
{
    (void)state;
    struct td_want want = want_everything(1);
    for (int i = 0; i < 60; i++)
        assert_true(td_library_want(library, 1, &want));
    struct pollfd wait = {.fd = td_library_fd(library), .events = POLLIN};
    assert_int_equal(poll(&wait, 1, WAIT_MS), 1);
}

static void test_no_hills(void **state)
{
    (void)state;
    struct td_library *none = NULL;
    struct td_problem problem = {0};
    struct td_library_source source = {"no/such/folder", "", {0}};
    struct td_library_begun begun;
    assert_int_not_equal(td_library_start(&source, &none, &begun, &problem), TD_OK);
    assert_null(none);
    assert_non_null(strstr(problem.file, "no/such/folder"));
}

#define LIBRARY_TEST(f) cmocka_unit_test_setup_teardown(f, start, stop)

int main(void)
{
    const struct CMUnitTest tests[] = {
        LIBRARY_TEST(test_hill_and_plan), LIBRARY_TEST(test_restart_lets_go),
        LIBRARY_TEST(test_reload),        LIBRARY_TEST(test_rig),
        LIBRARY_TEST(test_reload_of_libraries), LIBRARY_TEST(test_an_altered_hill_is_not_offered),
        LIBRARY_TEST(test_end_with_answers_waiting),
        cmocka_unit_test(test_no_hills),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
