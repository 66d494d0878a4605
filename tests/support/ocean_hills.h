/* SPDX-License-Identifier: GPL-3.0-or-later */
/* As many invented hills as wanted: mountain roads of plausible length and grade, laid out over a
 * stretch of the open South Pacific (38 to 62 degrees south, 85 to 175 degrees west), one to every
 * 10 km by 12 km, so that a few are near any place however many there are. The same index makes the
 * same hill. */
#ifndef TD_TESTS_OCEAN_HILLS_H
#define TD_TESTS_OCEAN_HILLS_H

#include <stddef.h>

enum { OCEAN_HILLS_MAX = 131072, OCEAN_VERTICES_MAX = 1024 };

/* Where the road of a hill begins. */
void ocean_hill_place(unsigned index, double *lat_deg, double *lon_deg);
/* The profile as text, for the caller to free; named "ocean-000123". NULL without memory. */
char *ocean_hill_text(unsigned index, size_t *length);
/* The same hill somewhere else. */
char *ocean_hill_text_at(unsigned index, double lat_deg, double lon_deg, size_t *length);

#endif
