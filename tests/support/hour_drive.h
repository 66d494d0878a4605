/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Drive logs of about an hour: half of it on flat road, then down the longest demo hill. */
#ifndef TD_TESTS_HOUR_DRIVE_H
#define TD_TESTS_HOUR_DRIVE_H

#include <stdint.h>

/* Writes FOLDER/drive.db (and prompts.txt). `flat_m` of road before the profile: 45000 makes an
 * hour of it. Driver and receiver by seed; the drive begins `start_utc_ms`. Fails the test. */
void hour_drive(const char *folder, uint64_t seed, double flat_m, int64_t start_utc_ms);

#endif
