/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_voice_settings [--all | --only NAME | --words] [--realisations N]: which settings of the
 * voice are understood best in noise: words that a recogniser understands at several ratios of
 * speech to pink noise, all ears and an ear that lacks 3 to 6 kHz, and the intelligibility index in
 * the reference cab. Every setting has the same A-weighted level, since that is what is capped at a
 * driver's ear. A report: it ranks, and asserts nothing. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <espeak-ng/speak_lib.h>
#include <gsl/gsl_fft_halfcomplex.h>
#include <gsl/gsl_fft_real.h>

#include "support/cab_ear.h"
#include "support/recognise.h"
#include "support/spoken.h"
#include "voice/shape.h"
#include "voice_bench.h"

enum { LEAD = TD_SOUND_RATE_HZ / 2, EVERY = 12 };

static const double speech_db = -25; /* A-weighted, re full scale */
/* About where half of the words are lost: higher all settings are understood, lower none. */
static const double ratios_db[] = {4, 2, 0};
enum { RATIOS = sizeof ratios_db / sizeof ratios_db[0] };

static const struct voice_setting settings[] = {
    {"as used", "en-us", 160, 300, 6, 4, 0},
    {"rate 140", "en-us", 140, 300, 6, 4, 0},
    {"rate 150", "en-us", 150, 300, 6, 4, 0},
    {"rate 170", "en-us", 170, 300, 6, 4, 0},
    {"rate 180", "en-us", 180, 300, 6, 4, 0},
    {"pitch 35", "en-us", 160, 300, 6, 4, 35},
    {"pitch 65", "en-us", 160, 300, 6, 4, 65},
    {"pitch 80", "en-us", 160, 300, 6, 4, 80},
    {"no shaping", "en-us", 160, 20, 0, 1, 0},
    {"no shelf", "en-us", 160, 300, 0, 4, 0},
    {"shelf +3", "en-us", 160, 300, 3, 4, 0},
    {"shelf +10", "en-us", 160, 300, 10, 4, 0},
    {"no compressor", "en-us", 160, 300, 6, 1, 0},
    {"compressor 2:1", "en-us", 160, 300, 6, 2, 0},
    {"compressor 8:1", "en-us", 160, 300, 6, 8, 0},
    {"high-pass 500", "en-us", 160, 500, 6, 4, 0},
    {"variant m3", "en-us+m3", 160, 300, 6, 4, 0},
    {"variant m7", "en-us+m7", 160, 300, 6, 4, 0},
    {"variant f2", "en-us+f2", 160, 300, 6, 4, 0},
    {"variant f5", "en-us+f5", 160, 300, 6, 4, 0},
    {"variant klatt2", "en-us+klatt2", 160, 300, 6, 4, 0},
    {"British", "en", 160, 300, 6, 4, 0},
};

static struct td_phrase_file *english;
static struct recogniser *recogniser;
static double speech[NOISE_SAMPLES_MAX];
static int16_t mixed[NOISE_SAMPLES_MAX];

/* eSpeak NG's pitch, 0 to 100 (50 unless set otherwise), is no setting of ours: whenever its server
 * sets the rate, the bench sets the pitch as well. */
static int pitch;
espeak_ERROR __real_espeak_SetParameter(espeak_PARAMETER parameter, int value, int relative);
espeak_ERROR __wrap_espeak_SetParameter(espeak_PARAMETER parameter, int value, int relative);
espeak_ERROR __wrap_espeak_SetParameter(espeak_PARAMETER parameter, int value, int relative)
{
    if (parameter == espeakRATE && pitch > 0 &&
        __real_espeak_SetParameter(espeakPITCH, pitch, 0) != EE_OK)
        return EE_INTERNAL_ERROR;
    return __real_espeak_SetParameter(parameter, value, relative);
}

static double a_weighted_db(const double *samples, size_t count)
{
    static struct spectrum spectrum;
    spectrum_take(samples, count, TD_SOUND_RATE_HZ, &spectrum);
    return spectrum_a_weighted_db(&spectrum, 20, 8000); /* what the recogniser hears */
}

size_t bench_speech(const struct voice_setting *setting, const char *words, double *made)
{
    size_t count = raw_voice_say(words, made);
    struct td_biquad high_pass =
        td_biquad_high_pass(TD_SOUND_RATE_HZ, setting->high_pass_hz, sqrt(0.5));
    struct td_biquad shelf = td_biquad_high_shelf(TD_SOUND_RATE_HZ, 1500, setting->shelf_db);
    struct td_compressor compressor = {-24, setting->ratio, 0.002, 0.050};
    td_biquad_run(&high_pass, made, count);
    td_biquad_run(&shelf, made, count);
    td_compress(&compressor, TD_SOUND_RATE_HZ, made, count);
    struct td_span span = td_shape_sounding(made, count, 40);
    memmove(made, made + span.from, (span.to - span.from) * sizeof made[0]);
    count = span.to - span.from;
    if (count == 0 || count + 2 * LEAD > SPECTRUM_SIZE)
        return 0;
    double gain = pow(10, (speech_db - a_weighted_db(made, count)) / 20);
    for (size_t i = 0; i < count; i++)
        made[i] *= gain;
    return count;
}

/* 50 dB less from 3 to 6 kHz. */
static void cut_notch(double *samples)
{
    (void)gsl_fft_real_radix2_transform(samples, 1, SPECTRUM_SIZE);
    for (size_t k = 1; k < SPECTRUM_SIZE / 2; k++) {
        double hz = (double)k * TD_SOUND_RATE_HZ / SPECTRUM_SIZE;
        double gain = hz >= 3000 && hz <= 6000 ? 0.003 : 1;
        samples[k] *= gain;
        samples[SPECTRUM_SIZE - k] *= gain;
    }
    (void)gsl_fft_halfcomplex_radix2_inverse(samples, 1, SPECTRUM_SIZE);
}

