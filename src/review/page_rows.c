/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of the strip that are lines: road, speeds, heat, axis. Lines are drawings stretched to the
 * plot, with strokes that keep their width; figures beside them are text. Lines are told apart by
 * how they are drawn, never by colour alone. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "review/page_parts.h"
#include "talkdown/units.h"

/* Drawings are 1000 by 100 units, stretched. */
#define DRAWING "<svg viewBox=\"0 0 1000 100\" preserveAspectRatio=\"none\" aria-hidden=\"true\">"

double page_x(const struct td_hill *hill, double along_m)
{
    double share = hill->length_m > 0 ? along_m / hill->length_m : 0.0;
    return 100.0 * fmin(fmax(share, 0.0), 1.0);
}

void page_row_begin(struct page *page, const char *name, const char *unit, const char *kind)
{
    td_html_format(page->html, "<div class=\"row %s\"><div class=\"name\">%s", kind, name);
    if (unit[0] != '\0')
        td_html_format(page->html, " <small>%s</small>", unit);
    td_html_raw(page->html, "</div><div class=\"plot\">");
}

void page_row_end(struct page *page)
{
    td_html_raw(page->html, "</div></div>\n");
}

/* --- road --- */

static void draw_elevation(struct page *page, const struct td_hill *hill)
{
    double low_m = hill->stations[0].elevation_m, high_m = low_m;
    for (size_t i = 0; i < hill->station_count; i++) {
        low_m = fmin(low_m, hill->stations[i].elevation_m);
        high_m = fmax(high_m, hill->stations[i].elevation_m);
    }
    double span_m = fmax(high_m - low_m, 1.0);
    td_html_raw(page->html, DRAWING "<path class=\"land\" d=\"M0 100");
    for (int i = 0; i <= 250; i++) {
        double along_m = hill->length_m * i / 250.0;
        double y = 90.0 - 62.0 * (td_hill_elevation_at(hill, along_m) - low_m) / span_m;
        td_html_format(page->html, "L%d %.1f", 4 * i, y);
    }
    td_html_raw(page->html, "L1000 100Z\"/></svg>");
}

static void draw_bound(struct page *page, const struct td_hill *hill, double at_m,
                       const char *name)
{
    double x = page_x(hill, at_m);
    td_html_format(page->html,
                   "<i class=\"bound\" style=\"left:%.2f%%\"></i>"
                   "<span class=\"boundname%s\" style=\"left:%.2f%%\">%s</span>",
                   x, x > 80.0 ? " left" : "", x, name);
}

/* Grade in figures where a run is long enough for them on a phone. */
static void draw_grades(struct page *page, const struct td_hill *hill)
{
    for (size_t i = 0; i < hill->run_count; i++) {
        const struct td_run *run = &hill->runs[i];
        double x = page_x(hill, run->from_m), width = page_x(hill, run->to_m) - x;
        if (width < 100.0 * 26.0 / PAGE_NARROW_PX || fabs(run->downgrade_ratio) < 0.005)
            continue;
        td_html_format(page->html,
                       "<span class=\"grade\" style=\"left:%.2f%%;width:%.2f%%\">%.0f%%%s</span>",
                       x, width, fabs(100.0 * run->downgrade_ratio),
                       run->downgrade_ratio > 0 ? "" : " up");
    }
}

void page_road(struct page *page, const struct shown *shown)
{
    page_row_begin(page, "Road", "grade", "road");
    draw_elevation(page, shown->hill);
    draw_grades(page, shown->hill);
    draw_bound(page, shown->hill, shown->hill->crest_m, "crest");
    draw_bound(page, shown->hill, shown->hill->foot_m, "foot");
    page_row_end(page);
}

/* --- lines over samples --- */

static bool is_on(const struct shown *shown, size_t i)
{
    const struct td_review_sample *sample = &shown->drive->samples[i];
    return sample->hill == shown->descent->hill && sample->seen;
}

typedef double value_of(const struct td_review_sample *sample);

