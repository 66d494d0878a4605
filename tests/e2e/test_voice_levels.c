/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How loud and how clear every prompt of every phrase file is, as synthesised: one loudness
 * (EBU R 128), the intelligibility index in cab noise (ANSI S3.5-1997), the level at the ear
 * (NUREG-0700 1.3.11-17: at most 90 dBA; DOT HS 810 905: 80 dB in 1 to 5 kHz), the tones over the
 * masked threshold (ISO 7731, secondary source). In the reference cab of support/cab_ear.h, which
 * is an assumption. */
#include "support/cm.h"

#include <glob.h>
#include <stdlib.h>

#include "support/cab_ear.h"
#include "support/spoken.h"
#include "talkdown/text.h"
#include "voice/loudness.h"
#include "voice/tones.h"
#include "voice/voice.h"

static struct td_phrase_file *phrases;
static struct td_synth *synth;
static double speech[SPECTRUM_SIZE];

struct extremes {
    unsigned count;
    double least_lufs, most_lufs, most_peak_dbtp, most_dba, most_moment_dba;
    double least_bright_db; /* a warning's, 1 to 5 kHz */
    double least_sii[CAB_NOISES][CAB_HEARINGS]; /* of a single prompt */
    double energy[2][SII_THIRDS], samples[2]; /* all; warnings and dangers */
    double least_sii_quiet; /* ordinary ear, pink noise, volume at its floor */
    unsigned warnings, unclear_warnings; /* of those, under 0.60 (pink noise, ordinary ear) */
    double least_warning_sii;
    char least_warning[TD_WORDS_MAX];
};

static size_t say(const struct td_prompt *prompt, const char *words)
{
    struct td_sound_clip clip = {.samples = NULL};
    assert_int_equal(td_synth_say(synth, prompt->category, words, &clip, NULL), TD_OK);
    size_t count = clip.count - clip.speech_from;
    assert_true(count <= SPECTRUM_SIZE);
    for (size_t i = 0; i < count; i++)
        speech[i] = clip.samples[clip.speech_from + i] / 32768.0;
    td_sound_clip_free(&clip);
    return count;
}

static void measure_loudness(struct extremes *x, size_t count)
{
    struct td_loudness loudness;
    assert_int_equal(td_loudness_measure(speech, count, TD_SOUND_RATE_HZ, &loudness, NULL), TD_OK);
    x->least_lufs = fmin(x->least_lufs, loudness.integrated_lufs);
    x->most_lufs = fmax(x->most_lufs, loudness.integrated_lufs);
    x->most_peak_dbtp = fmax(x->most_peak_dbtp, loudness.true_peak_dbtp);
}

static void measure_warning(struct extremes *x, const char *words, double sii)
{
    x->warnings++;
    x->unclear_warnings += sii < 0.60;
    if (sii >= x->least_warning_sii)
        return;
    x->least_warning_sii = sii;
    (void)td_text_copy(x->least_warning, sizeof x->least_warning, words);
}

static void measure_at_ear(struct extremes *x, size_t count, bool urgent, const char *words)
{
    static struct spectrum spectrum;
    static const double floor_db = -7.96; /* TD_VOICE_VOLUME_LEAST, 40 % */
    double levels_db[SII_THIRDS];
    spectrum_take(speech, count, TD_SOUND_RATE_HZ, &spectrum);
    spectrum_levels(&spectrum, levels_db);
    x->most_dba = fmax(x->most_dba, CAB_EAR_DB + spectrum_a_weighted_db(&spectrum, 20, 11025));
    if (urgent)
        x->least_bright_db =
            fmin(x->least_bright_db, CAB_EAR_DB + spectrum_band_db(&spectrum, 1000, 5000));
    for (int which = 0; which <= (urgent ? 1 : 0); which++) {
        x->samples[which] += (double)count;
        for (int i = 0; i < SII_THIRDS; i++)
            x->energy[which][i] += pow(10, levels_db[i] / 10) * (double)count;
    }
    for (int n = 0; n < CAB_NOISES; n++)
        for (int h = 0; h < CAB_HEARINGS; h++)
            x->least_sii[n][h] = fmin(x->least_sii[n][h], cab_sii(levels_db, 0, &cab_noises[n],
                                                                  &cab_hearings[h]));
    if (urgent)
        measure_warning(x, words, cab_sii(levels_db, 0, &cab_noises[0], &cab_hearings[0]));
    x->least_sii_quiet = fmin(x->least_sii_quiet,
                              cab_sii(levels_db, floor_db, &cab_noises[0], &cab_hearings[0]));
}

static void measure(void *context, const struct td_prompt *prompt, const struct spoken *spoken)
{
    struct extremes *x = context;
    static struct cab_moment moment;
    size_t count = say(prompt, spoken->words);
    x->count++;
    measure_loudness(x, count);
    measure_at_ear(x, count, prompt->category >= TD_WARNING, spoken->words);
    if (x->count % 16 == 1) { /* a hundred transforms each */
        cab_loudest_moment(speech, count, TD_SOUND_RATE_HZ, &moment);
        x->most_moment_dba = fmax(x->most_moment_dba, CAB_EAR_DB + moment.a_weighted_db);
    }
}

/* Of the mean spectrum of all, or of warnings and dangers: the index is made for long speech. */
static double mean_sii(const struct extremes *x, int which, int noise, int hearing)
{
    double levels_db[SII_THIRDS];
    for (int i = 0; i < SII_THIRDS; i++)
        levels_db[i] = 10 * log10(x->energy[which][i] / x->samples[which]);
    return cab_sii(levels_db, 0, &cab_noises[noise], &cab_hearings[hearing]);
}

