/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A clip as Ogg/Opus: the resampler against a sine known in closed form, and a file that another
 * reader (ogginfo's kind of look: the magic words of RFC 3533 and RFC 7845) takes for what it is.
 * That it sounds is for the browser's decoder, e2e.review_page. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "talkdown/units.h"
#include "voice/opus.h"

enum { COUNT = TD_SOUND_RATE_HZ / 2 };

static void fill(int16_t *samples, double hz)
{
    for (int i = 0; i < COUNT; i++)
        samples[i] = (int16_t)lround(16000.0 * sin(2.0 * TD_PI * hz * i / TD_SOUND_RATE_HZ));
}

static void a_sine_comes_out_at_the_new_rate(void **state)
{
    (void)state;
    static int16_t from[COUNT];
    static float to[COUNT * 2];
    static const double tones_hz[] = {300.0, 1000.0, 3000.0, 8000.0};
    size_t made = td_opus_resampled(COUNT);
    assert_int_equal(made, TD_OPUS_RATE_HZ / 2);
    for (size_t t = 0; t < sizeof tones_hz / sizeof tones_hz[0]; t++) {
        fill(from, tones_hz[t]);
        td_opus_resample(from, COUNT, to);
        for (size_t i = 100; i < made - 100; i++) {
            double want = 16000.0 / 32768.0 *
                          sin(2.0 * TD_PI * tones_hz[t] * (double)i / TD_OPUS_RATE_HZ);
            assert_near((double)to[i], want, 0.005);
        }
    }
}

static void the_file_says_what_it_is(void **state)
{
    (void)state;
    static int16_t from[COUNT];
    struct td_sound_clip clip = {.samples = from, .count = COUNT};
    uint8_t *bytes = NULL;
    size_t length = 0;
    struct td_problem problem = {.line = 0};
    fill(from, 1000.0);
    if (td_opus_make(&clip, &bytes, &length, &problem) != TD_OK)
        fail_msg("%s", problem.text);
    assert_true(length > 300 && length < sizeof from / 2);
    assert_memory_equal(bytes, "OggS", 4);           /* RFC 3533, section 6 */
    assert_memory_equal(bytes + 28, "OpusHead", 8);  /* RFC 7845, section 5.1 */
    free(bytes);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sine_comes_out_at_the_new_rate),
        cmocka_unit_test(the_file_says_what_it_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
