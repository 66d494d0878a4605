/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Synthesis with the real eSpeak NG: the same words are the same bytes, one loudness, the tone's
 * time, markup taken as words, clear errors. */
#include "support/cm.h"

#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "voice/loudness.h"
#include "voice/shape.h"
#include "voice/synth.h"

static struct td_synth *synth;

static int open_voice(void **state)
{
    (void)state;
    return td_synth_open("en-us", 160, &synth, NULL) == TD_OK ? 0 : -1;
}

static int close_voice(void **state)
{
    (void)state;
    td_synth_close(&synth);
    return waitpid(-1, NULL, WNOHANG) == -1 && errno == ECHILD && !synth ? 0 : -1;
}

static struct td_sound_clip say(struct td_synth *with, enum td_category category,
                                const char *words)
{
    struct td_sound_clip clip = {0};
    struct td_problem problem = {0};
    if (td_synth_say(with, category, words, &clip, &problem) != TD_OK)
        fail_msg("\"%s\": %s", words, problem.text);
    return clip;
}

static void the_same_words_are_the_same_bytes(void **state)
{
    (void)state;
    struct td_synth *other = NULL;
    assert_int_equal(td_synth_open("en-us", 160, &other, NULL), TD_OK);
    struct td_sound_clip first = say(synth, TD_ADVICE, "Eight percent grade, three miles.");
    for (int i = 0; i < 3; i++) {
        struct td_synth *with = i == 1 ? other : synth;
        struct td_sound_clip between = say(with, TD_WARNING, "Over speed. Brake to one five.");
        struct td_sound_clip again = say(with, TD_ADVICE, "Eight percent grade, three miles.");
        assert_int_equal(again.count, first.count);
        assert_memory_equal(again.samples, first.samples, first.count * sizeof *first.samples);
        td_sound_clip_free(&between);
        td_sound_clip_free(&again);
    }
    td_sound_clip_free(&first);
    td_synth_close(&other);
}

static double seconds(const char *words)
{
    struct td_sound_clip clip = say(synth, TD_DANGER, words);
    double length_s = (double)(clip.count - clip.speech_from) / TD_SOUND_RATE_HZ;
    assert_in_range(clip.speech_from, 1, TD_SOUND_RATE_HZ / 5);
    td_sound_clip_free(&clip);
    return length_s;
}

static void markup_is_only_text(void **state)
{
    (void)state;
    assert_true(seconds("slow <b> down & hold") > seconds("slow down hold") + 0.3);
    assert_true(seconds("five & six") > seconds("five six") + 0.1);
    assert_true(seconds("one <break time=\"5s\"/> two") < 5);
}

static const char *const prompts[] = {
    "Eight percent grade, three miles.", "Set for eighty thousand pounds.",
    "Too heavy for this grade.", "Brake check area, half mile, right.",
    "Over speed. Brake to one five.", "Third gear now.", "Twenty or slower.", "Ready.",
    "Take the escape lane. Right.", "Grade ends. Stop sign, quarter mile.",
    "Position lost. Go by the signs.", "Engine brake high.", "No more escape lanes.", "No", "Stop",
};

/* EBU R 128's meter and true peak; the spread allowed is our own choice. */
static void every_prompt_has_one_loudness(void **state)
{
    (void)state;
    double least = HUGE_VAL, most = -HUGE_VAL;
    for (size_t p = 0; p < sizeof prompts / sizeof prompts[0]; p++) {
        struct td_sound_clip clip = say(synth, TD_CAUTION, prompts[p]);
        double *samples = malloc(clip.count * sizeof *samples);
        assert_non_null(samples);
        for (size_t i = 0; i < clip.count; i++)
            samples[i] = clip.samples[i] / 32768.0;
        struct td_loudness speech, whole;
        assert_int_equal(td_loudness_measure(samples + clip.speech_from,
                                             clip.count - clip.speech_from, TD_SOUND_RATE_HZ,
                                             &speech, NULL), TD_OK);
        assert_int_equal(td_loudness_measure(samples, clip.count, TD_SOUND_RATE_HZ, &whole, NULL),
                         TD_OK);
        least = fmin(least, speech.integrated_lufs);
        most = fmax(most, speech.integrated_lufs);
        assert_near(whole.integrated_lufs, -18, 1);
        assert_true(whole.true_peak_dbtp <= -0.99);
        free(samples);
        td_sound_clip_free(&clip);
    }
    printf("speech %.2f to %.2f LUFS\n", least, most);
    assert_true(least >= -18.1 && most <= -17.9);
}

