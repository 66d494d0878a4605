/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the shaping is for: a recogniser in noise understands shaped speech far better than raw
 * speech of the same level. The noise is pink, which Morrison (1993, abstract read) found equal to
 * truck noise for intelligibility at the same ratio; the ratio is 0 dB between the speech where it
 * sounds and the whole noise. A recogniser is not a driver: the test compares, and catches the day
 * on which the shaping stops working. */
#include "support/cm.h"

#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/recognise.h"
#include "support/spoken.h"
#include "talkdown/rng.h"
#include "voice/shape.h"
#include "voice/tell.h"
#include "voice/wire.h"

enum { SAMPLES_MAX = 10 * TD_SOUND_RATE_HZ, LEAD = TD_SOUND_RATE_HZ / 2 };

static const double speech_level = 0.06; /* root mean square, re full scale */
static struct td_phrase_file *english;
static struct recogniser *recogniser;
static struct td_synth *synth;
static int raw_fd = -1;

/* The synthesis process itself, for speech before any shaping. */
static int open_raw(const char *voice, int rate_wpm)
{
    int fds[2];
    struct td_synth_reply ready;
    if (!td_wire_pair(SOCK_STREAM, fds))
        return -1;
    if (fork() == 0) {
        (void)close(fds[0]);
        td_synth_serve(fds[1], voice, rate_wpm);
    }
    (void)close(fds[1]);
    raw_fd = fds[0];
    return td_wire_receive(raw_fd, &ready, sizeof ready, INT64_MAX) && ready.status == TD_OK ? 0
                                                                                             : -1;
}

static size_t say_raw(const char *words, double *speech)
{
    static int16_t samples[SAMPLES_MAX];
    struct td_synth_request request = {(uint32_t)strlen(words)};
    struct td_synth_reply reply;
    assert_true(td_wire_send(raw_fd, &request, sizeof request, INT64_MAX));
    assert_true(td_wire_send(raw_fd, words, request.length, INT64_MAX));
    assert_true(td_wire_receive(raw_fd, &reply, sizeof reply, INT64_MAX));
    assert_true(reply.status == TD_OK && reply.count <= SAMPLES_MAX);
    assert_true(td_wire_receive(raw_fd, samples, reply.count * sizeof samples[0], INT64_MAX));
    for (size_t i = 0; i < reply.count; i++)
        speech[i] = samples[i] / 32768.0;
    return reply.count;
}

static size_t say_shaped(const char *words, double *speech)
{
    struct td_sound_clip clip = {0};
    assert_int_equal(td_synth_say(synth, TD_DANGER, words, &clip, NULL), TD_OK);
    assert_true(clip.count <= SAMPLES_MAX);
    for (size_t i = 0; i < clip.count; i++)
        speech[i] = clip.samples[i] / 32768.0;
    size_t count = clip.count;
    td_sound_clip_free(&clip);
    return count;
}

static void set_level(double *samples, size_t count, double level)
{
    double energy = 0;
    for (size_t i = 0; i < count; i++)
        energy += samples[i] * samples[i];
    double gain = level / sqrt(energy / (double)count);
    for (size_t i = 0; i < count; i++)
        samples[i] *= gain;
}

/* Pink within 0.05 dB above 9 Hz: P. Kellet's sum of six first-order sections (coefficients from
 * memory; the test below measures the slope). */
static void make_pink(struct td_rng *rng, double *noise, size_t count)
{
    double b[7] = {0};
    for (size_t i = 0; i < count; i++) {
        double white = td_rng_normal(rng);
        b[0] = 0.99886 * b[0] + white * 0.0555179;
        b[1] = 0.99332 * b[1] + white * 0.0750759;
        b[2] = 0.96900 * b[2] + white * 0.1538520;
        b[3] = 0.86650 * b[3] + white * 0.3104856;
        b[4] = 0.55000 * b[4] + white * 0.5329522;
        b[5] = -0.7616 * b[5] - white * 0.0168980;
        noise[i] = b[0] + b[1] + b[2] + b[3] + b[4] + b[5] + b[6] + white * 0.5362;
        b[6] = white * 0.115926;
    }
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
    set_level(part, sounding, speech_level);
    td_rng_seed(&rng, 11, 1);
    make_pink(&rng, noise, whole);
    set_level(noise, whole, 1);
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
    double raw = understood(say_raw, speech_level);
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
    make_pink(&rng, noise, SAMPLES_MAX);
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
    if (td_synth_open(voice, rate_wpm, &synth, NULL) != TD_OK || open_raw(voice, rate_wpm) != 0)
        return -1;
    recogniser = recogniser_open(td_phrase_file_book(english));
    return recogniser ? 0 : -1;
}

static int close_all(void **state)
{
    (void)state;
    recogniser_close(recogniser);
    td_synth_close(&synth);
    (void)close(raw_fd);
    (void)waitpid(-1, NULL, 0);
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
