/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every prompt as the synthesiser really says it: short enough, and as long as the table in the
 * phrase file says. */
#include "support/cm.h"

#include "support/spoken.h"

static struct td_phrase_file *english;
static struct td_synth *synth;
static const char *language;

static int open_all(void **state)
{
    (void)state;
    english = english_open_language(language);
    return td_synth_open(td_phrase_file_voice(english), td_phrase_file_rate_wpm(english), &synth,
                         NULL) == TD_OK
               ? 0
               : -1;
}

static int close_all(void **state)
{
    (void)state;
    td_synth_close(&synth);
    td_phrase_file_free(&english);
    return 0;
}

/* At most 4 s of speech, a warning 2 s; from the tone's start to the speech 0.7 s, a warning 0.2 s.
 * Four seconds: Tsimhoni, Green and Lai (abstract read); the rest is our own. A runaway's lane is
 * counted down with its distance and its side, which no wording brings under 2 s at a rate that is
 * comfortable: 3 s there, and 3.5 s farther than a mile away, where there is time. The last call
 * is as short as a warning where its words are ours; a sign's own words may take 2.6 s,
 * and so may a brake check area to stop at. */
static double speech_most_s(const struct td_prompt *prompt)
{
    if (prompt->category < TD_WARNING)
        return 4.0;
    bool counts = prompt->id == TD_PROMPT_RUNAWAY_LANE;
    if (counts && td_countdown_mark_m(prompt->args[1]) >= 1000.0)
        return 3.5;
    bool signs = prompt->id == TD_PROMPT_TAKE_LANE &&
                 english_hill()->places[prompt->args[0].value].say[0] != '\0';
    signs = signs || (prompt->id == TD_PROMPT_STOP_AT && prompt->args[0].value > 4);
    return counts ? 3.0 : signs ? 2.6 : 2.0;
}

static void assert_short(void *context, const struct td_prompt *prompt,
                         const struct spoken *spoken)
{
    bool urgent = prompt->category >= TD_WARNING;
    if (spoken->speech_s > speech_most_s(prompt))
        fail_msg("%.2f s of speech: %s", spoken->speech_s, spoken->words);
    if (spoken->tone_s > (urgent ? 0.2 : 0.7))
        fail_msg("%.3f s before the speech: %s", spoken->tone_s, spoken->words);
    assert_true(spoken->speech_s > 0.4);
    ++*(int *)context;
}

static void every_prompt_is_short(void **state)
{
    (void)state;
    int count = 0;
    assert_true(spoken_each(synth, english, assert_short, &count));
    assert_true(count > 100);
}

/* 130 to 180 words a minute are comfortable (Sutton 1995, abstract read: 150 to 200 for synthetic
 * speech); the file asks for 160. */
static void the_rate_is_comfortable(void **state)
{
    (void)state;
    assert_in_range(td_phrase_file_rate_wpm(english), 130, 180);
}

/* The coach counts leads from the end of the speech by this table: never shorter than the sound,
 * never more than 15 % longer. */
static void the_table_is_what_is_measured(void **state)
{
    (void)state;
    int32_t measured_ms[TD_PROMPT_IDS];
    assert_true(spoken_longest(synth, english, measured_ms));
    for (int id = 0; id < TD_PROMPT_IDS; id++) {
        int32_t table_ms = td_phrase_file_speech_ms(english)[id];
        if (table_ms < measured_ms[id] || table_ms * 100 > measured_ms[id] * 115)
            fail_msg("speech_ms.%s is %d, measured %d; ninja speech_table rebuilds the table",
                     td_prompt_key((enum td_prompt_id)id), (int)table_ms, (int)measured_ms[id]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_prompt_is_short),
        cmocka_unit_test(the_rate_is_comfortable),
        cmocka_unit_test(the_table_is_what_is_measured),
    };
    int failed = 0;
    for (unsigned i = 0; (language = english_language(i)) != NULL; i++) {
        puts(language);
        failed += cmocka_run_group_tests(tests, open_all, close_all);
    }
    return failed;
}
