/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a sound server hears of the voice process is the clip that synthesis made, sample for
 * sample; a more pressing one takes the place of what is being said; the volume holds. Runs below
 * sound_server.sh. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "support/capture.h"
#include "support/voice_rig.h"
#include "voice/synth.h"
#include "voice/tell.h"

static const char *const advice = "Eight percent grade, three miles.";
static const char *const warning = "Over speed. Brake to one five.";
static struct voice_rig rig;
static struct capture *capture;
static struct td_sound_clip advice_clip, warning_clip;

static void make_clips(void)
{
    struct td_synth *synth = NULL;
    assert_int_equal(td_synth_open("en-us", 160, &synth, NULL), TD_OK);
    assert_int_equal(td_synth_say(synth, TD_ADVICE, advice, &advice_clip, NULL), TD_OK);
    assert_int_equal(td_synth_say(synth, TD_WARNING, warning, &warning_clip, NULL), TD_OK);
    td_synth_close(&synth);
}

static int start(void **state)
{
    (void)state;
    make_clips(); /* forks: before the recording's thread */
    capture = capture_start();
    voice_rig_start(&rig, "coach");
    voice_rig_until_sound(&rig, TD_SOUND_UP);
    return 0;
}

static int stop(void **state)
{
    (void)state;
    td_voice_stop(&rig.voice);
    capture_stop(&capture);
    td_sound_clip_free(&advice_clip);
    td_sound_clip_free(&warning_clip);
    return 0;
}

/* Lets the recording run on by this many samples. */
static size_t hear(size_t samples)
{
    size_t until = capture_count(capture) + samples;
    int64_t deadline_ns = td_voice_now_ns() + 30000000000;
    while (capture_count(capture) < until) {
        assert_true(td_voice_now_ns() < deadline_ns);
        voice_rig_pump(&rig);
    }
    return capture_count(capture);
}

static void what_is_heard_is_the_clip(void **state)
{
    (void)state;
    size_t from = hear(4410);
    voice_rig_speak(&rig, 1, TD_ADVICE, advice);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    size_t started = capture_count(capture);
    voice_rig_until(&rig, 1, TD_REPORT_ENDED);
    size_t ended = capture_count(capture), count = hear(11025), equal = 0;
    const int16_t *heard = capture_samples(capture);
    assert_int_equal(capture_onset(heard, from, 0), from); /* silence before it was asked */
    size_t at = capture_onset(heard, count, from) -
                capture_onset(advice_clip.samples, advice_clip.count, 0);
    double like = capture_likeness(heard, count, at, advice_clip.samples, advice_clip.count);
    for (size_t i = 0; i < advice_clip.count && at + i < count; i++)
        equal += heard[at + i] == advice_clip.samples[i];
    print_message("%zu of %zu samples equal, likeness %.2f; STARTED told at %+.0f ms of the first "
                  "sample, ENDED at %+.0f ms of the last\n",
                  equal, advice_clip.count, like, ((double)started - (double)at) / 22.05,
                  ((double)ended - (double)(at + advice_clip.count)) / 22.05);
    assert_true(like >= 0.9);
    assert_int_equal(capture_onset(heard, count, count - 2205), count); /* silence after it */
}

/* A12 of the acceptance: the old one stops within 150 ms, the new one starts within 300 ms. Told
 * here, and held to a second, since a test machine may be busy; docs/voice.md has figures. */
static void a_warning_takes_the_place_of_an_advice(void **state)
{
    (void)state;
    size_t from = hear(4410);
    voice_rig_speak(&rig, 1, TD_ADVICE, advice);
    voice_rig_until(&rig, 1, TD_REPORT_STARTED);
    size_t cut = hear(15000);
    td_voice_cut(rig.voice, 1);
    voice_rig_speak(&rig, 2, TD_WARNING, warning);
    voice_rig_until(&rig, 2, TD_REPORT_ENDED);
    assert_int_equal(voice_rig_count(&rig, 1, TD_REPORT_CUT), 1);
    size_t count = hear(11025);
    const int16_t *heard = capture_samples(capture);
    size_t start_of_advice = capture_onset(heard, count, from);
    size_t own = capture_onset(warning_clip.samples, warning_clip.count, 0);
    size_t begins = capture_find(heard, count, cut, warning_clip.samples + own);
    assert_true(begins < count);
    size_t stops = begins;
    while (stops > start_of_advice && heard[stops - 1] == 0)
        stops--;
    print_message("stopped %.0f ms, started %.0f ms after the order\n",
                  ((double)stops - (double)cut) / 22.05, ((double)begins - (double)cut) / 22.05);
    assert_true(stops < cut + 22050);
    assert_true(begins < cut + 22050);
    assert_true(begins > stops); /* never both */
    assert_true(capture_likeness(heard, count, begins - own, warning_clip.samples,
                                 warning_clip.count) >= 0.9);
}

static void the_volume_is_a_factor_with_a_floor(void **state)
{
    (void)state;
    size_t from = hear(4410);
    td_voice_volume(rig.voice, 1); /* is taken to 40 % */
    voice_rig_speak(&rig, 1, TD_ADVICE, advice);
    voice_rig_until(&rig, 1, TD_REPORT_ENDED);
    size_t count = hear(11025);
    const int16_t *heard = capture_samples(capture);
    double heard_energy = 0, clip_energy = 0;
    for (size_t i = from; i < count; i++)
        heard_energy += (double)heard[i] * heard[i];
    for (size_t i = 0; i < advice_clip.count; i++)
        clip_energy += (double)advice_clip.samples[i] * advice_clip.samples[i];
    assert_near(sqrt(heard_energy / clip_energy), 0.4, 0.02);
}

int main(int argc, char **argv)
{
    int child = voice_rig_main(argc, argv);
    if (child >= 0)
        return child;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_is_heard_is_the_clip, start, stop),
        cmocka_unit_test_setup_teardown(a_warning_takes_the_place_of_an_advice, start, stop),
        cmocka_unit_test_setup_teardown(the_volume_is_a_factor_with_a_floor, start, stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
