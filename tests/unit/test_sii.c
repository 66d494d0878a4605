/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The intelligibility calculator on published test values of ANSI S3.5-1997 (those that circulate
 * with the standard's tables; read in the SII package for R and in MoSQITo, whose numbers alone
 * were taken), before it judges our own speech. */
#include "support/cm.h"

#include "support/sii.h"

static const double no_loss[SII_THIRDS] = {0};

static void octave_values(void **state)
{
    (void)state;
    const double speech[] = {50, 40, 40, 30, 20, 0}, noise[] = {70, 65, 45, 25, 1, -15};
    const double worn[] = {0, 0, 0, 0, 0, 7.1}, one_kilohertz[] = {0, 0, 1, 0, 0, 0};
    assert_near(sii_octave(speech, noise, no_loss, NULL), 0.504, 0.0005);
    assert_near(sii_octave(speech, noise, worn, NULL), 0.491, 0.0005);
    assert_near(sii_octave(speech, noise, worn, one_kilohertz), 0.323, 0.0005);
    assert_near(sii_octave(speech, noise, no_loss, one_kilohertz), 0.323, 0.0005);
}

static void third_octave_values(void **state)
{
    (void)state;
    double speech[SII_THIRDS], noise[SII_THIRDS], weight[SII_THIRDS] = {0};
    double threshold[SII_THIRDS] = {90};
    for (int i = 0; i < SII_THIRDS; i++) {
        speech[i] = i == 0 ? 90 : i == 1 ? 5 : i < 14 ? 40 : -10;
        noise[i] = i == 0 ? 10 : i == 3 ? 75 : i < 14 ? -10 : 10;
    }
    for (int i = 9; i < 16; i++) /* 1250 to 5000 Hz */
        weight[i] = 0.1;
    weight[16] = 0.3;
    assert_near(sii_third_octave(speech, noise, threshold, NULL), 0.445, 0.0005);
    assert_near(sii_third_octave(speech, noise, threshold, weight), 0.438, 0.0005);
}

static void a_shout_in_flat_noise(void **state)
{
    (void)state;
    static const double expected[] = {.9177, .9126, .8795, .7790, .5372, .2604, .0534};
    for (int n = 0; n < 7; n++) {
        double noise[SII_THIRDS];
        for (int i = 0; i < SII_THIRDS; i++)
            noise[i] = 10 * n;
        assert_near(sii_third_octave(sii_third_speech[SII_SHOUT], noise, no_loss, NULL),
                    expected[n], 0.00005);
    }
}

/* Two ears hear 1.7 dB better than one. */
static void in_quiet(void **state)
{
    (void)state;
    double noise[SII_THIRDS], threshold[SII_THIRDS];
    for (int i = 0; i < SII_THIRDS; i++) {
        noise[i] = -50;
        threshold[i] = -1.7;
    }
    assert_near(sii_third_octave(sii_third_speech[SII_NORMAL], noise, threshold, NULL), 0.9969,
                0.00005);
    assert_near(sii_third_octave(sii_third_speech[SII_SHOUT], noise, threshold, NULL), 0.9177,
                0.00005);
}

/* Importances add up to one; the speech has the standard's own overall levels (62.35, 68.34, 74.85
 * and 82.30 dB), so no number of the tables was mistyped by much. */
static void the_tables_are_whole(void **state)
{
    (void)state;
    static const double overall_db[] = {62.35, 68.34, 74.85, 82.30};
    double sum = 0, short_sum = 0;
    for (int i = 0; i < SII_THIRDS; i++) {
        sum += sii_third_importance[i];
        short_sum += sii_third_short_passages[i];
    }
    assert_near(sum, 1, 0.0005);
    assert_near(short_sum, 1, 0.0025);
    for (int e = SII_NORMAL; e <= SII_SHOUT; e++) {
        double energy = 0;
        for (int i = 0; i < SII_THIRDS; i++)
            energy += pow(10, (sii_third_speech[e][i] + sii_third_width_db[i]) / 10);
        assert_near(10 * log10(energy), overall_db[e], 0.1);
    }
}

static void sentences_by_index(void **state)
{
    (void)state;
    assert_near(sii_sentence_score(0.30), 0.60, 1e-12);
    assert_near(sii_sentence_score(0.475), 0.92, 1e-12);
    assert_near(sii_sentence_score(1.2), 1, 1e-12);
    assert_near(sii_sentence_score(0), 0, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(octave_values),       cmocka_unit_test(third_octave_values),
        cmocka_unit_test(a_shout_in_flat_noise), cmocka_unit_test(in_quiet),
        cmocka_unit_test(the_tables_are_whole), cmocka_unit_test(sentences_by_index),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
