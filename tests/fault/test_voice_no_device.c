/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice process where there is no sound device, no such voice, no such program. */
#include "support/cm.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "support/voice_rig.h"
#include "voice/tell.h"
#include "voice/wire.h"

static void without_a_device_it_lives_and_says_so(void **state)
{
    (void)state;
    struct voice_rig rig;
    struct td_voice_state now;
    voice_rig_start(&rig, "");
    voice_rig_until_sound(&rig, TD_SOUND_DOWN);
    int pid = voice_rig_pid(&rig);
    voice_rig_speak(&rig, 1, TD_WARNING, "Over speed.");
    voice_rig_until(&rig, 1, TD_REPORT_LOST);
    voice_rig_speak(&rig, 2, TD_WARNING, "Over speed.");
    voice_rig_until(&rig, 2, TD_REPORT_LOST);
    td_voice_state(rig.voice, &now);
    assert_int_equal(now.pid, pid);
    assert_false(now.device_up);
    assert_non_null(strstr(now.device, "no sound device"));
    assert_int_equal(rig.ups, 0);
    td_voice_stop(&rig.voice);
    assert_null(rig.voice);
}

/* Back-off 0.25, 0.5, 1, 2, 4, 5, 5 s, on the test's own clock. */
static void a_child_that_dies_at_once_is_tried_ever_less_often(void **state)
{
    (void)state;
    static const int waits_ms[] = {250, 500, 1000, 2000, 4000, 5000, 5000};
    struct td_voice_options options = {"/bin/false", "en-us", 160, "", 50, 100};
    struct td_voice *voice = NULL;
    int64_t now_ns = 1000000000000;
    assert_int_equal(td_voice_start(&options, now_ns, &voice, NULL), TD_OK);
    for (size_t i = 0; i < sizeof waits_ms / sizeof waits_ms[0]; i++) {
        int64_t deadline_ns = td_voice_now_ns() + 30000000000;
        while (td_voice_fd(voice) >= 0 && td_voice_now_ns() < deadline_ns) {
            (void)td_wire_wait(td_voice_fd(voice), POLLIN, deadline_ns);
            td_voice_read(voice, now_ns);
        }
        assert_int_equal(td_voice_fd(voice), -1);
        td_voice_tick(voice, now_ns + waits_ms[i] * (int64_t)1000000 - 1);
        assert_int_equal(td_voice_fd(voice), -1);
        now_ns += waits_ms[i] * (int64_t)1000000;
        td_voice_tick(voice, now_ns);
        assert_true(td_voice_fd(voice) >= 0);
        struct td_voice_state now;
        td_voice_state(voice, &now);
        assert_int_equal(now.respawns, i + 1);
    }
    assert_int_equal(td_voice_sound_change(voice), TD_SOUND_DOWN);
    assert_int_equal(td_voice_sound_change(voice), TD_SOUND_SAME);
    td_voice_stop(&voice);
}

/* A machine so busy that a child never comes to its first beat: 2 s, then ever more up to 10. */
static void a_child_that_is_slow_to_start_gets_more_time(void **state)
{
    (void)state;
    static const int limits_ms[] = {2000, 2000, 2000, 4000, 8000, 10000, 10000};
    struct td_voice_options options = {"/proc/self/exe", "mute", 160, "", 50, 100};
    struct td_voice *voice = NULL;
    int64_t now_ns = 1000000000000;
    assert_int_equal(td_voice_start(&options, now_ns, &voice, NULL), TD_OK);
    for (size_t i = 0; i < sizeof limits_ms / sizeof limits_ms[0]; i++) {
        now_ns += limits_ms[i] * (int64_t)1000000;
        assert_true(td_voice_next_tick_ns(voice) <= now_ns);
        td_voice_tick(voice, now_ns - 1);
        assert_true(td_voice_fd(voice) >= 0);
        td_voice_tick(voice, now_ns);
        assert_int_equal(td_voice_fd(voice), -1);
        now_ns += 5000000000;
        td_voice_tick(voice, now_ns);
        assert_true(td_voice_fd(voice) >= 0);
    }
    td_voice_stop(&voice);
}

static void a_voice_that_is_not_there_is_named(void **state)
{
    (void)state;
    struct td_voice_options options = {"/proc/self/exe", "xx-yy", 160, "", 50, 100};
    struct voice_rig rig = {0};
    struct td_voice_state now;
    assert_int_equal(td_voice_start(&options, td_voice_now_ns(), &rig.voice, NULL), TD_OK);
    voice_rig_until_sound(&rig, TD_SOUND_DOWN);
    td_voice_state(rig.voice, &now);
    assert_non_null(strstr(now.device, "xx-yy"));
    td_voice_stop(&rig.voice);
}

static void a_program_that_is_not_there_is_only_silence(void **state)
{
    (void)state;
    struct td_voice_options options = {"/no/such/program", "en-us", 160, "", 50, 100};
    struct voice_rig rig = {0};
    assert_int_equal(td_voice_start(&options, td_voice_now_ns(), &rig.voice, NULL), TD_OK);
    voice_rig_until_sound(&rig, TD_SOUND_DOWN);
    voice_rig_speak(&rig, 1, TD_WARNING, "Over speed.");
    voice_rig_until(&rig, 1, TD_REPORT_LOST);
    td_voice_stop(&rig.voice);
}

int main(int argc, char **argv)
{
    if (argc > 6 && strcmp(argv[1], "--voice") == 0 && strcmp(argv[6], "mute") == 0)
        for (;;)
            (void)pause();
    int child = voice_rig_main(argc, argv);
    if (child >= 0)
        return child;
    /* One device that cannot be opened, whatever the machine has. (On a configuration without any
     * PortAudio 19.6.0 aborts on an assertion; the child's death is all that comes of it.) */
    FILE *config = fopen("no_device.conf", "w");
    if (!config || fputs("pcm.absent { type hw card 31 }\n", config) < 0 ||
        fclose(config) != 0 || setenv("ALSA_CONFIG_PATH", "no_device.conf", 1) != 0)
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_device_it_lives_and_says_so),
        cmocka_unit_test(a_child_that_dies_at_once_is_tried_ever_less_often),
        cmocka_unit_test(a_child_that_is_slow_to_start_gets_more_time),
        cmocka_unit_test(a_voice_that_is_not_there_is_named),
        cmocka_unit_test(a_program_that_is_not_there_is_only_silence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
