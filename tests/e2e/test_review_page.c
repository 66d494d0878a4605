/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The trainer's page in a real browser: drawn, chosen in, played, printed, on a desk and on a
 * phone, light and dark; of one drive, of several side by side, and of awkward ones. */
#include <stdlib.h>
#include <string.h>

#include "support/browser.h"
#include "support/cm.h"
#include "support/tool_run.h"

#define PROFILES TD_SOURCE_DIR "/profiles/"
#define HILL     PROFILES "hills/ombral-pass.geojson"
#define RIG      PROFILES "rigs/five-axle.yaml"

static struct browser *browser;
static char *checks;
static char folder[200];

static void run(int exit_code, const char *arguments)
{
    struct tool_run done = tool_run(arguments);
    if (done.exit_code != exit_code)
        fail_msg("%s: exit %d: %s%s", arguments, done.exit_code, done.out, done.err);
    tool_run_free(&done);
}

/* Rehearses into a folder of that name and gives the path of its log. */
static const char *rehearse(const char *name, const char *options)
{
    static char paths[8][600];
    static int used;
    char arguments[2000];
    char *path = paths[used++ % 8];
    (void)snprintf(arguments, sizeof arguments, "rehearse %s --rig '" RIG "' --no-sound --out "
                   "'%s/%s' --force", options, folder, name);
    run(0, arguments);
    (void)snprintf(path, sizeof paths[0], "%s/%s/drive.db", folder, name);
    return path;
}

static const char *page_of(const char *name, const char *drives, const char *options)
{
    static char path[600];
    char arguments[6000];
    (void)snprintf(path, sizeof path, "%s/%s.html", folder, name);
    (void)snprintf(arguments, sizeof arguments, "review %s --out '%s' --force %s", drives, path,
                   options);
    run(0, arguments);
    return path;
}

static void assert_nothing_wrong(const char *check, const char *where)
{
    char script[200];
    (void)snprintf(script, sizeof script, "checks.%s()", check);
    json_t *wrong = browser_eval(browser, script);
    if (json_array_size(wrong) > 0) {
        char *text = json_dumps(wrong, 0);
        fail_msg("%s, %s: %s", check, where, text);
    }
    json_decref(wrong);
}

static void show(const char *path, int width, bool dark)
{
    browser_show(browser, path, width, 900, dark);
    json_decref(browser_eval(browser, checks));
}

static void assert_sound_page(const char *path, const char *name)
{
    static const int widths[] = {1100, 760, 390, 360};
    for (size_t i = 0; i < 2 * sizeof widths / sizeof widths[0]; i++) {
        char where[200];
        bool dark = i % 2 == 1;
        (void)snprintf(where, sizeof where, "%s at %d, %s", name, widths[i / 2],
                       dark ? "dark" : "light");
        show(path, widths[i / 2], dark);
        assert_nothing_wrong("layout", where);
        assert_nothing_wrong("contrast", where);
        assert_nothing_wrong("names", where);
        if (browser_number(browser, "checks.apart()") < 20.0)
            fail_msg("%s: two categories have much the same colour to some", where);
        if (browser_fault(browser) != NULL)
            fail_msg("%s: %s", where, browser_fault(browser));
    }
}

static char one_drive[600];

static const char *one_page(void)
{
    static char path[600];
    if (path[0] == '\0') {
        (void)snprintf(one_drive, sizeof one_drive, "%s",
                       rehearse("ten", "'" HILL "' --driver ten-over --seed 2"));
        (void)snprintf(path, sizeof path, "%s", page_of("one", one_drive, ""));
    }
    return path;
}

static void the_page_stands_in_all_sizes_and_both_lights(void **state)
{
    (void)state;
    assert_sound_page(one_page(), "one drive");
}

static void a_mark_chooses_its_row_and_a_row_its_mark(void **state)
{
    (void)state;
    show(one_page(), 1100, false);
    assert_true(browser_number(browser, "document.querySelectorAll('.prompt').length") > 20);
    assert_true(browser_is(browser, "document.querySelectorAll('[aria-selected=true]').length"
                                    " === 0"));
    browser_click(browser, ".prompt:nth-child(3)");
    assert_true(browser_is(browser,
        "(() => { const m = document.querySelectorAll('.prompt[aria-pressed=true]'),"
        " r = document.querySelectorAll('tr[aria-selected=true]');"
        " const box = r[0].getBoundingClientRect();"
        " return m.length === 1 && r.length === 1 && m[0].dataset.row === r[0].id &&"
        " box.top > -1 && box.bottom < innerHeight + 1; })()"));
    /* A line through the strip stands where the mark does. */
    assert_true(browser_is(browser,
        "(() => { const s = document.querySelector('.strip'), m = document.querySelector("
        "'.prompt[aria-pressed=true]'); return s.classList.contains('chosen') &&"
        " getComputedStyle(s.querySelector('.speed .plot'), '::after').left ==="
        " getComputedStyle(m).left; })()"));
    browser_click(browser, ".list tbody tr:nth-child(6) .words");
    assert_true(browser_is(browser,
        "(() => { const m = document.querySelectorAll('.prompt[aria-pressed=true]'),"
        " r = document.querySelectorAll('tr[aria-selected=true]');"
        " return m.length === 1 && r.length === 1 && m[0].id === r[0].dataset.mark &&"
        " r[0] === document.querySelector('.list tbody').rows[5]; })()"));
    assert_null(browser_fault(browser));
}

