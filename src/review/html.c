/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Grows a page in memory, escaped where it must be. */
#include "review/html.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void td_html_span(struct td_html *html, const char *bytes, size_t length)
{
    if (html->failed || length == 0)
        return;
    if (length >= html->room - html->length) {
        size_t room = html->room < 65536 ? 65536 : 2 * html->room;
        while (room - html->length <= length)
            room *= 2;
        char *grown = realloc(html->bytes, room);
        if (grown == NULL) {
            html->failed = true;
            return;
        }
        html->bytes = grown;
        html->room = room;
    }
    memcpy(html->bytes + html->length, bytes, length);
    html->length += length;
    html->bytes[html->length] = '\0';
}

void td_html_raw(struct td_html *html, const char *markup)
{
    td_html_span(html, markup, strlen(markup));
}

void td_html_format(struct td_html *html, const char *format, ...)
{
    char text[2048];
    va_list args;
    va_start(args, format);
    int length = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (length < 0 || (size_t)length >= sizeof text)
        html->failed = true; /* a page with a piece missing is no page */
    else
        td_html_span(html, text, (size_t)length);
}

/* Bytes of the well-formed character that begins here; 0 when it is none. RFC 3629, section 4. */
static size_t character(const unsigned char *at)
{
    if (at[0] < 0x80)
        return at[0] >= 0x20 || at[0] == '\n' || at[0] == '\t' ? 1 : 0;
    size_t length = at[0] >= 0xC2 && at[0] < 0xE0   ? 2
                    : at[0] >= 0xE0 && at[0] < 0xF0 ? 3
                    : at[0] >= 0xF0 && at[0] < 0xF5 ? 4
                                                    : 0;
    for (size_t i = 1; i < length; i++)
        if ((at[i] & 0xC0) != 0x80)
            return 0;
    if ((at[0] == 0xE0 && at[1] < 0xA0) || (at[0] == 0xED && at[1] > 0x9F) ||
        (at[0] == 0xF0 && at[1] < 0x90) || (at[0] == 0xF4 && at[1] > 0x8F))
        return 0;
    return length;
}

void td_html_text(struct td_html *html, const char *text)
{
    for (const unsigned char *at = (const unsigned char *)text; *at != '\0';) {
        size_t length = character(at);
        switch (*at) {
        case '&': td_html_raw(html, "&amp;"); break;
        case '<': td_html_raw(html, "&lt;"); break;
        case '>': td_html_raw(html, "&gt;"); break;
        case '"': td_html_raw(html, "&quot;"); break;
        case '\'': td_html_raw(html, "&#39;"); break;
        default: td_html_span(html, length > 0 ? (const char *)at : "?", length > 0 ? length : 1);
        }
        at += length > 0 ? length : 1;
    }
}

void td_html_base64(struct td_html *html, const uint8_t *bytes, size_t length)
{
    static const char digits[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    for (size_t i = 0; i < length; i += 3) {
        size_t left = length - i;
        uint32_t bits = (uint32_t)bytes[i] << 16 | (left > 1 ? (uint32_t)bytes[i + 1] << 8 : 0) |
                        (left > 2 ? (uint32_t)bytes[i + 2] : 0);
        char four[4] = {digits[bits >> 18], digits[bits >> 12 & 63],
                        left > 1 ? digits[bits >> 6 & 63] : '=',
                        left > 2 ? digits[bits & 63] : '='};
        td_html_span(html, four, 4);
    }
}
