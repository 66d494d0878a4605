/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The survey's steps, in order; inside src/survey. A road that is being made is an array of
 * stations: x_m, y_m in one frame, along_m, evenly spaced, later elevation_m. */
#ifndef TD_SURVEY_SURVEY_PARTS_H
#define TD_SURVEY_SURVEY_PARTS_H

#include "survey/survey.h"
#include "talkdown/geo.h"

/* Writes `words` to the problem; returns TD_INVALID. */
enum td_result td_survey_wrong(struct td_problem *problem, const char *words);

/* survey_clean.c: picks the points to use, in recorded order. */
TD_CHECKED enum td_result td_survey_clean(struct td_survey_pass *pass, double cut_ends_m,
                                          struct td_problem *problem);

/* survey_smooth.c. Smooths positions of one pass and sums along_m (and road_m) over them. */
void td_survey_smooth_line(struct td_survey_point *points, size_t count);
/* Turns the order of a pass round. */
void td_survey_turn_round(struct td_survey_point *points, size_t count);
/* Evenly spaced vertices of one pass with fitted height; returns their count. */
size_t td_survey_space(const struct td_survey_point *points, size_t count,
                       struct td_station *stations);
enum td_survey_value { TD_SURVEY_HEIGHT, TD_SURVEY_LATERAL };
/* A robust straight-line fit of the points' values about road_m `at_m`; points sorted by road_m.
 * The window grows from half_m to most_m until it holds `least` points. *hint is where the window
 * of the place before began, 0 at first. */
double td_survey_fit(const struct td_survey_point *points, size_t count,
                     enum td_survey_value value, double at_m, double half_m, double most_m,
                     size_t least, size_t *hint);

/* survey_align.c. Puts the pass's points into the frame. */
void td_survey_into_frame(const struct td_frame *frame, struct td_survey_pass *pass);
/* Follows the pass along the road the way that covers more, and keeps its longest run, sorted
 * along the road; sets report.climbed, covers_m. */
void td_survey_align(struct td_survey_pass *pass, const struct td_station *road, size_t count);
/* Projects the kept points anew on a road that has moved a little. */
void td_survey_realign(struct td_survey_pass *pass, const struct td_station *road, size_t count);

/* survey_line.c. Moves the road to the robust mean of the passes' lines and spaces it anew;
 * returns the new count. The last call's spread goes to report->position_sigma_m. */
size_t td_survey_average_line(struct td_survey_pass *passes, size_t pass_count,
                              struct td_survey_work *work, struct td_station *road, size_t count,
                              struct td_survey_report *report);
/* Smooths the line over a window that follows its curvature, spaces it and gives it latitudes and
 * longitudes; returns the new count. */
size_t td_survey_finish_line(const struct td_frame *frame, struct td_survey_work *work,
                             struct td_station *road, size_t count);

/* survey_height.c. Fills elevation_m of the road from all passes. */
TD_CHECKED enum td_result td_survey_heights(struct td_survey_pass *passes, size_t pass_count,
                                            struct td_survey_work *work, struct td_station *road,
                                            size_t count, struct td_survey_report *report,
                                            struct td_problem *problem);

/* survey_noise.c. Height noise and offset of each pass, and the passes that are too noisy. */
TD_CHECKED enum td_result td_survey_judge(struct td_survey_pass *passes, size_t pass_count,
                                          struct td_survey_work *work, size_t count,
                                          double step_m, struct td_survey_report *report,
                                          struct td_problem *problem);
/* Robust mean of the lanes' heights at each vertex into work->a (offsets and drifts out). */
void td_survey_mean_heights(struct td_survey_pass *passes, size_t pass_count,
                            struct td_survey_work *work, size_t count, double step_m);

/* survey_bridge.c. Takes heights out of a lane where they climb and fall as no road does. */
void td_survey_find_bridges(struct td_survey_lane *lane, size_t count, double step_m,
                            bool *bridged);

/* survey_robust.c. Reorders `values`. */
double td_survey_median(double *values, size_t count);
struct td_survey_sample {
    double value, weight;
};
/* Huber's estimate of location (Ann. Math. Stat. 35, 1964) about the weighted median; deviations
 * beyond 1.5 `scale` count less. scale 0: the plain weighted mean. */
double td_survey_robust_mean(const struct td_survey_sample *samples, size_t count, double scale);
/* So much wider is a spread told that rests on so many differences (degrees of freedom). */
double td_survey_widened(double degrees);

/* A receiver's errors wander over a minute (first-order Gauss-Markov; bench_survey assumes the
 * same), and that is so far for a loaded truck on a grade at 8 m/s (common practice, no source). */
#define TD_SURVEY_WANDER_M 480.0
/* Steeper than that is a grade: where grades matter. */
#define TD_SURVEY_GRADE_RATIO 0.02

#endif
