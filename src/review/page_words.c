/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Figures of a descent in words: what a trainer reads first. Nothing is said that is not known. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/utc.h"
#include "review/page_parts.h"
#include "talkdown/text.h"
#include "talkdown/units.h"

bool page_metric(const struct shown *shown)
{
    return shown->drive->setup->metric;
}

static double speed_of(const struct shown *shown, double mps)
{
    return page_metric(shown) ? td_kmh_from_mps(mps) : td_mph_from_mps(mps);
}

static const char *speed_unit(const struct shown *shown)
{
    return page_metric(shown) ? "km/h" : "mph";
}

void page_speed(const struct shown *shown, double mps, char line[PAGE_LINE_MAX])
{
    (void)snprintf(line, PAGE_LINE_MAX, "%.0f %s", speed_of(shown, mps), speed_unit(shown));
}

void page_place(const struct shown *shown, double along_m, char line[PAGE_LINE_MAX])
{
    double from_crest_m = along_m - shown->hill->crest_m;
    bool metric = page_metric(shown);
    (void)snprintf(line, PAGE_LINE_MAX, "%.1f %s",
                   metric ? from_crest_m / 1000.0 : td_mi_from_m(from_crest_m),
                   metric ? "km" : "mi");
    if (strncmp(line, "-0.0", 4) == 0)
        memmove(line, line + 1, strlen(line));
}

void page_seconds(double seconds, char line[PAGE_LINE_MAX])
{
    long whole = lround(fmin(seconds, 1e8));
    if (whole < 60)
        (void)snprintf(line, PAGE_LINE_MAX, "%ld s", whole);
    else if (whole < 3600)
        (void)snprintf(line, PAGE_LINE_MAX, "%ld min %ld s", whole / 60, whole % 60);
    else
        (void)snprintf(line, PAGE_LINE_MAX, "%ld h %ld min", whole / 3600, whole / 60 % 60);
}

void page_when(const struct td_review_drive *drive, int64_t at_ns, bool seconds,
               char line[PAGE_LINE_MAX])
{
    char utc[TD_UTC_TEXT];
    line[0] = '\0';
    if (drive->anonymous)
        return;
    (void)td_utc_format(td_review_utc_ms(drive, at_ns), utc);
    if (strlen(utc) < 19)
        return;
    (void)snprintf(line, PAGE_LINE_MAX, "%.10s %.*s UTC", utc, seconds ? 8 : 5, utc + 11);
}

static double temp_of(const struct shown *shown, double c)
{
    return page_metric(shown) ? c : td_f_from_c(c);
}

static void figure_check(const struct shown *shown, struct figure *figure)
{
    const struct td_review_descent *d = shown->descent;
    figure->name = "Brake check";
    switch (d->check) {
    case TD_CHECK_MADE:
        page_seconds(d->check_stood_s, figure->large);
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX, "made; stood at the area so long");
        break;
    case TD_CHECK_PASSED:
        (void)snprintf(figure->large, PAGE_LINE_MAX, "Not made");
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX, "went by without a stop");
        figure->remark = true;
        break;
    case TD_CHECK_UNKNOWN:
        (void)snprintf(figure->large, PAGE_LINE_MAX, "Not seen");
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       "position or log has a gap there, or the drive begins or ends");
        break;
    case TD_CHECK_NONE:
        (void)snprintf(figure->large, PAGE_LINE_MAX, "None");
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX, "no brake check area on file");
        break;
    }
}

static void figure_over(const struct shown *shown, struct figure *figure)
{
    const struct td_review_descent *d = shown->descent;
    char place[PAGE_LINE_MAX], longest[PAGE_LINE_MAX], whole[PAGE_LINE_MAX];
    figure->name = "Most over target";
    if (!d->judged) {
        (void)snprintf(figure->large, PAGE_LINE_MAX, "%s", d->went_down ? "No target" : "-");
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       d->went_down ? "none was in force on the grade" : "was not on the grade");
        return;
    }
    page_place(shown, d->over_most_at_m, place);
    page_seconds(d->over_longest_s, longest);
    page_seconds(d->over_s, whole);
    double over = speed_of(shown, d->over_most_mps);
    if (d->over_s > 0) {
        (void)snprintf(figure->large, PAGE_LINE_MAX, "%.0f %s", over, speed_unit(shown));
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       "at %s; over for %s in one piece, %s in all", place, longest, whole);
        figure->remark = true;
        return;
    }
    (void)snprintf(figure->large, PAGE_LINE_MAX, "Never over");
    (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                   over < 0 ? "nearest: %.0f %s under, at %s" : "nearest: at the target, %.0f %s, "
                   "at %s", fabs(over), speed_unit(shown), place);
}

