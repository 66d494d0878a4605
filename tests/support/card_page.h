/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A card as a reader of SVG sees it: boxes of its texts, and how far its lines reach. */
#ifndef TD_TESTS_CARD_PAGE_H
#define TD_TESTS_CARD_PAGE_H

#include <stdbool.h>
#include <stddef.h>

enum { CARD_PAGE_TEXTS = 600, CARD_PAGE_WORDS = 600 };

struct card_text {
    double left, right, top, bottom, size;
    bool bold;
    char words[CARD_PAGE_WORDS];
};

struct card_page {
    double width, height; /* of the viewBox */
    struct card_text texts[CARD_PAGE_TEXTS];
    size_t text_count;
    double left, right, top, bottom; /* of all that is drawn but text */
};

/* Parses the whole document; false with words in *why (static) when it is not well-formed, or holds
 * what a card should not: anything from outside, a script, a picture, a colour. */
bool card_page_read(const char *bytes, size_t length, struct card_page *page, const char **why);
/* Two texts that touch; false when none do. */
bool card_page_overlap(const struct card_page *page, size_t *a, size_t *b);
/* The text that holds the words; NULL when none does. */
const struct card_text *card_page_find(const struct card_page *page, const char *words);

#endif
