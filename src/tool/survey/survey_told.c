/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a survey found, in words: the road, how good it is, each pass, and what to look at. */
#include <stdio.h>
#include <string.h>

#include "talkdown/units.h"
#include "tool/survey/survey_job.h"

#define TIGHT_M    100.0 /* radius of the curves that are listed */
#define GAP_TOLD_M 200.0

enum { CURVES_TOLD = 12 };

static const char *leaf(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? path : slash + 1;
}

static void print_distance(const char *what, double metres)
{
    (void)printf("%s %.2f km (%.2f mi)", what, metres / 1000, td_mi_from_m(metres));
}

static void tell_curves(const struct td_hill *hill)
{
    size_t tight = 0;
    for (size_t i = 0; i < hill->curve_count; i++)
        tight += hill->curves[i].radius_m < TIGHT_M;
    (void)printf("  %zu curves, %zu of them under %.0f m of radius", hill->curve_count, tight,
                 TIGHT_M);
    size_t told = 0;
    for (size_t i = 0; i < hill->curve_count && told < CURVES_TOLD; i++) {
        const struct td_curve *curve = &hill->curves[i];
        if (curve->radius_m >= TIGHT_M)
            continue;
        (void)printf("%s%s %.0f m at %.2f km", told == 0 ? ": " : ", ",
                     curve->turn == TD_SIDE_LEFT ? "left" : "right", curve->radius_m,
                     curve->from_m / 1000);
        told++;
    }
    (void)printf(tight > told ? ", and %zu more\n" : "\n", tight - told);
}

static void tell_road(const struct survey_job *job, const struct td_hill *hill)
{
    (void)printf("%s: \"%s\", ", job->out, hill->name);
    print_distance("length", hill->length_m);
    (void)printf(", %zu vertices\n", hill->station_count);
    if (!hill->coached) {
        (void)printf("  no downgrade on it needs coaching\n");
        return;
    }
    print_distance("  crest at", hill->crest_m);
    print_distance(", foot at", hill->foot_m);
    (void)printf("\n  %.1f %% mean, steepest 300 m %.1f %%", hill->mean_downgrade_ratio * 100,
                 hill->steepest_downgrade_ratio * 100);
    print_distance(" from", hill->steepest_at_m);
    (void)printf("\n  false bottoms: %zu", hill->easing_count);
    for (size_t i = 0; i < hill->easing_count; i++)
        (void)printf("%s %.2f to %.2f km", i == 0 ? ":" : ",", hill->easings[i].from_m / 1000,
                     hill->easings[i].to_m / 1000);
    (void)printf("\n");
    tell_curves(hill);
}

static void tell_quality(const struct survey_job *job)
{
    const struct td_survey_report *report = &job->report;
    (void)printf("  %u pass%s", job->passes_in_all, job->passes_in_all == 1 ? "" : "es");
    if (report->grade_sigma_200 >= 0)
        (void)printf(": grade within %.2f %% over 200 m and %.2f %% over 1 km (one sigma, as %s)",
                     report->grade_sigma_200 * 100, report->grade_sigma_1000 * 100,
                     job->count == 1 ? "rough as it is" : "they differ");
    if (report->position_sigma_m >= 0)
        (void)printf("; line within %.1f m", report->position_sigma_m);
    (void)printf(job->count == 1 ? "; how wrong it is for long, and its place, show only beside "
                                   "others: three passes, some of them up, are good\n"
                                 : "\n");
    (void)printf("  heights smoothed over %.0f m to either side; longest gap %.0f m\n",
                 report->height_half_m, report->longest_gap_m);
}

static void tell_pass(const struct survey_job *job, size_t index)
{
    const struct td_survey_pass *pass = &job->passes[index];
    const struct td_survey_pass_report *report = &pass->report;
    bool old = index == 0 && job->old != NULL;
    (void)printf("  %s: %s, %.2f km of it; %zu of %zu points; left out: %zu standing or too close, "
                 "%zu jumps or spikes, %zu without height, %zu elsewhere, %zu refused; %zu heights "
                 "mended",
                 leaf(job->paths[index]),
                 old ? "as it was" : report->climbed ? "up" : "down", report->covers_m / 1000,
                 report->used, pass->count + job->tracks[index].refused, report->standing,
                 report->outliers, report->without_height, report->elsewhere,
                 job->tracks[index].refused, report->height_spikes);
    if (job->from_tiles[index])
        (void)printf("; heights from the tiles");
    if (job->count > 1)
        (void)printf("; heights %+.1f m off the mean", report->height_off_m);
    if (report->height_noise_m >= 0)
        (void)printf("; height noise about %.1f m", report->height_noise_m);
    (void)printf("%s\n", report->height_refused ? ", TOO NOISY: its heights were not used" : "");
}

bool survey_job_came_down(const struct survey_job *job)
{
    bool down = false;
    for (size_t i = 0; i < job->count; i++)
        down = down || !job->passes[i].report.climbed;
    return down;
}

bool survey_job_gap_is_long(const struct survey_job *job)
{
    return job->report.longest_gap_m > GAP_TOLD_M;
}

static void tell_warnings(const struct survey_job *job)
{
    const struct td_survey_report *report = &job->report;
    for (size_t i = 0; i < report->bridge_count; i++)
        (void)printf("  look at %.2f to %.2f km: heights there were steeper than any road and were "
                     "drawn straight instead (a tunnel, a viaduct, a spike)\n",
                     report->bridges[i].from_m / 1000, report->bridges[i].to_m / 1000);
    if (report->suspect_at_m >= 0)
        (void)printf("  look at %.2f km: steeper than 16 %% there; heights are often wrong in "
                     "tunnels and on bridges\n",
                     report->suspect_at_m / 1000);
    if (survey_job_gap_is_long(job))
        (void)printf("  look at the longest gap: %.0f m of the road are drawn straight\n",
                     report->longest_gap_m);
    if (!survey_job_came_down(job))
        (void)printf("  every pass went up: the line is the lane up, which on a divided road is "
                     "not the road down\n");
}

void survey_job_tell(const struct survey_job *job, const struct td_hill *hill)
{
    tell_road(job, hill);
    tell_quality(job);
    for (size_t i = 0; i < job->count; i++)
        tell_pass(job, i);
    print_distance("  trimmed: before", job->report.cut_before_m);
    print_distance(", after", job->report.cut_after_m);
    (void)printf("\n");
    tell_warnings(job);
    if (job->old != NULL)
        (void)printf("  its places stay where they are (%zu at_m measured anew); look at it with "
                     "\"hills check\"\n",
                     job->places_moved);
    else
        (void)printf("  put signs, brake checks and escape lanes in before it is driven on "
                     "(docs/formats.md)\n");
}
