/* SPDX-License-Identifier: GPL-3.0-or-later */
/* `talkdown plan --svg` as a trainer uses it: every demo hill with every demo rig, and that the
 * card says what the JSON of the same call says. */
#include <dirent.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "support/card_page.h"
#include "support/cm.h"
#include "support/tool_run.h"
#include "talkdown/text.h"

#define PROFILES TD_SOURCE_DIR "/profiles/"

enum { NAMES_MAX = 40 };
static struct card_page page;

/* Names in a folder of the demo set, without what follows the point. */
static size_t names_in(const char *folder, char names[NAMES_MAX][80])
{
    size_t count = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *entry = readdir(dir); entry != NULL; entry = readdir(dir)) {
        size_t length = strcspn(entry->d_name, ".");
        if (length == 0 || length >= 80)
            continue;
        assert_true(count < NAMES_MAX);
        memcpy(names[count], entry->d_name, length);
        names[count++][length] = '\0';
    }
    (void)closedir(dir);
    assert_true(count > 0);
    return count;
}

static void read_page(const char *path)
{
    size_t length = 0, a = 0, b = 0;
    const char *why = NULL;
    char *svg = tool_file(path, &length);
    assert_non_null(svg);
    if (!card_page_read(svg, length, &page, &why))
        fail_msg("%s: %s", path, why);
    free(svg);
    if (card_page_overlap(&page, &a, &b))
        fail_msg("%s: \"%s\" lies on \"%s\"", path, page.texts[a].words, page.texts[b].words);
    assert_true(page.left >= 0 && page.right <= page.width);
    assert_true(page.top >= 0 && page.bottom <= page.height);
    for (size_t i = 0; i < page.text_count; i++) {
        assert_true(page.texts[i].size >= 14);
        assert_true(page.texts[i].left >= 0 && page.texts[i].right <= page.width);
    }
}

static void assert_large(const char *words)
{
    for (size_t i = 0; i < page.text_count; i++)
        if (strstr(page.texts[i].words, words) != NULL && page.texts[i].size >= 38)
            return;
    fail_msg("\"%s\" does not stand on the card in large letters", words);
}

static const char *word(const json_t *object, const char *key)
{
    return json_string_value(json_object_get(object, key));
}

/* Gear, stage and spoken speed of every descent, in large letters. Names begin with a capital where
 * they begin a line, so their first letter is left out here. */
static void assert_says_the_same(const json_t *plan)
{
    const json_t *descents = json_object_get(plan, "descents");
    char figure[16];
    for (size_t i = 0; i < json_array_size(descents); i++) {
        const json_t *descent = json_array_get(descents, i);
        (void)snprintf(figure, sizeof figure, "%d",
                       (int)json_integer_value(json_object_get(descent, "say_mph")));
        assert_large(figure);
        assert_large(word(descent, "gear") + 1);
        if (word(descent, "engine_brake") != NULL)
            assert_large(word(descent, "engine_brake") + 1);
    }
}

static void check(const char *hill, const char *rig, const char *more)
{
    char args[1200], path[600];
    (void)snprintf(path, sizeof path, "%s/card.svg", tool_folder());
    (void)snprintf(args, sizeof args, "plan '" PROFILES "hills/%s.geojson' --rig '" PROFILES
                   "rigs/%s.yaml' --json --svg '%s' %s", hill, rig, path, more);
    struct tool_run run = tool_run(args);
    json_t *plan = json_loads(run.out, 0, NULL);
    if (plan == NULL)
        fail_msg("%s: %s", args, run.err);
    bool safe = json_is_true(json_object_get(plan, "safe"));
    assert_int_equal(run.exit_code, safe ? 0 : 1);
    read_page(path);
    if (!json_is_true(json_object_get(plan, "coached")))
        assert_large("NO PLAN NEEDED");
    else if (safe)
        assert_says_the_same(plan);
    else
        assert_large("DO NOT GO DOWN");
    json_decref(plan);
    tool_run_free(&run);
}

/* All words of the page in order, lines joined by blanks. */
static const char *all_words(void)
{
    static char words[1 << 16];
    struct td_text text;
    td_text_init(&text, words, sizeof words);
    for (size_t i = 0; i < page.text_count; i++) {
        td_text_add(&text, page.texts[i].words);
        if (words[text.length - 1] != ' ')
            td_text_add(&text, " ");
    }
    assert_false(text.cut);
    return words;
}

