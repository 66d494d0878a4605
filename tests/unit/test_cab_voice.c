/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The voice in virtual time: every utterance is reported, once, when it would have been. */
#include "tool/drive/cab_voice.h"

#include "support/cm.h"
#include "talkdown/units.h"

#define MS TD_NS_PER_MS

static int32_t speech_ms[TD_PROMPT_IDS];

static struct td_cab_voice silent_voice(void)
{
    speech_ms[TD_PROMPT_CEILING] = 1500;
    return (struct td_cab_voice){.delay_ms = 100, .speech_ms = speech_ms};
}

static struct td_prompt prompt_of(uint32_t serial, int64_t expires_ns)
{
    return (struct td_prompt){.serial = serial, .id = TD_PROMPT_CEILING,
                              .category = TD_ADVICE, .expires_ns = expires_ns};
}

/* What is due at now_ns: the reports of one step. */
static struct td_input step(struct td_cab_voice *voice, int64_t now_ns, bool *heard)
{
    struct td_input input = {.now_ns = now_ns};
    struct td_prompt prompt;
    struct td_problem problem;
    assert_int_equal(td_cab_voice_report(voice, now_ns, &input, heard, &prompt, &problem), TD_OK);
    return input;
}

static void speak(struct td_cab_voice *voice, uint32_t serial, int64_t expires_ns, int64_t now_ns)
{
    struct td_prompt prompt = prompt_of(serial, expires_ns);
    struct td_problem problem;
    assert_int_equal(
        td_cab_voice_speak(voice, &prompt, "One five or slower.", now_ns, &problem), TD_OK);
}

static void one_report(struct td_cab_voice *voice, int64_t at_ns, uint32_t serial,
                       enum td_report_kind kind)
{
    bool heard;
    assert_true(td_cab_voice_next_ns(voice) == at_ns);
    assert_int_equal(step(voice, at_ns - 1, &heard).report_count, 0);
    struct td_input input = step(voice, at_ns, &heard);
    assert_int_equal(input.report_count, 1);
    assert_int_equal(input.reports[0].serial, serial);
    assert_int_equal(input.reports[0].kind, kind);
    assert_int_equal(heard, kind == TD_REPORT_ENDED);
}

static void says_it_to_its_end(void **state)
{
    (void)state;
    struct td_cab_voice voice = silent_voice();
    assert_true(td_cab_voice_next_ns(&voice) == INT64_MAX);
    speak(&voice, 7, 1000 * MS, 500 * MS);
    one_report(&voice, 600 * MS, 7, TD_REPORT_STARTED);
    one_report(&voice, 2100 * MS, 7, TD_REPORT_ENDED); /* the measured most bounds the model */
    assert_true(td_cab_voice_next_ns(&voice) == INT64_MAX);
    assert_false(voice.busy);
}

static void too_late_or_busy_is_dropped(void **state)
{
    (void)state;
    struct td_cab_voice voice = silent_voice();
    speak(&voice, 7, 590 * MS, 500 * MS);
    one_report(&voice, 502 * MS, 7, TD_REPORT_DROPPED);
    speak(&voice, 8, 9000 * MS, 600 * MS);
    speak(&voice, 9, 9000 * MS, 610 * MS);
    one_report(&voice, 612 * MS, 9, TD_REPORT_DROPPED);
    one_report(&voice, 700 * MS, 8, TD_REPORT_STARTED);
}

static void cut_before_and_after_its_start(void **state)
{
    (void)state;
    struct td_cab_voice voice = silent_voice();
    struct td_problem problem;
    speak(&voice, 7, 9000 * MS, 0);
    assert_int_equal(td_cab_voice_cut(&voice, 7, 50 * MS, &problem), TD_OK);
    one_report(&voice, 52 * MS, 7, TD_REPORT_CUT);
    speak(&voice, 8, 9000 * MS, 1000 * MS);
    one_report(&voice, 1100 * MS, 8, TD_REPORT_STARTED);
    assert_int_equal(td_cab_voice_cut(&voice, 7, 1200 * MS, &problem), TD_OK); /* not this one */
    assert_true(voice.busy);
    assert_int_equal(td_cab_voice_cut(&voice, 8, 1200 * MS, &problem), TD_OK);
    one_report(&voice, 1202 * MS, 8, TD_REPORT_CUT);
    assert_true(td_cab_voice_next_ns(&voice) == INT64_MAX);
}

static void without_words_it_is_dropped(void **state)
{
    (void)state;
    struct td_cab_voice voice = silent_voice();
    td_cab_voice_drop(&voice, 5, 10 * MS);
    one_report(&voice, 12 * MS, 5, TD_REPORT_DROPPED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(says_it_to_its_end),
        cmocka_unit_test(too_late_or_busy_is_dropped),
        cmocka_unit_test(cut_before_and_after_its_start),
        cmocka_unit_test(without_words_it_is_dropped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
