/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page of what is on board in a real browser: on a desk and on a phone, light and dark,
 * printed; from a folder and from a library; with a hill that cannot be read. */
#include <stdlib.h>
#include <string.h>

#include "support/browser.h"
#include "support/cm.h"
#include "support/tool_run.h"

#define HILLS TD_SOURCE_DIR "/profiles/hills"

static struct browser *browser;
static char *checks;
static char folder[64];

static const char *page_of(const char *name, const char *paths, int exit_code)
{
    static char path[160];
    char arguments[1024];
    (void)snprintf(path, sizeof path, "%s/%s.html", folder, name);
    (void)snprintf(arguments, sizeof arguments, "hills list %s --page %s", paths, path);
    struct tool_run run = tool_run(arguments);
    if (run.exit_code != exit_code)
        fail_msg("%s: exit %d: %s", arguments, run.exit_code, run.err);
    tool_run_free(&run);
    return path;
}

static void show(const char *path, int width, bool dark)
{
    browser_show(browser, path, width, 900, dark);
    json_decref(browser_eval(browser, checks));
}

static void nothing_wrong(const char *check, const char *where)
{
    char script[64];
    (void)snprintf(script, sizeof script, "checks.%s()", check);
    json_t *wrong = browser_eval(browser, script);
    if (json_array_size(wrong) > 0) {
        char *text = json_dumps(wrong, 0);
        fail_msg("%s, %s: %s", check, where, text);
    }
    json_decref(wrong);
}

static void is_sound(const char *path)
{
    static const int widths[] = {1160, 390, 320};
    for (size_t i = 0; i < 2 * sizeof widths / sizeof widths[0]; i++) {
        char where[200];
        (void)snprintf(where, sizeof where, "%s at %d, %s", path, widths[i / 2],
                       i % 2 == 1 ? "dark" : "light");
        show(path, widths[i / 2], i % 2 == 1);
        nothing_wrong("layout", where);
        nothing_wrong("contrast", where);
        nothing_wrong("names", where);
        if (browser_fault(browser) != NULL)
            fail_msg("%s: %s", where, browser_fault(browser));
    }
}

static double count(const char *selector)
{
    char script[160];
    (void)snprintf(script, sizeof script, "document.querySelectorAll('%s').length", selector);
    return browser_number(browser, script);
}

static void every_hill_has_a_sound_card(void **state)
{
    (void)state;
    const char *path = page_of("demo", HILLS, 0);
    is_sound(path);
    assert_true(count(".hill") == 5 && count(".hill svg[role=img]") == 5);
    assert_true(browser_is(browser, "document.body.innerText.includes('6.9\\u00a0% for "
                                    "4.3\\u00a0miles, steepest 8.2\\u00a0%, falls "
                                    "1,570\\u00a0ft')"));
    assert_true(browser_is(browser, "document.body.innerText.includes('mile 1.8, left, "
                                    "460\\u00a0ft, closed')"));
    assert_true(browser_is(browser, "document.body.innerText.includes('none on file')"));
    assert_true(browser_is(browser, "document.querySelector('footer').innerText"
                                    ".startsWith('5 hills.')"));
}

/* North is up: Vessarin Drop runs west and Quorrin Steps south, and so do crest and foot there. */
static void north_is_up(void **state)
{
    (void)state;
    static const char place[] =
        "(name, word) => { const card = [...document.querySelectorAll('.hill')].find(c =>"
        " c.querySelector('h2').textContent.startsWith(name));"
        " const t = [...card.querySelectorAll('text')].find(t => t.textContent === word);"
        " return t.getBoundingClientRect(); }";
    char script[700];
    show(page_of("north", HILLS, 0), 1160, false);
    (void)snprintf(script, sizeof script, "(() => { const at = %s; return at('Vessarin', 'foot')"
                   ".left < at('Vessarin', 'crest').left; })()", place);
    assert_true(browser_is(browser, script));
    (void)snprintf(script, sizeof script, "(() => { const at = %s; return at('Quorrin', 'foot')"
                   ".top > at('Quorrin', 'crest').top; })()", place);
    assert_true(browser_is(browser, script));
}

static void it_prints_on_letter_and_a4(void **state)
{
    (void)state;
    show(page_of("print", HILLS, 0), 1160, true);
    int letter = browser_print_pages(browser, 8.5, 11);
    int a4 = browser_print_pages(browser, 8.27, 11.69);
    assert_true(letter >= 1 && letter <= 2);
    assert_true(a4 >= 1 && a4 <= 2);
}

