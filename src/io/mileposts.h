/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mileposts of a road: which post stands where along it, and so which distance along is "mile
 * 12.4". docs/formats.md specifies the text. Pure but for td_problem_set. Thread: any.
 *
 * Posts are as they stand, not as they should: between two of them the count runs evenly, whatever
 * they are apart, and where a road was shortened or lengthened since, two posts at one place (an
 * equation: "mile 12.3 at 5 km; mile 12 at 5 km") say that it jumps. */
#ifndef TD_IO_MILEPOSTS_H
#define TD_IO_MILEPOSTS_H

#include <stddef.h>

#include "talkdown/result.h"
#include "talkdown/text.h"

enum { TD_MILEPOSTS_MAX = 64, TD_MILEPOSTS_TEXT_MAX = 2400 };

enum td_post_unit { TD_POST_MILE = 0, TD_POST_KM };

struct td_milepost {
    double post;    /* what it says, in the road's unit */
    double along_m; /* where it stands, from the road's first vertex */
};

struct td_mileposts {
    enum td_post_unit unit;
    size_t count; /* 0: the road has none; else 2 and more, in order along the road */
    struct td_milepost posts[TD_MILEPOSTS_MAX];
};

/* "mile" or "km". */
const char *td_post_unit_word(enum td_post_unit unit);

/* Reads "mile 10 at 0.35 mi; mile 11 at 1.36 mi". At least two posts, of one unit, in order along
 * the road, the count only rising or only falling but where it jumps, and no piece more than twice
 * or less than half as long as its posts say. TD_INVALID with words otherwise (file empty). */
TD_CHECKED enum td_result td_mileposts_parse(const char *text, struct td_mileposts *posts,
                                             struct td_problem *problem);
/* The text of them, by td_mileposts_parse's form, distances in whole metres. */
void td_mileposts_text(const struct td_mileposts *posts, struct td_text *text);

/* Reads one, "mile 12.4" or "km 20". */
TD_CHECKED enum td_result td_post_parse(const char *text, enum td_post_unit *unit, double *post,
                                        struct td_problem *problem);

/* Where a post's count is reached on a road of `length_m`: none, once, or more often where the
 * count jumps back. Before the first post and after the last the count is taken to run on as its
 * unit says, for one mile or kilometre of it. Returns how often, at most TD_MILEPOSTS_MAX. */
size_t td_mileposts_along(const struct td_mileposts *posts, double length_m, double post,
                          double along_m[TD_MILEPOSTS_MAX]);
/* The count at a place of the road; where it jumps that of the road ahead. NAN where it is not
 * known. */
double td_mileposts_at(const struct td_mileposts *posts, double along_m);

/* The piece whose length is furthest from what its posts say: by how much (0.1 is a tenth too
 * long), and where it begins. 0 where there is none. */
double td_mileposts_worst(const struct td_mileposts *posts, double *at_m);

#endif
