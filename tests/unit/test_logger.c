/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The log thread with a full queue: what found no room is on file as missing, at the end of a drive
 * as anywhere else. A log that lost its end once looked whole, and its replay said "same". */
#include "daemon/logger.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/rig_file.h"
#include "support/cm.h"

enum { STEPS_MOST = 2000000 };

static char folder[64], log_path[TD_PATH_MAX + 64];
static struct td_setup setup;

static int make_folder(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "logger-test.XXXXXX");
    memset(&setup, 0, sizeof setup);
    setup.rig_is_set = true;
    return mkdtemp(folder) != NULL &&
                   td_rig_file_read(TD_SOURCE_DIR "/profiles/rigs/five-axle.yaml", &setup.rig,
                                    NULL) == TD_OK
               ? 0
               : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    (void)unlink(log_path);
    return rmdir(folder);
}

/* Steps faster than any disk takes them, until `lost` found no room; how many went in or not. */
static unsigned flood(struct td_logger *logger, uint64_t lost, struct td_logger_state *told)
{
    struct td_input input;
    struct td_output output;
    memset(&input, 0, sizeof input);
    memset(&output, 0, sizeof output);
    unsigned steps = 0;
    do {
        input.now_ns = ++steps;
        td_logger_step(logger, &input, &output);
        td_logger_state(logger, told);
    } while (told->lost < lost && steps < STEPS_MOST);
    return steps;
}

static unsigned steps_on_file(uint32_t *lost)
{
    struct td_drive_reader *reader = NULL;
    struct td_problem problem = {0};
    struct td_input input;
    unsigned steps = 0;
    assert_int_equal(td_drive_open(log_path, &reader, &problem), TD_OK);
    while (td_drive_next(reader, &input, &problem) == TD_OK)
        steps++;
    *lost = td_drive_lost(reader);
    td_drive_close(&reader);
    return steps;
}

static void what_was_lost_at_the_end_is_on_file(void **state)
{
    (void)state;
    struct td_logger *logger = NULL;
    struct td_problem problem = {0};
    struct td_logger_state told;
    struct td_drive_head head = {.program = "test", .rig_name = "rig", .language = "en-us",
                                 .start_utc_ms = 1, .setup = &setup};
    assert_int_equal(td_logger_start(&logger, &problem), TD_OK);
    td_logger_open(logger, folder, &head);
    unsigned steps = flood(logger, 5, &told);
    assert_true(told.lost >= 5);
    /* Named after the drive's start, a millisecond into 1970. */
    (void)snprintf(log_path, sizeof log_path, "%s/drive-19700101T000000Z.db", folder);
    td_logger_stop(&logger, true);
    uint32_t lost = 0;
    unsigned on_file = steps_on_file(&lost);
    assert_int_equal(lost, told.lost);
    assert_int_equal(on_file + lost, steps);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_was_lost_at_the_end_is_on_file, make_folder,
                                        remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