static void tell(const struct extremes *x)
{
    printf("%s: %u prompts, %.2f to %.2f LUFS, true peak %.2f dBTP, at most %.1f dBA at the ear "
           "(loudest 125 ms %.1f), warnings at least %.1f dB in 1 to 5 kHz\n",
           td_phrase_file_book(phrases)->language, x->count, x->least_lufs, x->most_lufs,
           x->most_peak_dbtp, x->most_dba, x->most_moment_dba, x->least_bright_db);
    for (int n = 0; n < CAB_NOISES; n++)
        for (int h = 0; h < CAB_HEARINGS; h++)
            printf("  SII in %s, %s: all %.2f, warnings %.2f, the least clear prompt %.2f (%.0f %% "
                   "of sentences)\n",
                   cab_noises[n].name, cab_hearings[h].name, mean_sii(x, 0, n, h),
                   mean_sii(x, 1, n, h), x->least_sii[n][h],
                   100 * sii_sentence_score(x->least_sii[n][h]));
    printf("  of %u single warnings %u under 0.60 in pink noise, the least clear %.2f: %s\n",
           x->warnings, x->unclear_warnings, x->least_warning_sii, x->least_warning);
    printf("  at the floor of volume, pink: at least %.2f\n", x->least_sii_quiet);
}

/* Floors are our own over the standard's scale: 0.60 for warnings together, 0.50 for each prompt. A
 * warning alone may lie under 0.60, "Brake to sixty." for one: its few vowels leave 800 to 1,000 Hz
 * empty, which no level or shaping fills. The notch has 0.05 less: the index is not made for it.
 * Volume at its floor of 40 % is still understood: 0.30 is three sentences of five. */
static void check(const struct extremes *x)
{
    assert_true(x->count > 100);
    assert_true(x->most_lufs - x->least_lufs <= 2);
    assert_true(x->most_peak_dbtp <= -1 + 0.01); /* 16-bit rounding */
    assert_true(x->most_dba <= 90);
    assert_true(x->least_bright_db >= 80);
    for (int n = 0; n < CAB_NOISES; n++)
        for (int h = 0; h < CAB_HEARINGS; h++) {
            double less = h == 2 ? 0.05 : 0;
            assert_true(x->least_sii[n][h] >= 0.50 - less);
            assert_true(mean_sii(x, 0, n, h) >= 0.50 - less);
            assert_true(mean_sii(x, 1, n, h) >= 0.60 - less);
        }
    /* A9 of each warning alone does not hold for a seventh of them; it must not get worse. */
    assert_true(x->warnings > 20);
    assert_true(x->least_warning_sii >= 0.53);
    assert_true(x->unclear_warnings * 6 <= x->warnings);
    assert_true(x->least_sii_quiet >= 0.30);
}

static void measure_file(const char *path)
{
    struct td_problem problem = {.text = ""};
    struct extremes x = {.least_lufs = HUGE_VAL, .most_lufs = -HUGE_VAL,
                         .most_peak_dbtp = -HUGE_VAL, .least_bright_db = HUGE_VAL,
                         .least_sii_quiet = 1, .least_warning_sii = 1};
    for (int n = 0; n < CAB_NOISES; n++)
        for (int h = 0; h < CAB_HEARINGS; h++)
            x.least_sii[n][h] = 1;
    if (td_phrase_file_read(path, &phrases, &problem) != TD_OK)
        fail_msg("%s: %s", problem.file, problem.text);
    assert_int_equal(td_synth_open(td_phrase_file_voice(phrases), td_phrase_file_rate_wpm(phrases),
                                   &synth, NULL), TD_OK);
    assert_true(spoken_each(synth, phrases, measure, &x));
    tell(&x);
    check(&x);
    td_synth_close(&synth);
    td_phrase_file_free(&phrases);
}

static void every_language_is_level_and_clear(void **state)
{
    (void)state;
    glob_t files;
    assert_int_equal(glob(TD_SOURCE_DIR "/sounds/phrases/*.yaml", 0, NULL, &files), 0);
    for (size_t i = 0; i < files.gl_pathc; i++)
        measure_file(files.gl_pathv[i]);
    globfree(&files);
}

/* Margin over the threshold 10 dB, a warning's 15 (ISO 7731; MIL-STD-1472E 5.3.4.1 would have 20,
 * which the cap of 90 dBA does not allow in pink noise of 79 dBA: its octaves have 72.1 dB). */
static void tones_stand_out_of_the_noise(void **state)
{
    (void)state;
    static double tone[TD_TONE_SAMPLES_MAX];
    static struct cab_moment moment;
    assert_near(slope_octave_db(&cab_noises[0].noise, 1000), 72.1, 0.1);
    for (int c = 0; c < TD_CATEGORIES; c++) {
        size_t count = td_tone_render((enum td_category)c, tone);
        cab_loudest_moment(tone, count, TD_SOUND_RATE_HZ, &moment);
        double dba = CAB_EAR_DB + moment.a_weighted_db;
        printf("%-8s %.1f dBA at the ear; over the threshold", td_category_name(
               (enum td_category)c), dba);
        assert_true(dba <= 90);
        for (int n = 0; n < CAB_NOISES; n++) {
            double margin_db = cab_octave_margin_db(&moment.spectrum, 0, &cab_noises[n]);
            printf(" %.1f dB (%s)", margin_db, cab_noises[n].name);
            assert_true(margin_db >= (c >= TD_WARNING ? 15 : 10));
        }
        puts("");
        assert_true(cab_octave_margin_db(&moment.spectrum, -7.96, &cab_noises[0]) > 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tones_stand_out_of_the_noise),
        cmocka_unit_test(every_language_is_level_and_clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
