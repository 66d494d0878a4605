/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The tones as heard, measured: the four marks of an alarm (Singer et al., ESV 15-0455, 2015),
 * ramps of 20 to 30 ms (Patterson; Haas and Edworthy 1996), four tones at most and distinct from
 * the start (MIL-STD-1472E 5.3.4.3), and the time they take before the speech. The spectrum is
 * GSL's. */
#include "support/cm.h"

#include <gsl/gsl_fft_halfcomplex.h>
#include <gsl/gsl_fft_real.h>
#include <sndfile.h>
#include <stdbool.h>
#include <string.h>

#include "voice/loudness.h"
#include "voice/synth.h"
#include "voice/tones.h"

enum { FFT = 16384, WINDOW = 44 /* 2 ms */, WINDOWS_MAX = TD_TONE_SAMPLES_MAX / WINDOW };

struct features {
    double plateau_ratio; /* time near its peak over time it sounds, first burst */
    double gap_ms;        /* longest silence between bursts */
    double ramp_ms;       /* 1 % to 99 % of the first onset's way to its peak */
    double base_hz;
    int harmonics;
};

static const enum td_category with_tone[] = {TD_NOTICE, TD_ADVICE, TD_CAUTION, TD_WARNING};
enum { TONES = sizeof with_tone / sizeof with_tone[0] };

static double tone[TD_TONE_SAMPLES_MAX], envelope[WINDOWS_MAX];

static size_t make(enum td_category category)
{
    memset(tone, 0, sizeof tone);
    return td_tone_render(category, tone);
}

static size_t measure_envelope(size_t count)
{
    size_t windows = count / WINDOW;
    for (size_t w = 0; w < windows; w++) {
        envelope[w] = 0;
        for (size_t i = 0; i < WINDOW; i++)
            envelope[w] = fmax(envelope[w], fabs(tone[w * WINDOW + i]));
    }
    return windows;
}

static void measure_time(size_t count, struct features *f)
{
    size_t windows = measure_envelope(count), on = 0, near_peak = 0, gap = 0, longest = 0;
    double peak = 0;
    bool first = true;
    for (size_t w = 0; w < windows; w++)
        peak = fmax(peak, envelope[w]);
    size_t last = windows;
    while (envelope[last - 1] < 0.01 * peak)
        last--;
    for (size_t w = 0; w < last; w++) {
        bool sounds = envelope[w] > 0.01 * peak;
        first = first && (sounds || on == 0);
        on += first && sounds;
        near_peak += first && envelope[w] > 0.9 * peak;
        gap = sounds ? 0 : gap + 1;
        longest = gap > longest ? gap : longest;
    }
    size_t from = 0, to = 0;
    while (envelope[from] < 0.01 * peak)
        from++;
    for (to = from; envelope[to + 1] > envelope[to]; to++)
        ;
    f->plateau_ratio = (double)near_peak / (double)on;
    f->gap_ms = (double)longest * 2;
    f->ramp_ms = (double)(to - from + 1) * 2;
}

static double power_at(const double *spectrum, double hz)
{
    int k = (int)lround(hz * FFT / TD_SOUND_RATE_HZ);
    double most = 0;
    for (int i = k - 8; i <= k + 8; i++)
        most = fmax(most, spectrum[i] * spectrum[i] + spectrum[FFT - i] * spectrum[FFT - i]);
    return most;
}

/* Of the first 90 ms, which hold one base frequency in every tone. */
static void measure_spectrum(struct features *f)
{
    static double spectrum[FFT];
    size_t part = (size_t)(0.09 * TD_SOUND_RATE_HZ);
    memset(spectrum, 0, sizeof spectrum);
    for (size_t i = 0; i < part; i++)
        spectrum[i] = tone[i] * (0.5 - 0.5 * cos(2 * 3.14159265358979 * (double)i / (double)part));
    gsl_fft_real_radix2_transform(spectrum, 1, FFT);
    double peak = 0;
    for (int k = 1; k < FFT / 2; k++)
        peak = fmax(peak, spectrum[k] * spectrum[k] + spectrum[FFT - k] * spectrum[FFT - k]);
    int base = 1;
    double top = 0;
    while (spectrum[base] * spectrum[base] + spectrum[FFT - base] * spectrum[FFT - base] <
           peak / 100)
        base++;
    for (int k = base, rising = base; k < rising + 30; k++) { /* to the top of that first lobe */
        double power = spectrum[k] * spectrum[k] + spectrum[FFT - k] * spectrum[FFT - k];
        if (power > top) {
            top = power;
            base = k;
        }
    }
    f->base_hz = (double)base * TD_SOUND_RATE_HZ / FFT;
    f->harmonics = 0;
    for (int n = 1; n <= 6; n++)
        f->harmonics += power_at(spectrum, n * f->base_hz) > peak / 100; /* 20 dB down */
}

static struct features measure(enum td_category category)
{
    struct features f;
    size_t count = make(category);
    assert_true(count > 0 && count <= TD_TONE_SAMPLES_MAX);
    measure_time(count, &f);
    measure_spectrum(&f);
    printf("%-8s plateau %.2f gap %.0f ms ramp %.0f ms base %.0f Hz harmonics %d, %.0f ms\n",
           td_category_name(category), f.plateau_ratio, f.gap_ms, f.ramp_ms, f.base_hz,
           f.harmonics, 1000.0 * (double)count / TD_SOUND_RATE_HZ);
    return f;
}

static int alarm_marks(const struct features *f)
{
    return (f->plateau_ratio >= 0.7) + (f->gap_ms <= 125) + (f->harmonics >= 3) +
           (f->base_hz >= 999); /* 1,000 Hz less half a line of the spectrum */
}

