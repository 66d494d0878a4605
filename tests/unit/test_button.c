/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The button on a FIFO of bare input events: short, long, held, repeated, gone and back. */
#include "support/cm.h"

#include <fcntl.h>
#include <linux/input.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/button.h"
#include "talkdown/units.h"

static char folder[] = "button-XXXXXX";
static char path[64];
static int pipe_fd = -1;
static struct td_button *button;
static int64_t now_ns;

static int make_fifo(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "button-XXXXXX");
    if (mkdtemp(folder) == NULL)
        return -1;
    (void)snprintf(path, sizeof path, "%s/events", folder);
    now_ns = TD_NS_PER_S;
    if (mkfifo(path, 0600) != 0 || td_button_open(path, "", now_ns, &button, NULL) != TD_OK)
        return -1;
    pipe_fd = open(path, O_WRONLY | O_NONBLOCK);
    return pipe_fd < 0 ? -1 : 0;
}

static int remove_fifo(void **state)
{
    (void)state;
    td_button_close(&button);
    (void)close(pipe_fd);
    (void)unlink(path);
    return rmdir(folder);
}

static void event(int type, int code, int value)
{
    struct input_event bare = {
        .type = (unsigned short)type, .code = (unsigned short)code, .value = value};
    assert_int_equal(write(pipe_fd, &bare, sizeof bare), sizeof bare);
}

static void after_ms(int64_t ms)
{
    now_ns += ms * TD_NS_PER_MS;
    td_button_tick(button, now_ns);
}

static void key(int value, int64_t ms_later)
{
    after_ms(ms_later);
    event(EV_KEY, KEY_PLAYPAUSE, value);
    event(EV_SYN, SYN_REPORT, 0);
    td_button_tick(button, now_ns);
}

static void assert_pressed(enum td_press expected)
{
    enum td_press press;
    assert_true(td_button_take(button, &press));
    assert_int_equal(press, expected);
    assert_false(td_button_take(button, &press));
}

static void assert_nothing(void)
{
    enum td_press press;
    assert_false(td_button_take(button, &press));
}

static void a_short_press_is_told_as_it_ends(void **state)
{
    (void)state;
    assert_true(td_button_up(button));
    assert_int_equal(td_button_next_ns(button), INT64_MAX);
    key(1, 100);
    assert_nothing();
    key(0, TD_BUTTON_LONG_MS - 1);
    assert_pressed(TD_PRESS_SHORT);
    key(1, 100);
    key(0, 50);
    assert_pressed(TD_PRESS_SHORT);
}

static void a_long_press_is_told_while_it_lasts_and_once(void **state)
{
    (void)state;
    key(1, 0);
    assert_int_equal(td_button_next_ns(button), now_ns + TD_BUTTON_LONG_MS * TD_NS_PER_MS);
    for (int i = 0; i < 3; i++)
        key(2, 200); /* the kernel's own repeats */
    assert_nothing();
    after_ms(200);
    assert_pressed(TD_PRESS_LONG);
    assert_int_equal(td_button_next_ns(button), INT64_MAX);
    after_ms(60000); /* something lies on it */
    assert_nothing();
    key(0, 10);
    assert_nothing();
    key(1, 10);
    key(0, 10);
    assert_pressed(TD_PRESS_SHORT);
}

/* The wake-up that would have told it came late: the end says so. */
static void a_long_press_seen_late_is_long(void **state)
{
    (void)state;
    key(1, 0);
    now_ns += 2 * TD_NS_PER_S;
    event(EV_KEY, KEY_PLAYPAUSE, 0);
    td_button_tick(button, now_ns);
    assert_pressed(TD_PRESS_LONG);
}

static void other_events_and_a_second_key_are_no_press(void **state)
{
    (void)state;
    event(EV_REL, REL_X, 1);
    event(EV_KEY, KEY_A, 0);
    after_ms(10);
    assert_nothing();
    key(1, 10);
    event(EV_KEY, KEY_A, 1);
    event(EV_KEY, KEY_A, 0);
    after_ms(10);
    assert_nothing();
    key(0, 10);
    assert_pressed(TD_PRESS_SHORT);
}

