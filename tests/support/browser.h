/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A headless Chromium, driven over its DevTools pipe: opens a page, runs script in it, presses
 * keys, clicks, prints. Whatever the page does wrong is counted: errors of script and console, and
 * anything fetched from elsewhere than the file itself. */
#ifndef TD_TESTS_BROWSER_H
#define TD_TESTS_BROWSER_H

#include <jansson.h>
#include <stdbool.h>

struct browser;

/* False when there is no Chromium here, which is said: the caller skips. */
bool browser_is_there(void);
/* Within a test or its setup. */
struct browser *browser_open(void);
void browser_close(struct browser *browser);
/* A window of that size; loads the file and waits until it stands. */
void browser_show(struct browser *browser, const char *path, int width, int height, bool dark);
/* The value of an expression (a promise is awaited), for the caller to json_decref. Fails the test
 * when it throws. */
json_t *browser_eval(struct browser *browser, const char *script);
bool browser_is(struct browser *browser, const char *script);
double browser_number(struct browser *browser, const char *script);
/* At the middle of the first element that the selector finds, which is brought into view. */
void browser_click(struct browser *browser, const char *selector);
/* "ArrowDown", "Enter", "Home" ... to what has the focus. */
void browser_key(struct browser *browser, const char *key);
/* Pages of the print on paper of that size in inches. */
int browser_print_pages(struct browser *browser, double width_in, double height_in);
/* Words of the first fault since browser_show; NULL for none. */
const char *browser_fault(const struct browser *browser);

#endif