/* Margins, stopping, escape lanes and the first reasons read on the card as in the text. */
static void the_card_says_what_the_text_says(void **state)
{
    (void)state;
    static const char *const starts[] = {"reaches the brakes' limit", "stopping from",
                                         "can be stopped", "escape lane", "hold the hardest part",
                                         "brakes are hottest"};
    char path[600], args[1200], line[256];
    (void)snprintf(path, sizeof path, "%s/card.svg", tool_folder());
    (void)snprintf(args, sizeof args, "plan '" PROFILES "hills/ombral-pass.geojson' --rig '"
                   PROFILES "rigs/five-axle.yaml' --svg '%s'", path);
    struct tool_run run = tool_run(args);
    assert_int_equal(run.exit_code, 0);
    read_page(path);
    const char *words = all_words();
    unsigned found = 0;
    for (char *at = run.out; *at != '\0'; at += strcspn(at, "\n"), at += strspn(at, "\n")) {
        at += strspn(at, " ");
        (void)snprintf(line, sizeof line, "%.*s", (int)strcspn(at, "\n"), at);
        for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++) {
            if (strstr(line, starts[i]) == NULL)
                continue;
            found |= 1u << i;
            if (strstr(words, line + 1) == NULL) /* its first letter is a capital there */
                fail_msg("the card lacks \"%s\"", line);
        }
    }
    assert_true((found & 0x36u) == 0x36u); /* lanes and no limit in reach may be missing */
    tool_run_free(&run);
}

static void every_demo_hill_and_rig_makes_a_card(void **state)
{
    (void)state;
    static char hills[NAMES_MAX][80], rigs[NAMES_MAX][80];
    size_t hill_count = names_in(PROFILES "hills", hills);
    size_t rig_count = names_in(PROFILES "rigs", rigs);
    for (size_t h = 0; h < hill_count; h++)
        for (size_t r = 0; r < rig_count; r++)
            check(hills[h], rigs[r], "");
    assert_true(hill_count >= 5 && rig_count >= 4);
}

static void weather_and_refusals_make_cards(void **state)
{
    (void)state;
    check("ombral-pass", "five-axle", "--road ice");
    assert_non_null(card_page_find(&page, "Icy road"));
    assert_non_null(card_page_find(&page, "Last place on file to stop: brake check area"));
    check("ombral-pass", "five-axle", "--road wet --ambient '20 F' --brakes-from '250 F'");
    assert_non_null(card_page_find(&page, "Wet road. Air 20 F, brakes 250 F at the crest"));
    check("quorrin-steps", "five-axle", "--load empty");
    assert_non_null(card_page_find(&page, "Load: empty, 33,000 lb"));
    assert_non_null(card_page_find(&page, "trucks 40 mph"));
    check("vessarin-drop", "five-axle-no-brake", "--brakes-from '510 F'");
}

static void plain_grades_make_cards(void **state)
{
    (void)state;
    char args[900], path[600];
    (void)snprintf(path, sizeof path, "%s/plain.svg", tool_folder());
    (void)snprintf(args, sizeof args, "plan --grade 6%% --length '6 mi' --weight '80000 lb' "
                   "--constants 1982 --posted '25 mph' --svg '%s'", path);
    struct tool_run run = tool_run(args);
    assert_int_equal(run.exit_code, 0);
    read_page(path);
    assert_large("15");
    assert_non_null(card_page_find(&page, "model reference-1982"));
    tool_run_free(&run);
    run = tool_run(args); /* what is there is left alone */
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "plain.svg"));
    assert_string_equal(run.out, "");
    tool_run_free(&run);
    (void)snprintf(args, sizeof args, "plan --grade 7%% --length '4 mi' --weight '78000 lb' --rig '"
                   PROFILES "rigs/five-axle.yaml' --metric --force --svg '%s'", path);
    run = tool_run(args);
    assert_int_equal(run.exit_code, 0);
    read_page(path);
    assert_large("km/h or slower");
    assert_null(card_page_find(&page, "mph"));
    assert_null(card_page_find(&page, "mile"));
    tool_run_free(&run);
    run = tool_run("plan --grade 7% --length '4 mi' --weight '78000 lb' --svg no-such/folder/x");
    assert_int_equal(run.exit_code, 2);
    assert_string_equal(run.out, "");
    tool_run_free(&run);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_demo_hill_and_rig_makes_a_card),
        cmocka_unit_test(the_card_says_what_the_text_says),
        cmocka_unit_test(weather_and_refusals_make_cards),
        cmocka_unit_test(plain_grades_make_cards),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
