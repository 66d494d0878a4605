/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Other sound is ducked by the sound server's own module while something is said, and only then;
 * the speech is not. A tone of 150 Hz, below all speech, plays the radio. Runs below
 * sound_server.sh. */
#include "support/cm.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/capture.h"
#include "support/voice_rig.h"
#include "voice/synth.h"
#include "voice/tell.h"

enum { BLOCK = TD_SOUND_RATE_HZ / 10 };

static const double radio_hz = 150, radio_size = 4000;
static const char *const words = "Brake check area, three quarter mile, right.";
static struct voice_rig rig;
static struct capture *capture;
static struct td_sound_clip clip;
static pid_t radio;

/* As an installer has it in the sound server's configuration (docs/voice.md). */
static void load_ducking(void)
{
    assert_int_equal(system("pactl load-module module-role-ducking trigger_roles=announce "
                            "ducking_roles=music,video,no_role volume=-20dB >/dev/null"), 0);
}

static void start_radio(void)
{
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    radio = fork();
    assert_true(radio >= 0);
    if (radio == 0) {
        (void)dup2(ends[0], STDIN_FILENO);
        (void)close(ends[0]);
        (void)close(ends[1]);
        (void)execlp("pacat", "pacat", "--playback", "-d", "cab", "--rate=22050", "--channels=1",
                     "--format=s16le", "--raw", "--latency-msec=50", "--property=media.role=music",
                     (char *)NULL);
        _exit(127);
    }
    (void)close(ends[0]);
    pid_t player = fork(); /* feeds it until it is gone */
    if (player == 0) {
        int16_t samples[BLOCK];
        for (int i = 0; i < BLOCK; i++) /* fifteen whole periods */
            samples[i] = (int16_t)(radio_size * sin(2 * 3.14159265358979 * radio_hz * i / 22050));
        (void)signal(SIGPIPE, SIG_DFL);
        for (;;)
            if (write(ends[1], samples, sizeof samples) < 0)
                _exit(0);
    }
    (void)close(ends[1]);
}

static int start(void **state)
{
    (void)state;
    struct td_synth *synth = NULL;
    assert_int_equal(td_synth_open("en-us", 160, &synth, NULL), TD_OK);
    assert_int_equal(td_synth_say(synth, TD_ADVICE, words, &clip, NULL), TD_OK);
    td_synth_close(&synth);
    load_ducking();
    capture = capture_start();
    voice_rig_start(&rig, "coach");
    voice_rig_until_sound(&rig, TD_SOUND_UP);
    return 0;
}

static int stop(void **state)
{
    (void)state;
    td_voice_stop(&rig.voice);
    if (radio > 0)
        (void)kill(radio, SIGTERM);
    while (wait(NULL) > 0 && radio > 0)
        radio = 0;
    capture_stop(&capture);
    td_sound_clip_free(&clip);
    return 0;
}

static size_t hear(size_t samples)
{
    size_t until = capture_count(capture) + samples;
    int64_t deadline_ns = td_voice_now_ns() + 60000000000;
    while (capture_count(capture) < until) {
        assert_true(td_voice_now_ns() < deadline_ns);
        voice_rig_pump(&rig);
    }
    return capture_count(capture);
}

/* Amplitude of the radio in a tenth of a second: one line of a Fourier sum. */
static double radio_at(size_t from)
{
    const int16_t *heard = capture_samples(capture) + from;
    double re = 0, im = 0;
    for (int i = 0; i < BLOCK; i++) {
        re += heard[i] * cos(2 * 3.14159265358979 * radio_hz * i / 22050);
        im += heard[i] * sin(2 * 3.14159265358979 * radio_hz * i / 22050);
    }
    return 2 * sqrt(re * re + im * im) / BLOCK;
}

/* The loudest tenth of a second: the radio may break up on a busy machine. */
static double radio_between(size_t from, size_t to)
{
    double most = 0;
    for (; from + BLOCK <= to; from += BLOCK)
        most = fmax(most, radio_at(from));
    return most;
}

/* Waits for the radio at its own level. */
static void hear_the_radio_whole(void)
{
    int64_t deadline_ns = td_voice_now_ns() + 60000000000;
    while (radio_at(hear(2 * BLOCK) - BLOCK) < 0.95 * radio_size)
        assert_true(td_voice_now_ns() < deadline_ns);
}

static void speech_is_not_ducked(void **state)
{
    (void)state;
    size_t from = hear(2205);
    voice_rig_speak(&rig, 1, TD_ADVICE, words);
    voice_rig_until(&rig, 1, TD_REPORT_ENDED);
    size_t count = hear(11025);
    const int16_t *heard = capture_samples(capture);
    size_t own = capture_onset(clip.samples, clip.count, 0);
    size_t at = capture_onset(heard, count, from) - own;
    double energy = 0, wanted = 0;
    for (size_t i = at; i < count; i++)
        energy += (double)heard[i] * heard[i];
    for (size_t i = 0; i < clip.count; i++)
        wanted += (double)clip.samples[i] * clip.samples[i];
    assert_near(10 * log10(energy / wanted), 0, 0.5);
}

static void the_radio_is_ducked_while_it_speaks(void **state)
{
    (void)state;
    start_radio();
    hear_the_radio_whole();
    size_t from = capture_count(capture), until = hear(22050);
    double before = radio_between(from, until); /* and nothing ducks it while nothing is said */
    voice_rig_speak(&rig, 2, TD_ADVICE, words);
    voice_rig_until(&rig, 2, TD_REPORT_STARTED);
    size_t started = hear(11025);
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
    double during = radio_between(started, capture_count(capture));
    hear_the_radio_whole(); /* restored */
    print_message("radio %.0f before, %.0f at most while it speaks (%.1f dB)\n", before, during,
                  20 * log10(during / radio_size));
    assert_true(before >= 0.95 * radio_size);
    assert_true(20 * log10(during / radio_size) < -17);
}

int main(int argc, char **argv)
{
    int child = voice_rig_main(argc, argv);
    if (child >= 0)
        return child;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(speech_is_not_ducked),
        cmocka_unit_test(the_radio_is_ducked_while_it_speaks),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