static void only_the_key_that_was_named(void **state)
{
    (void)state;
    td_button_close(&button);
    assert_int_equal(td_button_open(path, "KEY_PLAYPAUSE", now_ns, &button, NULL), TD_OK);
    event(EV_KEY, KEY_A, 1);
    event(EV_KEY, KEY_A, 0);
    after_ms(10);
    assert_nothing();
    key(1, 10);
    key(0, 10);
    assert_pressed(TD_PRESS_SHORT);
}

static void a_name_that_is_no_key_is_refused(void **state)
{
    (void)state;
    struct td_button *other = NULL;
    struct td_problem problem;
    assert_int_equal(td_button_open(path, "PLAY", now_ns, &other, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "KEY_PLAYPAUSE"));
    assert_null(other);
}

/* Half an event: whoever wrote it is broken, and the device is taken anew. */
static void a_torn_event_drops_the_device_for_a_while(void **state)
{
    (void)state;
    key(1, 0);
    assert_int_equal(write(pipe_fd, "torn", 4), 4);
    after_ms(10);
    assert_false(td_button_up(button));
    assert_int_equal(td_button_fd(button), -1);
    assert_int_equal(td_button_next_ns(button), now_ns + TD_BUTTON_RETRY_S * TD_NS_PER_S);
    after_ms(TD_BUTTON_RETRY_S * 1000);
    assert_true(td_button_up(button));
    assert_nothing(); /* the key that was down counts as let go of */
    key(1, 10);
    key(0, 10);
    assert_pressed(TD_PRESS_SHORT);
}

static void a_device_is_found_when_it_comes(void **state)
{
    (void)state;
    struct td_button *later = NULL;
    char away[80];
    (void)snprintf(away, sizeof away, "%s/later", folder);
    assert_int_equal(td_button_open(away, "", now_ns, &later, NULL), TD_OK);
    assert_false(td_button_up(later));
    assert_int_equal(mkfifo(away, 0600), 0);
    td_button_tick(later, now_ns + TD_NS_PER_S);
    assert_false(td_button_up(later));
    td_button_tick(later, td_button_next_ns(later));
    assert_true(td_button_up(later));
    td_button_close(&later);
    assert_int_equal(unlink(away), 0);
}

/* An ordinary file is no device; none at all is a button that nobody presses. */
static void what_is_no_device_is_never_pressed(void **state)
{
    (void)state;
    struct td_button *other = NULL;
    assert_int_equal(td_button_open(__FILE__, "", now_ns, &other, NULL), TD_OK);
    assert_false(td_button_up(other));
    td_button_close(&other);
    assert_int_equal(td_button_open("", "", now_ns, &other, NULL), TD_OK);
    td_button_tick(other, now_ns + 3600 * TD_NS_PER_S);
    assert_false(td_button_up(other));
    assert_int_equal(td_button_next_ns(other), INT64_MAX);
    td_button_close(&other);
}

static void presses_that_nobody_takes_are_bounded(void **state)
{
    (void)state;
    enum td_press press;
    int taken = 0;
    for (int i = 0; i < 50; i++) {
        key(1, 10);
        key(0, 10);
    }
    while (td_button_take(button, &press))
        taken++;
    assert_int_equal(taken, 8);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_short_press_is_told_as_it_ends, make_fifo, remove_fifo),
        cmocka_unit_test_setup_teardown(a_long_press_is_told_while_it_lasts_and_once, make_fifo,
                                        remove_fifo),
        cmocka_unit_test_setup_teardown(a_long_press_seen_late_is_long, make_fifo, remove_fifo),
        cmocka_unit_test_setup_teardown(other_events_and_a_second_key_are_no_press, make_fifo,
                                        remove_fifo),
        cmocka_unit_test_setup_teardown(only_the_key_that_was_named, make_fifo, remove_fifo),
        cmocka_unit_test_setup_teardown(a_name_that_is_no_key_is_refused, make_fifo, remove_fifo),
        cmocka_unit_test_setup_teardown(a_torn_event_drops_the_device_for_a_while, make_fifo,
                                        remove_fifo),
        cmocka_unit_test_setup_teardown(a_device_is_found_when_it_comes, make_fifo, remove_fifo),
        cmocka_unit_test_setup_teardown(what_is_no_device_is_never_pressed, make_fifo,
                                        remove_fifo),
        cmocka_unit_test_setup_teardown(presses_that_nobody_takes_are_bounded, make_fifo,
                                        remove_fifo),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