size_t bench_mix(const double *said, size_t count, double snr_db, unsigned realisation,
                 bool notched, int16_t *out)
{
    static double mix[SPECTRUM_SIZE];
    size_t whole = count + 2 * LEAD;
    struct td_rng rng;
    td_rng_seed(&rng, 11, realisation + 1);
    memset(mix, 0, sizeof mix);
    noise_pink(&rng, mix, whole);
    double gain = pow(10, (speech_db - snr_db - a_weighted_db(mix, whole)) / 20);
    for (size_t i = 0; i < whole; i++)
        mix[i] = mix[i] * gain + (i >= LEAD && i < LEAD + count ? said[i - LEAD] : 0);
    if (notched)
        cut_notch(mix);
    for (size_t i = 0; i < whole; i++)
        out[i] = (int16_t)lrint(fmax(-1, fmin(1, mix[i])) * 32767);
    return whole;
}

static void score_prompt(const char *words, size_t count, double snr_db, unsigned realisation,
                         bool notched, size_t *all, size_t *wrong)
{
    char said[RECOGNISE_WORDS_MAX], raw[RECOGNISE_WORDS_MAX], heard[RECOGNISE_WORDS_MAX];
    size_t number = 0;
    recognise_plain(words, said);
    recogniser_words(recogniser, mixed,
                     bench_mix(speech, count, snr_db, realisation, notched, mixed), raw);
    recognise_plain(raw, heard);
    size_t errors = recognise_errors(said, heard, &number);
    *all += number;
    *wrong += errors < number ? errors : number;
}

/* Each ratio with all ears, then with the notch, then all of it together. */
static void tell(const struct voice_setting *setting, const size_t *all, const size_t *wrong)
{
    size_t total = 0, lost = 0;
    printf("| %-17s |", setting->name);
    for (int i = 0; i < 2 * RATIOS; i++) {
        printf(" %4.1f |", 100.0 * (double)(all[i] - wrong[i]) / (double)all[i]);
        total += all[i];
        lost += wrong[i];
    }
    printf(" %4.1f |", 100.0 * (double)(total - lost) / (double)total);
}

static void compare(const struct voice_setting *setting, unsigned realisations)
{
    struct td_prompt prompt;
    size_t all[2][RATIOS] = {{0}}, wrong[2][RATIOS] = {{0}};
    double seconds = 0, sii[CAB_HEARINGS] = {0}, prompts = 0;
    pitch = setting->pitch;
    if (!raw_voice_open(setting->voice, setting->rate_wpm)) {
        printf("| %-17s | there is no such voice here |\n", setting->name);
        return;
    }
    for (unsigned p = 1; english_every(p, &prompt); p += EVERY) {
        static struct spectrum spectrum;
        char words[TD_WORDS_MAX];
        double levels_db[SII_THIRDS];
        english_say(english, &prompt, words);
        size_t count = bench_speech(setting, words, speech);
        spectrum_take(speech, count, TD_SOUND_RATE_HZ, &spectrum);
        spectrum_levels(&spectrum, levels_db);
        for (int h = 0; h < CAB_HEARINGS; h++)
            sii[h] += cab_sii(levels_db, 87.5 - speech_db - CAB_EAR_DB, &cab_noises[0],
                              &cab_hearings[h]);
        seconds += (double)count / TD_SOUND_RATE_HZ;
        prompts++;
        for (unsigned r = 0; r < realisations; r++)
            for (int i = 0; i < 2 * RATIOS; i++)
                score_prompt(words, count, ratios_db[i / 2], r, i % 2 == 1, &all[i % 2][i / 2],
                             &wrong[i % 2][i / 2]);
    }
    raw_voice_close();
    tell(setting, &all[0][0], &wrong[0][0]);
    printf(" %.2f | %.2f | %.2f | %.2f |\n", sii[0] / prompts, sii[1] / prompts, sii[2] / prompts,
           seconds / prompts);
    (void)fflush(stdout);
}

int main(int argc, char **argv)
{
    unsigned realisations = 1, count = 1;
    const char *only = NULL;
    bool words = false;
    for (int i = 1; i < argc; i++) {
        if (strcmp(argv[i], "--all") == 0)
            count = sizeof settings / sizeof settings[0];
        else if (strcmp(argv[i], "--only") == 0 && i + 1 < argc)
            only = argv[++i];
        else if (strcmp(argv[i], "--words") == 0)
            words = true;
        else if (strcmp(argv[i], "--realisations") == 0 && i + 1 < argc)
            realisations = (unsigned)strtol(argv[++i], NULL, 10);
        else
            return 2;
    }
    if (!recogniser_is_there()) {
        puts("SKIPPED: the recogniser's English model is not there (pocketsphinx-en-us)");
        return 77;
    }
    if (words)
        return bench_words(realisations);
    english = english_open();
    recogniser = recogniser_open(td_phrase_file_book(english));
    if (recogniser == NULL)
        return 1;
    puts("Words understood (%) at +4, +2, 0 dB(A), with all ears, then without 3 to 6 kHz, all of"
         " these together; SII of an ordinary ear, of 40 dB loss, with a notch; seconds a prompt");
    for (unsigned s = 0; s < sizeof settings / sizeof settings[0]; s++)
        if (only != NULL ? strcmp(only, settings[s].name) == 0 : s < count)
            compare(&settings[s], realisations);
    recogniser_close(recogniser);
    td_phrase_file_free(&english);
    return 0;
}
