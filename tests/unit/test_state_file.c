/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is carried over a power cycle: same boot cools by the clock, a reboot takes nothing off,
 * another rig starts cold. */
#include "daemon/state_file.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/file.h"
#include "io/rig_file.h"
#include "support/cm.h"
#include "talkdown/units.h"

static struct td_rig rig;
static struct td_carried carried;
static const char path[] = "state-file-test";

static int prepare(void **state)
{
    (void)state;
    (void)unlink(path);
    memset(&carried, 0, sizeof carried);
    if (td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &rig, NULL) != TD_OK)
        return -1;
    carried.saved_ns = 1000 * TD_NS_PER_S;
    carried.load_confirmed = true;
    carried.least_c = 80.125;
    carried.likely_c = 210.0;
    carried.most_c = 1.0 / 3.0 + 400.0;
    (void)snprintf(carried.boot_id, sizeof carried.boot_id, "this-boot");
    (void)snprintf(carried.rig, sizeof carried.rig, "%s", rig.name);
    (void)snprintf(carried.load, sizeof carried.load, "%s", rig.loads[0].name);
    return 0;
}

static int clear(void **state)
{
    (void)state;
    (void)unlink(path);
    return 0;
}

static void test_round_trip(void **state)
{
    (void)state;
    struct td_carried back;
    memset(&back, 0, sizeof back);
    assert_int_equal(td_carried_read(path, &back, NULL), TD_NOT_FOUND);
    char *text = td_carried_text(&carried);
    assert_non_null(text);
    assert_int_equal(td_file_write(path, text, strlen(text), true, NULL), TD_OK);
    free(text);
    assert_int_equal(td_carried_read(path, &back, NULL), TD_OK);
    assert_memory_equal(&back, &carried, sizeof back);
}

static void test_spoilt_file(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "", "{}", "nothing", "{\"version\":2}",
        ("{\"version\":1,\"boot_id\":\"b\",\"saved_ns\":1,\"rig\":\"r\",\"load\":\"l\","
         "\"load_confirmed\":true,\"heat_least_c\":1,\"heat_likely_c\":2,\"heat_most_c\":1e9}")};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct td_carried back;
        struct td_problem problem;
        assert_int_equal(td_file_write(path, texts[i], strlen(texts[i]), true, NULL), TD_OK);
        assert_int_equal(td_carried_read(path, &back, &problem), TD_INVALID);
        assert_non_null(strstr(problem.text, "start anew"));
    }
}

static double heat_after(const char *boot, double seconds)
{
    return td_carried_heat_c(&carried, &rig, boot,
                             carried.saved_ns + (int64_t)(seconds * (double)TD_NS_PER_S), 30.0);
}

static void test_heat(void **state)
{
    (void)state;
    assert_near(heat_after("this-boot", 0.0), 210.0, 1e-9);
    /* Newton's law of cooling at rest, by hand. */
    double rate_per_s = rig.brakes.cooling_w_per_k / rig.brakes.heat_capacity_j_per_k;
    assert_near(heat_after("this-boot", 600.0), 30.0 + 180.0 * exp(-600.0 * rate_per_s), 1e-6);
    assert_true(heat_after("this-boot", 600.0) < 209.0);
    assert_near(heat_after("other-boot", 600.0), 210.0, 0.0);
    assert_near(heat_after("", 600.0), 210.0, 0.0);
    /* A clock behind the file's is of another boot, whatever the name says. */
    assert_near(heat_after("this-boot", -1.0), 210.0, 0.0);
    carried.rig[0] = 'x';
    assert_true(isnan(heat_after("this-boot", 0.0)));
}

static void test_load(void **state)
{
    (void)state;
    const int64_t minute_ns = 60 * TD_NS_PER_S;
    assert_int_equal(td_carried_load(&carried, &rig), 0);
    assert_true(td_carried_load_confirmed(&carried, &rig, "this-boot", carried.saved_ns));
    assert_true(td_carried_load_confirmed(&carried, &rig, "this-boot",
                                          carried.saved_ns + 20 * minute_ns));
    assert_false(td_carried_load_confirmed(&carried, &rig, "this-boot",
                                           carried.saved_ns + 21 * minute_ns));
    assert_false(td_carried_load_confirmed(&carried, &rig, "other-boot", carried.saved_ns));
    (void)snprintf(carried.load, sizeof carried.load, "no such");
    assert_int_equal(td_carried_load(&carried, &rig), rig.load_now);
}

#define STATE_TEST(f) cmocka_unit_test_setup_teardown(f, prepare, clear)

int main(void)
{
    const struct CMUnitTest tests[] = {
        STATE_TEST(test_round_trip),
        STATE_TEST(test_spoilt_file),
        STATE_TEST(test_heat),
        STATE_TEST(test_load),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
