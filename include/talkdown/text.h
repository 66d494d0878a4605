/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bounded text: append to a caller's buffer, always ended by NUL, never past its end. When
 * something did not fit, `cut` stays set and the buffer holds what did.
 *
 * Pure: no locale, no stdio, so that core and phrase may use it. */
#ifndef TD_TEXT_H
#define TD_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct td_text {
    char *data; /* caller's memory, at least 1 byte */
    size_t size;
    size_t length; /* without the NUL */
    bool cut;
};

/* Starts empty on the caller's buffer of `size` >= 1 bytes. */
void td_text_init(struct td_text *text, char *data, size_t size);
void td_text_add(struct td_text *text, const char *more);
void td_text_add_char(struct td_text *text, char c);
void td_text_add_span(struct td_text *text, const char *more, size_t length);
/* Decimal digits, a minus sign when negative. */
void td_text_add_int(struct td_text *text, int64_t value);
/* Fixed point with `decimals` 0 to 6 digits, rounded half away from zero; "?" when not finite or
 * beyond 1e12. */
void td_text_add_fixed(struct td_text *text, double value, int decimals);

/* Copies `from` into `to` of `size` bytes, cut if it must be. Returns false when it was cut. */
bool td_text_copy(char *to, size_t size, const char *from);
bool td_text_equal(const char *a, const char *b);

#endif
