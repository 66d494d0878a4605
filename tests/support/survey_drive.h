/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Passes over invented hills of which the truth is known, driven by receivers and barometers with
 * invented errors, and how wrong a survey of them is beside what it says of itself.
 *
 * Errors (assumed; docs/survey.md): position and satellite height wander, each axis a first-order
 * Gauss-Markov process of one minute. A barometer has an offset of the day within 50 m, drifts with
 * the weather by up to 8 m an hour (1 hPa is some 8 m near the sea), wanders by 0.7 m over two
 * minutes with wind and windows, and is read to 0.2 m. */
#ifndef TD_TESTS_SURVEY_DRIVE_H
#define TD_TESTS_SURVEY_DRIVE_H

#include <stdbool.h>
#include <stddef.h>

#include "support/surveyed.h"
#include "talkdown/rng.h"

enum { SURVEY_FIXES_MAX = 8000, SURVEY_PASSES_MOST = 10 };

struct receiver {
    const char *name;
    double height_sigma_m, height_wander_s;
    double drift_mps; /* most */
    double step_m;    /* it is read to; 0: as it is */
};

extern const struct receiver survey_satellite_3, survey_satellite_3_drift, survey_satellite_10,
    survey_barometer;

/* Down, or up when `climbs`, at a loaded truck's speeds; returns how many fixes. */
size_t survey_drive(const struct td_hill *truth, const struct receiver *receiver, bool climbs,
                    struct td_rng *rng, struct td_fix out[SURVEY_FIXES_MAX]);

/* Errors of many pieces, and whether they lie within two sigma of what the survey told. */
struct survey_errors {
    double *values; /* the caller's */
    size_t count, most, within;
};
struct survey_tally {
    struct survey_errors over_200, over_1000, line; /* ratios, and m beside the true line */
    double told_200, told_1000, told_line_m;        /* sums of what the surveys said */
    size_t made, refused;
};

/* Surveys one hill of so many passes, every other of them up, and compares it from the true crest
 * to the true foot, every 50 m of the surveyed road. `seed` draws hill and errors. */
void survey_measure(const struct receiver *receiver, size_t passes, uint64_t seed,
                    struct survey_tally *tally);

#endif
