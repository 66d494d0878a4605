/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of the strip that are marks: what stands beside the road, where the truck stood, and the
 * prompts, each a button. No two touch: one that would goes a tier down, counted for a phone and
 * for a desk apart. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "review/page_parts.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

enum { TIERS_MAX = 256 };

static int by_x(const void *a, const void *b)
{
    const struct page_mark *one = a, *two = b;
    if (one->x < two->x || one->x > two->x)
        return one->x < two->x ? -1 : 1;
    return (one->index > two->index) - (one->index < two->index);
}

static int tier_of(double ends[TIERS_MAX], int *used, double x, double width)
{
    int tier = 0;
    while (tier < *used && tier < TIERS_MAX - 1 && x - width / 2.0 < ends[tier])
        tier++;
    if (tier == *used)
        (*used)++;
    ends[tier] = x + width / 2.0;
    return tier;
}

void page_lay_marks(struct page_mark *marks, size_t count, double width_px, int *narrow, int *wide)
{
    static const struct page_mark none;
    double narrow_ends[TIERS_MAX], wide_ends[TIERS_MAX];
    *narrow = *wide = 0;
    qsort(marks, count, sizeof none, by_x);
    for (size_t i = 0; i < count; i++) {
        marks[i].narrow = tier_of(narrow_ends, narrow, marks[i].x, 100.0 * width_px /
                                                                       PAGE_NARROW_PX);
        marks[i].wide = tier_of(wide_ends, wide, marks[i].x, 100.0 * width_px / PAGE_WIDE_PX);
    }
}

static void lane_begin(struct page *page, int narrow, int wide)
{
    td_html_format(page->html, "<div class=\"lane\" style=\"--n:%d;--w:%d\">", narrow, wide);
}

static void put_at(struct page *page, const struct page_mark *mark)
{
    td_html_format(page->html, "style=\"left:%.2f%%;--n:%d;--w:%d\"", mark->x, mark->narrow,
                   mark->wide);
}

/* --- places and stands --- */

/* What stands on the mark: a figure for a speed, else a letter that the key explains. */
static void sign_text(const struct shown *shown, const struct td_place *place, char text[16])
{
    static const char letters[TD_PLACE_KINDS] = {
        [TD_PLACE_BRAKE_CHECK] = 'B', [TD_PLACE_TRUCK_SPEED] = 'V', [TD_PLACE_CURVE_SPEED] = 'C',
        [TD_PLACE_ESCAPE_LANE] = 'E', [TD_PLACE_GRADE_SIGN] = 'G', [TD_PLACE_CHAIN_AREA] = 'H',
        [TD_PLACE_TURN_OUT] = 'T', [TD_PLACE_STOP] = 'S', [TD_PLACE_SIGNAL] = 'L',
        [TD_PLACE_RAIL_CROSSING] = 'X', [TD_PLACE_WORK_ZONE] = 'W',
        [TD_PLACE_ENGINE_BRAKE_BAN] = 'N', [TD_PLACE_NOTE] = 'i'};
    bool speed = (place->kind == TD_PLACE_TRUCK_SPEED || place->kind == TD_PLACE_CURVE_SPEED) &&
                 (place->has & TD_PLACE_SPEED);
    double unit = page_metric(shown) ? TD_MPS_PER_KMH : TD_MPS_PER_MPH;
    if (speed)
        (void)snprintf(text, 16, "%.0f", place->speed_mps / unit);
    else
        (void)snprintf(text, 16, "%c",
                       (unsigned)place->kind < TD_PLACE_KINDS ? letters[place->kind] : '?');
}

static const char *sign_class(const struct td_place *place)
{
    switch (place->kind) {
    case TD_PLACE_TRUCK_SPEED: return "sign";
    case TD_PLACE_CURVE_SPEED: return "sign curve";
    case TD_PLACE_ESCAPE_LANE: return place->has & TD_PLACE_CLOSED ? "lanesign closed"
                                                                   : "lanesign";
    default: return "post";
    }
}

