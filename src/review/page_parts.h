/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the page share. Places on the distance axis are shares of its width, so that
 * one drawing fits a phone, a desk and paper; texts are HTML beside it and keep their size. */
#ifndef TD_REVIEW_PAGE_PARTS_H
#define TD_REVIEW_PAGE_PARTS_H

#include "review/page.h"

/* A phone's plot is 300 pixels wide at least, and one on a desk or on paper 560: marks that would
 * touch at that width go one tier down. */
#define PAGE_NARROW_PX 300.0
#define PAGE_WIDE_PX   560.0

enum { PAGE_FIGURES = 5, PAGE_LINE_MAX = 160, PAGE_SMALL_MAX = 640 };

struct page {
    struct td_html *html;
    struct td_review_drive *const *drives;
    size_t drive_count;
    const struct td_marks *marks; /* one a drive; NULL none */
    const struct td_clips *clips;
    /* Tops of the scales, the same for all descents of a hill. */
    double speed_top_mps, heat_top_c;
};

/* One descent as the page shows it. */
struct shown {
    const struct td_review_drive *drive;
    const struct td_review_descent *descent;
    const struct td_hill *hill;
    const struct td_marks *marks; /* NULL none */
    int index;       /* of the descent in its drive */
    unsigned number; /* on the page: ids begin with it */
    char run[32];    /* "Run 2", "" when it is the only one of its hill */
};

/* One figure in words: what stands large, what is added small; `name` heads it. */
struct figure {
    const char *name;
    char large[PAGE_LINE_MAX];
    char small_print[PAGE_SMALL_MAX];
    bool remark; /* something to talk about: said by a sign, not by colour alone */
};

void page_figures(const struct shown *shown, struct figure figures[PAGE_FIGURES]);
/* What happened after a prompt, or why it was not said. */
void page_next(const struct shown *shown, const struct td_review_prompt *prompt,
               char line[PAGE_LINE_MAX]);
const char *page_fate(const struct td_review_prompt *prompt);
/* "1.2 mi below the crest" in short: "1.2 mi", "-0.5 mi"; metric as the drive spoke. */
void page_place(const struct shown *shown, double along_m, char line[PAGE_LINE_MAX]);
void page_seconds(double seconds, char line[PAGE_LINE_MAX]);
void page_speed(const struct shown *shown, double mps, char line[PAGE_LINE_MAX]);
const char *page_place_name(const struct td_place *place);
/* The date and time of a moment, "2030-01-01 12:00 UTC"; "" when anonymous. */
void page_when(const struct td_review_drive *drive, int64_t at_ns, bool seconds,
               char line[PAGE_LINE_MAX]);
bool page_metric(const struct shown *shown);

/* Share of the axis, in percent, 0 to 100. */
double page_x(const struct td_hill *hill, double along_m);

/* The prompts shown with a descent: its own, and those before it that belong to no other. */
bool page_has_prompt(const struct shown *shown, size_t prompt);

void page_glance(struct page *page, const struct shown *shown);
void page_strip(struct page *page, const struct shown *shown);
void page_slowings(struct page *page, const struct shown *shown);
void page_prompts(struct page *page, const struct shown *shown);
void page_compare(struct page *page, const struct shown *shown, size_t count);
void page_scales(struct page *page, const struct shown *shown, size_t count);
/* Rows of the strip that the comparison draws too. */
void page_road(struct page *page, const struct shown *shown);
void page_speeds(struct page *page, const struct shown *shown, bool slim);
void page_heat(struct page *page, const struct shown *shown, bool slim);
void page_axis(struct page *page, const struct shown *shown);
void page_key(struct page *page, bool marks);
void page_row_begin(struct page *page, const char *name, const char *unit, const char *kind);
void page_row_end(struct page *page);
void page_places(struct page *page, const struct shown *shown);
void page_prompt_marks(struct page *page, const struct shown *shown);
/* Stretches where the truck was not seen, as bands behind a row. */
void page_gaps(struct page *page, const struct shown *shown);
/* Where it was as the prompt was issued; false: on no hill, or not known. */
bool page_prompt_place(const struct shown *shown, const struct td_review_prompt *prompt,
                       double *along_m);
/* Its speed was known as the prompt was issued. */
bool page_prompt_seen(const struct shown *shown, const struct td_review_prompt *prompt);
/* Shape of a category, an inline drawing of 14 pixels. */
void page_shape(struct page *page, enum td_category category);

/* Marks along the axis without touching: tier for narrow and wide plots. Sorts them by x. */
struct page_mark {
    double x; /* percent */
    int narrow, wide;
    size_t index; /* the caller's */
};
enum { PAGE_MARKS_MAX = 2048 };
/* Tiers used in *narrow, *wide. */
void page_lay_marks(struct page_mark *marks, size_t count, double width_px, int *narrow,
                    int *wide);

#endif