static void the_keyboard_moves_and_plays(void **state)
{
    (void)state;
    show(one_page(), 1100, false);
    const char *at = "Array.from(document.querySelector('.list tbody').rows)"
                     ".indexOf(document.activeElement)";
    browser_click(browser, ".list tbody tr:nth-child(4) .words");
    assert_near(browser_number(browser, at), 3, 0);
    browser_key(browser, "ArrowDown");
    browser_key(browser, "ArrowDown");
    assert_near(browser_number(browser, at), 5, 0);
    browser_key(browser, "ArrowUp");
    assert_near(browser_number(browser, at), 4, 0);
    browser_key(browser, "Home");
    browser_key(browser, "ArrowUp");
    assert_near(browser_number(browser, at), 0, 0);
    browser_key(browser, "End");
    assert_true(browser_is(browser, "document.activeElement.nextElementSibling === null"));
    browser_key(browser, "Enter");
    assert_true(browser_is(browser,
        "(() => { const b = document.activeElement.querySelector('.play');"
        " const a = document.getElementById(b.dataset.clip);"
        " return b.classList.contains('playing') && !a.paused; })()"));
    /* Played to its end, the button is itself again. */
    assert_true(browser_is(browser,
        "new Promise(done => { const a = document.getElementById(document.activeElement"
        ".querySelector('.play').dataset.clip); const look = () => done(a.duration > 0.5 &&"
        " !document.querySelector('.playing')); const ended = a.onended;"
        " a.onended = () => { ended(); look(); }; setTimeout(() => done(false), 20000); })"));
    /* The same from a mark. */
    browser_click(browser, ".prompts .prompt");
    browser_key(browser, "ArrowRight");
    assert_true(browser_is(browser, "document.activeElement.matches('.prompt[aria-pressed=true]')"
                                    " && document.activeElement !=="
                                    " document.querySelector('.prompts .prompt')"));
    browser_key(browser, "Enter");
    assert_true(browser_is(browser, "document.querySelectorAll('.playing').length === 1"));
    assert_null(browser_fault(browser));
}

/* Each wording once; each decoded by the browser into sound of some length that is not silence. */
static void every_clip_is_sound(void **state)
{
    (void)state;
    show(one_page(), 1100, false);
    json_t *sounds = browser_eval(browser, "checks.sounds()");
    assert_true(json_array_size(sounds) >= 10);
    for (size_t i = 0; i < json_array_size(sounds); i++) {
        const json_t *sound = json_array_get(sounds, i);
        double seconds = json_number_value(json_array_get(sound, 0));
        assert_true(seconds > 0.5 && seconds < 8.0);
        assert_true(json_number_value(json_array_get(sound, 1)) > 0.1);
    }
    json_decref(sounds);
    assert_true(browser_is(browser,
        "Array.from(document.querySelectorAll('tr:not(.unsaid) td.sound'))"
        ".every(td => td.querySelector('.play'))"));
    assert_true(browser_is(browser,
        "(() => { const words = new Set(); document.querySelectorAll('.play').forEach(b =>"
        " words.add(b.dataset.clip)); return words.size === document.querySelectorAll('audio')"
        ".length; })()"));
}

static void one_drive_prints_on_two_sheets(void **state)
{
    (void)state;
    show(one_page(), 1100, true);
    assert_int_equal(browser_print_pages(browser, 8.5, 11.0), 2);   /* letter */
    assert_int_equal(browser_print_pages(browser, 8.27, 11.69), 2); /* A4 */
}

/* The page says what prompts.txt and the log say. */
static void the_page_says_what_was_said(void **state)
{
    (void)state;
    char path[700], script[1200];
    (void)one_page();
    (void)snprintf(path, sizeof path, "%.*sprompts.txt", (int)(strlen(one_drive) - 8), one_drive);
    char *text = tool_file(path, NULL);
    assert_non_null(text);
    show(one_page(), 1100, false);
    unsigned found = 0;
    for (char *line = text; *line != '\0'; line += strcspn(line, "\n"), line += *line == '\n') {
        char category[16], fate[16], key[32], words[200];
        double t_s;
        if (sscanf(line, "%lf s %15s %15s %31s %199[^\n]", &t_s, category, fate, key, words) != 5)
            continue;
        (void)snprintf(script, sizeof script,
                       "Array.from(document.querySelectorAll('.list tr')).some(r =>"
                       " r.cells[4].firstChild.textContent.trim() === \"%s\" &&"
                       " r.cells[0].textContent === '%s' &&"
                       " r.cells[6].textContent === '%s')", words, category, fate);
        if (!browser_is(browser, script))
            fail_msg("the page lacks: %s %s %s", category, fate, words);
        found++;
    }
    free(text);
    assert_true(found > 20);
}

