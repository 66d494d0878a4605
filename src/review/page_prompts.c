/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every prompt of a descent as a row: time, place, words, what happened next, and its sound. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "review/page_parts.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

static int64_t moment_of(const struct td_review_prompt *prompt)
{
    return prompt->spoken.issued_ns != 0 ? prompt->spoken.issued_ns : prompt->spoken.fate_ns;
}

/* Minutes and seconds since the truck came to the hill; before it with a minus. The clock of the
 * world under it. */
static void put_time(struct page *page, const struct shown *shown,
                     const struct td_review_prompt *prompt)
{
    char when[PAGE_LINE_MAX];
    long s = lround(td_s_from_ns(moment_of(prompt) - shown->descent->from_ns));
    long whole = labs(s);
    td_html_format(page->html, "<td class=\"time\">%s%ld:%02ld", s < 0 ? "-" : "", whole / 60,
                   whole % 60);
    page_when(shown->drive, moment_of(prompt), true, when);
    if (when[0] != '\0') /* "2030-01-01 12:00:00 UTC" */
        td_html_format(page->html, " <small>%.8s</small>", when + 11);
    td_html_raw(page->html, "</td>");
}

static void put_place(struct page *page, const struct shown *shown,
                      const struct td_review_prompt *prompt)
{
    char line[PAGE_LINE_MAX] = "off the hill";
    double along_m;
    if (page_prompt_place(shown, prompt, &along_m))
        page_place(shown, along_m, line);
    td_html_format(page->html, "<td class=\"where\">%s</td>", line);
}

static void put_play(struct page *page, const struct td_review_prompt *prompt)
{
    int clip = td_clips_find(page->clips, prompt);
    td_html_raw(page->html, "<td class=\"sound\">");
    if (clip >= 0) {
        td_html_format(page->html, "<button type=\"button\" class=\"play\" tabindex=\"-1\" "
                                   "data-clip=\"c%d\" aria-label=\"Play: ", clip);
        td_html_text(page->html, prompt->spoken.words);
        td_html_raw(page->html, "\"><svg viewBox=\"0 0 16 16\" aria-hidden=\"true\"><path "
                                "class=\"go\" d=\"M3 1.5L14 8L3 14.5Z\"/><path class=\"halt\" "
                                "d=\"M3 3H13V13H3Z\"/></svg></button>");
    }
    td_html_raw(page->html, "</td>");
}

/* What the trainer thought of it; the note is left out where nobody is to be known by it. */
static void put_mark(struct page *page, const struct shown *shown,
                     const struct td_review_prompt *prompt)
{
    const struct td_mark *mark =
        shown->marks != NULL ? td_marks_find(shown->marks, prompt->spoken.prompt.serial) : NULL;
    if (mark == NULL)
        return;
    td_html_format(page->html, " <span class=\"marked\">marked %s", td_mark_name(mark->kind));
    if (mark->note[0] != '\0' && !shown->drive->anonymous) {
        td_html_raw(page->html, ": ");
        td_html_text(page->html, mark->note);
    }
    td_html_raw(page->html, "</span>");
}

static void put_row(struct page *page, const struct shown *shown, size_t index, bool first)
{
    const struct td_review_prompt *prompt = &shown->drive->prompts[index];
    enum td_category category = prompt->spoken.prompt.category;
    char next[PAGE_LINE_MAX], speed[PAGE_LINE_MAX];
    td_html_format(page->html, "<tr id=\"r%u-%zu\" data-mark=\"m%u-%zu\" tabindex=\"%d\" "
                               "aria-selected=\"false\"%s><td class=\"cat\">",
                   shown->number, index, shown->number, index, first ? 0 : -1,
                   prompt->said ? "" : " class=\"unsaid\"");
    page_shape(page, category);
    td_html_format(page->html, "<span>%s</span></td>", td_category_name(category));
    put_time(page, shown, prompt);
    put_place(page, shown, prompt);
    (void)td_text_copy(speed, sizeof speed, "-");
    if (page_prompt_seen(shown, prompt))
        page_speed(shown, prompt->spoken.speed_mps, speed);
    td_html_format(page->html, "<td class=\"then\">%s</td><td class=\"words\">", speed);
    td_html_text(page->html, prompt->spoken.words[0] != '\0'
                                 ? prompt->spoken.words
                                 : td_prompt_key(prompt->spoken.prompt.id));
    td_html_format(page->html, " <small>no. %u</small>", (unsigned)prompt->spoken.prompt.serial);
    put_mark(page, shown, prompt);
    page_next(shown, prompt, next);
    td_html_format(page->html, "</td><td class=\"next\">%s</td><td class=\"fate %s\">%s</td>", next,
                   prompt->spoken.fate == TD_EVENT_SPOKEN ? "spoken" : "", page_fate(prompt));
    put_play(page, prompt);
    td_html_raw(page->html, "</tr>\n");
}

void page_prompts(struct page *page, const struct shown *shown)
{
    bool first = true;
    td_html_format(page->html, "<div class=\"said\"><h3 id=\"h%u\">What was said, and what "
                               "happened next</h3>\n", shown->number);
    td_html_format(page->html,
                   "<p class=\"hint\">%s Next: when slowing began, counted from the end of the "
                   "words, and the speed then, at its least, and after %.0f s. Not seen: no "
                   "position, a gap in the log, or its end. That one thing followed another does "
                   "not say that the driver heard.</p>\n",
                   page->clips != NULL ? "Arrow keys move, Enter plays."
                                       : "This page has no sound: none could be made or none was "
                                         "asked for.", TD_REVIEW_FOLLOW_S);
    td_html_format(page->html,
                   "<table class=\"list\" role=\"grid\" id=\"t%u\" aria-labelledby=\"h%u\"><thead>"
                   "<tr><th scope=\"col\">Kind</th><th scope=\"col\">Time <small>%s</small></th>"
                   "<th scope=\"col\">Place</th><th scope=\"col\">Speed</th><th scope=\"col\">"
                   "Words</th><th scope=\"col\">Next</th><th scope=\"col\">Fate</th>"
                   "<th scope=\"col\">%s</th></tr></thead><tbody>\n",
                   shown->number, shown->number, shown->drive->anonymous ? "" : "UTC",
                   page->clips != NULL ? "Play" : "");
    for (size_t i = 0; i < shown->drive->prompt_count; i++) {
        if (!page_has_prompt(shown, i))
            continue;
        put_row(page, shown, i, first);
        first = false;
    }
    td_html_raw(page->html, "</tbody></table>\n");
    if (first)
        td_html_raw(page->html, "<p class=\"hint\">Nothing was said on this hill.</p>\n");
    td_html_raw(page->html, "</div>\n");
}