static double value_speed(const struct td_review_sample *sample) { return sample->speed_mps; }
static double value_target(const struct td_review_sample *sample) { return sample->target_mps; }
static double value_least(const struct td_review_sample *sample) { return sample->least_c; }
static double value_likely(const struct td_review_sample *sample) { return sample->likely_c; }
static double value_most(const struct td_review_sample *sample) { return sample->most_c; }

static double height(double value, double top)
{
    return 100.0 - 100.0 * fmin(fmax(value / top, 0.0), 1.0);
}

/* Points that lie on the last one as drawn are left out: a mile of standing is one. A value of 0 or
 * below breaks the line where `gaps`. */
static void draw_line(struct page *page, const struct shown *shown, value_of *value, double top,
                      bool steps, bool gaps, const char *kind)
{
    bool down = false;
    double x_then = 0.0, y_then = 0.0;
    td_html_format(page->html, "<path class=\"%s\" d=\"M0 0", kind);
    for (size_t i = shown->descent->first; i <= shown->descent->last; i++) {
        const struct td_review_sample *sample = &shown->drive->samples[i];
        if (!is_on(shown, i) || (gaps && value(sample) <= 0.0)) {
            down = false;
            continue;
        }
        double x = 10.0 * page_x(shown->hill, sample->along_m), y = height(value(sample), top);
        bool begins = !down || (sample->after_hole && i > shown->descent->first);
        if (!begins && fabs(x - x_then) < 1.2 && fabs(y - y_then) < 0.8 &&
            i < shown->descent->last)
            continue;
        if (!begins && steps && fabs(y - y_then) > 0.01)
            td_html_format(page->html, "L%.1f %.1f", x, y_then);
        td_html_format(page->html, "%c%.1f %.1f", begins ? 'M' : 'L', x, y);
        down = true;
        x_then = x;
        y_then = y;
    }
    td_html_raw(page->html, "\"/>");
}

/* The truck speed posted for this weight, from sign to sign. */
static void draw_posted(struct page *page, const struct shown *shown, double top)
{
    const struct td_hill *hill = shown->hill;
    double y_now = -1.0;
    td_html_raw(page->html, "<path class=\"posted\" d=\"M0 0");
    for (size_t i = 0; i < hill->place_count; i++) {
        const struct td_place *place = &hill->places[i];
        bool holds = place->kind == TD_PLACE_TRUCK_SPEED && (place->has & TD_PLACE_SPEED) &&
                     (!(place->has & TD_PLACE_OVER_MASS) ||
                      shown->descent->load_kg > place->over_kg);
        if (!holds)
            continue;
        double x = 10.0 * page_x(hill, place->at_m), y = height(place->speed_mps, top);
        if (y_now >= 0.0)
            td_html_format(page->html, "L%.1f %.1f", x, y_now);
        td_html_format(page->html, "%c%.1f %.1f", y_now < 0.0 ? 'M' : 'L', x, y);
        y_now = y;
    }
    if (y_now >= 0.0)
        td_html_format(page->html, "L1000 %.1f", y_now);
    td_html_raw(page->html, "\"/>");
}

static void draw_releases(struct page *page, const struct shown *shown, double top)
{
    td_html_raw(page->html, "<path class=\"release\" d=\"M0 0");
    for (size_t i = 0; i < shown->descent->snub_count; i++)
        td_html_format(page->html, "M%.1f %.1fh0",
                       10.0 * page_x(shown->hill, shown->descent->snubs[i].to_m),
                       height(shown->descent->snubs[i].to_mps, top));
    td_html_raw(page->html, "\"/>");
}

/* Scale lines with their figures, at most four. */
static void draw_scale(struct page *page, double top, double step)
{
    while (top / step > 4.01)
        step *= 2.0;
    for (double value = step; value < top * 0.97; value += step)
        td_html_format(page->html,
                       "<i class=\"level\" style=\"top:%.2f%%\"></i>"
                       "<span class=\"y\" style=\"top:%.2f%%\">%.0f</span>",
                       height(value, top), height(value, top), value);
}

