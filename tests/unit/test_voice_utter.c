/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An utterance's process that hangs, crashes, fails or does not stop costs that utterance only. */
#include "support/cm.h"

#include <errno.h>
#include <signal.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "voice/utter.h"

static int16_t samples[4096];

static int four_samples(int fd, const char *words)
{
    int16_t some[4] = {1, -2, 3, (int16_t)strlen(words)};
    return write(fd, some, sizeof some) == (ssize_t)sizeof some;
}

static int hangs(int fd, const char *words)
{
    (void)four_samples(fd, words);
    for (;;)
        (void)pause();
    return 1;
}

static int crashes(int fd, const char *words)
{
    (void)four_samples(fd, words);
    (void)signal(SIGKILL, SIG_DFL);
    (void)kill(getpid(), SIGKILL);
    return 1;
}

static int fails(int fd, const char *words)
{
    (void)four_samples(fd, words);
    return 0;
}

static int never_stops(int fd, const char *words)
{
    while (four_samples(fd, words))
        ;
    return 1;
}

static enum td_result run(td_speak_fn *speak, int64_t limit_ns, size_t *count, const char **why)
{
    enum td_result result = td_utter(speak, "word", limit_ns, samples, 4096, count, why);
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1); /* nobody is left behind */
    assert_int_equal(errno, ECHILD);
    return result;
}

static void gives_what_was_written(void **state)
{
    (void)state;
    size_t count = 0;
    const char *why = NULL;
    assert_int_equal(run(four_samples, 20000000000, &count, &why), TD_OK);
    assert_int_equal(count, 4);
    assert_int_equal(samples[1], -2);
    assert_int_equal(samples[3], 4);
}

static void kills_what_hangs(void **state)
{
    (void)state;
    size_t count = 0;
    const char *why = NULL;
    assert_int_equal(run(hangs, 50000000, &count, &why), TD_IO);
    assert_non_null(strstr(why, "hung"));
}

static void tells_a_crash_and_a_failure(void **state)
{
    (void)state;
    size_t count = 0;
    const char *why = NULL;
    assert_int_equal(run(crashes, 20000000000, &count, &why), TD_IO);
    assert_non_null(strstr(why, "failed"));
    assert_int_equal(run(fails, 20000000000, &count, &why), TD_IO);
}

static void stops_what_does_not_end(void **state)
{
    (void)state;
    size_t count = 0;
    const char *why = NULL;
    assert_int_equal(run(never_stops, 20000000000, &count, &why), TD_FULL);
    assert_non_null(strstr(why, "longer"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_what_was_written),
        cmocka_unit_test(kills_what_hangs),
        cmocka_unit_test(tells_a_crash_and_a_failure),
        cmocka_unit_test(stops_what_does_not_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
