/* SPDX-License-Identifier: GPL-3.0-or-later */
/* DevTools protocol by hand: JSON objects ended by a NUL, in on descriptor 3, out on 4. */
#define _XOPEN_SOURCE 700 /* realpath */

#include "support/browser.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/cm.h"

struct browser {
    pid_t child;
    int to, from;
    int serial;
    char *bytes; /* read and not yet taken */
    size_t length, room;
    char session[128];
    char profile[64];
    char fault[512];
};

static const char *find_chromium(void)
{
    static const char *const names[] = {"/usr/bin/chromium", "/usr/bin/chromium-browser"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (access(names[i], X_OK) == 0)
            return names[i];
    return NULL;
}

static void run_child(const char *program, const char *profile, int in, int out)
{
    char folder[4200];
    (void)snprintf(folder, sizeof folder, "--user-data-dir=%s", profile);
    /* Descriptors 3 and 4 may be among those in hand: first out of their way. */
    int in_far = fcntl(in, F_DUPFD, 20), out_far = fcntl(out, F_DUPFD, 20);
    int null = open("/dev/null", O_RDWR);
    (void)dup2(null, 1);
    (void)dup2(null, 2);
    (void)dup2(in_far, 3);
    (void)dup2(out_far, 4);
    (void)execl(program, program, "--headless", "--no-sandbox", "--disable-gpu",
                "--disable-dev-shm-usage", "--no-first-run", "--disable-extensions",
                "--autoplay-policy=no-user-gesture-required", "--remote-debugging-pipe", folder,
                "about:blank", (char *)NULL);
    _exit(127);
}

static void note_fault(struct browser *browser, const char *what, const json_t *where)
{
    if (browser->fault[0] != '\0')
        return;
    char *text = json_dumps(where, JSON_ENCODE_ANY);
    (void)snprintf(browser->fault, sizeof browser->fault, "%s: %.400s", what,
                   text != NULL ? text : "?");
    free(text);
}

static void take_event(struct browser *browser, const json_t *message)
{
    const char *method = json_string_value(json_object_get(message, "method"));
    const json_t *params = json_object_get(message, "params");
    if (method == NULL)
        return;
    if (strcmp(method, "Runtime.exceptionThrown") == 0)
        note_fault(browser, "script error", params);
    if (strcmp(method, "Log.entryAdded") == 0 || strcmp(method, "Audits.issueAdded") == 0) {
        const char *level =
            json_string_value(json_object_get(json_object_get(params, "entry"), "level"));
        if (level == NULL || strcmp(level, "error") == 0 || strcmp(level, "warning") == 0)
            note_fault(browser, "console", params);
    }
    if (strcmp(method, "Runtime.consoleAPICalled") == 0)
        note_fault(browser, "console", params);
    if (strcmp(method, "Network.requestWillBeSent") == 0) {
        const char *url =
            json_string_value(json_object_get(json_object_get(params, "request"), "url"));
        if (url == NULL || (strncmp(url, "file:", 5) != 0 && strncmp(url, "data:", 5) != 0))
            note_fault(browser, "fetched from elsewhere", json_object_get(params, "request"));
    }
}

/* The next message; fails the test when none comes in a minute. */
static json_t *receive(struct browser *browser)
{
    for (;;) {
        char *end = browser->length > 0 ? memchr(browser->bytes, '\0', browser->length) : NULL;
        if (end != NULL) {
            size_t taken = (size_t)(end - browser->bytes) + 1;
            json_t *message = json_loads(browser->bytes, 0, NULL);
            browser->length -= taken;
            memmove(browser->bytes, browser->bytes + taken, browser->length);
            assert_non_null(message);
            return message;
        }
        if (browser->room - browser->length < 65536) {
            browser->room = 2 * browser->room + 131072;
            browser->bytes = realloc(browser->bytes, browser->room);
            assert_non_null(browser->bytes);
        }
        struct pollfd wait = {.fd = browser->from, .events = POLLIN};
        if (poll(&wait, 1, 60000) <= 0)
            fail_msg("the browser does not answer");
        ssize_t got = read(browser->from, browser->bytes + browser->length, 65536);
        if (got <= 0)
            fail_msg("the browser went away");
        browser->length += (size_t)got;
    }
}

/* Takes `params`; the result is the caller's. */
static json_t *call(struct browser *browser, const char *method, json_t *params)
{
    json_t *message = json_pack("{s:i, s:s, s:o}", "id", ++browser->serial, "method", method,
                                "params", params != NULL ? params : json_object());
    assert_non_null(message);
    if (browser->session[0] != '\0')
        (void)json_object_set_new(message, "sessionId", json_string(browser->session));
    char *text = json_dumps(message, JSON_COMPACT);
    size_t length = strlen(text) + 1;
    for (size_t sent = 0; sent < length;) {
        ssize_t put = write(browser->to, text + sent, length - sent);
        if (put < 0 && errno != EINTR)
            fail_msg("the browser takes nothing");
        sent += put > 0 ? (size_t)put : 0;
    }
    free(text);
    json_decref(message);
    for (;;) {
        json_t *answer = receive(browser);
        if (json_integer_value(json_object_get(answer, "id")) != browser->serial) {
            take_event(browser, answer);
            json_decref(answer);
            continue;
        }
        json_t *result = json_incref(json_object_get(answer, "result"));
        if (result == NULL) {
            char *why = json_dumps(answer, 0);
            fail_msg("%s: %s", method, why);
        }
        json_decref(answer);
        return result;
    }
}

static void order(struct browser *browser, const char *method, json_t *params)
{
    json_decref(call(browser, method, params));
}

bool browser_is_there(void)
{
    if (find_chromium() == NULL)
        print_message("SKIPPED: no chromium here\n");
    return find_chromium() != NULL;
}

struct browser *browser_open(void)
{
    const char *program = find_chromium();
    int in[2], out[2];
    assert_non_null(program);
    struct browser *browser = calloc(1, sizeof *browser);
    assert_non_null(browser);
    (void)snprintf(browser->profile, sizeof browser->profile, "browser-test.XXXXXX");
    assert_non_null(mkdtemp(browser->profile));
    assert_int_equal(pipe(in) | pipe(out), 0);
    (void)signal(SIGPIPE, SIG_IGN);
    browser->child = fork();
    if (browser->child == 0) {
        (void)close(in[1]);
        (void)close(out[0]);
        (void)setpgid(0, 0);
        run_child(program, realpath(browser->profile, NULL), in[0], out[1]);
    }
    (void)close(in[0]);
    (void)close(out[1]);
    browser->to = in[1];
    browser->from = out[0];
    json_t *target = call(browser, "Target.createTarget", json_pack("{s:s}", "url", "about:blank"));
    json_t *session = call(browser, "Target.attachToTarget",
                           json_pack("{s:O, s:b}", "targetId", json_object_get(target, "targetId"),
                                     "flatten", 1));
    (void)snprintf(browser->session, sizeof browser->session, "%s",
                   json_string_value(json_object_get(session, "sessionId")));
    json_decref(target);
    json_decref(session);
    static const char *const parts[] = {"Page.enable", "Runtime.enable", "Log.enable",
                                        "Network.enable"};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        order(browser, parts[i], NULL);
    return browser;
}

void browser_close(struct browser *browser)
{
    char command[128];
    if (browser == NULL)
        return;
    (void)close(browser->to);
    (void)close(browser->from);
    (void)kill(-browser->child, SIGKILL);
    (void)waitpid(browser->child, NULL, 0);
    (void)snprintf(command, sizeof command, "rm -rf '%s'", browser->profile);
    if (system(command) != 0)
        print_message("left behind: %s\n", browser->profile);
    free(browser->bytes);
    free(browser);
}

void browser_show(struct browser *browser, const char *path, int width, int height, bool dark)
{
    char url[4200], *whole = realpath(path, NULL);
    assert_non_null(whole);
    (void)snprintf(url, sizeof url, "file://%s", whole);
    free(whole);
    browser->fault[0] = '\0';
    order(browser, "Emulation.setDeviceMetricsOverride",
          json_pack("{s:i, s:i, s:i, s:b}", "width", width, "height", height, "deviceScaleFactor",
                    1, "mobile", width < 600));
    order(browser, "Emulation.setEmulatedMedia",
          json_pack("{s:s, s:[{s:s, s:s}]}", "media", "", "features", "name",
                    "prefers-color-scheme", "value", dark ? "dark" : "light"));
    order(browser, "Page.navigate", json_pack("{s:s}", "url", url));
    json_decref(browser_eval(browser,
                             "new Promise(done => document.readyState === 'complete' ? done(1) :"
                             " addEventListener('load', () => done(1)))"));
}

json_t *browser_eval(struct browser *browser, const char *script)
{
    json_t *answer = call(browser, "Runtime.evaluate",
                          json_pack("{s:s, s:b, s:b, s:b}", "expression", script, "awaitPromise",
                                    1, "returnByValue", 1, "userGesture", 1));
    if (json_object_get(answer, "exceptionDetails") != NULL) {
        char *why = json_dumps(json_object_get(answer, "exceptionDetails"), 0);
        fail_msg("%.80s: %s", script, why);
    }
    json_t *value = json_incref(json_object_get(json_object_get(answer, "result"), "value"));
    json_decref(answer);
    return value;
}

bool browser_is(struct browser *browser, const char *script)
{
    json_t *value = browser_eval(browser, script);
    bool is = json_is_true(value);
    json_decref(value);
    return is;
}

double browser_number(struct browser *browser, const char *script)
{
    json_t *value = browser_eval(browser, script);
    if (!json_is_number(value))
        fail_msg("%.200s: is no number", script);
    double number = json_number_value(value);
    json_decref(value);
    return number;
}

void browser_click(struct browser *browser, const char *selector)
{
    char script[600];
    (void)snprintf(script, sizeof script,
                   "(() => { const e = document.querySelector('%s');"
                   " e.scrollIntoView({block: 'center'}); const r = e.getBoundingClientRect();"
                   " return [r.x + r.width / 2, r.y + r.height / 2]; })()", selector);
    json_t *at = browser_eval(browser, script);
    static const char *const kinds[] = {"mousePressed", "mouseReleased"};
    for (size_t i = 0; i < 2; i++)
        order(browser, "Input.dispatchMouseEvent",
              json_pack("{s:s, s:O, s:O, s:s, s:i}", "type", kinds[i], "x",
                        json_array_get(at, 0), "y", json_array_get(at, 1), "button", "left",
                        "clickCount", 1));
    json_decref(at);
}

void browser_key(struct browser *browser, const char *key)
{
    bool enter = strcmp(key, "Enter") == 0;
    json_t *down = json_pack("{s:s, s:s, s:s}", "type", enter ? "keyDown" : "rawKeyDown", "key",
                             key, "code", key);
    if (enter) {
        (void)json_object_set_new(down, "text", json_string("\r"));
        (void)json_object_set_new(down, "windowsVirtualKeyCode", json_integer(13));
    }
    order(browser, "Input.dispatchKeyEvent", down);
    order(browser, "Input.dispatchKeyEvent",
          json_pack("{s:s, s:s, s:s}", "type", "keyUp", "key", key, "code", key));
}

static int digit_of(char c)
{
    static const char digits[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    const char *at = c != '\0' ? strchr(digits, c) : NULL;
    return at != NULL ? (int)(at - digits) : -1;
}

int browser_print_pages(struct browser *browser, double width_in, double height_in)
{
    json_t *answer = call(browser, "Page.printToPDF",
                          json_pack("{s:f, s:f, s:b}", "paperWidth", width_in, "paperHeight",
                                    height_in, "printBackground", 1));
    const char *data = json_string_value(json_object_get(answer, "data"));
    size_t length = strlen(data), made = 0;
    char *pdf = calloc(1, length + 1);
    unsigned bits = 0, held = 0;
    int pages = 0;
    assert_non_null(pdf);
    for (size_t i = 0; i < length; i++) {
        int digit = digit_of(data[i]);
        if (digit < 0)
            continue;
        bits = (bits << 6 | (unsigned)digit) & 0xFFFFFF;
        held += 6;
        if (held >= 8)
            pdf[made++] = (char)(bits >> (held -= 8) & 0xFF);
    }
    /* ISO 32000-1, 7.7.3.3: every page is an object of type Page. */
    for (size_t i = 0; i + 11 < made; i++)
        if (memcmp(pdf + i, "/Type /Page", 11) == 0 && pdf[i + 11] != 's')
            pages++;
    const char *keep = getenv("TD_KEEP_PDF");
    FILE *file = keep != NULL ? fopen(keep, "wb") : NULL;
    if (file != NULL) {
        (void)fwrite(pdf, 1, made, file);
        (void)fclose(file);
    }
    free(pdf);
    json_decref(answer);
    return pages;
}

const char *browser_fault(const struct browser *browser)
{
    return browser->fault[0] != '\0' ? browser->fault : NULL;
}