static void tell_place(struct page *page, const struct shown *shown, const struct td_place *place)
{
    static const char *const sides[] = {"", ", left", ", right"};
    char line[PAGE_LINE_MAX];
    td_html_raw(page->html, page_place_name(place));
    if (place->has & TD_PLACE_SPEED) {
        page_speed(shown, place->speed_mps, line);
        td_html_format(page->html, " %s", line);
    }
    if (place->has & TD_PLACE_OVER_MASS)
        td_html_format(page->html, page_metric(shown) ? " over %.0f kg" : " over %.0f lb",
                       page_metric(shown) ? place->over_kg : td_lb_from_kg(place->over_kg));
    if ((unsigned)place->side <= TD_SIDE_RIGHT)
        td_html_raw(page->html, sides[place->side]);
    if (place->has & TD_PLACE_CLOSED)
        td_html_raw(page->html, ", closed");
    page_place(shown, place->at_m, line);
    td_html_format(page->html, ", %s", line);
}

static void put_place(struct page *page, const struct shown *shown, const struct page_mark *mark)
{
    const struct td_place *place = &shown->hill->places[mark->index];
    char text[16];
    sign_text(shown, place, text);
    td_html_format(page->html, "<span class=\"mark %s\" ", sign_class(place));
    put_at(page, mark);
    td_html_raw(page->html, " role=\"img\" title=\"");
    tell_place(page, shown, place);
    td_html_raw(page->html, "\" aria-label=\"");
    tell_place(page, shown, place);
    td_html_format(page->html, "\">%s</span>", text);
}

static void put_stand(struct page *page, const struct shown *shown, const struct page_mark *mark)
{
    const struct td_review_stand *stand =
        &shown->descent->stands[mark->index - TD_HILL_PLACES_MAX];
    char seconds[PAGE_LINE_MAX], place[PAGE_LINE_MAX];
    page_seconds(stand->seconds, seconds);
    page_place(shown, stand->at_m, place);
    td_html_raw(page->html, "<span class=\"mark stood\" ");
    put_at(page, mark);
    td_html_format(page->html, " role=\"img\" title=\"stood %s at %s\" aria-label=\"stood %s at "
                               "%s\"></span>", seconds, place, seconds, place);
}

/* The letters used, in words: what a mark means must not need a pointer. */
static void put_letters(struct page *page, const struct shown *shown)
{
    const struct td_hill *hill = shown->hill;
    bool told[TD_PLACE_KINDS] = {false};
    td_html_raw(page->html, "<p class=\"key\">");
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        if ((unsigned)place->kind >= TD_PLACE_KINDS || told[place->kind])
            continue;
        told[place->kind] = true;
        char text[16];
        sign_text(shown, place, text);
        td_html_format(page->html, "<span><b class=\"mark still %s\">%s</b> %s</span> ",
                       sign_class(place), text, page_place_name(place));
    }
    if (shown->descent->stand_count > 0)
        td_html_raw(page->html, "<span><b class=\"mark still stood\"></b> stood</span>");
    td_html_raw(page->html, "</p>\n");
}

void page_places(struct page *page, const struct shown *shown)
{
    static struct page_mark marks[PAGE_MARKS_MAX];
    size_t count = 0;
    int narrow, wide;
    for (size_t i = 0; i < shown->hill->place_count && i < TD_HILL_PLACES_MAX; i++)
        marks[count++] = (struct page_mark){.x = page_x(shown->hill, shown->hill->places[i].at_m),
                                            .index = i};
    for (size_t i = 0; i < shown->descent->stand_count && count < PAGE_MARKS_MAX; i++)
        marks[count++] =
            (struct page_mark){.x = page_x(shown->hill, shown->descent->stands[i].at_m),
                               .index = TD_HILL_PLACES_MAX + i};
    page_lay_marks(marks, count, 24.0, &narrow, &wide);
    page_row_begin(page, "Beside the road", "", "marks");
    lane_begin(page, narrow, wide);
    for (size_t i = 0; i < count; i++) {
        if (marks[i].index < TD_HILL_PLACES_MAX)
            put_place(page, shown, &marks[i]);
        else
            put_stand(page, shown, &marks[i]);
    }
    td_html_raw(page->html, "</div>");
    page_row_end(page);
    put_letters(page, shown);
}

/* --- prompts --- */

/* The sample by which a prompt is placed; NULL: none near enough in time. */
static const struct td_review_sample *sample_of(const struct shown *shown,
                                                const struct td_review_prompt *prompt)
{
    const struct td_review_drive *drive = shown->drive;
    int64_t at_ns = prompt->spoken.issued_ns != 0 ? prompt->spoken.issued_ns
                                                  : prompt->spoken.fate_ns;
    size_t i = td_review_sample_before(drive, at_ns);
    if (i == drive->sample_count ||
        td_s_from_ns(at_ns - drive->samples[i].at_ns) > TD_REVIEW_HOLE_S)
        return NULL;
    return &drive->samples[i];
}