/* All three figures as one, and not because the brakes are still as they were. */
#define BAND_LEAST_C  1.0
#define BAND_WARMED_C 20.0

static void figure_heat(const struct shown *shown, struct figure *figure)
{
    const struct td_review_descent *d = shown->descent;
    const char *unit = page_metric(shown) ? "C" : "F";
    figure->name = "Brake heat at its worst, estimate";
    if (!d->heat_known) {
        (void)snprintf(figure->large, PAGE_LINE_MAX, "-");
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       shown->drive->setup->rig_is_set ? "was not on the grade" : "no rig was set");
        return;
    }
    figure->remark = d->likely_c > d->limit_c;
    /* One line instead of a band is an upper bound, never a measurement (heat.h). */
    if (d->most_c - d->least_c < BAND_LEAST_C && d->most_c > d->first_c + BAND_WARMED_C) {
        (void)snprintf(figure->large, PAGE_LINE_MAX, "up to %.0f\xC2\xA0\xC2\xB0%s",
                       temp_of(shown, d->most_c), unit);
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       "no band: it gained as if the plan was not taken, so nothing but the brakes "
                       "is counted on; limit %.0f \xC2\xB0%s", temp_of(shown, d->limit_c), unit);
        return;
    }
    (void)snprintf(figure->large, PAGE_LINE_MAX, "%.0f\xE2\x80\x93%.0f\xC2\xA0\xC2\xB0%s",
                   temp_of(shown, d->least_c), temp_of(shown, d->most_c), unit);
    (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                   "likely %.0f \xC2\xB0%s; limit %.0f \xC2\xB0%s%s", temp_of(shown, d->likely_c),
                   unit, temp_of(shown, d->limit_c), unit,
                   d->most_c > d->limit_c && d->likely_c <= d->limit_c
                       ? ", past it only by the highest figure"
                       : "");
}

static void figure_snubs(const struct shown *shown, struct figure *figure)
{
    const struct td_review_descent *d = shown->descent;
    figure->name = "Slowings on the grade";
    if (!d->went_down) {
        (void)snprintf(figure->large, PAGE_LINE_MAX, "-");
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX, "was not on the grade");
        return;
    }
    (void)snprintf(figure->large, PAGE_LINE_MAX, "%zu", d->snub_count);
    if (d->snub_count == 0)
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       "the speed trace shows none that could be a snub");
    else
        (void)snprintf(figure->small_print, PAGE_SMALL_MAX,
                       "%s %.0f %s in %.0f s; brakes or engine: GPS cannot tell",
                       d->snub_count == 1 ? "it lost" : "the middle one lost",
                       speed_of(shown, d->snub_drop_mps), speed_unit(shown),
                       d->snub_seconds);
}

static void figure_answers(const struct shown *shown, struct figure *figure)
{
    const struct td_review_descent *d = shown->descent;
    struct td_text text;
    figure->name = "From warning to slowing";
    td_text_init(&text, figure->small_print, PAGE_SMALL_MAX);
    if (d->warnings == 0) {
        (void)snprintf(figure->large, PAGE_LINE_MAX, "No warnings");
        td_text_add(&text, "nothing had to be warned of");
        return;
    }
    unsigned none = d->warnings - d->warnings_slowed - d->warnings_unknown;
    if (d->warnings_slowed > 0)
        (void)snprintf(figure->large, PAGE_LINE_MAX, "%.0f s", d->answer_median_s);
    else
        (void)snprintf(figure->large, PAGE_LINE_MAX, none > 0 ? "No slowing" : "Not seen");
    td_text_add_int(&text, d->warnings_slowed);
    td_text_add(&text, " of ");
    td_text_add_int(&text, d->warnings);
    td_text_add(&text, d->warnings == 1 ? " warning answered by slowing"
                                        : " warnings answered by slowing");
    if (d->warnings_slowed > 1) {
        td_text_add(&text, ", the middle one after this; longest ");
        td_text_add_fixed(&text, d->answer_longest_s, 0);
        td_text_add(&text, " s");
    }
    if (none > 0) {
        td_text_add(&text, "; no slowing: ");
        td_text_add_int(&text, none);
    }
    if (d->warnings_unknown > 0) {
        td_text_add(&text, "; not seen: ");
        td_text_add_int(&text, d->warnings_unknown);
    }
    figure->remark = none > 0;
}

