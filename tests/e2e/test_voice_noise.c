/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the shaping is for: a recogniser in noise understands shaped speech far better than raw
 * speech of the same level. The noise is pink, which Morrison (1993, abstract read) found equal to
 * truck noise for intelligibility at the same ratio; the ratio is 0 dB between the speech where it
 * sounds and the whole noise. A recogniser is not a driver: the test compares, and catches the day
 * on which the shaping stops working. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>

#include "support/noise.h"
#include "support/recognise.h"
#include "support/spoken.h"
#include "voice/shape.h"

enum { SAMPLES_MAX = NOISE_SAMPLES_MAX, LEAD = TD_SOUND_RATE_HZ / 2 };

static const double speech_level = 0.06; /* root mean square, re full scale */
static struct td_phrase_file *english;
static struct recogniser *recogniser;
static struct td_synth *synth;

static size_t say_shaped(const char *words, double *speech)
{
    struct td_sound_clip clip = {0};
    assert_int_equal(td_synth_say(synth, TD_DANGER, words, &clip, NULL), TD_OK);
    size_t count = clip.count - clip.speech_from;
    assert_true(count <= SAMPLES_MAX);
    for (size_t i = 0; i < count; i++)
        speech[i] = clip.samples[clip.speech_from + i] / 32768.0;
    td_sound_clip_free(&clip);
    return count;
}

/* The speech at its level in noise of `noise_level` (0: none), half a second before and after. */
static size_t mix(const double *speech, size_t count, double noise_level, int16_t *mixed)
{
    static double part[SAMPLES_MAX], noise[SAMPLES_MAX];
    struct td_span span = td_shape_sounding(speech, count, 40);
    size_t sounding = span.to - span.from, whole = sounding + 2 * LEAD;
    struct td_rng rng;
    assert_true(whole <= SAMPLES_MAX);
    memcpy(part, speech + span.from, sounding * sizeof part[0]);
    noise_set_level(part, sounding, speech_level);
    td_rng_seed(&rng, 11, 1);
    noise_pink(&rng, noise, whole);
    noise_set_level(noise, whole, 1);
    for (size_t i = 0; i < whole; i++) {
        double value = noise[i] * noise_level;
        if (i >= LEAD && i < LEAD + sounding)
            value += part[i - LEAD];
        mixed[i] = (int16_t)lrint(fmax(-1, fmin(1, value)) * 32767);
    }
    return whole;
}

typedef size_t say_fn(const char *words, double *speech);

/* Per cent of words understood over every third prompt; all take minutes. */
static double understood(say_fn *say, double noise_level)
{
    static double speech[SAMPLES_MAX];
    static int16_t mixed[SAMPLES_MAX];
    struct td_prompt prompt;
    size_t all = 0, wrong = 0;
    for (unsigned i = 0; english_longest(i, &prompt); i += 3) {
        char words[TD_WORDS_MAX], said[RECOGNISE_WORDS_MAX], raw[RECOGNISE_WORDS_MAX];
        char heard[RECOGNISE_WORDS_MAX];
        size_t count = 0;
        english_say(english, &prompt, words);
        recognise_plain(words, said);
        size_t length = mix(speech, say(words, speech), noise_level, mixed);
        recogniser_words(recogniser, mixed, length, raw);
        recognise_plain(raw, heard);
        size_t errors = recognise_errors(said, heard, &count);
        all += count;
        wrong += errors < count ? errors : count;
    }
    return 100.0 * (double)(all - wrong) / (double)all;
}

static void shaped_speech_is_understood_in_noise(void **state)
{
    (void)state;
    double clean = understood(say_shaped, 0), shaped = understood(say_shaped, speech_level);
    double raw = understood(raw_voice_say, speech_level);
    printf("words understood, per cent: clean %.1f; in pink noise at 0 dB %.1f shaped, %.1f raw\n",
           clean, shaped, raw);
    assert_true(clean >= 95);
    assert_true(shaped >= raw + 20);
    assert_true(shaped >= 50);
}

/* Energy an octave at one octave and at the next: equal in pink noise. */
static void the_noise_is_pink(void **state)
{
    (void)state;
    static double noise[SAMPLES_MAX], band[SAMPLES_MAX];
    double level[2] = {0, 0};
    struct td_rng rng;
    td_rng_seed(&rng, 11, 1);
    noise_pink(&rng, noise, SAMPLES_MAX);
    for (int octave = 0; octave < 2; octave++) {
        double low_hz = octave == 0 ? 500 : 2000;
        struct td_biquad above = td_biquad_high_pass(TD_SOUND_RATE_HZ, low_hz, sqrt(0.5));
        struct td_biquad beyond = td_biquad_high_pass(TD_SOUND_RATE_HZ, 2 * low_hz, sqrt(0.5));
        memcpy(band, noise, sizeof band);
        td_biquad_run(&above, band, SAMPLES_MAX);
        for (int i = 0; i < SAMPLES_MAX; i++)
            level[octave] += band[i] * band[i];
        memcpy(band, noise, sizeof band);
        td_biquad_run(&beyond, band, SAMPLES_MAX);
        for (int i = 0; i < SAMPLES_MAX; i++)
            level[octave] -= band[i] * band[i];
    }
    assert_near(10 * log10(level[1] / level[0]), 0, 0.5);
}

static int open_all(void **state)
{
    (void)state;
    english = english_open();
    const char *voice = td_phrase_file_voice(english);
    int rate_wpm = td_phrase_file_rate_wpm(english);
    if (td_synth_open(voice, rate_wpm, &synth, NULL) != TD_OK || !raw_voice_open(voice, rate_wpm))
        return -1;
    recogniser = recogniser_open(td_phrase_file_book(english));
    return recogniser ? 0 : -1;
}

static int close_all(void **state)
{
    (void)state;
    recogniser_close(recogniser);
    td_synth_close(&synth);
    raw_voice_close();
    td_phrase_file_free(&english);
    return 0;
}

int main(void)
{
    if (!recogniser_is_there()) {
        puts("SKIPPED: the recogniser's English model is not there (pocketsphinx-en-us)");
        return 77;
    }
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_noise_is_pink),
        cmocka_unit_test(shaped_speech_is_understood_in_noise),
    };
    return cmocka_run_group_tests(tests, open_all, close_all);
}