static void only_the_warning_has_every_mark_of_an_alarm(void **state)
{
    (void)state;
    struct features f = measure(TD_WARNING);
    assert_int_equal(alarm_marks(&f), 4);
    f = measure(TD_ADVICE);
    assert_in_range(alarm_marks(&f), 0, 2);
    f = measure(TD_NOTICE);
    assert_in_range(alarm_marks(&f), 0, 2);
    f = measure(TD_CAUTION);
    assert_in_range(alarm_marks(&f), 0, 3);
}

static void ramps_are_20_to_30_ms(void **state)
{
    (void)state;
    for (int i = 0; i < TONES; i++) {
        struct features f = measure(with_tone[i]);
        assert_true(f.ramp_ms >= 20 && f.ramp_ms <= 30);
    }
}

static void speech_comes_soon_after(void **state)
{
    (void)state;
    assert_true(make(TD_WARNING) <= TD_SOUND_RATE_HZ / 5);
    for (int i = 0; i < TONES; i++)
        assert_true(make(with_tone[i]) <= TD_SOUND_RATE_HZ / 2);
}

/* A danger has the warning's: a fifth would be one too many. */
static void a_danger_sounds_as_a_warning(void **state)
{
    (void)state;
    static double other[TD_TONE_SAMPLES_MAX];
    size_t count = make(TD_WARNING);
    memcpy(other, tone, sizeof other);
    assert_int_equal(make(TD_DANGER), count);
    assert_memory_equal(tone, other, sizeof other);
}

/* The greatest likeness of two tones' first half seconds at any shift, 1 for equal ones. */
static double likeness(const double *a, const double *b)
{
    static double fa[FFT * 2], fb[FFT * 2];
    enum { N = FFT * 2, PART = TD_SOUND_RATE_HZ / 2 };
    double ea = 0, eb = 0, most = 0;
    memset(fa, 0, sizeof fa);
    memset(fb, 0, sizeof fb);
    for (int i = 0; i < PART; i++) {
        fa[i] = a[i];
        fb[i] = b[i];
        ea += a[i] * a[i];
        eb += b[i] * b[i];
    }
    gsl_fft_real_radix2_transform(fa, 1, N);
    gsl_fft_real_radix2_transform(fb, 1, N);
    fa[0] *= fb[0];
    fa[N / 2] *= fb[N / 2];
    for (int k = 1; k < N / 2; k++) {
        double re = fa[k] * fb[k] + fa[N - k] * fb[N - k];
        double im = fa[N - k] * fb[k] - fa[k] * fb[N - k];
        fa[k] = re;
        fa[N - k] = im;
    }
    gsl_fft_halfcomplex_radix2_inverse(fa, 1, N);
    for (int i = 0; i < N; i++)
        most = fmax(most, fabs(fa[i]));
    return most / sqrt(ea * eb);
}

static void no_two_are_alike(void **state)
{
    (void)state;
    static double other[TD_TONE_SAMPLES_MAX];
    for (int i = 0; i < TONES; i++) {
        make(with_tone[i]);
        memcpy(other, tone, sizeof other);
        assert_near(likeness(other, other), 1, 1e-9);
        for (int j = 0; j < i; j++) {
            make(with_tone[j]);
            double like = likeness(other, tone);
            printf("%s and %s: %.2f\n", td_category_name(with_tone[i]),
                   td_category_name(with_tone[j]), like);
            assert_true(like < 0.5);
        }
    }
}

/* Urgency is not told by loudness (NUREG-0700). Each is repeated, to have gating blocks. */
static void all_have_one_loudness(void **state)
{
    (void)state;
    static double filled[TD_SOUND_RATE_HZ * 2];
    for (int i = 0; i < TONES; i++) {
        size_t count = make(with_tone[i]);
        while (fabs(tone[count - 1]) < 1e-9)
            count--;
        for (size_t k = 0; k < TD_SOUND_RATE_HZ * 2; k++)
            filled[k] = tone[k % count];
        struct td_loudness loudness;
        assert_int_equal(td_loudness_measure(filled, TD_SOUND_RATE_HZ * 2, TD_SOUND_RATE_HZ,
                                             &loudness, NULL), TD_OK);
        printf("%s: %.1f LUFS\n", td_category_name(with_tone[i]), loudness.integrated_lufs);
        assert_near(loudness.integrated_lufs, -18.5, 1);
        assert_true(loudness.true_peak_dbtp <= -1);
    }
}

static void the_files_are_the_same(void **state)
{
    (void)state;
    static int16_t file_samples[TD_TONE_SAMPLES_MAX];
    for (int i = 0; i < TONES; i++) {
        char path[512];
        SF_INFO info = {0};
        (void)snprintf(path, sizeof path, "%s/sounds/%s.wav", TD_SOURCE_DIR,
                       td_category_name(with_tone[i]));
        SNDFILE *file = sf_open(path, SFM_READ, &info);
        assert_non_null(file);
        size_t count = make(with_tone[i]);
        assert_int_equal(info.frames, count);
        assert_int_equal(info.samplerate, TD_SOUND_RATE_HZ);
        assert_int_equal(sf_read_short(file, file_samples, TD_TONE_SAMPLES_MAX), count);
        for (size_t k = 0; k < count; k++) /* another libm may round the last bit otherwise */
            assert_near(file_samples[k], td_sound_sample(tone[k]), 1);
        assert_int_equal(sf_close(file), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_the_warning_has_every_mark_of_an_alarm),
        cmocka_unit_test(ramps_are_20_to_30_ms),
        cmocka_unit_test(speech_comes_soon_after),
        cmocka_unit_test(a_danger_sounds_as_a_warning),
        cmocka_unit_test(no_two_are_alike),
        cmocka_unit_test(all_have_one_loudness),
        cmocka_unit_test(the_files_are_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
