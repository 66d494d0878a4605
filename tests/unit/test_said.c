/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Two accounts side by side: the same prompt is found again although it moved or its words changed,
 * order is kept, and nothing is lost or told twice. */
#include "tool/drive/said.h"

#include <stdlib.h>
#include <string.h>

#include "support/cm.h"
#include "support/seed.h"
#include "talkdown/text.h"

static void add(struct td_said_list *list, double t_s, enum td_prompt_id id, const char *words)
{
    struct td_said *said = td_said_add(list);
    assert_non_null(said);
    said->t_s = t_s;
    said->id = id;
    said->category = td_prompt_category(id);
    (void)td_text_copy(said->words, sizeof said->words, words);
}

static void each_kind_is_told_apart(void **state)
{
    (void)state;
    struct td_said_list then = {0}, now = {0};
    add(&then, 1.0, TD_PROMPT_READY, "Ready.");
    add(&now, 1.9, TD_PROMPT_READY, "Ready."); /* the voice was modelled: the same moment */
    add(&then, 10, TD_PROMPT_GEAR, "Third gear now.");
    add(&now, 12, TD_PROMPT_GEAR, "Third gear now.");
    add(&then, 20, TD_PROMPT_CEILING, "Twenty or slower.");
    add(&now, 20, TD_PROMPT_CEILING, "One five or slower.");
    add(&then, 30, TD_PROMPT_OVER_SPEED, "Over speed.");
    add(&now, 40, TD_PROMPT_CURVE, "Sharp left.");
    add(&then, 50, TD_PROMPT_BOTTOM, "Grade ends.");
    add(&now, 250, TD_PROMPT_BOTTOM, "Grade ends."); /* too far apart to be one */
    struct td_said_pair *pairs = NULL;
    size_t count = 0;
    assert_int_equal(td_said_pair_up(&then, &now, &pairs, &count, NULL), TD_OK);
    static const enum td_said_kind kinds[] = {
        TD_SAID_SAME,      TD_SAID_MOVED,    TD_SAID_OTHER_WORDS, TD_SAID_ONLY_THEN,
        TD_SAID_ONLY_NOW,  TD_SAID_ONLY_THEN, TD_SAID_ONLY_NOW};
    assert_int_equal(count, sizeof kinds / sizeof kinds[0]);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(pairs[i].kind, kinds[i]);
    free(pairs);
    td_said_free(&then);
    td_said_free(&now);
}

/* Three escape lanes then, the middle one gone now: the outer two stay pairs. */
static void one_of_many_alike_is_found(void **state)
{
    (void)state;
    struct td_said_list then = {0}, now = {0};
    for (int i = 0; i < 3; i++)
        add(&then, 100 + 60 * i, TD_PROMPT_ESCAPE_LANE, "Escape lane, half mile, right.");
    add(&now, 100, TD_PROMPT_ESCAPE_LANE, "Escape lane, half mile, right.");
    add(&now, 222, TD_PROMPT_ESCAPE_LANE, "Escape lane, half mile, right.");
    struct td_said_pair *pairs = NULL;
    size_t count = 0;
    assert_int_equal(td_said_pair_up(&then, &now, &pairs, &count, NULL), TD_OK);
    assert_int_equal(count, 3);
    assert_int_equal(pairs[0].kind, TD_SAID_SAME);
    assert_int_equal(pairs[1].kind, TD_SAID_ONLY_THEN);
    assert_int_equal(pairs[2].kind, TD_SAID_MOVED);
    assert_ptr_equal(pairs[2].then, &then.items[2]);
    free(pairs);
    td_said_free(&then);
    td_said_free(&now);
}

static void fill(struct td_rng *rng, struct td_said_list *list)
{
    double t_s = 0;
    for (int i = 0, count = (int)td_rng_between(rng, 0, 40); i < count; i++) {
        t_s += td_rng_between(rng, 0, 60);
        add(list, t_s, (enum td_prompt_id)td_rng_between(rng, 0, 4),
            td_rng_between(rng, 0, 1) < 0.5 ? "one" : "two");
    }
}

/* Whatever the lists: each item is told once, in order, and a list against itself is the same. */
static void nothing_is_lost_or_told_twice(void **state)
{
    (void)state;
    struct td_rng rng;
    test_seed(&rng, "said", 7);
    for (int round = 0; round < 500; round++) {
        struct td_said_list then = {0}, now = {0};
        struct td_said_pair *pairs = NULL;
        size_t count = 0, a = 0, b = 0;
        fill(&rng, &then);
        fill(&rng, &now);
        assert_int_equal(td_said_pair_up(&then, &now, &pairs, &count, NULL), TD_OK);
        for (size_t i = 0; i < count; i++) {
            if (pairs[i].then != NULL)
                assert_ptr_equal(pairs[i].then, &then.items[a++]);
            if (pairs[i].now != NULL)
                assert_ptr_equal(pairs[i].now, &now.items[b++]);
            assert_true(pairs[i].then != NULL || pairs[i].now != NULL);
        }
        assert_int_equal(a, then.count);
        assert_int_equal(b, now.count);
        free(pairs);
        assert_int_equal(td_said_pair_up(&then, &then, &pairs, &count, NULL), TD_OK);
        assert_int_equal(count, then.count);
        for (size_t i = 0; i < count; i++)
            assert_int_equal(pairs[i].kind, TD_SAID_SAME);
        free(pairs);
        td_said_free(&then);
        td_said_free(&now);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_is_told_apart),
        cmocka_unit_test(one_of_many_alike_is_found),
        cmocka_unit_test(nothing_is_lost_or_told_twice),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
