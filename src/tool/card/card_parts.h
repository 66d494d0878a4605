/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the card share. Sizes are in units of the page, 600 of them across: a phone 390
 * pixels wide shows a unit as 0.65 of one, so that the smallest text stays above nine pixels; on
 * paper it is 12 points. */
#ifndef TD_TOOL_CARD_PARTS_H
#define TD_TOOL_CARD_PARTS_H

#include "talkdown/plan_trace.h"
#include "tool/card/svg.h"
#include "tool/plan/plan_words.h"

#define CARD_WIDTH  600.0
#define CARD_LEFT   16.0 /* of text */
#define CARD_RIGHT  584.0
#define CARD_PLOT   52.0 /* left end of the axis; what is written left of it names the scale */
#define CARD_SMALL  14.0
#define CARD_LINE   18.0 /* from one small line to the next */

#define CARD_THIN   "stroke=\"#000\" stroke-width=\"1\" fill=\"none\""
#define CARD_FAINT  "stroke=\"#999\" stroke-width=\"0.8\" fill=\"none\""

struct td_card {
    struct td_svg *svg;
    const struct td_plan_answer *answer;
    const struct td_plan_point *points;
    size_t point_count;
    const char *source;
    double from_m, to_m; /* of the axis */
    double y;            /* how far down the page is filled */
};

/* Plain and bold text of one size at the page's left edge, and where the axis has a place. */
struct td_svg_type card_type(double size, bool bold, enum td_svg_anchor anchor);
double card_x(const struct td_card *card, double at_m);
/* Writes `text` over as many lines as it takes, at most `lines` (the last one is cut), from `left`;
 * moves y on. */
void card_write(struct td_card *card, double left, double size, bool bold, int lines,
                const char *text);
/* First letter as a capital, in place. */
char *card_capital(char *line);

/* A label beside a leader that comes down from the axis. */
struct td_card_label {
    double at_x;       /* where it belongs on the axis */
    double text_width; /* 0: a symbol alone */
    int rank;          /* 0 is dropped last */
    double x;          /* out: where the leader comes down, CARD_LABEL_APART from the next */
    bool is_left;      /* out: text left of the leader, not right */
    int tier;          /* out: 0 and up, away from the axis; -1 dropped */
};

#define CARD_LABEL_APART 20.0 /* two digits are as wide as a symbol */
#define CARD_LABEL_REACH 9.0  /* half of a symbol, and air */
#define CARD_LABEL_TEXT  12.0 /* from the leader to its text */
enum { CARD_LABELS_MAX = 160 };

/* Finds a place for each label, sorted by at_x, between `left` and `right` in at most `tiers`
 * tiers, so that no label touches another or another's leader; drops labels of the highest rank
 * until that works. Returns how many tiers are used; *dropped counts. */
int td_card_lay_labels(struct td_card_label *labels, size_t count, double left, double right,
                       int tiers, size_t *dropped);

/* The shape of a kind of place round a point, seven units each way. */
void td_card_symbol(struct td_svg *svg, const struct td_place *place, double x, double y);
/* Which hatch a downgrade has, 0 to 3, and its look; the patterns s1 to s3 it needs. */
int td_card_steepness(double downgrade_ratio);
const char *td_card_hatch(int step);
void td_card_hatches(struct td_svg *svg);

/* The parts, from the top of the page to its foot; each moves y on. */
void td_card_heading(struct td_card *card);
void td_card_orders(struct td_card *card);
void td_card_range(struct td_card *card);
void td_card_road(struct td_card *card);
void td_card_speeds(struct td_card *card);
void td_card_heat(struct td_card *card);
void td_card_places(struct td_card *card);
void td_card_notes(struct td_card *card);

#endif
