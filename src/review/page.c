/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page as a whole: head, a section a hill, descents in it, sound, style and script. */
#include "review/page.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "review/assets.h"
#include "review/page_parts.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

/* Nothing but what is in the file itself may be shown, played or run. */
static const char head[] =
    "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
    "<meta name=\"color-scheme\" content=\"light dark\">\n"
    "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
    "'unsafe-inline'; script-src 'unsafe-inline'; media-src data:\">\n<title>";

bool page_has_prompt(const struct shown *shown, size_t prompt)
{
    const struct td_review_drive *drive = shown->drive;
    const struct td_review_prompt *p = &drive->prompts[prompt];
    if (p->descent >= 0)
        return p->descent == shown->index;
    /* What belongs to no hill stands with the next one, after the last with the last. */
    if (drive->anonymous)
        return false;
    int64_t at_ns = p->spoken.issued_ns != 0 ? p->spoken.issued_ns : p->spoken.fate_ns;
    int next = (int)drive->descent_count - 1;
    for (int i = next; i >= 0; i--)
        if (at_ns <= drive->descents[i].to_ns)
            next = i;
    return next == shown->index;
}

/* --- glance --- */

static const char *kind_of(const struct td_review_drive *drive)
{
    if (strncmp(drive->program, "talkdown rehearse", 17) == 0)
        return "rehearsal with a simulated truck";
    if (strncmp(drive->program, "talkdown replay", 15) == 0)
        return "replay of a recorded track";
    return "drive";
}

static void put_circumstances(struct page *page, const struct shown *shown)
{
    const struct td_review_drive *drive = shown->drive;
    const struct td_review_descent *d = shown->descent;
    char when[PAGE_LINE_MAX], grade[PAGE_LINE_MAX];
    page_when(drive, d->from_ns, false, when);
    page_seconds(d->grade_s, grade);
    td_html_raw(page->html, "<p class=\"what\">");
    td_html_text(page->html, drive->setup->rig_is_set ? drive->setup->rig.name : "No rig set");
    if (d->load_kg > 0) {
        bool metric = page_metric(shown);
        td_html_raw(page->html, ", load ");
        td_html_text(page->html, d->load_name);
        td_html_format(page->html, ", %.0f %s%s", metric ? d->load_kg : td_lb_from_kg(d->load_kg),
                       metric ? "kg" : "lb", d->load_confirmed ? "" : " (not confirmed)");
    }
    td_html_format(page->html, ". %s%s%s.", when[0] != '\0' ? when : "Without clock time",
                   ", ", kind_of(drive));
    if (!d->went_down)
        td_html_raw(page->html, " <strong>Did not go down: not seen below the crest.</strong>");
    else
        td_html_format(page->html, " %s on the grade%s.", grade,
                       d->reached_foot ? "" : "; not seen at the foot");
    td_html_raw(page->html, "</p>\n");
}

static void put_losses(struct page *page, const struct shown *shown)
{
    const struct td_review_descent *d = shown->descent;
    char time[PAGE_LINE_MAX];
    if (d->lost_s + d->hole_s + d->silent_s <= 0 && d->lost_steps == 0)
        return;
    td_html_raw(page->html, "<p class=\"loss\">Not everything was seen:");
    const struct { double s; const char *what; } all[] = {
        {d->lost_s, "position unknown or uncertain"}, {d->hole_s, "nothing on file"},
        {d->silent_s, "no sound in the cab"}};
    const char *between = " ";
    for (size_t i = 0; i < 3; i++) {
        if (all[i].s <= 0)
            continue;
        page_seconds(all[i].s, time);
        td_html_format(page->html, "%s%s %s", between, all[i].what, time);
        between = "; ";
    }
    if (d->lost_steps > 0)
        td_html_format(page->html, "%slost by the log: %u records", between, d->lost_steps);
    td_html_raw(page->html, ". Nothing is reckoned over these times.</p>\n");
}

void page_glance(struct page *page, const struct shown *shown)
{
    struct figure figures[PAGE_FIGURES];
    page_figures(shown, figures);
    put_circumstances(page, shown);
    td_html_raw(page->html, "<dl class=\"glance\">");
    for (int i = 0; i < PAGE_FIGURES; i++) {
        td_html_format(page->html, "<div%s><dt>%s</dt><dd><b>%s", figures[i].remark
                       ? " class=\"remark\"" : "", figures[i].name,
                       figures[i].remark ? "<span class=\"flag\" aria-label=\"to talk about\" "
                                           "role=\"img\">!</span> " : "");
        td_html_text(page->html, figures[i].large);
        td_html_raw(page->html, "</b> <span>");
        td_html_text(page->html, figures[i].small_print);
        td_html_raw(page->html, "</span></dd></div>");
    }
    td_html_raw(page->html, "</dl>\n");
    put_losses(page, shown);
}