void page_gaps(struct page *page, const struct shown *shown)
{
    const struct td_review_descent *descent = shown->descent;
    double seen_m = descent->from_m;
    bool hidden = false;
    for (size_t i = descent->first; i <= descent->last; i++) {
        const struct td_review_sample *sample = &shown->drive->samples[i];
        if (!is_on(shown, i)) {
            hidden = true;
            continue;
        }
        double from = page_x(shown->hill, seen_m), to = page_x(shown->hill, sample->along_m);
        if ((hidden || (sample->after_hole && i > descent->first)) && to > from)
            td_html_format(page->html,
                           "<i class=\"gap\" style=\"left:%.2f%%;width:%.2f%%\" role=\"img\""
                           " aria-label=\"not seen\"></i>", from, fmax(to - from, 0.4));
        hidden = false;
        seen_m = sample->along_m;
    }
}

static const char *speed_unit(const struct shown *shown)
{
    return page_metric(shown) ? "km/h" : "mph";
}

void page_speeds(struct page *page, const struct shown *shown, bool slim)
{
    double unit = page_metric(shown) ? TD_MPS_PER_KMH : TD_MPS_PER_MPH;
    double top = page->speed_top_mps;
    page_row_begin(page, "Speed", speed_unit(shown), slim ? "speed slim" : "speed");
    page_gaps(page, shown);
    draw_scale(page, top / unit, 10.0);
    td_html_raw(page->html, DRAWING);
    draw_posted(page, shown, top);
    draw_line(page, shown, value_target, top, true, true, "target");
    draw_line(page, shown, value_speed, top, false, false, "ran");
    if (!slim)
        draw_releases(page, shown, top);
    td_html_raw(page->html, "</svg>");
    page_row_end(page);
}

static double temp(const struct shown *shown, double c)
{
    return page_metric(shown) ? c : td_f_from_c(c);
}

enum { BAND_POINTS = 300 };

/* One edge of the band over samples i to before end, in order or back. */
static void draw_edge(struct page *page, const struct shown *shown, size_t i, size_t end,
                      value_of *value, double top_c, bool back)
{
    size_t last = end - i - 1, stride = 1 + last / BAND_POINTS;
    size_t steps = (last + stride - 1) / stride;
    for (size_t step = 0; step <= steps; step++) {
        size_t at = (back ? steps - step : step) * stride;
        const struct td_review_sample *sample =
            &shown->drive->samples[i + (at < last ? at : last)];
        td_html_format(page->html, "%c%.1f %.1f", step == 0 && !back ? 'M' : 'L',
                       10.0 * page_x(shown->hill, sample->along_m),
                       height(value(sample), top_c));
    }
}

/* Least there and most back: one area for each piece without a gap. */
static void draw_band(struct page *page, const struct shown *shown, double top_c)
{
    const struct td_review_descent *d = shown->descent;
    td_html_raw(page->html, "<path class=\"band\" d=\"M0 0");
    for (size_t i = d->first; i <= d->last;) {
        size_t end = i;
        while (end <= d->last && is_on(shown, end) &&
               (end == i || !shown->drive->samples[end].after_hole))
            end++;
        if (end > i) {
            draw_edge(page, shown, i, end, value_least, top_c, false);
            draw_edge(page, shown, i, end, value_most, top_c, true);
            td_html_raw(page->html, "Z");
        }
        i = end > i ? end : i + 1;
    }
    td_html_raw(page->html, "\"/>");
}

void page_heat(struct page *page, const struct shown *shown, bool slim)
{
    double top_c = page->heat_top_c, limit_c = shown->descent->limit_c;
    page_row_begin(page, "Brake heat", page_metric(shown) ? "\xC2\xB0""C, estimate"
                                                          : "\xC2\xB0""F, estimate",
                   slim ? "heat slim" : "heat");
    if (!shown->drive->setup->rig_is_set) {
        td_html_raw(page->html, "<span class=\"none\">no rig was set</span>");
        page_row_end(page);
        return;
    }
    page_gaps(page, shown);
    td_html_raw(page->html, DRAWING);
    draw_band(page, shown, top_c);
    draw_line(page, shown, value_likely, top_c, false, false, "likely");
    td_html_format(page->html, "<path class=\"limit\" d=\"M0 %.1fH1000\"/></svg>",
                   height(limit_c, top_c));
    double half = floor(temp(shown, 0.5 * limit_c) / 50.0) * 50.0;
    double half_c = page_metric(shown) ? half : td_c_from_f(half);
    td_html_format(page->html,
                   "<span class=\"y\" style=\"top:%.2f%%\">%.0f limit</span>"
                   "<span class=\"y half\" style=\"top:%.2f%%\">%.0f</span>",
                   height(limit_c, top_c), temp(shown, limit_c), height(half_c, top_c), half);
    page_row_end(page);
}

