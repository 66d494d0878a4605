/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A drawing in SVG 1.1 as it grows in memory. Numbers are written without locale; text is escaped,
 * and what is no well-formed UTF-8 or no character of XML comes out as "?". A failure (no memory)
 * sticks: look once, at the end. */
#ifndef TD_TOOL_SVG_H
#define TD_TOOL_SVG_H

#include <stdbool.h>
#include <stddef.h>

struct td_svg {
    char *bytes; /* the owner frees it */
    size_t length, room;
    bool failed;
};

enum td_svg_anchor { TD_SVG_LEFT = 0, TD_SVG_MIDDLE, TD_SVG_RIGHT };

struct td_svg_type {
    double size;
    bool bold;
    bool white; /* on black */
    enum td_svg_anchor anchor;
    bool halo;  /* white around it, over lines of a chart */
};

void td_svg_raw(struct td_svg *svg, const char *markup);
/* One decimal, at most 99,999 either way; 0 for what is no number. */
void td_svg_number(struct td_svg *svg, double value);
void td_svg_escaped(struct td_svg *svg, const char *text);
/* `look` is the attributes that say how: "fill=\"none\" stroke=\"#000\"". */
void td_svg_rect(struct td_svg *svg, double x, double y, double width, double height,
                 const char *look);
void td_svg_line(struct td_svg *svg, double x1, double y1, double x2, double y2, const char *look);
void td_svg_circle(struct td_svg *svg, double x, double y, double radius, const char *look);
/* Points as x, y pairs; closed when it is to be filled. */
void td_svg_path_start(struct td_svg *svg);
void td_svg_path_to(struct td_svg *svg, double x, double y, bool first);
void td_svg_path_end(struct td_svg *svg, bool closed, const char *look);
/* y is the baseline. */
void td_svg_text(struct td_svg *svg, double x, double y, struct td_svg_type type,
                 const char *text);

/* Width the text needs at most in a common sans-serif of the viewer's system: the advances of a
 * wide one, so that what fits here fits there. */
double td_svg_width(const char *text, double size, bool bold);
/* Copies as much of `text` as fits, with "..." where something is missing. */
void td_svg_cut(const char *text, double width, double size, bool bold, char *to, size_t room);
/* Bytes of the first line when `text` is broken at blanks to `width`, not between a figure
 * and its unit if that can be; a word too long is broken inside. 0 at the end of the text. */
size_t td_svg_break(const char *text, double width, double size, bool bold);

#endif
