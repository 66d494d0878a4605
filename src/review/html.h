/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A page as it grows in memory. Text from logs and profiles goes in by td_html_text alone, which
 * escapes it. A failure (no memory) sticks: look once, at the end. */
#ifndef TD_REVIEW_HTML_H
#define TD_REVIEW_HTML_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "talkdown/result.h"

struct td_html {
    char *bytes; /* the owner frees it */
    size_t length, room;
    bool failed;
};

void td_html_raw(struct td_html *html, const char *markup);
void td_html_span(struct td_html *html, const char *bytes, size_t length);
/* Markup of our own with figures in it. A %s of data must be something that we made. */
void td_html_format(struct td_html *html, const char *format, ...) TD_PRINTF(2, 3);
/* Escaped for text and for quoted attributes; what is no well-formed UTF-8 comes out as "?". */
void td_html_text(struct td_html *html, const char *text);
void td_html_base64(struct td_html *html, const uint8_t *bytes, size_t length);

#endif
