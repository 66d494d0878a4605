/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One hill as a small picture: a map to scale, north up, over a strip of its heights. What stands
 * beside the road and matters most to who plans is in both: escape lanes and brake checks. Black
 * and white; the page's style turns that round where the reader's system is dark. */
#ifndef TD_TOOL_HILLS_PICTURE_H
#define TD_TOOL_HILLS_PICTURE_H

#include <stdbool.h>

#include "talkdown/hill.h"
#include "tool/card/svg.h"
#include "tool/plan/plan_words.h"

#define TD_PICTURE_WIDTH 344.0 /* a phone's screen; on paper two go beside each other */
#define TD_PICTURE_TYPE  12.0

struct td_picture_box {
    double left, top, right, bottom;
};

enum { TD_PICTURE_BOXES = TD_HILL_PLACES_MAX + 6 };

struct td_hill_picture {
    struct td_svg *svg;
    const struct td_hill *hill;
    struct td_plan_answer unit; /* only for words: the hill, and miles or kilometres */
    double y;                   /* how far down it is filled */
    size_t left_out;            /* marks that had no room */
    struct td_picture_box boxes[TD_PICTURE_BOXES]; /* what the map's marks take */
    size_t box_count;
};

/* The parts, from the top; each moves y on. */
void td_hill_map(struct td_hill_picture *picture);
void td_hill_strip(struct td_hill_picture *picture);

/* The whole <svg>, named for who does not see it. Needs the patterns of td_card_hatches in the
 * document. Returns how many marks the map had no room for. */
size_t td_hill_picture_draw(const struct td_hill *hill, bool metric, struct td_svg *svg);

/* The road that is shown: crest to foot, some lead and the marks near them; all of a gentle one. */
void td_hill_picture_range(const struct td_hill *hill, double *from_m, double *to_m);
/* An escape lane or a brake check. */
bool td_hill_picture_shows(const struct td_place *place);

#endif
