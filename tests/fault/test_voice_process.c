/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice process and what may befall it, with a real sound server: killed in mid-word, stopped,
 * its server killed or hung, its parent gone. Runs below sound_server.sh. */
#include "support/cm.h"

#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/voice_rig.h"
#include "voice/tell.h"

static const char *const long_words =
    "Grade ahead. Eight percent, three miles. Brake check area, half mile, right. Start in third.";
static struct voice_rig rig;

static int start(void **state)
{
    (void)state;
    voice_rig_start(&rig, "coach");
    voice_rig_until_sound(&rig, TD_SOUND_UP);
    return 0;
}

static int stop(void **state)
{
    (void)state;
    td_voice_stop(&rig.voice);
    return 0;
}

static void assert_reports(unsigned from, unsigned count, const struct td_report *expected)
{
    assert_true(rig.report_count >= from + count);
    for (unsigned i = 0; i < count; i++) {
        assert_int_equal(rig.reports[from + i].serial, expected[i].serial);
        assert_int_equal(rig.reports[from + i].kind, expected[i].kind);
    }
    assert_int_equal(rig.report_count, from + count);
}

static void one_at_a_time_and_in_order(void **state)
{
    (void)state;
    static const struct td_report expected[] = {
        {1, TD_REPORT_STARTED}, {1, TD_REPORT_ENDED}, {2, TD_REPORT_STARTED},
        {2, TD_REPORT_ENDED},
    };
    voice_rig_speak(&rig, 1, TD_ADVICE, "Ready.");
    voice_rig_speak(&rig, 2, TD_WARNING, "Brake.");
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
    assert_reports(0, 4, expected);
    struct td_voice_state now;
    td_voice_state(rig.voice, &now);
    assert_true(now.running && now.device_up);
    assert_string_equal(now.device, "coach");
}

static void a_cut_ends_it_and_the_next_is_said(void **state)
{
    (void)state;
    static const struct td_report expected[] = {
        {1, TD_REPORT_STARTED}, {1, TD_REPORT_CUT}, {3, TD_REPORT_CUT}, {2, TD_REPORT_STARTED},
        {2, TD_REPORT_ENDED},
    };
    voice_rig_speak(&rig, 1, TD_ADVICE, long_words);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    voice_rig_speak(&rig, 2, TD_WARNING, "Over speed.");
    voice_rig_speak(&rig, 3, TD_ADVICE, "Never said.");
    td_voice_cut(rig.voice, 3);
    td_voice_cut(rig.voice, 1);
    td_voice_cut(rig.voice, 77); /* unknown: nothing */
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
    if (rig.reports[1].serial == 3) { /* which of the two cuts is told first does not matter */
        struct td_report first = rig.reports[1];
        rig.reports[1] = rig.reports[2];
        rig.reports[2] = first;
    }
    assert_reports(0, 5, expected);
}

static void what_expired_is_not_begun(void **state)
{
    (void)state;
    int64_t now_ns = td_voice_now_ns();
    td_voice_speak(rig.voice, now_ns, 1, TD_ADVICE, now_ns, "Too late.");
    voice_rig_speak(&rig, 2, TD_ADVICE, "Eight percent grade, three miles.");
    now_ns = td_voice_now_ns();
    td_voice_speak(rig.voice, now_ns, 3, TD_ADVICE, now_ns + 300000000, "Waits too long.");
    voice_rig_speak(&rig, 4, TD_ADVICE, "\a");
    voice_rig_until(&rig, 4, TD_REPORT_DROPPED);
    assert_int_equal(voice_rig_count(&rig, 1, TD_REPORT_DROPPED), 1);
    assert_int_equal(voice_rig_count(&rig, 2, TD_REPORT_ENDED), 1);
    assert_int_equal(voice_rig_count(&rig, 3, TD_REPORT_DROPPED), 1);
    assert_int_equal(voice_rig_count(&rig, 3, TD_REPORT_STARTED), 0);
}

static void a_crowd_is_refused(void **state)
{
    (void)state;
    voice_rig_speak(&rig, 1, TD_ADVICE, long_words);
    for (uint32_t serial = 2; serial < 12; serial++)
        voice_rig_speak(&rig, serial, TD_ADVICE, "More.");
    voice_rig_until(&rig, 11, TD_REPORT_DROPPED);
    td_voice_cut(rig.voice, 1);
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
}

static void killed_in_mid_word_it_comes_back(void **state)
{
    (void)state;
    voice_rig_speak(&rig, 1, TD_CAUTION, long_words);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    int pid = voice_rig_pid(&rig);
    assert_int_equal(kill(pid, SIGKILL), 0);
    voice_rig_until(&rig, 1, TD_REPORT_LOST);
    voice_rig_until_sound(&rig, TD_SOUND_DOWN);
    voice_rig_until_sound(&rig, TD_SOUND_UP);
    assert_int_not_equal(voice_rig_pid(&rig), pid);
    voice_rig_speak(&rig, 2, TD_CAUTION, "Third gear now.");
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
    assert_int_equal(voice_rig_count(&rig, 1, TD_REPORT_ENDED), 0);
}