static void several_drives_stand_side_by_side(void **state)
{
    (void)state;
    char drives[4000], careful[600], late[600], other[600];
    (void)one_page();
    (void)snprintf(careful, sizeof careful, "%s", rehearse("careful", "'" HILL "'"));
    (void)snprintf(late, sizeof late, "%s", rehearse("late", "'" HILL "' --driver late --seed 5"));
    (void)snprintf(other, sizeof other, "%s", rehearse("other", "'" PROFILES
                                                       "hills/tavinek-switchbacks.geojson'"));
    (void)snprintf(drives, sizeof drives, "'%s' '%s' '%s' '%s'", one_drive, careful, other, late);
    const char *path = page_of("several", drives, "--no-sound");
    assert_sound_page(path, "several");
    show(path, 1100, false);
    assert_near(browser_number(browser, "document.querySelectorAll('section.hill').length"), 2, 0);
    assert_near(browser_number(browser, "document.querySelectorAll('.runs tbody tr').length"), 3,
                0);
    assert_near(browser_number(browser, "document.querySelectorAll('article').length"), 4, 0);
    /* Aligned by place: the plots of all runs begin and end at the same pixel. */
    assert_true(browser_is(browser,
        "(() => { const x = Array.from(document.querySelectorAll('.side .plot')).map(p =>"
        " { const r = p.getBoundingClientRect(); return r.left + ' ' + r.right; });"
        " return x.length === 8 && new Set(x).size === 1; })()"));
    assert_true(browser_is(browser, "document.body.textContent.includes('This page has no sound')"
                                    " && document.querySelectorAll('.play').length === 0"));
}

static void a_drive_without_a_descent_says_so(void **state)
{
    (void)state;
    char drive[600], arguments[1400], path[600];
    /* On board is another hill: this one is not on file. */
    (void)snprintf(drive, sizeof drive, "%s",
                   rehearse("none", "'" HILL "' --hills '" PROFILES
                            "hills/lunnet-slope.geojson'"));
    (void)snprintf(path, sizeof path, "%s/none.html", folder);
    (void)snprintf(arguments, sizeof arguments, "review '%s' --out '%s'", drive, path);
    run(1, arguments);
    browser_show(browser, path, 390, 800, false);
    assert_true(browser_is(browser, "document.body.textContent.includes('No descent.')"));
    assert_null(browser_fault(browser));
    run(2, arguments); /* the page is there now */
}

static void bad_input_is_one_line(void **state)
{
    (void)state;
    static const char *const bad[] = {"review", "review /nonexistent.db --out x.html",
                                      "review " RIG " --out x.html", "review a.db"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct tool_run done = tool_run(bad[i]);
        assert_int_equal(done.exit_code, 2);
        char *end = strchr(done.err, '\n');
        if (end == NULL || end[1] != '\0' || strncmp(done.err, "talkdown: ", 10) != 0)
            fail_msg("%s: %s", bad[i], done.err);
        assert_false(tool_is_file("x.html"));
        tool_run_free(&done);
    }
}

static void without_a_clock_nothing_tells_the_day(void **state)
{
    (void)state;
    char quoted[700];
    (void)one_page();
    (void)snprintf(quoted, sizeof quoted, "'%s'", one_drive);
    /* With sound, so that the sound of what was said elsewhere would be found too. */
    show(page_of("anonymous", quoted, "--anonymous"), 1100, false);
    assert_true(browser_is(browser, "!document.documentElement.outerHTML.includes('Ready')"));
    assert_true(browser_is(browser, "document.querySelectorAll('audio').length === new Set("
                                    "Array.from(document.querySelectorAll('.play')).map(b =>"
                                    " b.dataset.clip)).size"));
    assert_true(browser_is(browser, "!/20[0-9][0-9]-|[0-9][0-9]:[0-9][0-9]:[0-9][0-9]/"
                                    ".test(document.body.textContent)"));
    assert_true(browser_is(browser, "!document.body.textContent.includes('off the hill')"));
}

static int open_all(void **state)
{
    (void)state;
    (void)snprintf(folder, sizeof folder, "%s", tool_folder());
    browser = browser_open();
    checks = tool_file(TD_SOURCE_DIR "/tests/e2e/data/review_checks.js", NULL);
    return checks != NULL ? 0 : -1;
}

static int close_all(void **state)
{
    (void)state;
    browser_close(browser);
    free(checks);
    return 0;
}

int main(void)
{
    if (!browser_is_there())
        return 77;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_page_stands_in_all_sizes_and_both_lights),
        cmocka_unit_test(a_mark_chooses_its_row_and_a_row_its_mark),
        cmocka_unit_test(the_keyboard_moves_and_plays),
        cmocka_unit_test(every_clip_is_sound),
        cmocka_unit_test(one_drive_prints_on_two_sheets),
        cmocka_unit_test(the_page_says_what_was_said),
        cmocka_unit_test(several_drives_stand_side_by_side),
        cmocka_unit_test(a_drive_without_a_descent_says_so),
        cmocka_unit_test(bad_input_is_one_line),
        cmocka_unit_test(without_a_clock_nothing_tells_the_day),
    };
    return cmocka_run_group_tests(tests, open_all, close_all);
}
