/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bounded text without stdio or locale. */
#include "talkdown/text.h"

#include <math.h>
#include <string.h>

void td_text_init(struct td_text *text, char *data, size_t size)
{
    text->data = data;
    text->size = size;
    text->length = 0;
    text->cut = false;
    data[0] = '\0';
}

void td_text_add_span(struct td_text *text, const char *more, size_t length)
{
    size_t room = text->size - 1 - text->length;
    if (length > room) {
        length = room;
        text->cut = true;
    }
    memcpy(text->data + text->length, more, length);
    text->length += length;
    text->data[text->length] = '\0';
}

void td_text_add(struct td_text *text, const char *more)
{
    td_text_add_span(text, more, strlen(more));
}

void td_text_add_char(struct td_text *text, char c)
{
    td_text_add_span(text, &c, 1);
}

static void add_digits(struct td_text *text, uint64_t value, int least_digits)
{
    char digits[24];
    size_t at = sizeof digits;
    do {
        digits[--at] = (char)('0' + (int)(value % 10));
        value /= 10;
        least_digits--;
    } while (value > 0 || least_digits > 0);
    td_text_add_span(text, digits + at, sizeof digits - at);
}

void td_text_add_int(struct td_text *text, int64_t value)
{
    uint64_t magnitude = value < 0 ? 0u - (uint64_t)value : (uint64_t)value;
    if (value < 0)
        td_text_add_char(text, '-');
    add_digits(text, magnitude, 1);
}

void td_text_add_fixed(struct td_text *text, double value, int decimals)
{
    static const double scale[] = {1, 10, 100, 1e3, 1e4, 1e5, 1e6};
    if (decimals < 0)
        decimals = 0;
    if (decimals > 6)
        decimals = 6;
    if (!isfinite(value) || fabs(value) > 1e12) {
        td_text_add_char(text, '?');
        return;
    }
    uint64_t scaled = (uint64_t)floor(fabs(value) * scale[decimals] + 0.5);
    uint64_t unit = (uint64_t)scale[decimals];
    if (value < 0 && scaled > 0)
        td_text_add_char(text, '-');
    add_digits(text, scaled / unit, 1);
    if (decimals > 0) {
        td_text_add_char(text, '.');
        add_digits(text, scaled % unit, decimals);
    }
}

bool td_text_copy(char *to, size_t size, const char *from)
{
    struct td_text text;
    td_text_init(&text, to, size);
    td_text_add(&text, from);
    return !text.cut;
}

bool td_text_equal(const char *a, const char *b)
{
    return strcmp(a, b) == 0;
}