void page_axis(struct page *page, const struct shown *shown)
{
    const struct td_hill *hill = shown->hill;
    bool metric = page_metric(shown);
    double unit_m = metric ? 1000.0 : TD_M_PER_MI, step = 1.0;
    while (hill->length_m / (unit_m * step) > 8.0)
        step *= 2.0;
    page_row_begin(page, "From the crest", metric ? "km" : "mi", "axis");
    double first = ceil(-hill->crest_m / (unit_m * step)) * step;
    for (double mark = first; hill->crest_m + mark * unit_m <= hill->length_m; mark += step)
        td_html_format(page->html, "<span class=\"tick\" style=\"left:%.2f%%\">%.0f</span>",
                       page_x(hill, hill->crest_m + mark * unit_m), mark + 0.0);
    page_row_end(page);
}

/* The same scales for all descents of a hill, so that heights can be compared. */
void page_scales(struct page *page, const struct shown *shown, size_t count)
{
    double unit = page_metric(&shown[0]) ? TD_MPS_PER_KMH : TD_MPS_PER_MPH;
    double speed = 20.0 * unit, heat_c = 100.0;
    for (size_t s = 0; s < count; s++) {
        const struct td_review_descent *d = shown[s].descent;
        for (size_t i = d->first; i <= d->last; i++) {
            const struct td_review_sample *sample = &shown[s].drive->samples[i];
            if (!is_on(&shown[s], i))
                continue;
            speed = fmax(speed, fmax(sample->speed_mps, sample->target_mps));
            heat_c = fmax(heat_c, sample->most_c);
        }
        heat_c = fmax(heat_c, d->limit_c);
    }
    for (size_t i = 0; i < shown[0].hill->place_count; i++)
        if (shown[0].hill->places[i].kind == TD_PLACE_TRUCK_SPEED)
            speed = fmax(speed, shown[0].hill->places[i].speed_mps);
    page->speed_top_mps = (floor(speed / unit / 10.0) + 1.0) * 10.0 * unit;
    page->heat_top_c = 1.15 * heat_c;
}

/* How lines are drawn; with `marks` what a hollow shape and a dot mean too. */
void page_key(struct page *page, bool marks)
{
    td_html_raw(page->html,
        "<p class=\"key\">"
        "<span><svg viewBox=\"0 0 30 10\"><path class=\"ran\" d=\"M0 5H30\"/></svg> speed</span> "
        "<span><svg viewBox=\"0 0 30 10\"><path class=\"target\" d=\"M0 5H30\"/></svg> target"
        "</span> "
        "<span><svg viewBox=\"0 0 30 10\"><path class=\"posted\" d=\"M0 5H30\"/></svg> posted for "
        "this weight</span> "
        "<span><svg viewBox=\"0 0 30 10\"><path class=\"band\" d=\"M0 1H30V9H0Z\"/><path "
        "class=\"likely\" d=\"M0 5H30\"/></svg> heat: least to most, and likely</span> "
        "<span><i class=\"gapkey\"></i> not seen: no position, or a gap in the log</span>");
    if (marks)
        td_html_raw(page->html,
            "<span><svg viewBox=\"0 0 30 10\"><path class=\"release\" d=\"M15 5h0\"/></svg> "
            "release point of a slowing</span> "
            "<span class=\"unsaid\"><svg class=\"shape notice\" viewBox=\"0 0 16 16\">"
            "<circle cx=\"8\" cy=\"8\" r=\"5\"/></svg> hollow: not said</span>");
    td_html_raw(page->html, "</p>\n");
}