static void speech_starts_when_the_tone_says(void **state)
{
    (void)state;
    static const double most_s[TD_CATEGORIES] = {0.7, 0.7, 0.7, 0.2, 0.2};
    for (int category = 0; category < TD_CATEGORIES; category++) {
        struct td_sound_clip clip = say(synth, (enum td_category)category, "Over speed. Brake.");
        double speech[TD_SOUND_RATE_HZ];
        size_t count = clip.count - clip.speech_from;
        count = count < TD_SOUND_RATE_HZ ? count : TD_SOUND_RATE_HZ;
        for (size_t i = 0; i < count; i++)
            speech[i] = clip.samples[clip.speech_from + i];
        size_t first = clip.speech_from + td_shape_sounding(speech, count, 40).from;
        assert_true((double)first / TD_SOUND_RATE_HZ <= most_s[category]);
        td_sound_clip_free(&clip);
    }
}

static void refuses_what_it_cannot_say(void **state)
{
    (void)state;
    char long_words[513], too_long[514];
    struct td_sound_clip clip = {0};
    struct td_problem problem = {0};
    assert_int_equal(td_synth_say(synth, TD_NOTICE, "", &clip, &problem), TD_INVALID);
    assert_int_equal(td_synth_say(synth, TD_NOTICE, "  . ", &clip, &problem), TD_INVALID);
    assert_int_equal(td_synth_say(synth, TD_NOTICE, "bell\a", &clip, &problem), TD_INVALID);
    assert_non_null(strstr(problem.text, "byte 4"));
    memset(too_long, 'a', 513);
    too_long[513] = '\0';
    assert_int_equal(td_synth_say(synth, TD_NOTICE, too_long, &clip, &problem), TD_INVALID);
    for (int i = 0; i < 512; i += 8)
        memcpy(long_words + i, "seventy ", 9);
    assert_int_equal(td_synth_say(synth, TD_NOTICE, long_words, &clip, &problem), TD_FULL);
    assert_non_null(strstr(problem.text, "20 seconds"));
    assert_null(clip.samples);
    assert_true(seconds("Ready.") > 0.2); /* and goes on */
}

static void names_a_voice_that_is_not_there(void **state)
{
    (void)state;
    struct td_synth *none = NULL;
    struct td_problem problem = {0};
    assert_int_equal(td_synth_open("en-gb", 160, &none, &problem), TD_NOT_FOUND);
    assert_non_null(strstr(problem.text, "en-gb"));
    assert_int_equal(td_synth_open("en-us+nope", 160, &none, &problem), TD_NOT_FOUND);
    assert_int_equal(td_synth_open("", 160, &none, &problem), TD_INVALID);
    assert_int_equal(td_synth_open("en-us", 20, &none, &problem), TD_INVALID);
    assert_null(none);
    assert_int_equal(td_synth_open("en-us+f3", 160, &none, &problem), TD_OK);
    td_synth_close(&none);
    td_synth_close(&none);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_words_are_the_same_bytes),
        cmocka_unit_test(markup_is_only_text),
        cmocka_unit_test(every_prompt_has_one_loudness),
        cmocka_unit_test(speech_starts_when_the_tone_says),
        cmocka_unit_test(refuses_what_it_cannot_say),
        cmocka_unit_test(names_a_voice_that_is_not_there),
    };
    return cmocka_run_group_tests(tests, open_voice, close_voice);
}