void page_figures(const struct shown *shown, struct figure figures[PAGE_FIGURES])
{
    memset(figures, 0, PAGE_FIGURES * sizeof figures[0]);
    figure_check(shown, &figures[0]);
    figure_over(shown, &figures[1]);
    figure_heat(shown, &figures[2]);
    figure_snubs(shown, &figures[3]);
    figure_answers(shown, &figures[4]);
}

const char *page_fate(const struct td_review_prompt *prompt)
{
    switch (prompt->spoken.fate) {
    case TD_EVENT_SPOKEN: return "spoken";
    case TD_EVENT_CUT: return "cut";
    case TD_EVENT_LOST: return "sound lost";
    case TD_EVENT_EXPIRED: return "expired";
    case TD_EVENT_DROPPED: return "dropped";
    default: return "open";
    }
}

#define ARROW " \xE2\x86\x92 "

static const char *why_not_said(const struct td_review_prompt *prompt)
{
    switch (prompt->spoken.fate) {
    case TD_EVENT_EXPIRED: return "Not said: its time was over before the voice was free.";
    case TD_EVENT_DROPPED: return "Not said: no longer true, or overtaken.";
    case TD_EVENT_LOST: return "Not said: no sound.";
    default: return "Not said: the drive ended first.";
    }
}

void page_next(const struct shown *shown, const struct td_review_prompt *prompt,
               char line[PAGE_LINE_MAX])
{
    if (!prompt->said) {
        (void)td_text_copy(line, PAGE_LINE_MAX, why_not_said(prompt));
        return;
    }
    if (!prompt->followed && !isnan(prompt->slowing_s)) {
        if (prompt->slowing_s < 0.5)
            (void)td_text_copy(line, PAGE_LINE_MAX, "Slowing already; then a gap.");
        else
            (void)snprintf(line, PAGE_LINE_MAX, "Slowed after %.0f s; then a gap.",
                           prompt->slowing_s);
        return;
    }
    if (!prompt->followed) {
        (void)td_text_copy(line, PAGE_LINE_MAX, "Not seen.");
        return;
    }
    /* As the words ended, the least after, and at the end of the follow time. */
    double then = speed_of(shown, prompt->then_mps), after = speed_of(shown, prompt->after_mps);
    double least = speed_of(shown, prompt->lowest_mps);
    const char *unit = speed_unit(shown);
    if (prompt->then_mps < TD_REVIEW_STANDS_MPS)
        (void)snprintf(line, PAGE_LINE_MAX, "Stood already.");
    else if (!isnan(prompt->stood_s))
        (void)snprintf(line, PAGE_LINE_MAX, "Stood after %.0f s, from %.0f %s.", prompt->stood_s,
                       then, unit);
    else if (!isnan(prompt->slowing_s) && prompt->slowing_s < 0.5)
        (void)snprintf(line, PAGE_LINE_MAX, "Slowing already: %.0f" ARROW "%.0f" ARROW "%.0f",
                       then, least, after);
    else if (!isnan(prompt->slowing_s))
        (void)snprintf(line, PAGE_LINE_MAX,
                       "Slowed after %.0f s: %.0f" ARROW "%.0f" ARROW "%.0f",
                       prompt->slowing_s, then, least, after);
    else if (prompt->after_mps - prompt->then_mps > TD_REVIEW_SLOWED_MPS)
        (void)snprintf(line, PAGE_LINE_MAX, "Gained: %.0f" ARROW "%.0f", then, after);
    else
        (void)snprintf(line, PAGE_LINE_MAX, "Held %.0f %s", then, unit);
}

const char *page_place_name(const struct td_place *place)
{
    static const char *const names[TD_PLACE_KINDS] = {
        [TD_PLACE_BRAKE_CHECK] = "Brake check area", [TD_PLACE_TRUCK_SPEED] = "Truck speed",
        [TD_PLACE_CURVE_SPEED] = "Curve speed",      [TD_PLACE_ESCAPE_LANE] = "Escape lane",
        [TD_PLACE_GRADE_SIGN] = "Grade sign",        [TD_PLACE_CHAIN_AREA] = "Chain area",
        [TD_PLACE_TURN_OUT] = "Turn-out",            [TD_PLACE_STOP] = "Stop sign",
        [TD_PLACE_SIGNAL] = "Traffic signal",        [TD_PLACE_RAIL_CROSSING] = "Rail crossing",
        [TD_PLACE_WORK_ZONE] = "Work zone",          [TD_PLACE_ENGINE_BRAKE_BAN] =
                                                         "No engine brakes",
        [TD_PLACE_NOTE] = "Note",
    };
    return (unsigned)place->kind < TD_PLACE_KINDS ? names[place->kind] : "Place";
}
