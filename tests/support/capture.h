/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Records what a private sound server (sound_server.sh) plays, in a thread of its own, so that a
 * test can look at the sound while it goes on. Time in it is counted in samples heard. */
#ifndef TD_TESTS_CAPTURE_H
#define TD_TESTS_CAPTURE_H

#include <stddef.h>
#include <stdint.h>

struct capture;

/* Returns once the first samples have come; fails the test when they do not. */
struct capture *capture_start(void);
/* Samples so far; they stay where they are. */
size_t capture_count(const struct capture *capture);
const int16_t *capture_samples(const struct capture *capture);
void capture_stop(struct capture **capture);

/* The first sample that is not 0 from `from` on, or `count`. */
size_t capture_onset(const int16_t *samples, size_t count, size_t from);
/* Where the first 100 ms of a clip are heard, looked for from `from` on, or `count`. */
size_t capture_find(const int16_t *samples, size_t count, size_t from, const int16_t *clip);
/* How much of the clip is found from `at` on, 0 to 1: blocks of 100 ms whose correlation is over
 * 0.99, each looked for up to 200 ms late, since a starved sound server drops in silence. */
double capture_likeness(const int16_t *heard, size_t heard_count, size_t at, const int16_t *clip,
                        size_t clip_count);

#endif
