/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/card_page.h"

#include <expat.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tool/card/svg.h"

struct reading {
    struct card_page *page;
    const char *why;
    bool in_text, in_defs;
    const char *anchor;
};

static const char *find(const char **attributes, const char *name)
{
    for (size_t i = 0; attributes[i] != NULL; i += 2)
        if (strcmp(attributes[i], name) == 0)
            return attributes[i + 1];
    return NULL;
}

static double number(const char **attributes, const char *name)
{
    const char *text = find(attributes, name);
    return text != NULL ? strtod(text, NULL) : (double)NAN;
}

static void reach(struct reading *reading, double x, double y)
{
    struct card_page *page = reading->page;
    if (!isfinite(x) || !isfinite(y))
        reading->why = "a shape without a place";
    page->left = fmin(page->left, x);
    page->right = fmax(page->right, x);
    page->top = fmin(page->top, y);
    page->bottom = fmax(page->bottom, y);
}

static void reach_path(struct reading *reading, const char *path)
{
    while (path != NULL && *path != '\0') {
        char *end;
        if (*path != 'M' && *path != 'L' && *path != 'Z')
            reading->why = "a path of other than straight lines";
        if (*path++ == 'Z')
            continue;
        double x = strtod(path, &end), y = strtod(end, &end);
        reach(reading, x, y);
        if (end == path)
            return;
        path = end;
    }
}

static void start_text(struct reading *reading, const char **attributes)
{
    struct card_page *page = reading->page;
    if (page->text_count == CARD_PAGE_TEXTS) {
        reading->why = "more texts than a card may hold";
        return;
    }
    struct card_text *text = &page->texts[page->text_count++];
    *text = (struct card_text){.left = number(attributes, "x"), .bottom = number(attributes, "y"),
                               .size = number(attributes, "font-size"),
                               .bold = find(attributes, "font-weight") != NULL};
    reading->anchor = find(attributes, "text-anchor");
    reading->in_text = true;
    if (!isfinite(text->left) || !isfinite(text->bottom) || !isfinite(text->size))
        reading->why = "a text without place or size";
}

static void shape(struct reading *reading, const char *name, const char **attributes)
{
    if (strcmp(name, "rect") == 0) {
        double x = number(attributes, "x"), y = number(attributes, "y");
        reach(reading, x, y);
        reach(reading, x + number(attributes, "width"), y + number(attributes, "height"));
    } else if (strcmp(name, "line") == 0) {
        reach(reading, number(attributes, "x1"), number(attributes, "y1"));
        reach(reading, number(attributes, "x2"), number(attributes, "y2"));
    } else if (strcmp(name, "circle") == 0) {
        double x = number(attributes, "cx"), y = number(attributes, "cy");
        double r = number(attributes, "r");
        reach(reading, x - r, y - r);
        reach(reading, x + r, y + r);
    } else if (strcmp(name, "path") == 0) {
        reach_path(reading, find(attributes, "d"));
    } else if (strcmp(name, "defs") != 0 && strcmp(name, "pattern") != 0 &&
               strcmp(name, "style") != 0 && strcmp(name, "title") != 0) {
        reading->why = "an element that a card does not need";
    }
}

/* Black, white, one grey, and hatches: what is told apart must not need more. */
static bool is_grey(const char *paint)
{
    static const char *const paints[] = {"none", "#000", "#fff", "#999", "url(#s1)", "url(#s2)",
                                         "url(#s3)"};
    for (size_t i = 0; i < sizeof paints / sizeof paints[0]; i++)
        if (strcmp(paint, paints[i]) == 0)
            return true;
    return false;
}

static void XMLCALL start(void *data, const char *name, const char **attributes)
{
    struct reading *reading = data;
    for (size_t i = 0; attributes[i] != NULL; i += 2)
        if (strstr(attributes[i], "href") != NULL || strstr(attributes[i + 1], "http") != NULL)
            if (strcmp(attributes[i], "xmlns") != 0)
                reading->why = "something from outside";
    for (size_t i = 0; attributes[i] != NULL; i += 2)
        if ((strcmp(attributes[i], "fill") == 0 || strcmp(attributes[i], "stroke") == 0) &&
            !is_grey(attributes[i + 1]))
            reading->why = "a colour";
    if (strcmp(name, "defs") == 0)
        reading->in_defs = true;
    if (strcmp(name, "svg") == 0) {
        const char *box = find(attributes, "viewBox");
        char *end = NULL;
        if (box == NULL || strncmp(box, "0 0 ", 4) != 0) {
            reading->why = "no viewBox from 0 0";
            return;
        }
        reading->page->width = strtod(box + 4, &end);
        reading->page->height = strtod(end, NULL);
    } else if (strcmp(name, "text") == 0) {
        start_text(reading, attributes);
    } else if (!reading->in_defs) {
        shape(reading, name, attributes);
    }
}

static void XMLCALL characters(void *data, const char *bytes, int length)
{
    struct reading *reading = data;
    if (!reading->in_text || reading->page->text_count == 0)
        return;
    char *words = reading->page->texts[reading->page->text_count - 1].words;
    size_t used = strlen(words);
    if (used + (size_t)length >= CARD_PAGE_WORDS)
        reading->why = "a text longer than any line";
    else
        memcpy(words + used, bytes, (size_t)length);
}

/* A line of a common sans-serif reaches 0.78 of its size above the baseline and 0.22 below. */
static void finish_text(struct reading *reading)
{
    struct card_text *text = &reading->page->texts[reading->page->text_count - 1];
    double width = td_svg_width(text->words, text->size, text->bold);
    double shift = reading->anchor == NULL ? 0 : strcmp(reading->anchor, "end") == 0 ? 1 : 0.5;
    text->left -= shift * width;
    text->right = text->left + width;
    text->top = text->bottom - 0.78 * text->size;
    text->bottom += 0.22 * text->size;
    reading->in_text = false;
}

static void XMLCALL end(void *data, const char *name)
{
    struct reading *reading = data;
    if (strcmp(name, "text") == 0 && reading->in_text)
        finish_text(reading);
    if (strcmp(name, "defs") == 0)
        reading->in_defs = false;
}

bool card_page_read(const char *bytes, size_t length, struct card_page *page, const char **why)
{
    XML_Parser parser = XML_ParserCreate("UTF-8");
    struct reading reading = {.page = page};
    memset(page, 0, sizeof *page);
    page->left = page->top = (double)INFINITY;
    page->right = page->bottom = -(double)INFINITY;
    XML_SetUserData(parser, &reading);
    XML_SetElementHandler(parser, start, end);
    XML_SetCharacterDataHandler(parser, characters);
    if (XML_Parse(parser, bytes, (int)length, XML_TRUE) != XML_STATUS_OK)
        reading.why = XML_ErrorString(XML_GetErrorCode(parser));
    XML_ParserFree(parser);
    *why = reading.why;
    return reading.why == NULL;
}

bool card_page_overlap(const struct card_page *page, size_t *a, size_t *b)
{
    for (*a = 0; *a < page->text_count; (*a)++)
        for (*b = *a + 1; *b < page->text_count; (*b)++) {
            const struct card_text *one = &page->texts[*a], *two = &page->texts[*b];
            if (one->left < two->right && two->left < one->right && one->top < two->bottom &&
                two->top < one->bottom)
                return true;
        }
    return false;
}

const struct card_text *card_page_find(const struct card_page *page, const char *words)
{
    for (size_t i = 0; i < page->text_count; i++)
        if (strstr(page->texts[i].words, words) != NULL)
            return &page->texts[i];
    return NULL;
}