/* The clock is the test's own here: two seconds pass in none. */
static void a_stopped_one_is_killed_after_two_seconds(void **state)
{
    (void)state;
    int pid = voice_rig_pid(&rig);
    voice_rig_speak(&rig, 1, TD_CAUTION, long_words);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    assert_int_equal(kill(pid, SIGSTOP), 0);
    int status;
    assert_int_equal(waitpid(pid, &status, WUNTRACED), pid); /* it has stopped */
    int64_t now_ns = td_voice_now_ns();
    td_voice_read(rig.voice, now_ns); /* what it had said before; if any, its heart beat now */
    now_ns = td_voice_next_tick_ns(rig.voice);
    td_voice_tick(rig.voice, now_ns - 1);
    assert_int_equal(voice_rig_pid(&rig), pid);
    td_voice_tick(rig.voice, now_ns);
    assert_int_equal(voice_rig_pid(&rig), 0);
    assert_int_equal(td_voice_fd(rig.voice), -1);
    voice_rig_speak(&rig, 2, TD_CAUTION, "Nobody hears."); /* LOST at once */
    td_voice_tick(rig.voice, now_ns + 249000000); /* the least back-off, and no child before it */
    assert_int_equal(voice_rig_pid(&rig), 0);
    td_voice_tick(rig.voice, now_ns + 5000000000);
    assert_int_not_equal(voice_rig_pid(&rig), 0);
    voice_rig_until(&rig, 1, TD_REPORT_LOST);
    voice_rig_until(&rig, 2, TD_REPORT_LOST);
    voice_rig_until_sound(&rig, TD_SOUND_UP);
}

static int server_pid(void)
{
    char path[512], line[32] = "";
    (void)snprintf(path, sizeof path, "%s/run/pid", getenv("TD_SOUND_DIR"));
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    assert_non_null(fgets(line, sizeof line, file));
    (void)fclose(file);
    return (int)strtol(line, NULL, 10);
}

static void start_server_again(void)
{
    char command[1200];
    (void)snprintf(command, sizeof command, "sh '%s' start '%s'", getenv("TD_SOUND_SERVER"),
                   getenv("TD_SOUND_DIR"));
    assert_int_equal(system(command), 0);
}

static void a_dead_server_is_noticed_and_waited_for(void **state)
{
    (void)state;
    voice_rig_speak(&rig, 1, TD_CAUTION, long_words);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    assert_int_equal(kill(server_pid(), SIGKILL), 0);
    voice_rig_until(&rig, 1, TD_REPORT_LOST);
    voice_rig_until_sound(&rig, TD_SOUND_DOWN);
    voice_rig_speak(&rig, 2, TD_CAUTION, "Nobody hears.");
    voice_rig_until(&rig, 2, TD_REPORT_LOST);
    start_server_again();
    voice_rig_until_sound(&rig, TD_SOUND_UP);
    voice_rig_speak(&rig, 3, TD_CAUTION, "Third gear now.");
    voice_rig_until(&rig, 3, TD_REPORT_ENDED);
}

static void a_hung_server_costs_the_child(void **state)
{
    (void)state;
    int pid = voice_rig_pid(&rig), server = server_pid();
    voice_rig_speak(&rig, 1, TD_CAUTION, long_words);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    assert_int_equal(kill(server, SIGSTOP), 0);
    voice_rig_until(&rig, 1, TD_REPORT_LOST);
    voice_rig_until_sound(&rig, TD_SOUND_DOWN);
    assert_int_equal(kill(server, SIGCONT), 0);
    voice_rig_until_sound(&rig, TD_SOUND_UP);
    assert_int_not_equal(voice_rig_pid(&rig), pid);
    voice_rig_speak(&rig, 2, TD_CAUTION, "Third gear now.");
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
}

/* Every process below the parent holds the pipe's write end; its end of file says they are gone. */
static void nobody_outlives_the_parent(void **state)
{
    (void)state;
    int ends[2], status = 0;
    assert_int_equal(pipe(ends), 0);
    pid_t parent = fork();
    assert_true(parent >= 0);
    if (parent == 0) {
        struct voice_rig own;
        (void)close(ends[0]);
        voice_rig_start(&own, "coach");
        voice_rig_until_sound(&own, TD_SOUND_UP);
        voice_rig_speak(&own, 1, TD_ADVICE, long_words);
        voice_rig_until(&own, 1, TD_REPORT_STARTED);
        (void)kill(getpid(), SIGKILL);
    }
    (void)close(ends[1]);
    assert_int_equal(waitpid(parent, &status, 0), parent);
    assert_true(WIFSIGNALED(status));
    struct pollfd gone = {ends[0], POLLIN, 0};
    char byte;
    assert_int_equal(poll(&gone, 1, 30000), 1);
    assert_int_equal(read(ends[0], &byte, 1), 0);
    (void)close(ends[0]);
}

int main(int argc, char **argv)
{
    int child = voice_rig_main(argc, argv);
    if (child >= 0)
        return child;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(one_at_a_time_and_in_order, start, stop),
        cmocka_unit_test_setup_teardown(a_cut_ends_it_and_the_next_is_said, start, stop),
        cmocka_unit_test_setup_teardown(what_expired_is_not_begun, start, stop),
        cmocka_unit_test_setup_teardown(a_crowd_is_refused, start, stop),
        cmocka_unit_test_setup_teardown(killed_in_mid_word_it_comes_back, start, stop),
        cmocka_unit_test_setup_teardown(a_stopped_one_is_killed_after_two_seconds, start, stop),
        cmocka_unit_test_setup_teardown(a_dead_server_is_noticed_and_waited_for, start, stop),
        cmocka_unit_test_setup_teardown(a_hung_server_costs_the_child, start, stop),
        cmocka_unit_test(nobody_outlives_the_parent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
