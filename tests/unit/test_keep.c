/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Old drive logs go, oldest first, and nothing else does: not the one under way, not what people
 * put beside them. */
#include "daemon/keep.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/journal.h"
#include "daemon/logger.h"
#include "io/file.h"
#include "io/rig_file.h"
#include "io/utc.h"
#include "support/cm.h"

static char folder[64];

static const char *in_folder(const char *name)
{
    static char path[160];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void put(const char *name, size_t bytes)
{
    char *zeros = calloc(1, bytes + 1);
    assert_non_null(zeros);
    assert_int_equal(td_file_write_private(in_folder(name), zeros, bytes, false, NULL), TD_OK);
    free(zeros);
}

static bool is_there(const char *name)
{
    return access(in_folder(name), F_OK) == 0;
}

static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "keep-test.XXXXXX");
    td_journal_level(TD_LEVEL_ERROR);
    return mkdtemp(folder) == NULL ? -1 : 0;
}

static int remove_folder(void **state)
{
    (void)state;
    char command[96];
    (void)snprintf(command, sizeof command, "rm -r '%s'", folder);
    return system(command);
}

static int64_t noon(const char *day)
{
    char text[TD_UTC_TEXT];
    int64_t utc_ms = 0;
    (void)snprintf(text, sizeof text, "%sT12:00:00Z", day);
    assert_true(td_utc_parse(text, &utc_ms));
    return utc_ms;
}

static void what_is_older_than_the_days_goes(void **state)
{
    (void)state;
    const struct td_keep keep = {.days = 30};
    put("drive-20310401T115959Z.db", 10);
    put("drive-20310401T115959Z.db-wal", 10);
    put("drive-20310401T115959Z.db-shm", 10);
    put("drive-20310401T115959Z.marks.yaml", 10);
    put("drive-20310401T115959Z-2.db", 10);
    put("drive-20310401T120000Z.db", 10);
    put("drive-20310501T115959Z.db", 10);
    assert_int_equal(td_keep_within(folder, &keep, noon("2031-05-01"), ""), 2);
    assert_false(is_there("drive-20310401T115959Z.db"));
    assert_false(is_there("drive-20310401T115959Z.db-wal"));
    assert_false(is_there("drive-20310401T115959Z.db-shm"));
    assert_false(is_there("drive-20310401T115959Z.marks.yaml"));
    assert_false(is_there("drive-20310401T115959Z-2.db"));
    assert_true(is_there("drive-20310401T120000Z.db")); /* thirty days to the second */
    assert_true(is_there("drive-20310501T115959Z.db"));
    /* A machine whose clock lost its battery: 1970, before any of them. */
    assert_int_equal(td_keep_within(folder, &keep, 0, ""), 0);
}

static void the_oldest_go_until_the_rest_fits(void **state)
{
    (void)state;
    const struct td_keep keep = {.mb = 3};
    put("drive-20310401T080000Z.db", 1000000);
    put("drive-20310401T080000Z-2.db", 1000000);
    put("drive-20310401T080000Z-10.db", 900000);
    put("drive-20310401T080000Z-10.marks.yaml", 100000);
    put("drive-20310402T080000Z.db", 900000);
    put("drive-20310402T080000Z.db-wal", 100000);
    assert_int_equal(td_keep_within(folder, &keep, noon("2031-05-01"), ""), 1);
    assert_false(is_there("drive-20310401T080000Z.db"));
    assert_true(is_there("drive-20310401T080000Z-2.db"));
    /* A byte more, and the next goes: -2 is older than -10. */
    put("drive-20310402T080000Z.marks.yaml", 1);
    assert_int_equal(td_keep_within(folder, &keep, noon("2031-05-01"), ""), 1);
    assert_false(is_there("drive-20310401T080000Z-2.db"));
    assert_true(is_there("drive-20310401T080000Z-10.db"));
    assert_true(is_there("drive-20310402T080000Z.db"));
}

static void the_drive_under_way_stays_however_old_and_large(void **state)
{
    (void)state;
    const struct td_keep keep = {.days = 1, .mb = 1};
    char under_way[160];
    put("drive-20300101T000000Z.db", 2000000);
    put("drive-20310430T130000Z.db", 10);
    (void)snprintf(under_way, sizeof under_way, "%s", in_folder("drive-20300101T000000Z.db"));
    /* It alone is over the limit, so the finished one goes although it is young. */
    assert_int_equal(td_keep_within(folder, &keep, noon("2031-05-01"), under_way), 1);
    assert_true(is_there("drive-20300101T000000Z.db"));
    assert_false(is_there("drive-20310430T130000Z.db"));
}

static void what_is_no_drive_log_of_the_daemon_is_left_alone(void **state)
{
    (void)state;
    static const char *const names[] = {
        "drive.db", "drive-20300101T000000Z.txt", "drive-20300101T000000Z-1.db",
        "drive-20300101T000000Z-x.db", "drive-20301301T000000Z.db", "my-drive-20300101T000000Z.db",
        "drive-20300101T000000Z-2-3.db", "drive-2030.db"};
    const struct td_keep keep = {.days = 1, .mb = 1};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        put(names[i], 500000);
    assert_int_equal(td_keep_within(folder, &keep, noon("2031-05-01"), ""), 0);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        assert_true(is_there(names[i]));
}

static void no_limits_delete_nothing(void **state)
{
    (void)state;
    const struct td_keep keep = {.days = 0, .mb = 0};
    put("drive-19800101T000000Z.db", 3000000);
    assert_int_equal(td_keep_within(folder, &keep, noon("2031-05-01"), ""), 0);
    assert_true(is_there("drive-19800101T000000Z.db"));
    assert_int_equal(td_keep_within("no/such/folder", &(struct td_keep){.days = 1}, 0, ""), 0);
}

/* The log thread looks after them by itself: as a log is opened, and as a drive ends. */
static void the_log_thread_keeps_to_the_limits(void **state)
{
    (void)state;
    struct td_logger *logger = NULL;
    struct td_problem problem = {0};
    static struct td_setup setup;
    setup.rig_is_set = true;
    assert_int_equal(td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &setup.rig,
                                      &problem), TD_OK);
    const struct td_drive_head head = {.program = "test", .rig_name = "rig",
                                       .language = "en-us", .start_utc_ms = noon("1990-01-01"),
                                       .setup = &setup};
    put("drive-19800101T000000Z.db", 10);
    assert_int_equal(td_logger_start(&logger, &problem), TD_OK);
    td_logger_keep(logger, &(struct td_keep){.days = 100});
    td_logger_open(logger, folder, &head);
    struct td_logger_state told = {.health = TD_LOGGER_OFF};
    while (told.health == TD_LOGGER_OFF || told.queued > 0 ||
           is_there("drive-19800101T000000Z.db"))
        td_logger_state(logger, &told);
    assert_true(is_there("drive-19900101T120000Z.db")); /* as old, but under way */
    td_logger_stop(&logger, true);
    assert_false(is_there("drive-19900101T120000Z.db")); /* finished, and past the days */
}

#define IN_A_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void)
{
    const struct CMUnitTest tests[] = {
        IN_A_FOLDER(what_is_older_than_the_days_goes),
        IN_A_FOLDER(the_oldest_go_until_the_rest_fits),
        IN_A_FOLDER(the_drive_under_way_stays_however_old_and_large),
        IN_A_FOLDER(what_is_no_drive_log_of_the_daemon_is_left_alone),
        IN_A_FOLDER(no_limits_delete_nothing),
        IN_A_FOLDER(the_log_thread_keeps_to_the_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
