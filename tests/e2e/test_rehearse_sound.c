/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sound of a rehearsal: every prompt that prompts.txt calls spoken stands in voice.wav, sample
 * for sample, at its own time, and between them there is silence. */
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>

#include "io/phrase_file.h"
#include "support/cm.h"
#include "support/tool_run.h"
#include "voice/synth.h"

#define HILL    TD_SOURCE_DIR "/profiles/hills/vessarin-drop.geojson"
#define RIG     TD_SOURCE_DIR "/profiles/rigs/five-axle-no-brake.yaml"
#define PHRASES TD_SOURCE_DIR "/sounds/phrases/en-us.yaml"

enum { NEAR_SAMPLES = TD_SOUND_RATE_HZ * 3 / 10 };

static int16_t *read_wav(const char *path, size_t *count)
{
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    assert_int_equal(info.samplerate, TD_SOUND_RATE_HZ);
    assert_int_equal(info.channels, 1);
    int16_t *samples = malloc((size_t)info.frames * sizeof *samples);
    assert_non_null(samples);
    *count = (size_t)sf_read_short(file, samples, info.frames);
    assert_int_equal(*count, info.frames);
    (void)sf_close(file);
    return samples;
}

static enum td_category category_of(const char *name)
{
    for (int i = 0; i < TD_CATEGORIES; i++)
        if (strcmp(td_category_name((enum td_category)i), name) == 0)
            return (enum td_category)i;
    fail_msg("no category %s", name);
    return TD_NOTICE;
}

/* Finds the clip near t_s and blanks it; false when it is not there. The lines give tenths of a
 * second and the voice begins a moment later. */
static bool take_clip(int16_t *samples, size_t count, double t_s, const struct td_sound_clip *clip)
{
    size_t part = clip->count;
    size_t from = (size_t)(t_s * TD_SOUND_RATE_HZ);
    from = from > NEAR_SAMPLES / 3 ? from - NEAR_SAMPLES / 3 : 0;
    for (size_t at = from; at < from + NEAR_SAMPLES && at + part <= count; at++)
        if (memcmp(samples + at, clip->samples, part * sizeof *samples) == 0) {
            memset(samples + at, 0, part * sizeof *samples);
            return true;
        }
    return false;
}

static void wav_holds_what_was_said_and_nothing_else(void **state)
{
    (void)state;
    char folder[64], arguments[1024], path[128];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILL " --rig " RIG " --driver ten-over --json --out %s", folder);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    (void)snprintf(path, sizeof path, "%s/voice.wav", folder);
    size_t count = 0;
    int16_t *samples = read_wav(path, &count);
    struct td_phrase_file *phrases = NULL;
    struct td_synth *synth = NULL;
    struct td_problem problem;
    assert_int_equal(td_phrase_file_read(PHRASES, &phrases, &problem), TD_OK);
    assert_int_equal(td_synth_open(td_phrase_file_voice(phrases), td_phrase_file_rate_wpm(phrases),
                                   &synth, &problem), TD_OK);
    int whole = 0, cut = 0;
    for (size_t i = 0; i < run.prompt_count; i++) {
        const struct tool_prompt *prompt = &run.prompts[i];
        bool is_cut = strcmp(prompt->fate, "cut") == 0;
        if (!is_cut && strcmp(prompt->fate, "spoken") != 0)
            continue;
        whole += !is_cut;
        cut += is_cut;
        if (is_cut)
            continue;
        struct td_sound_clip clip;
        assert_int_equal(td_synth_say(synth, category_of(prompt->category), prompt->words, &clip,
                                      &problem), TD_OK);
        if (!take_clip(samples, count, prompt->t_s, &clip))
            fail_msg("\"%s\" is not in the sound at %.1f s", prompt->words, prompt->t_s);
        td_sound_clip_free(&clip);
    }
    assert_true(whole >= 10);
    printf("%d prompts whole, %d cut\n", whole, cut);
    size_t loud = 0;
    for (size_t i = 0; i < count; i++)
        loud += samples[i] != 0;
    /* What was cut is left over, at most a few seconds each. */
    assert_true(loud <= (size_t)cut * 4 * TD_SOUND_RATE_HZ);
    free(samples);
    td_synth_close(&synth);
    td_phrase_file_free(&phrases);
    tool_run_free(&run);
}

/* One run's sound, for the caller to free. */
static int16_t *sound_of(const char *more, size_t *count, char *summary, size_t size)
{
    char arguments[1024], path[128], folder[64];
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    (void)snprintf(arguments, sizeof arguments,
                   "rehearse " HILL " --rig " RIG " --driver ten-over --out %s %s", folder, more);
    struct tool_run run = tool_run(arguments);
    assert_int_equal(run.exit_code, 0);
    const char *last = strstr(run.out, "outputs: ");
    assert_non_null(last);
    (void)snprintf(summary, size, "%s", last);
    (void)snprintf(path, sizeof path, "%s/voice.wav", folder);
    tool_run_free(&run);
    return read_wav(path, count);
}

/* Samples that are not silence, in order, at the front; returns how many. */
static size_t squeeze(int16_t *samples, size_t count)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++)
        if (samples[i] != 0)
            samples[kept++] = samples[i];
    return kept;
}

/* The same sound, sample for sample, with less silence in it: no word is cut, hurried or moved
 * before another. */
static void a_quick_listen_shortens_silence_alone(void **state)
{
    (void)state;
    char summary[256];
    size_t whole_count = 0, quick_count = 0;
    int16_t *whole = sound_of("", &whole_count, summary, sizeof summary);
    assert_null(strstr(summary, "quick listen"));
    int16_t *quick = sound_of("--speed 8", &quick_count, summary, sizeof summary);
    const char *told = strstr(summary, "a quick listen of ");
    double told_s = 0;
    assert_non_null(told);
    assert_int_equal(sscanf(told, "a quick listen of %lf s", &told_s), 1);
    assert_near(told_s, (double)quick_count / TD_SOUND_RATE_HZ, 1.0);
    size_t spoken = squeeze(whole, whole_count);
    assert_true(quick_count < whole_count / 2);
    assert_true(quick_count >= whole_count / 8 && quick_count >= spoken);
    assert_int_equal(squeeze(quick, quick_count), spoken);
    assert_memory_equal(whole, quick, spoken * sizeof *whole);
    free(whole);
    free(quick);
    struct tool_run run = tool_run("rehearse " HILL " --rig " RIG " --speed 8 --no-sound --out x");
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "--no-sound"));
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wav_holds_what_was_said_and_nothing_else),
        cmocka_unit_test(a_quick_listen_shortens_silence_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