bool page_prompt_place(const struct shown *shown, const struct td_review_prompt *prompt,
                       double *along_m)
{
    const struct td_review_sample *sample = sample_of(shown, prompt);
    if (sample == NULL || sample->hill != shown->descent->hill)
        return false;
    *along_m = sample->along_m;
    return true;
}

bool page_prompt_seen(const struct shown *shown, const struct td_review_prompt *prompt)
{
    const struct td_review_sample *sample = sample_of(shown, prompt);
    return sample != NULL && sample->seen;
}

void page_shape(struct page *page, enum td_category category)
{
    /* Eight corners, three, four on a point, four, none: told apart without colour. */
    static const char *const shapes[TD_CATEGORIES] = {
        [TD_NOTICE] = "<circle cx=\"8\" cy=\"8\" r=\"5\"/>",
        [TD_ADVICE] = "<path d=\"M2.5 2.5H13.5V13.5H2.5Z\"/>",
        [TD_CAUTION] = "<path d=\"M8 .5L15.5 8L8 15.5L.5 8Z\"/>",
        [TD_WARNING] = "<path d=\"M8 1L15.5 14.5H.5Z\"/>",
        [TD_DANGER] = ("<path d=\"M5 .5H11L15.5 5V11L11 15.5H5L.5 11V5Z\"/>"
                       "<path class=\"bar\" d=\"M8 3.5V9M8 11V12.5\"/>"),
    };
    if ((unsigned)category < TD_CATEGORIES)
        td_html_format(page->html, "<svg class=\"shape %s\" viewBox=\"0 0 16 16\""
                                   " aria-hidden=\"true\">%s</svg>",
                       td_category_name(category), shapes[category]);
}

static void put_prompt(struct page *page, const struct shown *shown, const struct page_mark *mark)
{
    const struct td_review_prompt *prompt = &shown->drive->prompts[mark->index];
    enum td_category category = prompt->spoken.prompt.category;
    td_html_format(page->html, "<button type=\"button\" class=\"mark prompt%s\" tabindex=\"-1\" "
                               "id=\"m%u-%zu\" data-row=\"r%u-%zu\" ",
                   prompt->said ? "" : " unsaid", shown->number, mark->index, shown->number,
                   mark->index);
    put_at(page, mark);
    td_html_format(page->html, " aria-pressed=\"false\" aria-label=\"%s: ",
                   td_category_name(category));
    td_html_text(page->html, prompt->spoken.words[0] != '\0'
                                 ? prompt->spoken.words
                                 : td_prompt_key(prompt->spoken.prompt.id));
    td_html_raw(page->html, "\">");
    page_shape(page, category);
    td_html_raw(page->html, "</button>");
}

static void put_category(struct page *page, const struct shown *shown, enum td_category category)
{
    static struct page_mark marks[PAGE_MARKS_MAX];
    size_t count = 0;
    int narrow, wide;
    for (size_t i = 0; i < shown->drive->prompt_count && count < PAGE_MARKS_MAX; i++) {
        const struct td_review_prompt *prompt = &shown->drive->prompts[i];
        double along_m;
        if (prompt->spoken.prompt.category == category && page_has_prompt(shown, i) &&
            page_prompt_place(shown, prompt, &along_m))
            marks[count++] = (struct page_mark){.x = page_x(shown->hill, along_m), .index = i};
    }
    if (count == 0)
        return;
    char name[16];
    (void)td_text_copy(name, sizeof name, td_category_name(category));
    name[0] = (char)(name[0] - 'a' + 'A');
    page_lay_marks(marks, count, 20.0, &narrow, &wide);
    page_row_begin(page, name, "", "marks");
    lane_begin(page, narrow, wide);
    for (size_t i = 0; i < count; i++)
        put_prompt(page, shown, &marks[i]);
    td_html_raw(page->html, "</div>");
    page_row_end(page);
}

void page_prompt_marks(struct page *page, const struct shown *shown)
{
    td_html_format(page->html, "<div class=\"prompts\" role=\"group\" aria-label=\"Prompts along "
                               "the hill; arrow keys move, Enter plays\" data-table=\"t%u\">",
                   shown->number);
    for (int category = TD_CATEGORIES - 1; category >= 0; category--)
        put_category(page, shown, (enum td_category)category);
    td_html_raw(page->html, "</div>");
}