/* --- strip, comparison --- */

void page_strip(struct page *page, const struct shown *shown)
{
    td_html_format(page->html, "<div class=\"strip\" role=\"group\" aria-label=\"%s%sThe hill "
                               "from left to right\">\n", shown->run, shown->run[0] ? ": " : "");
    page_road(page, shown);
    page_places(page, shown);
    page_speeds(page, shown, false);
    page_heat(page, shown, false);
    page_prompt_marks(page, shown);
    page_axis(page, shown);
    page_key(page, true);
    td_html_raw(page->html, "</div>\n");
}

static void compare_row(struct page *page, const struct shown *shown)
{
    struct figure figures[PAGE_FIGURES];
    char when[PAGE_LINE_MAX];
    page_figures(shown, figures);
    page_when(shown->drive, shown->descent->from_ns, false, when);
    td_html_format(page->html, "<tr><th scope=\"row\"><a href=\"#d%u\">%s</a> <small>%s%s%s",
                   shown->number, shown->run, when, when[0] != '\0' ? ", " : "",
                   kind_of(shown->drive));
    if (shown->drive->setup->rig_is_set) {
        td_html_raw(page->html, ", ");
        td_html_text(page->html, shown->drive->setup->rig.name);
        td_html_raw(page->html, ", ");
        td_html_text(page->html, shown->descent->load_name);
    }
    td_html_raw(page->html, "</small></th>");
    for (int i = 0; i < PAGE_FIGURES; i++) {
        td_html_format(page->html, "<td data-name=\"%s\"><b>", figures[i].name);
        if (figures[i].remark)
            td_html_raw(page->html, "<span class=\"flag\" aria-label=\"to talk about\" "
                                    "role=\"img\">!</span> ");
        td_html_text(page->html, figures[i].large);
        td_html_raw(page->html, "</b> <small>");
        td_html_text(page->html, figures[i].small_print);
        td_html_raw(page->html, "</small></td>");
    }
    td_html_raw(page->html, "</tr>\n");
}

void page_compare(struct page *page, const struct shown *shown, size_t count)
{
    struct figure figures[PAGE_FIGURES];
    page_figures(&shown[0], figures);
    td_html_raw(page->html, "<section class=\"side\"><h3>Side by side, aligned by place</h3>\n"
                            "<table class=\"runs\"><thead><tr><th scope=\"col\">Run</th>");
    for (int i = 0; i < PAGE_FIGURES; i++)
        td_html_format(page->html, "<th scope=\"col\">%s</th>", figures[i].name);
    td_html_raw(page->html, "</tr></thead><tbody>\n");
    for (size_t i = 0; i < count; i++)
        compare_row(page, &shown[i]);
    td_html_raw(page->html, "</tbody></table>\n<div class=\"strip\">\n");
    page_road(page, &shown[0]);
    for (size_t i = 0; i < count; i++) {
        td_html_format(page->html, "<div class=\"run\"><h4>%s</h4>", shown[i].run);
        page_speeds(page, &shown[i], true);
        page_heat(page, &shown[i], true);
        td_html_raw(page->html, "</div>\n");
    }
    page_axis(page, &shown[0]);
    page_key(page, false);
    td_html_raw(page->html, "</div></section>\n");
}

/* --- document --- */

static bool same_hill(const struct shown *a, const struct shown *b)
{
    return memcmp(a->hill->hash, b->hill->hash, TD_HASH_BYTES) == 0;
}

static void put_descent(struct page *page, const struct shown *shown)
{
    td_html_format(page->html, "<article id=\"d%u\" class=\"descent\">\n", shown->number);
    if (shown->run[0] != '\0')
        td_html_format(page->html, "<h3>%s</h3>\n", shown->run);
    page_glance(page, shown);
    page_strip(page, shown);
    page_slowings(page, shown);
    page_prompts(page, shown);
    td_html_raw(page->html, "</article>\n");
}

