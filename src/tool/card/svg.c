/* SPDX-License-Identifier: GPL-3.0-or-later */
/* SVG as text, and how wide its words come out. */
#include "tool/card/svg.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "talkdown/text.h"

static void add(struct td_svg *svg, const char *bytes, size_t length)
{
    if (svg->failed)
        return;
    if (svg->length + length + 1 > svg->room) {
        size_t room = svg->room + length + 1 + svg->room / 2 + 4096;
        char *grown = realloc(svg->bytes, room);
        if (grown == NULL) {
            svg->failed = true;
            return;
        }
        svg->bytes = grown;
        svg->room = room;
    }
    memcpy(svg->bytes + svg->length, bytes, length);
    svg->length += length;
    svg->bytes[svg->length] = '\0';
}

void td_svg_raw(struct td_svg *svg, const char *markup)
{
    add(svg, markup, strlen(markup));
}

void td_svg_number(struct td_svg *svg, double value)
{
    char digits[32];
    struct td_text text;
    td_text_init(&text, digits, sizeof digits);
    td_text_add_fixed(&text, isfinite(value) ? fmax(-99999, fmin(99999, value)) : 0, 1);
    add(svg, digits, text.length);
}

/* One character of UTF-8 at `text`: its bytes and value; a bad byte is 1 byte and UINT32_MAX. */
static size_t next_character(const char *text, uint32_t *value)
{
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    unsigned char first = (unsigned char)text[0];
    size_t length = first < 0x80 ? 1 : first >= 0xc2 && first < 0xe0 ? 2
                    : first >= 0xe0 && first < 0xf0 ? 3 : first >= 0xf0 && first < 0xf5 ? 4 : 0;
    *value = UINT32_MAX;
    if (length == 0)
        return 1;
    uint32_t code = length == 1 ? first : first & (0xffu >> (length + 1));
    for (size_t i = 1; i < length; i++) {
        unsigned char byte = (unsigned char)text[i];
        if ((byte & 0xc0) != 0x80)
            return 1;
        code = code << 6 | (byte & 0x3f);
    }
    /* XML 1.0: no control but tab and newline, no surrogate, no FFFE and FFFF. */
    bool is_xml = code >= least[length] && (code >= 0x20 || code == '\t' || code == '\n') &&
                  (code < 0x7f || code > 0x9f) && (code < 0xd800 || code > 0xdfff) &&
                  code != 0xfffe && code != 0xffff && code <= 0x10ffff;
    if (is_xml)
        *value = code;
    return is_xml || length > 1 ? length : 1;
}

void td_svg_escaped(struct td_svg *svg, const char *text)
{
    uint32_t code;
    for (size_t step; *text != '\0'; text += step) {
        step = next_character(text, &code);
        if (code == UINT32_MAX)
            td_svg_raw(svg, "?");
        else if (code == '&')
            td_svg_raw(svg, "&amp;");
        else if (code == '<')
            td_svg_raw(svg, "&lt;");
        else if (code == '>')
            td_svg_raw(svg, "&gt;");
        else if (code == '"')
            td_svg_raw(svg, "&quot;");
        else
            add(svg, text, step);
    }
}

static void attribute(struct td_svg *svg, const char *name, double value)
{
    td_svg_raw(svg, " ");
    td_svg_raw(svg, name);
    td_svg_raw(svg, "=\"");
    td_svg_number(svg, value);
    td_svg_raw(svg, "\"");
}

static void end(struct td_svg *svg, const char *look)
{
    td_svg_raw(svg, " ");
    td_svg_raw(svg, look);
    td_svg_raw(svg, "/>\n");
}

void td_svg_rect(struct td_svg *svg, double x, double y, double width, double height,
                 const char *look)
{
    td_svg_raw(svg, "<rect");
    attribute(svg, "x", x);
    attribute(svg, "y", y);
    attribute(svg, "width", fmax(0, width));
    attribute(svg, "height", fmax(0, height));
    end(svg, look);
}

void td_svg_line(struct td_svg *svg, double x1, double y1, double x2, double y2, const char *look)
{
    td_svg_raw(svg, "<line");
    attribute(svg, "x1", x1);
    attribute(svg, "y1", y1);
    attribute(svg, "x2", x2);
    attribute(svg, "y2", y2);
    end(svg, look);
}