/* Markup in a name is text; a hill that cannot be read has a card, and the rest is there. */
static void an_awkward_folder(void **state)
{
    (void)state;
    char line[600];
    (void)snprintf(line, sizeof line,
                   "mkdir %s/odd && cp " HILLS "/vessarin-drop.geojson %s/odd && "
                   "sed 's/\"Ombral Pass, eastbound\"/\"<b>Ombral<\\/b> \\&amp; Passwithoutany"
                   "blankinitthatislongerthanacard\"/' " HILLS "/ombral-pass.geojson "
                   ">%s/odd/b.geojson && echo '{}' >%s/odd/a.geojson", folder, folder, folder,
                   folder);
    assert_int_equal(system(line), 0);
    (void)snprintf(line, sizeof line, "%s/odd none.geojson", folder);
    const char *path = page_of("odd", line, 2);
    is_sound(path);
    assert_true(count(".hill") == 4 && count(".unread") == 2 && count("h2 b") == 0);
    assert_true(browser_is(browser, "document.querySelector('h2').textContent"
                                    ".endsWith('a.geojson')"));
    assert_true(browser_is(browser, "document.body.innerText.includes('2 could not be read')"));
}

/* The same cards from a library as from its folder, but for the name of the file. */
static void a_library_shows_the_same(void **state)
{
    (void)state;
    char line[300];
    (void)snprintf(line, sizeof line, "hills pack " HILLS " --revision 7 --out %s/all.hills",
                   folder);
    struct tool_run run = tool_run(line);
    assert_int_equal(run.exit_code, 0);
    tool_run_free(&run);
    char *cards[2];
    for (int i = 0; i < 2; i++) {
        (void)snprintf(line, sizeof line, "%s/all.hills", folder);
        char *text = tool_file(page_of(i == 0 ? "one" : "two", i == 0 ? HILLS : line, 0), NULL);
        assert_non_null(text);
        bool of_library = strstr(text, "all.hills (5 hills, revision 7, unsigned)") != NULL;
        assert_int_equal(of_library, i == 1);
        cards[i] = strdup(strstr(text, "<main>"));
        free(text);
        /* ", in FILE</dd>" goes. */
        for (char *at = cards[i]; (at = strstr(at, ", in ")) != NULL; at++) {
            char *end = strstr(at, "</dd>");
            assert_non_null(end);
            memmove(at, end, strlen(end) + 1);
        }
    }
    assert_string_equal(cards[0], cards[1]);
    free(cards[0]);
    free(cards[1]);
}

static void what_makes_no_sense_is_refused(void **state)
{
    (void)state;
    static const struct {
        const char *arguments, *says;
    } cases[] = {
        {"hills list " HILLS " --metric", "--page"},
        {"hills list " HILLS " --force", "--page"},
        {"hills list " HILLS " --json --page a.html", "not both"},
        {"hills check " HILLS " --page a.html", "does not belong here"},
        {"hills list " HILLS " --page /dev/full/a.html", "/dev/full/a.html"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct tool_run run = tool_run(cases[i].arguments);
        assert_int_equal(run.exit_code, 2);
        if (strstr(run.err, cases[i].says) == NULL)
            fail_msg("%s: %s", cases[i].arguments, run.err);
        assert_false(tool_is_file("a.html"));
        tool_run_free(&run);
    }
    char line[300];
    (void)snprintf(line, sizeof line, "hills list " HILLS " --page %s", page_of("twice", HILLS, 0));
    struct tool_run run = tool_run(line);
    assert_int_equal(run.exit_code, 2);
    assert_non_null(strstr(run.err, "is there already"));
    tool_run_free(&run);
}

static int start(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    checks = tool_file(TD_SOURCE_DIR "/tests/e2e/data/hills_checks.js", NULL);
    browser = browser_open();
    return checks != NULL && browser != NULL ? 0 : -1;
}

static int stop(void **state)
{
    (void)state;
    free(checks);
    browser_close(browser);
    return 0;
}

int main(void)
{
    if (!browser_is_there())
        return 77;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_hill_has_a_sound_card),
        cmocka_unit_test(north_is_up),
        cmocka_unit_test(it_prints_on_letter_and_a4),
        cmocka_unit_test(an_awkward_folder),
        cmocka_unit_test(a_library_shows_the_same),
        cmocka_unit_test(what_makes_no_sense_is_refused),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
