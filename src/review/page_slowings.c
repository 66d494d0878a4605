/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every slowing of a descent with its release point, folded away until somebody asks. */
#include <stdio.h>

#include "review/page_parts.h"
#include "talkdown/units.h"

void page_slowings(struct page *page, const struct shown *shown)
{
    const struct td_review_descent *d = shown->descent;
    char from[PAGE_LINE_MAX], to[PAGE_LINE_MAX], begins[PAGE_LINE_MAX], ends[PAGE_LINE_MAX];
    if (d->snub_count == 0)
        return;
    td_html_format(page->html,
                   "<details class=\"slowings\"><summary>Slowings one by one (%zu)</summary>"
                   "<p class=\"hint\">Brakes, engine brake or a flatter piece of road: GPS cannot "
                   "tell. Where one ends is its release point.</p><table><thead><tr>"
                   "<th scope=\"col\">Begins</th><th scope=\"col\">Speed</th><th scope=\"col\">"
                   "Takes</th><th scope=\"col\">Release point</th><th scope=\"col\">Speed</th>"
                   "</tr></thead><tbody>\n", d->snub_count);
    for (size_t i = 0; i < d->snub_count; i++) {
        const struct td_review_snub *snub = &d->snubs[i];
        page_place(shown, snub->from_m, begins);
        page_place(shown, snub->to_m, ends);
        page_speed(shown, snub->from_mps, from);
        page_speed(shown, snub->to_mps, to);
        td_html_format(page->html,
                       "<tr><td>%s</td><td>%s</td><td>%.0f s</td><td>%s</td><td>%s</td></tr>\n",
                       begins, from, snub->seconds, ends, to);
    }
    td_html_raw(page->html, "</tbody></table></details>\n");
}