void td_svg_circle(struct td_svg *svg, double x, double y, double radius, const char *look)
{
    td_svg_raw(svg, "<circle");
    attribute(svg, "cx", x);
    attribute(svg, "cy", y);
    attribute(svg, "r", radius);
    end(svg, look);
}

void td_svg_path_start(struct td_svg *svg)
{
    td_svg_raw(svg, "<path d=\"");
}

void td_svg_path_to(struct td_svg *svg, double x, double y, bool first)
{
    td_svg_raw(svg, first ? "M" : "L");
    td_svg_number(svg, x);
    td_svg_raw(svg, " ");
    td_svg_number(svg, y);
}

void td_svg_path_end(struct td_svg *svg, bool closed, const char *look)
{
    td_svg_raw(svg, closed ? "Z\"" : "\"");
    end(svg, look);
}

void td_svg_text(struct td_svg *svg, double x, double y, struct td_svg_type type,
                 const char *text)
{
    td_svg_raw(svg, "<text");
    attribute(svg, "x", x);
    attribute(svg, "y", y);
    attribute(svg, "font-size", type.size);
    if (type.bold)
        td_svg_raw(svg, " font-weight=\"bold\"");
    if (type.white)
        td_svg_raw(svg, " fill=\"#fff\"");
    if (type.halo)
        td_svg_raw(svg, " stroke=\"#fff\" stroke-width=\"4\" paint-order=\"stroke\"");
    if (type.anchor != TD_SVG_LEFT)
        td_svg_raw(svg, type.anchor == TD_SVG_MIDDLE ? " text-anchor=\"middle\""
                                                     : " text-anchor=\"end\"");
    td_svg_raw(svg, ">");
    td_svg_escaped(svg, text);
    td_svg_raw(svg, "</text>\n");
}

/* Thousandths of the size, blank to tilde, as measured of a wide sans-serif that many systems carry
 * (DejaVu Sans; the commoner ones are a tenth narrower). */
static const uint16_t regular[] = {
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838};
static const uint16_t strong[] = {
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683,
    683, 821, 837, 372, 372, 775, 637, 995, 837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771,
    724, 725, 457, 365, 457, 838, 500, 500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665,
    343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838};

/* Beyond ASCII: wide letters count as such, the full-width scripts as a square and a bit. */
static double advance(uint32_t code, bool bold)
{
    if (code >= ' ' && code <= '~')
        return (bold ? strong : regular)[code - ' '] / 1000.0;
    if (code == UINT32_MAX)
        return 0.6;
    return code < 0x1100 ? (bold ? 1.1 : 1.0) : 1.3;
}

double td_svg_width(const char *text, double size, bool bold)
{
    double width = 0;
    uint32_t code;
    for (size_t step; *text != '\0'; text += step) {
        step = next_character(text, &code);
        width += advance(code, bold);
    }
    return width * size;
}

void td_svg_cut(const char *text, double width, double size, bool bold, char *to, size_t room)
{
    static const char dots[] = "...";
    if (td_svg_width(text, size, bold) <= width && strlen(text) < room) {
        (void)td_text_copy(to, room, text);
        return;
    }
    double left = width - td_svg_width(dots, size, bold);
    size_t length = 0;
    uint32_t code;
    for (size_t step; text[length] != '\0'; length += step) {
        step = next_character(text + length, &code);
        left -= advance(code, bold) * size;
        if (left < 0 || length + step + sizeof dots > room)
            break;
    }
    struct td_text out;
    td_text_init(&out, to, room);
    td_text_add_span(&out, text, length);
    td_text_add(&out, dots);
}

size_t td_svg_break(const char *text, double width, double size, bool bold)
{
    double used = 0;
    size_t at = 0, blank = 0, loose = 0; /* a blank after a digit parts a figure from its unit */
    uint32_t code;
    for (size_t step; text[at] != '\0'; at += step) {
        step = next_character(text + at, &code);
        used += advance(code, bold) * size;
        if (used > width && at > 0) {
            bool is_end = text[at] == ' ' && (text[at - 1] < '0' || text[at - 1] > '9');
            return is_end ? at : loose > 0 ? loose : blank > 0 ? blank : at;
        }
        if (text[at] == ' ')
            blank = at + 1;
        if (text[at] == ' ' && at > 0 && (text[at - 1] < '0' || text[at - 1] > '9'))
            loose = at + 1;
    }
    return at;
}
