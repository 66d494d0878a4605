/* SPDX-License-Identifier: GPL-3.0-or-later */
/* bench_survey [HILLS]: how wrong a surveyed grade and line are, on invented hills of which the
 * truth is known (support/survey_drive.h), what the survey says of its own error, and how many
 * pieces lie within two sigma of that. Prints the table of docs/survey.md. Exit 1 when an aim is
 * missed. */
#include <stdio.h>
#include <stdlib.h>

#include "support/survey_drive.h"

enum { SAMPLES_MAX = 400000 };

static double errors_200[SAMPLES_MAX], errors_1000[SAMPLES_MAX], offs_m[SAMPLES_MAX];

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double p95(const struct survey_errors *errors)
{
    if (errors->count == 0)
        return -1;
    qsort(errors->values, errors->count, sizeof *errors->values, by_size);
    return errors->values[(size_t)(0.95 * (double)(errors->count - 1))];
}

static double within_percent(const struct survey_errors *errors)
{
    return 100.0 * (double)errors->within / (double)errors->count;
}

static void print_figures(const struct survey_tally *tally, size_t passes)
{
    double made = (double)tally->made;
    printf("%.2f, %.2f | %.2f, %.2f | %.1f, %.1f | ", 100 * p95(&tally->over_200),
           100 * p95(&tally->over_1000), 200 * tally->told_200 / made,
           200 * tally->told_1000 / made, within_percent(&tally->over_200),
           within_percent(&tally->over_1000));
    if (passes == 1)
        printf("%.1f, -, - |", p95(&tally->line));
    else
        printf("%.1f, %.1f, %.1f |", p95(&tally->line), 2 * tally->told_line_m / made,
               within_percent(&tally->line));
}

/* Prints a row; true when nothing is missed. aim below 0: none. */
static bool row(const struct receiver *receiver, size_t passes, uint64_t hills, double aim_200,
                double aim_1000, bool refuse)
{
    struct survey_tally tally = {.over_200 = {errors_200, 0, SAMPLES_MAX, 0},
                                 .over_1000 = {errors_1000, 0, SAMPLES_MAX, 0},
                                 .line = {offs_m, 0, SAMPLES_MAX, 0}};
    for (uint64_t seed = 1; seed <= hills; seed++)
        survey_measure(receiver, passes, seed, &tally);
    printf("| %s | %zu | ", receiver->name, passes);
    if (tally.made == 0) {
        printf("- | - | - | - | %zu of %zu |\n", tally.refused, tally.refused);
        return refuse;
    }
    print_figures(&tally, passes);
    printf(" %zu of %zu |\n", tally.refused, tally.refused + tally.made);
    bool good = (aim_200 < 0 || p95(&tally.over_200) <= aim_200) &&
                (aim_1000 < 0 || p95(&tally.over_1000) <= aim_1000);
    /* Noise is estimated, so one in ten may pass for less than it is. */
    double share = (double)tally.refused / (double)(tally.refused + tally.made);
    if (refuse ? share < 0.9 : share > 0.1)
        good = false;
    /* What is refused by its noise tells too little of it where it is let through. */
    if (!refuse && within_percent(&tally.over_200) < 93)
        good = false;
    if (!good)
        printf("MISSED: the row above\n");
    return good;
}

int main(int argc, char **argv)
{
    uint64_t hills = argc > 1 ? (uint64_t)strtoul(argv[1], NULL, 10) : 12;
    static const size_t counts[] = {1, 3, 10};
    bool good = true;
    printf("| heights | passes | p95 over 200 m and 1 km, %% | two sigma as told, %% | within "
           "them, of 100 | line: p95, two sigma as told, m, within them | refused |\n"
           "|---|---|---|---|---|---|---|\n");
    for (size_t i = 0; i < 3; i++) {
        bool several = counts[i] >= 3;
        good &= row(&survey_barometer, counts[i], hills, several ? 0.003 : -1, -1, false);
        good &= row(&survey_satellite_3, counts[i], hills, -1, several ? 0.005 : -1, false);
        good &= row(&survey_satellite_3_drift, counts[i], hills, -1, several ? 0.005 : -1, false);
        good &= row(&survey_satellite_10, counts[i], hills, -1, -1, true);
    }
    return good ? 0 : 1;
}
