/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Means and medians that one false pass does not move far. */
#include <math.h>

#include "survey/survey_parts.h"

#define HUBER_SCALES 1.5

enum { ROUNDS = 5 };

/* Quickselect (Hoare, Comm. ACM 4, 1961), median of three as pivot. */
static double select_rank(double *values, size_t count, size_t rank)
{
    size_t low = 0, high = count - 1;
    while (low < high) {
        double a = values[low], b = values[low + (high - low) / 2], c = values[high];
        double pivot = fmax(fmin(a, b), fmin(fmax(a, b), c));
        size_t i = low, j = high;
        for (;;) {
            while (values[i] < pivot)
                i++;
            while (values[j] > pivot)
                j--;
            if (i >= j)
                break;
            double swap = values[i];
            values[i++] = values[j];
            values[j--] = swap;
        }
        size_t split = values[i] <= pivot && i == j ? i : j;
        if (rank <= split)
            high = split;
        else
            low = split + 1;
    }
    return values[low];
}

double td_survey_median(double *values, size_t count)
{
    return count == 0 ? 0 : select_rank(values, count, count / 2);
}

static double weighted_median(const struct td_survey_sample *samples, size_t count)
{
    double total = 0;
    for (size_t i = 0; i < count; i++)
        total += samples[i].weight;
    double best = samples[0].value, best_excess = HUGE_VAL;
    for (size_t i = 0; i < count; i++) {
        double below = 0, at = 0;
        for (size_t k = 0; k < count; k++) {
            below += samples[k].value < samples[i].value ? samples[k].weight : 0;
            at += fabs(samples[k].value - samples[i].value) <= 0 ? samples[k].weight : 0;
        }
        double excess = fabs(below + at / 2 - total / 2);
        if (excess < best_excess) {
            best_excess = excess;
            best = samples[i].value;
        }
    }
    return best;
}

double td_survey_robust_mean(const struct td_survey_sample *samples, size_t count, double scale)
{
    double mean = count > 2 ? weighted_median(samples, count) : 0;
    for (int round = 0; round < ROUNDS; round++) {
        double weights = 0, sum = 0;
        for (size_t i = 0; i < count; i++) {
            double off = fabs(samples[i].value - mean), weight = samples[i].weight;
            if (count > 2 && scale > 0 && off > HUBER_SCALES * scale)
                weight *= HUBER_SCALES * scale / off;
            weights += weight;
            sum += weight * samples[i].value;
        }
        mean = sum / weights;
    }
    return mean;
}

/* A spread that is itself known from so few differences is told wider, by Student's t over the
 * normal deviate, so that two of it still hold 95 of 100 (Abramowitz and Stegun 26.7.5, from
 * memory; within 4 % from 3 degrees on: tests/property/test_survey_told.c holds it against GSL). */
double td_survey_widened(double degrees)
{
    double z = 1.96, n = fmax(2, degrees);
    double t = z + (pow(z, 3) + z) / (4 * n) +
               (5 * pow(z, 5) + 16 * pow(z, 3) + 3 * z) / (96 * n * n);
    return t / z;
}