static void put_hill(struct page *page, struct shown *group, size_t count)
{
    const struct td_hill *hill = group[0].hill;
    bool metric = page_metric(&group[0]);
    double length_m = hill->foot_m - hill->crest_m;
    td_html_raw(page->html, "<section class=\"hill\">\n<h2>");
    td_html_text(page->html, hill->name[0] != '\0' ? hill->name : hill->id);
    td_html_format(page->html, "</h2>\n<p class=\"what\">%.1f %s from crest to foot, %.1f%% in "
                               "the mean, %.1f%% where it is steepest.</p>\n",
                   metric ? length_m / 1000.0 : td_mi_from_m(length_m), metric ? "km" : "miles",
                   100.0 * hill->mean_downgrade_ratio, 100.0 * hill->steepest_downgrade_ratio);
    page_scales(page, group, count);
    if (count > 1)
        page_compare(page, group, count);
    for (size_t i = 0; i < count; i++)
        put_descent(page, &group[i]);
    td_html_raw(page->html, "</section>\n");
}

static size_t list_descents(struct page *page, struct shown *all)
{
    size_t count = 0;
    for (size_t i = 0; i < page->drive_count; i++)
        for (size_t k = 0; k < page->drives[i]->descent_count; k++) {
            const struct td_review_descent *d = &page->drives[i]->descents[k];
            all[count] = (struct shown){.drive = page->drives[i], .descent = d,
                                        .hill = page->drives[i]->hills[d->hill].hill,
                                        .marks = page->marks != NULL ? &page->marks[i] : NULL,
                                        .index = (int)k, .number = (unsigned)count};
            count++;
        }
    return count;
}

/* Descents of one hill together, in the order in which the hills were first met. */
static void put_hills(struct page *page, struct shown *all, size_t count)
{
    for (size_t i = 0; i < count;) {
        size_t end = i + 1;
        for (size_t k = i + 1; k < count; k++)
            if (same_hill(&all[i], &all[k])) {
                struct shown moved = all[k];
                memmove(&all[end + 1], &all[end], (k - end) * sizeof all[0]);
                all[end++] = moved;
            }
        for (size_t k = i; k < end && end - i > 1; k++)
            (void)snprintf(all[k].run, sizeof all[k].run, "Run %zu", k - i + 1);
        put_hill(page, &all[i], end - i);
        i = end;
    }
}

static void put_clips(struct page *page)
{
    for (size_t i = 0; page->clips != NULL && i < page->clips->count; i++) {
        td_html_format(page->html, "<audio id=\"c%zu\" preload=\"none\" "
                                   "src=\"data:audio/ogg;base64,", i);
        td_html_base64(page->html, page->clips->items[i].opus, page->clips->items[i].length);
        td_html_raw(page->html, "\"></audio>\n");
    }
}

/* The name of the hill, for a window's list: of the first where there are several. */
static void put_title(struct page *page, const struct shown *all, size_t count)
{
    td_html_raw(page->html, "Review");
    if (count > 0) {
        td_html_raw(page->html, ": ");
        td_html_text(page->html, all[0].hill->name);
    }
}

size_t td_review_page(struct td_review_drive *const *drives, size_t count,
                      const struct td_marks *marks, const struct td_clips *clips,
                      struct td_html *html)
{
    struct page page = {.html = html, .drives = drives, .drive_count = count, .marks = marks,
                        .clips = clips};
    size_t descents = 0;
    for (size_t i = 0; i < count; i++)
        descents += drives[i]->descent_count;
    struct shown *all = calloc(descents + 1, sizeof *all);
    if (all == NULL) {
        html->failed = true;
        return 0;
    }
    descents = list_descents(&page, all);
    td_html_raw(html, head);
    put_title(&page, all, descents);
    td_html_raw(html, "</title>\n<style>\n");
    td_html_raw(html, td_page_css);
    td_html_raw(html, "</style>\n</head>\n<body>\n<header><h1>Review of ");
    td_html_raw(html, count == 1 ? "a drive" : "drives side by side");
    td_html_raw(html, "</h1>\n<p class=\"law\">The coach advises. Posted signs, the law, the "
                      "road and the driver's judgement come first. Gear and use of the brakes are "
                      "not known from GPS and not told here. Times are UTC.</p></header>\n"
                      "<main>\n");
    if (descents == 0)
        td_html_format(html, "<p class=\"what\"><strong>No descent.</strong> %s of a hill on "
                             "file that needs coaching.</p>\n",
                       count == 1 ? "This drive has none" : "These drives have none");
    put_hills(&page, all, descents);
    td_html_raw(html, "</main>\n<footer><p>What each figure means and how it is reckoned: "
                      "docs/review.md of talkdown.</p></footer>\n"
                      "<p id=\"live\" aria-live=\"polite\"></p>\n");
    put_clips(&page);
    td_html_raw(html, "<script>\n");
    td_html_raw(html, td_page_js);
    td_html_raw(html, "</script>\n</body>\n</html>\n");
    free(all);
    return descents;
}
