/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whole numbers as words, from a language's own tables or left as digits. */
#include <string.h>

#include "phrase/phrasebook.h"

/* Appends `form` with the number in the place of "{n}". */
static void add_form(struct td_text *text, const char *form, const char *number)
{
    const char *mark = strstr(form, "{n}");
    if (mark == NULL) {
        td_text_add(text, form);
        return;
    }
    td_text_add_span(text, form, (size_t)(mark - form));
    td_text_add(text, number);
    td_text_add(text, mark + 3);
}

static void add_part(struct td_text *text, const char *words)
{
    if (text->length > 0)
        td_text_add_char(text, ' ');
    td_text_add(text, words);
}

/* 1 to 999. */
static void add_below_thousand(const struct td_phrase_numbers *numbers, int32_t number,
                               struct td_text *text)
{
    if (number >= 100)
        add_part(text, numbers->hundreds[number / 100 - 1]);
    if (number % 100 != 0)
        add_part(text, numbers->to_99[number % 100]);
}

static void add_words(const struct td_phrase_numbers *numbers, int32_t number,
                      struct td_text *text)
{
    if (number == 0) {
        td_text_add(text, numbers->to_99[0]);
        return;
    }
    if (number >= 1000) {
        char data[TD_WORDS_MAX];
        struct td_text thousands;
        td_text_init(&thousands, data, sizeof data);
        add_below_thousand(numbers, number / 1000, &thousands);
        add_form(text, numbers->thousands, data);
    }
    add_below_thousand(numbers, number % 1000, text);
}

bool td_number_words(const struct td_phrase_numbers *numbers, int32_t number, struct td_text *text)
{
    if (number < 0 || number > TD_NUMBER_MOST)
        return false;
    char data[TD_WORDS_MAX];
    struct td_text words;
    td_text_init(&words, data, sizeof data);
    if (numbers->digits)
        td_text_add_int(&words, number);
    else
        add_words(numbers, number, &words);
    if (words.cut)
        return false;
    td_text_add(text, data);
    return true;
}

bool td_count_words(const struct td_phrase_numbers *numbers, const struct td_phrase_count *count,
                    int32_t number, struct td_text *text)
{
    const char *form = count->many;
    if (number == 0)
        form = count->none;
    else if (number == 1)
        form = count->one;
    else if (number <= 4 && count->few[0] != '\0')
        form = count->few;
    if (form[0] == '\0')
        return false;
    char data[TD_WORDS_MAX];
    struct td_text words;
    td_text_init(&words, data, sizeof data);
    if (!td_number_words(numbers, number, &words))
        return false;
    add_form(text, form, data);
    return true;
}
